package web

import (
	"bytes"
	"io"
	"net/http"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/report"
)

// paperSize is the sheet that a link asks for: A4 unless it says letter.
func paperSize(r *http.Request) drawing.SheetSize {
	if r.URL.Query().Get("paper") == "letter" {
		return drawing.Letter
	}
	return drawing.A4
}

func (s *Server) sheetPDF(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	paper, err := j.SetUpPaper(paperSize(r))
	return sendPaper(w, paper, err, j.fileName("set-up sheet.pdf"))
}

func (s *Server) proofPDF(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return err
	}
	paper, err := j.ProofPaper(files, func(w io.Writer) error { return s.Book.Export(r.Context(), j.ID, w) }, paperSize(r))
	return sendPaper(w, paper, err, j.fileName("proof.pdf"))
}

// tapePDF is the true-scale timing tape of the job's damper.
func (s *Server) tapePDF(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	paper, err := j.TapePaper(paperSize(r))
	return sendPaper(w, paper, err, j.fileName("timing tape.pdf"))
}

func (s *Server) readingsCSV(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	var b bytes.Buffer
	if err := j.Table().Write(&b); err != nil {
		return err
	}
	sendFile(w, "text/csv; charset=utf-8", j.fileName("readings.csv"), b.Bytes())
	return nil
}

func (s *Server) cardYAML(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	sendFile(w, "application/yaml", j.fileName("job card.yaml"), []byte(j.YAML))
	return nil
}

func sendPaper(w http.ResponseWriter, paper *report.Paper, err error, name string) error {
	if err != nil {
		return err
	}
	data, err := paper.PDF()
	if err != nil {
		return err
	}
	sendFile(w, "application/pdf", name, data)
	return nil
}

// sendFile offers data for saving under a plain name.
func sendFile(w http.ResponseWriter, media, name string, data []byte) {
	h := w.Header()
	h.Set("Content-Type", media)
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("Content-Length", strconv.Itoa(len(data)))
	w.Write(data) // a client that has gone is no news
}

// fileName is a name that every computer takes: the job's, in plain letters, and what it is.
func (j *job) fileName(what string) string {
	plain := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
			return r
		}
		return '-'
	}, j.Name)
	plain = strings.Trim(strings.Join(strings.FieldsFunc(plain, func(r rune) bool { return r == '-' }), "-"), "-")
	if len(plain) > 60 {
		plain = plain[:60]
	}
	if plain == "" {
		plain = j.ID
	}
	return plain + " " + what
}
