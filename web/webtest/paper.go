package webtest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// WantPDFText looks for words in a PDF with pdftotext (poppler-utils).
func WantPDFText(t *testing.T, name string, data []byte, words string) {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is not installed: the words in the PDFs were not checked")
		}
		t.Log("SKIPPED: pdftotext is not installed, the words in " + name + " were NOT checked")
		return
	}
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", file, "-").CombinedOutput()
	if err != nil || !strings.Contains(string(out), words) {
		t.Errorf("%s lacks %q (%v):\n%s", name, words, err, out)
	}
}
