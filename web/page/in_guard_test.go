package page

import (
	"testing"
)

func TestOwnPath(t *testing.T) {
	for in, want := range map[string]string{"/job/a?b=c": "/job/a?b=c", "//evil.example": "/", "http://evil.example": "/", "": "/", "/\\evil.example": "/", "/a\r\nSet-Cookie: x": "/"} {
		if got := ownPath(in); got != want {
			t.Errorf("ownPath(%q) = %q, want %q", in, got, want)
		}
	}
}
