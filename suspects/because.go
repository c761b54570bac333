package suspects

import (
	"fmt"
	"math"
	"slices"

	"phasewright/quantity"
)

// because gives the pieces of evidence that raise a suspect most against the same without it (for nothing wrong:
// against the likeliest fault), and those that lower it most against the likeliest explanation without it.
func (w *weighed) because(c *component, g set, sound *view) []string {
	v := w.look(c)
	against := sound
	rival := w.rivalOf(c.in)
	if rest := c.in &^ g; g != 0 && rest != 0 && w.alone[rest] != nil {
		// beside another fault: what would be without this one
		x := w.look(w.alone[rest])
		against = &x
	}
	if g == 0 {
		if rival = w.bestFault(); rival != nil {
			x := w.look(rival)
			against = &x
		}
	}
	var down *view
	if rival != nil && rival.in != c.in {
		x := w.look(rival)
		down = &x
	}
	type piece struct {
		i    int
		nats float64
	}
	var up, low []piece
	for i := range w.items {
		if d := v.piece[i] - against.piece[i]; d > 0.7 {
			up = append(up, piece{i, d})
		}
		if down != nil {
			if d := v.piece[i] - down.piece[i]; d < -0.7 {
				low = append(low, piece{i, d})
			}
		}
	}
	slices.SortStableFunc(up, func(a, b piece) int { return order(b.nats, a.nats) })
	slices.SortStableFunc(low, func(a, b piece) int { return order(a.nats, b.nats) })
	out := []string{}
	for _, x := range up[:min(len(up), 3)] {
		out = append(out, "for: "+w.say(x.i, &v, against))
	}
	for _, x := range low[:min(len(low), 2)] {
		out = append(out, "against: "+w.say(x.i, &v, down))
	}
	if len(out) == 0 && c.num-against.c.num > 2 { // each one is foreseen from all the others, and so none stands out
		out = append(out, "for: all numbers that were seen together, none of them alone")
	}
	if len(out) == 0 {
		out = append(out, "nothing that was seen speaks for it or against it; the odds are those before")
	}
	return out
}

func order(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// rivalOf is the heaviest explanation whose part that the evidence speaks for is another.
func (w *weighed) rivalOf(g set) *component {
	for i := range w.comps {
		if c := w.comps[i]; w.cores[c.in] != w.cores[g] {
			return c
		}
	}
	return nil
}

// bestFault is the heaviest component with a fault.
func (w *weighed) bestFault() *component {
	for i := range w.comps {
		if w.comps[i].in != 0 {
			return w.comps[i]
		}
	}
	return nil
}

// say puts one piece of evidence into words: what was seen, what this foresees, what the other does.
func (w *weighed) say(i int, v, other *view) string {
	it := &w.items[i]
	who := "with nothing wrong"
	if other.c.in != 0 {
		who = "with " + w.title(other.c.in)
	}
	if !it.numeric() {
		return fmt.Sprintf("%s %s (foreseen in %s, %s in %s)", it.saw, it.words, percent(v.fit[i]), who,
			percent(other.fit[i]))
	}
	foreseen := func(v *view) string {
		if math.IsNaN(v.predicted[i]) {
			return "no number"
		}
		decimals := 1
		if it.unit == "µs" {
			decimals = 0
		}
		return quantity.Number(v.predicted[i], decimals) + it.unit
	}
	return fmt.Sprintf("%s %s (foreseen %s, %s %s)", it.saw, it.words, foreseen(v), who, foreseen(other))
}

// title names a set of faults in words.
func (w *weighed) title(s set) string {
	text := ""
	if s == 0 {
		return NothingWrong
	}
	for i, k := range s.list() {
		if i > 0 {
			text += " and "
		}
		text += w.e.faults[k].title
	}
	return text
}

func percent(p float64) string {
	switch {
	case p < 0.01:
		return "under 1\u2009%"
	case p > 0.99:
		return "over 99\u2009%"
	}
	return quantity.Number(100*p, 0) + "\u2009%"
}

// strangers are the pieces that even the likeliest explanation foresees badly: what speaks for none of these.
func (w *weighed) strangers() []string {
	out := []string{}
	if len(w.comps) == 0 {
		return append(out, "no fault of the list explains what was seen together")
	}
	v := w.look(w.comps[0])
	for i := range w.items {
		it := &w.items[i]
		bad := !it.numeric() && v.fit[i] < 0.08
		if it.numeric() {
			bad = math.IsNaN(v.predicted[i]) || math.Abs(it.y-v.predicted[i]) > 4*v.u[i]
		}
		if bad {
			text := it.saw + " " + it.words + ": the likeliest explanation does not foresee that"
			if it.numeric() && !math.IsNaN(v.predicted[i]) {
				text = fmt.Sprintf("%s %s: the likeliest explanation foresees %s%s", it.saw, it.words,
					quantity.Number(v.predicted[i], 1), it.unit)
			}
			out = append(out, text)
		}
	}
	if len(out) == 0 {
		out = append(out, "every piece of evidence is foreseen by some suspect")
	}
	return out[:min(len(out), 4)]
}

// findings are contradictions, said aloud.
func (w *weighed) findings(r *Result) {
	r.Findings = []string{}
	if len(w.items) == 0 {
		r.Findings = append(r.Findings, "no evidence yet: the odds are those before anything was seen")
		return
	}
	if w.none > 0.3 {
		r.Findings = append(r.Findings, "the evidence does not fit together under any suspect: look at it "+
			"again, one piece at a time")
	}
	if len(w.comps) > 0 {
		for _, s := range w.strangers() {
			if s != "every piece of evidence is foreseen by some suspect" {
				r.Findings = append(r.Findings, s)
			}
		}
	}
}

// plot sets what was seen beside what the leading explanations foresee.
func (w *weighed) plot(r *Result) {
	r.Plotted, r.Plot = []string{}, []PlotPoint{}
	var views []view
	var had []set
	for i := range w.comps {
		c := w.comps[i]
		if slices.Contains(had, c.in) || len(views) == 3 {
			continue
		}
		had = append(had, c.in)
		views = append(views, w.look(c))
		name := NothingWrong
		if c.in != 0 {
			name = w.title(c.in)
		}
		r.Plotted = append(r.Plotted, name)
	}
	for i := range w.items {
		it := &w.items[i]
		if !it.numeric() {
			continue
		}
		p := PlotPoint{Name: it.saw, Unit: it.unit, Seen: it.y, U: math.Sqrt(it.v), RPM: it.rpm, Wire: it.wire,
			Predicted: []quantityOrBlank{}}
		for k := range views {
			p.Predicted = append(p.Predicted, quantityOrBlank(views[k].predicted[i]))
		}
		r.Plot = append(r.Plot, p)
	}
}
