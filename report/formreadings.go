package report

import (
	"fmt"
	"strconv"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/sheet"
)

// ReadingsForm is a blank form for light readings of an engine: the speeds that its order of work asks for, what the
// light must show there, and room for what it showed, under which settings, by whom; and for what was changed then.
func ReadingsForm(c *jobcard.Card, s *sheet.Sheet, stamp Stamp) (*Paper, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	p, err := procedure.New(c, s)
	if err != nil {
		return nil, err
	}
	f := newFlow("readings-form", "Light readings, blank", c.Job.Name, c, stamp, []drawing.Cell{
		{Label: "read by", Share: 1.6}, {Label: "date of the work", Share: 1.1},
		{Label: "timing light, own number", Share: 1.4}, {Label: "tachometer, own number", Share: 1.4}})
	f.heading("What is wanted")
	f.fields(wanted(c, p))
	f.alert("Hands, sleeves and cables clear of belts and fan. A strobe makes a fan look still.")
	f.alert("Engine stopped and dead by meter before a hand goes to the distributor or a setting changes.")
	f.text("Light's own dial at zero, or write its setting. Clamp tight. Locked: it stays while the throttle moves. "+
		"Go up only while the speed below stands inside. Write what it shows, even where it is strange.", drawing.Body)
	f.y += gap
	f.readingRows(readingsAsked(c, p))
	f.changes()
	return f.paper(stamp, c), nil
}

// alert is a caution, heavy behind its mark.
func (f *flow) alert(text string) {
	f.need(5)
	f.d.Mark(drawing.Point{X: inset + 1.6, Y: f.y + 2.4}, 2.6, drawing.IsCaution, drawing.Ink)
	f.indented(text, drawing.Body.Heavy(), 6)
}

// wanted is what the readings are judged by.
func wanted(c *jobcard.Card, p *procedure.Procedure) []Field {
	list := []Field{
		{"tolerance", "± " + degrees(float64(c.Tolerance)) + ", early or late"},
		{"from idle to redline", quantity.Number(float64(c.Engine.IdleSpeed), 0) + " to " +
			quantity.RPM(c.Engine.Redline)},
		{"locked at", settingWords(c.Controller.Advance.Locked, " BTDC")},
		{"allowance on the card", settingWords(c.Controller.DelayAllowance, "")},
		{"crank turns", c.Engine.Rotation.FromFront()},
		{"rotor turns", c.Distributor.Rotation.FromAbove()},
	}
	if st, ok := p.Step(procedure.StepIdle); ok {
		list = append(list, Field{"no faster outside", degrees(st.Demand.Passes.From) + " to " +
			degrees(st.Demand.Passes.To) + " BTDC"})
	}
	return append(list, Field{"timing error", "shown − locked: early +, late −"})
}

func settingWords[T quantity.Quantity](s jobcard.Setting[T], behind string) string {
	v, given := s.Get()
	if !given {
		return jobcard.NotGiven
	}
	return fmt.Sprint(v) + behind
}

// readingAsked is a reading that the order of work asks for; the zero value is one more, at will.
type readingAsked struct{ at, wanted, locked, wire string }

// readingsAsked are the readings that an engine's order of work asks for: on the starter, at idle, at each speed above
// it, and at idle on the wires that tell most beside the first.
func readingsAsked(c *jobcard.Card, p *procedure.Procedure) (out []readingAsked) {
	first := strconv.Itoa(c.Engine.FiringOrder[0])
	a := c.Controller.Advance
	if st, ok := p.Step(procedure.StepBase); ok {
		must := degrees(st.Demand.Passes.From) + " to " + degrees(st.Demand.Passes.To)
		out = append(out, readingAsked{"starter", must, settingWords(a.Cranking, ""), first})
	}
	locked := settingWords(a.Locked, "")
	must := locked + " ± " + degrees(float64(c.Tolerance))
	idle := "idle, " + quantity.Number(float64(c.Engine.IdleSpeed), 0)
	out = append(out, readingAsked{idle, must, locked, first})
	if st, ok := p.Step(procedure.StepRange); ok {
		for _, r := range st.Demand.Rungs {
			out = append(out, readingAsked{quantity.Number(r.RPM, 0), must, locked, first})
		}
	}
	for _, w := range sheet.WiresToRead(c) {
		out = append(out, readingAsked{idle, must, locked, strconv.Itoa(w)})
	}
	return out
}

