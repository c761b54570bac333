package main

import (
	"runtime"
	"strings"
	"testing"
)

func TestVersionText(t *testing.T) {
	full := build{release: "1.2", commit: "0123456789abcdef", date: "2026-03-14T08:00:00Z", changed: true}.text() // invented
	for _, want := range []string{"phasewright 1.2\n", "commit 0123456789abcdef, with changes\n", "date   2026-03-14T08:00:00Z\n", runtime.Version()} {
		if !strings.Contains(full, want) {
			t.Errorf("%q lacks %q", full, want)
		}
	}
	if bare := (build{}).text(); !strings.Contains(bare, "phasewright development\ncommit not recorded\ndate   not recorded\n") {
		t.Errorf("nothing known: %q", bare)
	}
}
