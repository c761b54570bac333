package drawing

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

var someDay = time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)

// scratch returns the folder that pictures are kept in for looking at, when
// LOOK names one, and a folder that goes away otherwise.
func scratch(t *testing.T) string {
	if dir := os.Getenv("LOOK"); dir != "" {
		return dir
	}
	return t.TempDir()
}

func save(t *testing.T, dir, name string, d *Drawing) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name+".svg"), []byte(d.SVG(AsFile)), 0o644); err != nil {
		t.Fatal(err)
	}
	pdf, err := PDF(Document{Title: name, Date: someDay, Pages: []*Drawing{d}})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".pdf"), pdf, 0o644); err != nil {
		t.Fatal(err)
	}
}
