package report

import (
	"time"

	"phasewright/drawing"
)

// Paper is a finished document: pages that can be shown one by one or written as a PDF.
type Paper struct {
	Doc drawing.Document
}

// PDF is the document as a file.
func (p *Paper) PDF() ([]byte, error) { return drawing.PDF(p.Doc) }

// Warnings says what could not be printed as it was written.
func (p *Paper) Warnings() []drawing.Warning {
	var out []drawing.Warning
	seen := map[drawing.Warning]bool{}
	for _, d := range p.Doc.Pages {
		for _, w := range d.Warnings() {
			if !seen[w] {
				seen[w] = true
				out = append(out, w)
			}
		}
	}
	return out
}

// Field is a labelled value for people.
type Field struct{ Label, Value string }

// day is how a date is printed (ISO 8601).
func day(t time.Time) string {
	if t.IsZero() {
		return "not stated"
	}
	return t.Format("2006-01-02")
}
