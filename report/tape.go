package report

import (
	"fmt"

	"phasewright/drawing"
	"phasewright/jobcard"
)

// TapePaper is a timing tape, or a strip of marks, on its sheets. The card may be nil.
func TapePaper(t drawing.Tape, c *jobcard.Card, stamp Stamp) (*Paper, error) {
	kind := "tape"
	if t.Face == drawing.MarksOnly {
		kind = "strip"
	}
	t.Identity = stamp.block(kind, c, t)
	if n := len(stamp.Overrides); n > 0 {
		t.Foot = append(t.Foot, drawing.Cell{Label: "rules OVERRIDDEN", Value: fmt.Sprintf("%d: see the proof", n),
			Share: 1.2})
	}
	pages, err := t.Pages()
	if err != nil {
		return nil, err
	}
	return stamp.drawn(pages, t.Name, c), nil
}

// WheelPaper is a degree wheel on its sheet. The card may be nil.
func WheelPaper(w drawing.WheelFace, c *jobcard.Card, stamp Stamp) (*Paper, error) {
	w.Identity = stamp.block("wheel", c, w)
	page, err := w.Page()
	if err != nil {
		return nil, err
	}
	return stamp.drawn([]*drawing.Drawing{page}, w.Name, c), nil
}

// block are the cells by which a true-scale drawing is told from others. Without a card its own measures stand for it.
func (s Stamp) block(kind string, c *jobcard.Card, measures any) []drawing.Cell {
	if len(s.JSON) == 0 {
		s.JSON = fmt.Appendf(nil, "%+v", measures)
	}
	return s.identified(c).cells(kind, s)
}

// drawn makes a paper of pages that bear a title of their own.
func (s Stamp) drawn(pages []*drawing.Drawing, name string, c *jobcard.Card) *Paper {
	doc := drawing.Document{Title: pages[0].Title + ", " + name, Author: s.By, Subject: pages[0].Title, Date: s.Date,
		Pages: pages}
	if c != nil {
		doc.Attachments = s.attachments(c)
	}
	return &Paper{Doc: doc}
}
