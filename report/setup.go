package report

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// Stamp is what a document says of its making.
type Stamp struct {
	Date  time.Time // of issue, in the zone that it is printed in
	By    string
	Paper drawing.SheetSize
	Identity
	// Overrides are the locks passed with a reason: they stand on every sheet that a job makes.
	Overrides []Override
	// JSON is the machine-readable twin, carried inside the PDF; may be empty.
	JSON []byte
	// Export is the whole job as the shop book exports it, carried inside the PDF too, so that the paper can be opened
	// again; may be empty.
	Export []byte
}

// ExportName is what the export is called inside the PDF.
const ExportName = "job.zip"

// ErrNothing says that there is no job to print.
var ErrNothing = errors.New("report – no job card or no sheet – check the card first")

// SetUp is the set-up sheet to pin up beside the engine: what stops the work and what to heed first, on as few pages
// as its matter needs.
func SetUp(c *jobcard.Card, s *sheet.Sheet, stamp Stamp) (*Paper, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	var least *flow
	for d := withReasons; d <= runIn; d++ {
		f, err := setUp(c, s, stamp, d)
		if err != nil {
			return nil, err
		}
		if least == nil || len(f.pages) < len(least.pages) {
			least = f
		}
		if len(f.pages) <= 2 {
			break
		}
	}
	return least.paper(stamp, c), nil
}

// density says how closely a set-up sheet is set so that it takes few pages. Stops and cautions keep all their words.
type density uint8

const (
	withReasons    density = iota
	withoutReasons         // of what is fine
	smallDrawings          // and the drawings smaller
	smallWords             // and the words of what is fine, and the drawings again
	runIn                  // and what is fine goes on behind its title, what is assumed in one paragraph, tables closer
)

func setUp(c *jobcard.Card, s *sheet.Sheet, stamp Stamp, dense density) (*flow, error) {
	f := newFlow("sheet", "Set-up sheet", s.Job, c, stamp, nil)
	f.close = dense == runIn
	f.text("This engine: "+s.Kind+". Two-stroke engines are not served. On this sheet: "+
		strconv.Itoa(s.Count(sheet.Stop))+" stop, "+strconv.Itoa(s.Count(sheet.Caution))+" caution, "+
		strconv.Itoa(s.Count(sheet.Fine))+" fine.", drawing.Note.Sized(smallest))
	half := f.columnWidth()
	less, shown := 8.0, everyDistance
	if dense >= smallDrawings {
		less, shown = 24, largestDistance // the table of marks holds them all
	}
	switch dense {
	case smallWords:
		less = 28
	case runIn:
		less = 38
	}
	cap, err := capView(c, s, half-less-4)
	if err != nil {
		return nil, fmt.Errorf("set-up sheet, cap map: %w", err)
	}
	damper, err := damperView(c, s, half-less, shown)
	if err != nil {
		return nil, fmt.Errorf("set-up sheet, damper: %w", err)
	}
	if len(stamp.Overrides) > 0 {
		f.overrides(stamp.Overrides)
	}
	o := s.InOrder()
	if stops := foundIn(o.Stops); len(stops) > 0 {
		blocks := f.items(stops, f.wide())
		f.headingOf("Stop: settle these before anything turns", blocks[0].high)
		f.stack(blocks)
		f.y += gap
	}
	if cautions := foundIn(o.Cautions); len(cautions) > 0 {
		size := itemText.Size
		if dense == runIn {
			size = smallest
		}
		blocks := f.itemsSized(cautions, half, size)
		f.headingOf("Caution", blocks[0].high)
		f.columns(blocks)
		f.y += gap
	}
	if dense >= smallDrawings {
		f.besideCautions(damper, cap, s.Cautions)
	} else {
		f.beside(damper, cap)
	}
	f.expect(s.Expect)
	f.marks(c.Job.Units, s.Marks)
	if fine := fineIn(o.Areas, dense, cap != nil); len(fine) > 0 {
		blocks := f.itemsSized(fine, half, itemText.Size)
		switch {
		case dense == smallWords:
			blocks = f.itemsSized(fine, half, smallest)
		case dense == runIn:
			blocks = f.itemsRunIn(fine, half)
		}
		f.headingOf("Settings, distances, angles", blocks[0].high)
		if dense != withReasons {
			f.d.Text(f.w-inset, f.y-2.4, "reasons for what is fine: on the screen and in the data",
				drawing.Note.At(drawing.End, drawing.Baseline))
		}
		f.columns(blocks)
	}
	if dense < smallDrawings {
		err = f.rotorAndCautions(c, s.Cautions)
	}
	f.assumed(s.Assumed(), dense)
	return f, err
}

