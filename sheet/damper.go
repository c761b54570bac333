package sheet

import (
	"fmt"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// rectangular turns the half-width of limits into a standard uncertainty (JCGM 100:2008, 4.3.7).
func rectangular[T quantity.Quantity](limit T) T {
	return quantity.Measured[T]{Limit: limit, Stated: true}.Standard()
}

// marks lists the marks to lay out: each command the light will be read at, and the trigger lead.
func marks(c *jobcard.Card) []Mark {
	a := c.Controller.Advance
	var out []Mark
	seen := map[quantity.Crank]int{}
	for _, m := range []struct {
		name string
		at   jobcard.Setting[quantity.Crank]
	}{{"trigger lead", jobcard.Set(c.Signals.Crank.Lead)}, {"cranking advance", a.Cranking},
		{"locked advance", a.Locked}, {"largest advance", jobcard.Set(a.Max)}} {
		angle, given := m.at.Get()
		if i, again := seen[angle]; again && given {
			out[i].Name += ", " + m.name
			continue
		}
		if !given || angle == 0 {
			continue // 0 is the zero mark itself
		}
		seen[angle] = len(out)
		out = append(out, layOut(c, m.name, angle))
	}
	return out
}

func layOut(c *jobcard.Card, name string, angle quantity.Crank) Mark {
	d := engine.Damper{Diameter: c.Damper.Diameter.Value}
	side := engine.MarkSide(c.Engine.Rotation)
	if angle < 0 { // after TDC: behind the zero mark
		side = side.Opposite()
	}
	size := quantity.Abs(angle)
	return Mark{
		Name: name, AngleDeg: float64(angle), ArcMM: round(float64(d.Arc(size)), 3),
		ChordMM: round(float64(d.Chord(size)), 3), Direction: side.FromFront(),
		UDeg: float64(d.ArcUncertainty(size, rectangular(c.Damper.MarkPlacement),
			c.Damper.Diameter.Or(diameterLimit).Standard())),
	}
}

func damperItems(c *jobcard.Card, s *Sheet) []Item {
	var items []Item
	u := c.Job.Units
	diameter := c.Damper.Diameter.Or(diameterLimit)
	for _, m := range s.Marks {
		it := Item{
			ID:    markPrefix + idOf(m.Name),
			Title: fmt.Sprintf("Mark for %s, %s", m.Name, deg(m.AngleDeg)), Value: m.ArcMM, Unit: "mm",
			Text: fmt.Sprintf("%s along the rim from the zero mark, %s. With dividers it is %s in a straight line",
				u.Tool(quantity.Length(m.ArcMM), 1), m.Direction, u.Tool(quantity.Length(m.ChordMM), 1)),
			Formula: "along the rim: π × diameter × degrees ÷ 360; with dividers: diameter × sin(degrees ÷ 2); " +
				"before TDC lies ahead of the zero mark in running direction",
			Inputs: from(c, "damper.diameter", diameter, "damper.mark_placement", c.Damper.MarkPlacement,
				"engine.rotation", c.Engine.Rotation.FromFront()),
			Ignored: "the light is read against a mark that stands in the wrong place",
		}
		wide := 2 * m.UDeg
		it.Verdict, it.Because = Fine, fmt.Sprintf(
			"± %s of the crankshaft (twice the standard uncertainty) leaves most of the tolerance of %s", deg(wide),
			deg(c.Tolerance))
		if wide > halfTolerance*float64(c.Tolerance) {
			it.Verdict = Caution
			it.Because = fmt.Sprintf("± %s of the crankshaft takes more than half the tolerance of %s. Measure the "+
				"diameter with callipers. Scribe a finer line", deg(wide), deg(c.Tolerance))
		}
		if !c.Damper.Diameter.Stated {
			it.Because += fmt.Sprintf(". Nobody stated how well the diameter is known. ± %s is assumed",
				u.Of(diameterLimit))
		}
		items = append(items, it)
	}
	return items
}

// markPrefix begins the IDs of the items on marks.
const markPrefix = "mark_"

func idOf(name string) string {
	switch {
	case len(name) >= 12 && name[:12] == "trigger lead":
		return "lead"
	case len(name) >= 8 && name[:8] == "cranking":
		return "cranking"
	case len(name) >= 6 && name[:6] == "locked":
		return "locked"
	}
	return "largest"
}
