package page

import (
	"strconv"

	"phasewright/drawing"
	"phasewright/report"
)

// PaperSize is the sheet that a link asks for: A4 unless it says letter.
func (q *Request) PaperSize() drawing.SheetSize {
	if q.URL.Query().Get("paper") == "letter" {
		return drawing.Letter
	}
	return drawing.A4
}

// SendPaper offers a paper for saving, unless it came with an error.
func (q *Request) SendPaper(paper *report.Paper, err error, name string) error {
	if err != nil {
		return err
	}
	data, err := paper.PDF()
	return q.SendFile("application/pdf", name, data, err)
}

// SendFile offers data for saving under a plain name, unless it came with an error.
func (q *Request) SendFile(media, name string, data []byte, err error) error {
	if err != nil {
		return err
	}
	h := q.W.Header()
	h.Set("Content-Type", media)
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("Content-Length", strconv.Itoa(len(data)))
	q.W.Write(data) // a client that has gone is no news
	return nil
}
