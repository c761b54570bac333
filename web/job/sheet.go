package job

import (
	"strconv"
	"strings"

	"phasewright/quantity"
	"phasewright/report"
	"phasewright/sheet"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type sheetBody struct {
	NoCard             string
	Areas              []sheetArea
	Damper, Cap, Sweep *page.Plate
	Marks              []markLine
	Way                string // from the zero mark, where all marks lie to one side
	Towers             []towerLine
	Expect             []expectLine
	Fine, Caution      int
	Stop               int
	Stops, Cautioned   []itemLine
	Cautions           []string
	Overrides          []report.Override
	Rotation, Turn     string
	Kind, Served       string
	Unit, Head         string // of the figures along the rim: on the drawing, and over the table
}

type sheetArea struct {
	Name  string
	Items []itemLine
}

// itemLine is one item of the sheet as the page shows it.
type itemLine struct {
	ID, Title, Value, Text, Verdict, Because, Formula, Ignored string
	Inputs                                                     []sheet.Input
	Cure                                                       []cureLine
	Manual                                                     string // where the manual explains it
}

// cureLine is a line of the card that cures an item, and where the card's form has it.
type cureLine struct{ Path, At string }

func cureLinesOf(job string, it sheet.Item) []cureLine {
	var out []cureLine
	for _, path := range it.Cure {
		section, _, _ := strings.Cut(path, ".")
		out = append(out, cureLine{path, "/job/" + job + "/card?open=" + section + "#" + formPrefix + path})
	}
	return out
}

func itemLineOf(it sheet.Item) itemLine {
	return itemLine{ID: it.ID, Title: page.Whole(it.Title), Text: page.Whole(it.Text), Verdict: string(it.Verdict),
		Because: page.Whole(it.Because), Formula: it.Formula, Ignored: it.Ignored, Inputs: it.Inputs,
		Manual: page.ManualOnItem(it.ID)}
}

type markLine struct{ Name, Angle, Arc, Chord, Where string }

type towerLine struct{ Tower, Cylinder, Angle string }

type expectLine struct{ RPM, Shown, Band, Why string }

// sheetPage shows the set-up sheet in the order of use: stops and cautions, drawings, then what is fine.
func (r *Room) sheetPage(q *page.Request, j *shelf.Job) error {
	b := sheetBody{NoCard: "The set-up sheet follows from the job card, once that can be used."}
	if j.Card != nil {
		var err error
		if b, err = r.sheetBody(j); err != nil {
			return err
		}
	}
	p := j.Page("sheet", "set-up sheet", "Set-up sheet", b)
	p.Next, p.Leads = j.Next(), true
	return q.Render(p)
}

func (r *Room) sheetBody(j *shelf.Job) (b sheetBody, err error) {
	sh, err := j.Sheet()
	if err != nil {
		return b, err
	}
	plates, err := r.drawingsOf(j).sheet()
	if err != nil {
		return b, err
	}
	b = sheetBody{Damper: plates.damper, Cap: plates.cap, Sweep: plates.rotor,
		Cautions: sh.Cautions, Overrides: j.Overrides(), Rotation: sh.Rotation, Turn: sh.Rotor,
		Fine: sh.Count(sheet.Fine), Caution: sh.Count(sheet.Caution), Stop: sh.Count(sheet.Stop)}
	u := j.Card.Job.Units
	b.Kind, b.Served, b.Unit, b.Head = sh.Kind, sh.Served, u.Short(), u.ToolHead()
	if len(sh.Marks) > 0 {
		b.Way = sh.Marks[0].Direction
	}
	for _, m := range sh.Marks {
		if m.Direction != b.Way {
			b.Way = ""
		}
	}
	for _, m := range sh.Marks {
		b.Marks = append(b.Marks, markLine{m.Name, page.Degrees(m.AngleDeg), u.ToolFigure(quantity.Length(m.ArcMM), 1),
			u.ToolFigure(quantity.Length(m.ChordMM), 1), m.Direction})
	}
	for _, t := range sh.CylinderMap {
		b.Towers = append(b.Towers, towerLine{strconv.Itoa(t.Tower), strconv.Itoa(t.Cylinder),
			page.Degrees(t.AngleDeg)})
	}
	for _, e := range sh.Expect {
		line := expectLine{RPM: page.Figure(e.RPM, 0), Shown: page.Degrees(e.Shown), Why: page.Whole(e.Why)}
		if e.Band > 0 {
			line.Band = "± " + page.Figure(e.Band, 1)
		}
		b.Expect = append(b.Expect, line)
	}
	o := sh.InOrder()
	lines := func(g sheet.Group) []itemLine {
		var out []itemLine
		for _, it := range g.Items {
			line := itemLineOf(it)
			line.Cure = cureLinesOf(j.ID, it)
			if it.ID == "marks" && it.Verdict == sheet.Fine { // one that is not says which
				line.Text = "drawn and listed under Damper marks"
			}
			out = append(out, line)
		}
		return out
	}
	b.Stops, b.Cautioned = lines(o.Stops), lines(o.Cautions)
	for _, g := range o.Areas {
		b.Areas = append(b.Areas, sheetArea{g.Name, lines(g)})
	}
	return b, nil
}
