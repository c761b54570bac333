package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A device that is named as an output takes what is written and stays a device: as root, a rename would put a
// file there.
func TestAnOutputDeviceStaysADevice(t *testing.T) {
	dir := t.TempDir()
	null := filepath.Join(dir, "null")
	const nullDevice = 1<<8 | 3 // major 1, minor 3: the kernel's list of devices
	if err := syscall.Mknod(null, syscall.S_IFCHR|0o666, nullDevice); err != nil {
		t.Skipf("NOT CHECKED: needs root to make a device: %v", err)
	}
	if f, err := os.OpenFile(null, os.O_WRONLY, 0); err != nil {
		t.Skipf("NOT CHECKED: this file system takes no devices: %v", err)
	} else {
		f.Close()
	}
	link := filepath.Join(dir, "link")
	if err := os.Symlink("null", link); err != nil {
		t.Fatal(err)
	}
	demo := filepath.Join(dir, "demo.book")
	do := func(want int, args ...string) {
		t.Helper()
		var out, errs bytes.Buffer
		if got := run(context.Background(), args, strings.NewReader(""), &out, &errs); got != want {
			t.Errorf("%v: status %d, %s", args, got, errs.String())
		}
		if info, err := os.Lstat(null); err != nil || info.Mode()&os.ModeCharDevice == 0 {
			t.Fatalf("%v: the device is %v, %v", args, info, err)
		}
		if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
			t.Fatalf("%v: the link is %v, %v", args, info, err)
		}
	}
	card := filepath.Join(dir, "card.yaml")
	do(statusFine, "card", "new", card)
	do(statusFine, "card", "new", null)
	exported := filepath.Join(dir, "demo")
	do(statusFine, "demo", "--out", exported)
	card = filepath.Join(exported, "card.yaml")
	for _, name := range []string{null, link} {
		for _, flag := range []string{"--pdf", "--spark-pdf", "--drawings-pdf", "--steps-pdf", "--dwell-csv"} {
			do(statusFine, "sheet", card, flag, name)
		}
		do(statusFine, "tape", card, "--pdf", name)
		do(statusFine, "tape", card, "--svg", name, "--wheel")
		do(statusFine, "bench", card, "--readings", name)
	}
	book := mustMakeBook(t, demo)
	do(statusFine, "book", "export", "--book", book, "sandpiper", null)
	do(statusFails, "report", "sandpiper", "--book", book, "--pdf", link)
}
