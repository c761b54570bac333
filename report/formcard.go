package report

import (
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// CardForm is a blank job card to fill in by hand beside the engine: what every card needs first, then the rest by its
// sections. Of units to choose from, the shop's stands first; words are boxes to tick.
func CardForm(shop quantity.LengthUnit, stamp Stamp) *Paper {
	f := newFlow("card-form", "Job card, blank", "Engine:", nil, stamp, []drawing.Cell{
		{Label: "written down by", Share: 1.8}, {Label: "date", Share: 1.1}})
	f.text("Fill in what is known, and leave the rest empty. Tick one box of a row. Ring the unit. Never guess: what "+
		"is left empty is assumed, and said so on the set-up sheet.", drawing.Body)
	f.y += gap
	var rows []laid
	section := ""
	for _, needed := range []bool{true, false} {
		for _, field := range jobcard.Fields() {
			name, _, _ := strings.Cut(field.Path, ".")
			first := field.Needed() || field.Path == "job.units"
			if first != needed || field.Path == "job.confirmed" { // which answers what only a screen asks
				continue
			}
			one := laid{beside: f.formRow(field, shop)}
			switch {
			case needed && section == "":
				section, one.part = "needed", "Needed by every card"
			case !needed && name != section && !shares(name, section):
				one.part = headingOf[name]
				if section == "needed" {
					one.part = "May stay empty: " + one.part
				}
				section = name
			}
			rows = append(rows, one)
		}
	}
	f.evenly(rows)
	for _, d := range f.pages {
		d.Line(inset+drawing.Width(f.job, drawing.Head)+3, margin+8.4, inset+f.wide()*0.7, margin+8.4, pen)
	}
	return f.paper(stamp, &jobcard.Card{})
}

// headingOf names the sections of a card.
var headingOf = map[string]string{"job": "the job", "engine": "Engine", "damper": "Damper",
	"distributor": "Distributor", "signals": "Signals", "controller": "Controller", "ignition": "Ignition",
	"coil": "Coil (leave it all empty where a box charges itself)", "light": "Light, proof and tolerance"}

// shares says whether a section of one field stands under the heading of the one before.
func shares(name, under string) bool {
	return (name == "proof" || name == "tolerance") && under == "light"
}

// Columns of a form's row, mm: what it is called, what is written, and why.
const (
	formName  = 44.0
	formWrite = 74.0
)

// formRow is a field of the card: its name, room to write or boxes to tick, and what it is and why.
func (f *flow) formRow(field jobcard.Field, shop quantity.LengthUnit) []piece {
	why := field.Doc
	if field.Demand != "" {
		why += " Needed: " + field.Demand + "."
	}
	if field.Default != "" {
		why += " Left empty: " + unitSigns.Replace(field.Default) + "."
	}
	label := drawing.Wrap(fieldName(field), formName-2, stepBody.Heavy())
	about := drawing.Wrap(why, f.wide()-formName-formWrite-2, stepSoft)
	entry := entryOf(field, shop)
	high := max(float64(len(label))*stepBody.Size*drawing.LineHeight,
		float64(len(about))*stepSoft.Size*drawing.LineHeight, entry.high) + 1.6
	return []piece{{high, func(f *flow, x, y float64) {
		f.heed(why)
		lines := func(x float64, list []string, t drawing.TextStyle) {
			for i, line := range list {
				f.d.Text(x, y+0.6+t.Size*drawing.LineHeight*float64(i+1), line, t)
			}
		}
		lines(x, label, stepBody.Heavy())
		lines(x+formName+formWrite+2, about, stepSoft)
		entry.draw(f, x+formName, y+0.6)
	}}}
}

// fieldName is a field as it is called on paper: its path in words, without the section that stands over it.
func fieldName(field jobcard.Field) string {
	path := field.Path
	if section, rest, nested := strings.Cut(path, "."); nested && !field.Needed() && path != "job.units" &&
		headingOf[section] != "" && section != "light" {
		path = rest
	}
	return strings.NewReplacer(".", ", ", "_", " ").Replace(path)
}

// entryOf is where a field is filled in.
func entryOf(field jobcard.Field, shop quantity.LengthUnit) piece {
	switch field.Kind {
	case jobcard.Word:
		return choices(field.Words)
	case jobcard.Order:
		return orderBoxes()
	case jobcard.List, jobcard.Table:
		return ruled(unitsOf(field, shop), "", 2)
	case jobcard.Measured:
		return ruled(unitsOf(field, shop), "±", 1)
	}
	return ruled(unitsOf(field, shop), "", 1)
}

// unitsOf are the units to ring, the shop's own length first.
func unitsOf(field jobcard.Field, shop quantity.LengthUnit) string {
	units := field.Units
	if shop == quantity.Inch && len(units) > 1 && units[0] == "mm" {
		units = append([]string{"in", "mm"}, units[2:]...)
	}
	return unitSigns.Replace(strings.Join(units, "   "))
}

// unitSigns are units as they are printed, by how they are typed.
var unitSigns = strings.NewReplacer("us", "µs", " degC", "\u2009°C", "degC", "°C", "degF", "°F", " deg", "°",
	"deg", "°", "kg.m2", "kg·m²", "cm3", "cm³", "in3", "in³", "kg/cm2", "kg/cm²", "ohm", "Ω")

// penHigh is the height of a line that is written on by hand, mm.
const penHigh = 7.5

var pen = drawing.Style{Stroke: drawing.Ink, Width: 0.2}

// ruled are lines to write on, the unit at the end of each; within, where there is one, parts off room for a ±.
func ruled(units, within string, lines int) piece {
	return piece{penHigh * float64(lines), func(f *flow, x, y float64) {
		end := x + formWrite - 3
		if units != "" {
			end -= drawing.Width(units, stepSoft) + 2
		}
		for i := range lines {
			at := y + penHigh*float64(i+1) - 1.4
			f.d.Text(end+2, at, units, stepSoft)
			if within == "" {
				f.d.Line(x, at+0.6, end, at+0.6, pen)
				continue
			}
			f.d.Line(x, at+0.6, end-18, at+0.6, pen)
			f.d.Text(end-16, at, within, stepBody)
			f.d.Line(end-12, at+0.6, end, at+0.6, pen)
		}
	}}
}

// choices are words with a box before each.
func choices(words []string) piece {
	const high = 5.0
	var at []drawing.Point
	x, y := 0.0, 0.0
	for _, w := range words {
		wide := boxIn + drawing.Width(w, stepBody) + 3.5
		if x > 0 && x+wide > formWrite {
			x, y = 0, y+high
		}
		at = append(at, drawing.Point{X: x, Y: y})
		x += wide
	}
	return piece{y + high, func(f *flow, x, y float64) {
		for i, w := range words {
			f.box(x+at[i].X, y+at[i].Y+0.9, 3, false)
			f.d.Text(x+at[i].X+boxIn, y+at[i].Y+3.8, w, stepBody)
		}
	}}
}

// orderBoxes are squares to number the cylinders in, in the order in which they fire.
func orderBoxes() piece {
	const side, each, columns = 5.2, 5.9, 12
	return piece{2 * (side + 4.2), func(f *flow, x, y float64) {
		for i := range 2 * columns {
			left, top := x+each*float64(i%columns), y+(side+4.2)*float64(i/columns)
			f.d.Rect(left, top+0.6, side, side, pen)
			f.d.Text(left+side/2, top+side+3.6, strconv.Itoa(i+1)+".", stepSoft.At(drawing.Middle, drawing.Baseline))
		}
	}}
}
