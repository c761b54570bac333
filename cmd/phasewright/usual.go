package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
)

const ownFolder, ownBook = "phasewright", "shop.book"

// usualBook is the shop book in the user's own data folder, which is made if need be.
func usualBook() (string, error) {
	home, err := os.UserHomeDir()
	if err != nil && !filepath.IsAbs(os.Getenv("XDG_DATA_HOME")) {
		return "", hinted{err, "name a book with --book FILE"}
	}
	usual := bookFor(runtime.GOOS, home, os.Getenv)
	dir := filepath.Dir(usual)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", hinted{fmt.Errorf("%s: cannot be made: %w", dir, err), "name a book with --book FILE"}
	}
	return usual, nil
}

// bookFor is where the system's users look for a program's own data: XDG_DATA_HOME (XDG Base Directory Specification), on
// macOS Library/Application Support, on Windows %LocalAppData%. Earlier releases went by the first on every system: a book
// that lies there is found as long as there is none in the system's place.
func bookFor(system, home string, getenv func(string) string) string {
	xdg := filepath.Join(home, ".local", "share")
	if dir := getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		xdg = dir
	}
	dir := xdg
	switch system {
	case "darwin":
		dir = filepath.Join(home, "Library", "Application Support")
	case "windows":
		dir = filepath.Join(home, "AppData", "Local")
		if local := getenv("LocalAppData"); filepath.IsAbs(local) {
			dir = local
		}
	}
	usual, earlier := filepath.Join(dir, ownFolder, ownBook), filepath.Join(xdg, ownFolder, ownBook)
	if _, err := os.Stat(usual); err != nil {
		if _, err := os.Stat(earlier); err == nil {
			return earlier
		}
	}
	return usual
}
