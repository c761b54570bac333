package web

import (
	"bytes"
	"encoding/csv"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/record"
)

// Every document is one that other programs read, and says what the page says.
func TestPapers(t *testing.T) {
	s := newShop(t)
	job := s.job()
	for _, r := range []string{"800", "1500", "2200", "3000", "3700", "800", "2200", "3700"} {
		s.read(job, r, "8.1", "note", `said "so", twice`)
	}
	for path, words := range map[string]string{"sheet.pdf": "Sandpiper", "tape.pdf": "Sandpiper", "proof.pdf": "keeps within"} {
		w := s.get("/job/" + job + "/" + path)
		wantCode(t, w, 200)
		if w.Header().Get("Content-Type") != "application/pdf" || !strings.HasPrefix(w.Header().Get("Content-Disposition"), `attachment; filename="Sandpiper`) || !bytes.HasPrefix(w.Body.Bytes(), []byte("%PDF-")) {
			t.Errorf("%s: %v", path, w.Header())
		}
		wantPDFText(t, path, w.Body.Bytes(), words)
		if again := s.get("/job/" + job + "/" + path); !bytes.Equal(again.Body.Bytes(), w.Body.Bytes()) {
			t.Errorf("%s: made twice, it differs", path)
		}
	}
	w := s.get("/job/" + job + "/readings.csv")
	wantCode(t, w, 200)
	rows, err := csv.NewReader(bytes.NewReader(w.Body.Bytes())).ReadAll() // RFC 4180
	if err != nil || len(rows) != 9 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	table, err := readings.Read(bytes.NewReader(w.Body.Bytes()), "readings.csv")
	if err != nil || len(table.Rows) != 8 || table.Rows[0].Shown != 8.1 || table.Rows[0].Note != `said "so", twice` {
		t.Errorf("read back: %+v %v", table, err)
	}
	if w := s.get("/job/" + job + "/card.yaml"); w.Body.String() != example(t, "sandpiper") {
		t.Error("the card's file is not the card that was saved")
	}
	line, err := s.book.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	events, err := s.book.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	paper, err := new(record.Job).Fold(line, events).ProofPaper(nil, func(w io.Writer) error { return s.book.Export(t.Context(), job, w) }, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	data, err := paper.PDF()
	if err != nil || !bytes.Equal(data, s.get("/job/"+job+"/proof.pdf").Body.Bytes()) {
		t.Error("command line and page print different proofs", err)
	}
	blank := strings.TrimSuffix(s.post("/new", url.Values{"name": {"B"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	for _, path := range []string{"/sheet.pdf", "/tape.pdf", "/proof.pdf"} {
		wantCode(t, s.get(blank+path), 409)
	}
}

// wantPDFText looks for words in a PDF with pdftotext (poppler-utils).
func wantPDFText(t *testing.T, name string, data []byte, words string) {
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
