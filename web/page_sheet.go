package web

import (
	"net/http"
	"strconv"

	"phasewright/report"
	"phasewright/sheet"
)

type sheetBody struct {
	NoCard         string
	Areas          []sheetArea
	Damper, Cap    *plate
	Sweep          *plate
	Marks          []markLine
	Towers         []towerLine
	Expect         []expectLine
	Fine, Caution  int
	Stop           int
	Stops          []sheet.Item
	Cautions       []string
	Overrides      []report.Override
	Rotation, Turn string
}

type sheetArea struct {
	Name  string
	Items []itemLine
}

// itemLine is one item of the sheet as the page shows it.
type itemLine struct {
	ID, Title, Value, Text, Verdict, Because, Formula, Ignored string
	Inputs                                                     []sheet.Input
}

type markLine struct{ Name, Angle, Arc, Chord, Where string }

type towerLine struct{ Tower, Cylinder, Angle string }

type expectLine struct{ RPM, Shown, Band, Why string }

// sheetPage shows the set-up sheet: drawings first, then the items, stops before all.
func (s *Server) sheetPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	p := page{View: "sheet", Title: j.Name + ", set-up sheet", Where: "Set-up sheet", Job: j.head(), Live: true, Version: j.Version, Next: s.nextFor(j)}
	if j.Card == nil {
		p.Body = sheetBody{NoCard: "The set-up sheet follows from the job card, once that can be used."}
		return s.render(w, r, v, p)
	}
	sh, err := j.Sheet()
	if err != nil {
		return err
	}
	b := sheetBody{Cautions: sh.Cautions, Overrides: j.Overrides(), Rotation: sh.Rotation, Turn: sh.Rotor,
		Fine: sh.Count(sheet.Fine), Caution: sh.Count(sheet.Caution), Stop: sh.Count(sheet.Stop)}
	plates, err := j.drawn.plates()
	if err != nil {
		return err
	}
	b.Damper, b.Cap, b.Sweep = plates.damper, plates.cap, plates.rotor
	for _, m := range sh.Marks {
		b.Marks = append(b.Marks, markLine{m.Name, deg(m.AngleDeg), figure(m.ArcMM, 1), figure(m.ChordMM, 1), m.Direction})
	}
	for _, t := range sh.CylinderMap {
		b.Towers = append(b.Towers, towerLine{strconv.Itoa(t.Tower), strconv.Itoa(t.Cylinder), deg(t.AngleDeg)})
	}
	for _, e := range sh.Expect {
		line := expectLine{RPM: figure(e.RPM, 0), Shown: deg(e.Shown), Why: whole(e.Why)}
		if e.Band > 0 {
			line.Band = "± " + figure(e.Band, 1)
		}
		b.Expect = append(b.Expect, line)
	}
	for _, it := range sh.Items {
		if n := len(b.Areas); n == 0 || b.Areas[n-1].Name != it.Area {
			b.Areas = append(b.Areas, sheetArea{Name: it.Area})
		}
		a := &b.Areas[len(b.Areas)-1]
		a.Items = append(a.Items, itemLine{ID: it.ID, Title: whole(it.Title), Text: whole(it.Text), Verdict: string(it.Verdict), Because: whole(it.Because),
			Formula: it.Formula, Ignored: it.Ignored, Inputs: it.Inputs})
		if it.Verdict == sheet.Stop {
			b.Stops = append(b.Stops, it)
		}
	}
	p.Body = b
	return s.render(w, r, v, p)
}
