package job_test

import (
	"bytes"
	"encoding/csv"
	"io"
	"net/url"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/web/webtest"
)

// Every document is one that other programs read, and says what the page says.
func TestPapers(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, r := range []string{"800", "1500", "2200", "3000", "3700", "800", "2200", "3700"} {
		s.Read(job, r, "8.1", "note", `said "so", twice`)
	}
	for path, words := range map[string]string{"sheet.pdf": "Sandpiper", "tape.pdf": "Sandpiper",
		"proof.pdf": "The timing is within", "steps.pdf": "initials", "readings-form.pdf": "What was changed"} {
		w := s.Get("/job/" + job + "/" + path)
		webtest.WantCode(t, w, 200)
		if w.Header().Get("Content-Type") != "application/pdf" || !strings.HasPrefix(w.Header().Get("Content-Disposition"), `attachment; filename="Sandpiper`) || !bytes.HasPrefix(w.Body.Bytes(), []byte("%PDF-")) {
			t.Errorf("%s: %v", path, w.Header())
		}
		webtest.WantPDFText(t, path, w.Body.Bytes(), words)
		if again := s.Get("/job/" + job + "/" + path); !bytes.Equal(again.Body.Bytes(), w.Body.Bytes()) {
			t.Errorf("%s: made twice, it differs", path)
		}
	}
	w := s.Get("/job/" + job + "/readings.csv")
	webtest.WantCode(t, w, 200)
	rows, err := csv.NewReader(bytes.NewReader(w.Body.Bytes())).ReadAll() // RFC 4180
	if err != nil || len(rows) != 9 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	table, err := readings.Read(bytes.NewReader(w.Body.Bytes()), "readings.csv")
	if err != nil || len(table.Rows) != 8 || table.Rows[0].Shown != 8.1 || table.Rows[0].Note != `said "so", twice` {
		t.Errorf("read back: %+v %v", table, err)
	}
	if w := s.Get("/job/" + job + "/card.yaml"); w.Body.String() != webtest.Example(t, "sandpiper") {
		t.Error("the card's file is not the card that was saved")
	}
	line, err := s.Book.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	events, err := s.Book.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	paper, err := new(record.Job).Fold(line, events).ProofPaper(record.Files{Export: func(w io.Writer) error { return s.Book.Export(t.Context(), job, w) }}, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	data, err := paper.PDF()
	if err != nil || !bytes.Equal(data, s.Get("/job/"+job+"/proof.pdf").Body.Bytes()) {
		t.Error("command line and page print different proofs", err)
	}
	blank := strings.TrimSuffix(s.Post("/new", url.Values{"name": {"B"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	for _, path := range []string{"/sheet.pdf", "/tape.pdf", "/proof.pdf", "/steps.pdf", "/readings-form.pdf"} {
		webtest.WantCode(t, s.Get(blank+path), 409)
	}
	form := s.Get(blank + "/card-form.pdf") // which is what a job without a card needs
	webtest.WantCode(t, form, 200)
	webtest.WantPDFText(t, "card-form.pdf", form.Body.Bytes(), "Needed by every card")
}
