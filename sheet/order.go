package sheet

import (
	"fmt"
	"slices"
	"strings"

	"phasewright/quantity"
)

// Order is the sheet in the order of use: what must be settled first, what to keep in mind, then the rest by area.
type Order struct {
	Stops, Cautions Group
	Areas           []Group // of what is fine; no area without an item
}

// Group are items that are read together. What two of them would both say is said once.
type Group struct {
	Name    string
	Items   []Item
	Assumed []Input // of all its items, each once
}

// InOrder puts the sheet in the order of use. The marks of one verdict are one item there: ID "marks".
func (s *Sheet) InOrder() Order {
	o := Order{Stops: Group{Name: "stop: settle these before anything turns"}, Cautions: Group{Name: "caution"}}
	for _, it := range s.Items {
		switch it.Verdict {
		case Stop:
			o.Stops.Items = append(o.Stops.Items, it)
		case Caution:
			o.Cautions.Items = append(o.Cautions.Items, it)
		default:
			if n := len(o.Areas); n == 0 || o.Areas[n-1].Name != it.Area {
				o.Areas = append(o.Areas, Group{Name: it.Area})
			}
			a := &o.Areas[len(o.Areas)-1]
			a.Items = append(a.Items, it)
		}
	}
	s.settle(&o.Stops)
	s.settle(&o.Cautions)
	for i := range o.Areas {
		s.settle(&o.Areas[i])
	}
	return o
}

// settle tells a group's marks as one item, and each reason once: where an item has that of the one before it.
func (s *Sheet) settle(g *Group) {
	var marks, others []Item
	for _, it := range g.Items {
		if strings.HasPrefix(it.ID, markPrefix) {
			marks = append(marks, it)
		} else {
			others = append(others, it)
		}
	}
	g.Assumed = assumedOf(g.Items)
	if len(marks) > 0 {
		g.Items = append([]Item{s.marksTogether(marks)}, others...)
	}
	told := map[string]bool{}
	for i := range g.Items {
		if told[g.Items[i].Because] {
			g.Items[i].Because = ""
		}
		told[g.Items[i].Because] = true
	}
}

// marksTogether makes one item of several marks; its reason is that of the least certain of them. Its
// text has a line for each.
func (s *Sheet) marksTogether(items []Item) Item {
	one := items[0]
	one.ID, one.Title = "marks", "Marks on the damper"
	marks := slices.DeleteFunc(slices.Clone(s.Marks), func(m Mark) bool {
		return !slices.ContainsFunc(items, func(it Item) bool { return it.ID == markPrefix+idOf(m.Name) })
	})
	way, widest := marks[0].Direction, -1.0
	for i, m := range marks {
		if m.Direction != way {
			way = ""
		}
		if m.UDeg > widest {
			widest, one.Because = m.UDeg, items[i].Because
		}
	}
	one.Text = "from the zero mark"
	if way != "" {
		one.Text += ", " + way
	}
	for i, m := range marks {
		then := ";"
		if i == 0 {
			then = ":"
		}
		one.Text += fmt.Sprintf("%s\n%s, %s: %s along the rim, with dividers %s", then, m.Name, deg(m.AngleDeg),
			s.units.Tool(quantity.Length(m.ArcMM), 1), s.units.Tool(quantity.Length(m.ChordMM), 1))
		if way == "" {
			one.Text += ", " + m.Direction
		}
	}
	if len(marks) > 1 {
		one.Because = "at the most, " + one.Because
	}
	return one
}
