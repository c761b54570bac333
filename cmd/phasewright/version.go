package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/alecthomas/kong"
)

// release is the number of the release; scripts/build sets it when it links.
var release string

// versionFlag prints what this program was built from and ends.
type versionFlag bool

func (versionFlag) BeforeReset(k *kong.Kong) error {
	fmt.Fprint(k.Stdout, builtFrom().text())
	k.Exit(statusFine)
	return nil
}

// build is what is known of how the program was built; what is not known is empty.
type build struct {
	release, commit, date string
	changed               bool // the files differed from the commit
}

// builtFrom reads what the Go tool has put into the program.
func builtFrom() build {
	b := build{release: release}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if v := info.Main.Version; b.release == "" && v != "(devel)" {
		b.release = v
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.commit = s.Value
		case "vcs.time":
			b.date = s.Value
		case "vcs.modified":
			b.changed = s.Value == "true"
		}
	}
	return b
}

func (b build) text() string {
	known := func(s, instead string) string {
		if s == "" {
			return instead
		}
		return s
	}
	commit := known(b.commit, "not recorded")
	if b.changed {
		commit += ", with changes"
	}
	return fmt.Sprintf("phasewright %s\ncommit %s\ndate   %s\ngo     %s %s/%s\n", known(b.release, "development"),
		commit, known(b.date, "not recorded"),
		runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// version is the release in few letters, for the foot of a page.
func version() string {
	b := builtFrom()
	switch {
	case release != "":
		return release
	case len(b.commit) >= 8:
		return b.commit[:8]
	}
	return "of this checkout"
}
