package access

import (
	"net/http"
	"testing"
)

// People type codes in small letters and with what separates groups on the screen.
func TestCodeAsTyped(t *testing.T) {
	for in, want := range map[string]string{"abcde fghjk": "ABCDEFGHJK", " ABCDE-FGHJK\t": "ABCDEFGHJK",
		"abcde\u00a0fghjk": "ABCDEFGHJK", "": "", "ABCDE0": "ABCDE0"} {
		if got := signsOf(in); got != want {
			t.Errorf("%q read as %q, want %q", in, got, want)
		}
	}
	if n := len(codeSigns); n != 30 { // the figure that the length of the code rests on
		t.Errorf("%d signs", n)
	}
}

func TestOneDeviceWithManyAddressesIsOneSender(t *testing.T) {
	of := func(addr string) string { return Remote(&http.Request{RemoteAddr: addr}) }
	if of("[2001:db8::1]:1") != of("[2001:db8::2:3]:9") {
		t.Error("two addresses of one /64 count apart")
	}
	if of("192.0.2.1:1") == of("192.0.2.2:1") || of("[::ffff:192.0.2.1]:1") != of("192.0.2.1:5") {
		t.Error("IPv4 senders are told apart wrongly")
	}
}