// foundIn are stops or cautions in all their words, with the lines of the card that cure them.
func foundIn(g sheet.Group) []found {
	var out []found
	for _, it := range g.Items {
		x := found{verdict: verdictOf(it.Verdict), title: it.Title, text: it.Text, because: it.Because,
			cure: it.CureText()}
		if it.Verdict == sheet.Stop && it.Ignored != "" {
			x.because += ". If ignored: " + it.Ignored
		}
		out = append(out, x)
	}
	return out
}

// fineIn are the items that stand well, but for what the drawings and the table of marks tell.
func fineIn(areas []sheet.Group, dense density, capDrawn bool) []found {
	var out []found
	for _, g := range areas {
		for _, it := range g.Items {
			if it.ID == "marks" || it.ID == "cylinder_map" && dense != withReasons && capDrawn {
				continue
			}
			x := found{verdict: drawing.IsFine, title: it.Title, text: it.Text, because: it.Because}
			if dense != withReasons {
				x.because = ""
			}
			out = append(out, x)
		}
	}
	return out
}

// assumed lists what nobody measured, each with the range that it may lie in.
func (f *flow) assumed(list []sheet.Input, dense density) {
	if len(list) == 0 {
		return
	}
	const title = "Assumed, since nobody measured it, with the range it may lie in"
	if dense == runIn {
		var all []string
		for _, in := range list {
			all = append(all, in.Path+" "+in.Value)
		}
		t := drawing.Body.Sized(smallest)
		step := t.Size * drawing.LineHeight
		text := strings.Join(all, "; ") + "."
		var blocks []block
		for _, line := range drawing.Wrap(text, f.columnWidth(), t) {
			blocks = append(blocks, block{step, func(x, y float64) { f.d.Text(x, y+step*0.75, line, t) }})
		}
		f.headingOf(title, 14)
		f.heed(text)
		f.columns(blocks)
		f.y += gap
		return
	}
	name, value := drawing.Body.Sized(2.5), drawing.Body.Sized(2.5).Heavy()
	step := name.Size * drawing.LineHeight
	wide := f.columnWidth()
	blocks := make([]block, len(list))
	high := step // one column may be a line longer
	for i, in := range list {
		f.heed(in.Path + " " + in.Value)
		names := drawing.Wrap(in.Path, wide*0.56, name)
		values := drawing.Wrap(in.Value, wide*0.42, value)
		b := block{high: step*float64(max(len(names), len(values))) + 0.9}
		b.draw = func(x, y float64) {
			f.d.Line(x, y, x+wide, y, drawing.Grid)
			for k, line := range names {
				f.d.Text(x, y+step*float64(k+1), line, name)
			}
			for k, line := range values {
				f.d.Text(x+wide*0.58, y+step*float64(k+1), line, value)
			}
		}
		blocks[i] = b
		high += b.high / 2
	}
	f.headingOf(title, high)
	f.columns(blocks)
}

