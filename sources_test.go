package phasewright_test

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Test data and recordings of others name the work, section and year that they come from; addresses of makers,
// folders and mailboxes of persons do not travel with them. Addresses of standards and public data sets may stay.
func TestDataNamesNobody(t *testing.T) {
	private := regexp.MustCompile(`(?i)https?://[^\s"')]+|www\.[a-z]|~[a-z]{3,}/|` +
		`[\\/](users|home)[\\/][a-z]|\b[a-z]:\\|[\w.]+@[\w-]+\.[a-z]{2,}`)
	allowed := regexp.MustCompile(`^https?://(www\.w3\.org/|www\.itl\.nist\.gov/|json-schema\.org/|localhost|127\.0\.0\.1|\[::1\])`)
	files := 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git" || d.Name() == "fuzz") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.Contains(filepath.ToSlash(path), "testdata/") && filepath.Dir(path) != "examples" {
			return nil
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		files++
		if bytes.IndexByte(data, 0) >= 0 { // a database or a sound: its bytes are no words
			return nil
		}
		for _, found := range private.FindAll(data, -1) {
			if !allowed.Match(found) {
				t.Errorf("%s names %q: write the work, section and year instead", path, found)
			}
		}
		return nil
	})
	if err != nil || files < 60 {
		t.Fatal(files, "files", err)
	}
}
