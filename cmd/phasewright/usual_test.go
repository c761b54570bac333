package main

import (
	"os"
	"path/filepath"
	"testing"
)

// Places by the XDG Base Directory Specification and by what Apple and Microsoft tell developers about
// application data.
func TestTheUsualBookLiesWhereTheSystemKeepsData(t *testing.T) {
	home := t.TempDir()
	elsewhere := filepath.Join(home, "elsewhere")
	for _, c := range []struct {
		system  string
		env     map[string]string
		earlier string // a book of an earlier release lies here, below home
		want    string // below home
	}{
		{"linux", nil, "", ".local/share/phasewright/shop.book"},
		{"freebsd", nil, "", ".local/share/phasewright/shop.book"},
		{"linux", map[string]string{"XDG_DATA_HOME": elsewhere}, "", "elsewhere/phasewright/shop.book"},
		{"linux", map[string]string{"XDG_DATA_HOME": "not/absolute"}, "", ".local/share/phasewright/shop.book"}, // must be ignored, says the specification
		{"darwin", nil, "", "Library/Application Support/phasewright/shop.book"},
		{"darwin", nil, ".local/share", ".local/share/phasewright/shop.book"},
		{"darwin", map[string]string{"XDG_DATA_HOME": elsewhere}, "elsewhere", "elsewhere/phasewright/shop.book"},
		{"windows", map[string]string{"LocalAppData": elsewhere}, "", "elsewhere/phasewright/shop.book"},
		{"windows", nil, "", "AppData/Local/phasewright/shop.book"},
		{"windows", map[string]string{"LocalAppData": elsewhere}, ".local/share", ".local/share/phasewright/shop.book"},
	} {
		book := filepath.Join(home, c.earlier, ownFolder, ownBook)
		if c.earlier != "" {
			touch(t, book)
		}
		got := placeFor(ownBook, c.system, home, func(key string) string { return c.env[key] })
		if want := filepath.Join(home, filepath.FromSlash(c.want)); got != want {
			t.Errorf("%s with %v, earlier book in %q: %s, want %s", c.system, c.env, c.earlier, got, want)
		}
		if c.earlier != "" {
			os.Remove(book)
		}
	}
	// with a book in both places, the system's own counts
	touch(t, filepath.Join(home, ".local", "share", ownFolder, ownBook))
	usual := filepath.Join(home, "Library", "Application Support", ownFolder, ownBook)
	touch(t, usual)
	if got := placeFor(ownBook, "darwin", home, func(string) string { return "" }); got != usual {
		t.Errorf("%s, want %s", got, usual)
	}
}

func touch(t *testing.T, name string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, nil, 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestTheUsualBookByTheEnvironment(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("HOME", dir)
	t.Setenv("USERPROFILE", dir)
	t.Setenv("XDG_DATA_HOME", "")
	t.Setenv("LocalAppData", "")
	got, err := usualBook()
	if err != nil {
		t.Fatal(err)
	}
	if inside, err := filepath.Rel(dir, got); err != nil || !filepath.IsLocal(inside) {
		t.Errorf("the usual book is %s, outside the home folder", got)
	}
	if info, err := os.Stat(filepath.Dir(got)); err != nil || !info.IsDir() {
		t.Errorf("its folder was not made: %v", err)
	}
}