// rotorAndCautions ends the sheet with the cautions, and beside them the rotor over its terminal where there is room;
// else the paper on coil, spark and rotor has it.
func (f *flow) rotorAndCautions(c *jobcard.Card, cautions []string) error {
	k, err := sheet.CaseOf(c)
	if err != nil { // an item says why
		f.cautions(cautions)
		return nil
	}
	view, ok := RotorSweep(c, k.Plan, 80, "rotor")
	if !ok {
		f.cautions(cautions)
		return nil
	}
	d, err := view.Draw()
	if err != nil {
		return fmt.Errorf("set-up sheet, rotor: %w", err)
	}
	const words = 46 // mm, of the cautions in a column of this width
	if f.y+8.4+max(d.Height, words)+gap > f.bottom() {
		f.cautions(cautions)
		return nil
	}
	f.headingOf("Rotor tip over its terminal", max(d.Height, words))
	f.besideCautions(d, nil, cautions)
	return nil
}

// marks sets the distances of the marks.
func (f *flow) marks(u quantity.LengthUnit, list []sheet.Mark) {
	if len(list) == 0 {
		return
	}
	way := list[0].Direction
	for _, m := range list {
		if m.Direction != way {
			way = ""
		}
	}
	title := "Marks on the damper, from the zero mark"
	cols := []column{{"mark", 3, left}, {"before TDC", 1, figure}, {"along the rim, " + u.ToolHead(), 1.5, figure},
		{"with dividers, " + u.ToolHead(), 1.5, figure}, {"twice u", 1, figure}}
	if way == "" {
		cols = append(cols, column{"", 0.2, left}, column{"direction", 3, left})
	} else {
		title += " " + way
	}
	f.headingOf(title, 5+f.rowHeight()*float64(len(list)))
	var rows [][]string
	for _, m := range list {
		row := []string{m.Name, degrees(m.AngleDeg), u.ToolFigure(quantity.Length(m.ArcMM), 1),
			u.ToolFigure(quantity.Length(m.ChordMM), 1),
			"± " + quantity.Degrees(2*m.UDeg, 1)}
		if way == "" {
			row = append(row, "", m.Direction)
		}
		rows = append(rows, row)
	}
	f.table(cols, rows)
}

// expect sets what the light must show.
func (f *flow) expect(list []sheet.Expect) {
	if len(list) == 0 {
		return
	}
	f.headingOf("What the light must show", 5+f.rowHeight()*float64(len(list)))
	var rows [][]string
	for _, e := range list {
		shown := quantity.Degrees(e.Shown, 1)
		if e.Band > 0 {
			shown += " ± " + quantity.Degrees(e.Band, 1)
		}
		rows = append(rows, []string{quantity.Number(e.RPM, 0), shown, e.Why})
	}
	f.table([]column{{"rpm", 0.7, figure}, {"before TDC", 1.1, figure}, {"", 0.15, left}, {"why", 5, left}},
		spread(rows, 2))
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
	if len(stamp.Overrides) > 0 && !f.told {
		f.overrides(stamp.Overrides)
	}
	doc := drawing.Document{Title: f.title + ", " + f.job, Author: or(stamp.By, c.Job.Shop), Subject: f.title,
		Date: stamp.Date, Pages: f.finish()}
	doc.Attachments = stamp.attachments(c)
	return &Paper{Doc: doc}
}

// attachments are the files that a paper carries: its figures, the job, and the card that it was made from.
func (s Stamp) attachments(c *jobcard.Card) []drawing.Attachment {
	var out []drawing.Attachment
	if len(s.JSON) > 0 {
		out = append(out, drawing.Attachment{Name: "job.json", Desc: "the numbers of this document, for machines",
			Data: s.JSON})
	}
	if len(s.Export) > 0 {
		out = append(out, drawing.Attachment{Name: ExportName, Data: s.Export,
			Desc: "the whole job, to be taken into a shop book again", Relation: drawing.IsSource})
	}
	if len(c.Source()) > 0 {
		out = append(out, drawing.Attachment{Name: "job.yaml", Desc: "the job card that this was made from",
			Data: c.Source(), Relation: drawing.IsSource})
	}
	return out
}
