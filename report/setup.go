package report

import (
	"errors"
	"fmt"
	"strconv"
	"time"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// Stamp is what a document says of its making.
type Stamp struct {
	Date  time.Time // of the job
	By    string
	Paper drawing.SheetSize
	// JSON is the machine-readable twin, carried inside the PDF; may be empty.
	JSON []byte
}

// ErrNothing says that there is no job to print.
var ErrNothing = errors.New("report – no job card or no sheet – check the card first")

// SetUp is the set-up sheet to pin up beside the engine.
func SetUp(c *jobcard.Card, s *sheet.Sheet, stamp Stamp) (*Paper, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	f := newFlow(stamp.Paper, "Set-up sheet", s.Job, []drawing.Cell{
		{Label: "fine", Value: strconv.Itoa(s.Count(sheet.Fine)), Share: 0.6},
		{Label: "caution", Value: strconv.Itoa(s.Count(sheet.Caution)), Share: 0.6},
		{Label: "stop", Value: strconv.Itoa(s.Count(sheet.Stop)), Share: 0.6},
		{Label: "date", Value: day(stamp.Date), Share: 1.1},
		{Label: "by", Value: or(stamp.By, c.Job.Shop), Share: 1.8},
	})
	half := f.columnWidth()
	cap, err := capPlate(c, s, half-8)
	if err != nil {
		return nil, fmt.Errorf("set-up sheet, cap map: %w", err)
	}
	damper, err := damperPlate(c, s, half-4)
	if err != nil {
		return nil, fmt.Errorf("set-up sheet, damper: %w", err)
	}
	f.beside(damper, cap)
	var stops, cautions, fine []found
	for _, it := range s.Items {
		x := found{verdictOf(it.Verdict), it.Title, it.Text, it.Because}
		switch x.verdict {
		case drawing.IsStop:
			if it.Ignored != "" {
				x.because += ". If ignored: " + it.Ignored
			}
			stops = append(stops, x)
		case drawing.IsCaution:
			cautions = append(cautions, x)
		default:
			fine = append(fine, x)
		}
	}
	if len(stops) > 0 {
		blocks := f.items(stops, f.wide())
		f.headingOf("Stop: settle these before anything turns", blocks[0].high)
		f.stack(blocks)
	}
	if len(cautions) > 0 {
		blocks := f.items(cautions, half)
		f.headingOf("Caution", blocks[0].high)
		f.columns(blocks)
	}
	f.expect(s.Expect)
	if len(fine) > 0 {
		blocks := f.items(fine, half)
		f.headingOf("Settings, distances, angles", blocks[0].high)
		f.columns(blocks)
	}
	f.cautions(s.Cautions)
	return f.paper(stamp, c), nil
}

// expect sets what the light must show.
func (f *flow) expect(list []sheet.Expect) {
	if len(list) == 0 {
		return
	}
	f.heading("What the light must show")
	var rows [][]string
	for _, e := range list {
		shown := quantity.Number(e.Shown, 1) + "°"
		if e.Band > 0 {
			shown += " ± " + quantity.Number(e.Band, 1) + "°"
		}
		rows = append(rows, []string{quantity.Number(e.RPM, 0), shown, e.Why})
	}
	f.table([]column{{"rpm", 0.7, figure}, {"before TDC", 1.1, figure}, {"", 0.15, left}, {"why", 5, left}}, spread(rows, 2))
}

// spread puts an empty cell before column n, so that words do not touch figures.
func spread(rows [][]string, n int) [][]string {
	for i, r := range rows {
		rows[i] = append(append(append([]string{}, r[:n]...), ""), r[n:]...)
	}
	return rows
}

func verdictOf(v sheet.Verdict) drawing.Verdict {
	switch v {
	case sheet.Fine:
		return drawing.IsFine
	case sheet.Caution:
		return drawing.IsCaution
	}
	return drawing.IsStop
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	if b != "" {
		return b
	}
	return "not stated"
}

// paper closes the flow.
func (f *flow) paper(stamp Stamp, c *jobcard.Card) *Paper {
	doc := drawing.Document{Title: f.title + ", " + f.job, Author: or(stamp.By, c.Job.Shop), Subject: f.title, Date: stamp.Date, Pages: f.finish()}
	if len(stamp.JSON) > 0 {
		doc.Attachments = []drawing.Attachment{{Name: "job.json", Desc: "the numbers of this document, for machines", Data: stamp.JSON}}
	}
	return &Paper{Doc: doc}
}