// formColumn is a column of a form that is filled in by hand: its head, its width in mm, and the boxes to tick in it.
type formColumn struct {
	head  string
	wide  float64
	boxes []string
}

var readingColumns = []formColumn{{"no.", 7, nil}, {"asked, rpm", 18, nil}, {"must show, ° BTDC", 21, nil},
	{"read, rpm", 19, nil}, {"light shows, °", 18, nil}, {"before or after TDC", 24, []string{"B", "A"}},
	{"command, °", 15, nil}, {"wire", 10, nil}, {"light's dial, scale", 15, nil}, {"allow- ance, µs", 15, nil},
	{"held, even", 9, []string{""}}, {"initials", 13, nil}}

// changeColumns are those of what was changed between readings.
var changeColumns = []formColumn{{"after no.", 13, nil}, {"housing turned, ° of the shaft", 32, nil},
	{"with or against the rotor", 36, []string{"with", "against"}}, {"allowance, from, µs", 22, nil},
	{"to, µs", 20, nil}, {"stored, dark, read back", 20, []string{""}}, {"clamp tight", 16, []string{""}},
	{"initials and time", 25, nil}}

// handHigh is the height of a row that is filled in by hand, mm.
const handHigh = 8.2

// changesAsked is how many rows there are for what was changed.
const changesAsked = 3

// changesHigh is the height of the table of what was changed, mm.
const changesHigh = 8.4 + 8.4 + changesAsked*handHigh + gap

// readingRows sets a row for each reading that is asked for, and as many more as the last sheet has room for beside
// the table of changes.
func (f *flow) readingRows(asked []readingAsked) {
	f.handHead(readingColumns)
	const least = 3 // more, at will
	for n := 1; ; n++ {
		room := f.bottom() - f.y - gap
		if n > len(asked)+least && room >= changesHigh && room-handHigh < changesHigh {
			break
		}
		if room+gap < handHigh {
			f.page()
			f.handHead(readingColumns)
		}
		var one readingAsked
		if n <= len(asked) {
			one = asked[n-1]
		}
		f.handRow(readingColumns, []string{strconv.Itoa(n), one.at, one.wanted, "", "", "", one.locked, one.wire})
	}
	f.y += gap
}

// changes sets the table of what was changed between readings.
func (f *flow) changes() {
	f.headingOf("What was changed: one thing at a time, engine stopped", changesHigh-8.4)
	f.handHead(changeColumns)
	for range changesAsked {
		f.handRow(changeColumns, nil)
	}
}

// handHead sets the heads of columns.
func (f *flow) handHead(columns []formColumn) {
	x, high := inset, 1
	heads := make([][]string, len(columns))
	for i, c := range columns {
		heads[i] = drawing.Wrap(c.head, c.wide-1, formHead)
		high = max(high, len(heads[i]))
	}
	step := formHead.Size * 1.15
	for i, c := range columns {
		for k, line := range heads[i] {
			f.d.Text(x+1, f.y+step*float64(k+1+high-len(heads[i])), line, formHead)
		}
		x += c.wide * f.stretch(columns)
	}
	f.y += step*float64(high) + 1.6
	f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Style{Stroke: drawing.Ink, Width: 0.3})
}

var formHead = drawing.Note.Sized(2.5)

// stretch is what the columns of a form are widened by to fill the sheet.
func (f *flow) stretch(columns []formColumn) float64 {
	sum := 0.0
	for _, c := range columns {
		sum += c.wide
	}
	return f.wide() / sum
}

// handRow sets a row to be filled in by hand, with what is known of it.
func (f *flow) handRow(columns []formColumn, known []string) {
	x, foot := inset, f.y+handHigh
	for i, c := range columns {
		wide := c.wide * f.stretch(columns)
		if i > 0 {
			f.d.Line(x, f.y, x, foot, drawing.Grid)
		}
		if i < len(known) {
			f.d.Text(x+1, foot-2.4, drawing.Fit(known[i], wide-1.5, tableText), tableText)
		}
		for k, b := range c.boxes {
			at := x + 1 + (wide-1)*float64(k)/float64(len(c.boxes))
			f.box(at, foot-5, 3.2, false)
			f.d.Text(at+4.4, foot-2.4, b, tableText)
		}
		x += wide
	}
	f.y = foot
	f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Grid)
}
