package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
)

const ownFolder, ownBook, ownAuthority = "phasewright", "shop.book", "authority.pem"

// usual is the place of a file of the user's own data, whose folder is made if need be. The hint says what to do where
// that fails.
func usual(name, hint string) (string, error) {
	home, err := os.UserHomeDir()
	if err != nil && !filepath.IsAbs(os.Getenv("XDG_DATA_HOME")) {
		return "", hinted{err, hint}
	}
	path := placeFor(name, runtime.GOOS, home, os.Getenv)
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", hinted{fmt.Errorf("%s: cannot be made: %w", dir, err), hint}
	}
	return path, nil
}

// usualBook is the shop book in the user's own data folder.
func usualBook() (string, error) { return usual(ownBook, "name a book with --book FILE") }

// placeFor is where the system's users look for a program's own data: XDG_DATA_HOME (XDG Base Directory Specification),
// on macOS Library/Application Support, on Windows %LocalAppData%. Earlier releases went by the first on every system:
// a file that lies there is found as long as there is none in the system's place.
func placeFor(name, system, home string, getenv func(string) string) string {
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
	path, earlier := filepath.Join(dir, ownFolder, name), filepath.Join(xdg, ownFolder, name)
	if _, err := os.Stat(path); err != nil {
		if _, err := os.Stat(earlier); err == nil {
			return earlier
		}
	}
	return path
}
