package suspects

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// look is one look with the light, or several of a kind taken together.
type look struct {
	lightCase
	number  bool    // the light showed a number:
	y, v    float64 // degrees, and the variance of reading it
	shift   float64 // of the number by another allowance or commanded advance than the card's
	asked   float64 // commanded advance
	of      int     // looks taken together, 1 for a single one
	flashes string
	tacho   string
	// it flashes, and no mark is to be seen
	outOfSight bool
}

const (
	// mostLooks is how many looks with the light are weighed one by one. Each hypothesis weighs every number, so the
	// work grows with them; more are taken together first.
	mostLooks = 40
	// mostAgree is how many agreeing looks sharpen their mean; more sharpen it no further, because one person with one
	// light repeats the same small errors. Our judgement.
	mostAgree = 16
	// mostOdd is how many numbers that fit none of their neighbours are kept beside the means at the most.
	mostOdd = 10
)

// looks reads the evidence of the light. first is the allowance believed in force at the beginning, final at the end.
func (e *Engine) looks(ev *Evidence, first, final float64, changed, believed bool) []look {
	var out []look
	for _, l := range ev.Light {
		k := look{lightCase: lightCase{rpm: l.Speed, wire: max(l.Wire, 1), other: l.Which == "other",
			minutes: l.After / 60e6, engine: l.Engine}, of: 1, flashes: l.Flashes, outOfSight: l.OutOfSight}
		now := first
		if l.Allowance != nil {
			now = l.Allowance.Value
		}
		k.changed = changed && now == final
		k.base = !changed && !believed
		if l.Shown != nil {
			n, told := l.Speed, float64(e.c.Controller.Locked)
			if n < float64(e.c.Controller.CrankingBelow) {
				n, told = float64(e.c.Engine.CrankingSpeed), float64(e.c.Controller.Cranking)
			}
			k.shift = degreesPerUS * n * (now - first)
			if l.Locked != nil {
				k.shift += l.Locked.Value - told
			}
			u := l.Shown.U
			if !(u > 0) {
				u = e.shownProbe(k.lightCase).u
			}
			k.number, k.y, k.v, k.asked = true, l.Shown.Value, u*u, told+shiftOf(l, told)
		}
		if l.Tacho != nil {
			k.tacho = "agrees"
			if l.Tacho.Value > 1.5*l.Speed {
				k.tacho = "doubled"
			}
		}
		out = append(out, k)
	}
	return out
}

// likeness is what looks must have in common to be taken together.
type likeness struct {
	wire                          int
	other, changed, below, number bool
	flashes, tacho, engine        string
	outOfSight                    bool
}

// together makes few looks of many. Those of a kind are parted by speed and time, evenly, into about as many cells as
// are wanted; each cell of numbers becomes their mean. Words are kept once in each cell.
func (e *Engine) together(looks []look, atMost int) []look {
	cells := map[likeness][]look{}
	put := func(k look) {
		at := likeness{k.wire, k.other, k.changed, k.rpm < float64(e.c.Controller.CrankingBelow), k.number,
			k.flashes, k.tacho, k.engine, k.outOfSight}
		cells[at] = append(cells[at], k)
	}
	longest := 1.0 // minutes
	for _, k := range looks {
		longest = max(longest, k.minutes)
		if k.number { // number and words go their own ways, or few of each would be together
			n := k
			n.flashes, n.tacho, n.outOfSight = "", "", false
			put(n)
		}
		for _, w := range []look{{lightCase: k.lightCase, of: 1, flashes: k.flashes},
			{lightCase: k.lightCase, of: 1, tacho: k.tacho},
			{lightCase: k.lightCase, of: 1, outOfSight: k.outOfSight}} {
			if w.flashes != "" || w.tacho != "" || w.outOfSight {
				put(w)
			}
		}
	}
	var numbers, words [][]look
	for _, at := range slices.SortedFunc(maps.Keys(cells), compareLikeness) {
		if at.number {
			numbers = append(numbers, cells[at])
		} else {
			words = append(words, cells[at])
		}
	}
	redline := float64(e.c.Engine.Redline)
	var out, odd []look
	all := 0
	for _, cell := range part(numbers, atMost, redline, longest) {
		mean, apart := meanOf(cell)
		out, odd = append(out, mean), append(odd, apart...)
		all += len(cell)
	}
	slices.SortStableFunc(out, func(a, b look) int { // as they are read in a table
		return cmp.Or(cmp.Compare(a.wire, b.wire), cmp.Compare(a.rpm, b.rpm), cmp.Compare(a.minutes, b.minutes))
	})
	// As many of the odd ones as they are among all: twenty misreads of two thousand are no habit of misreading.
	if kept := min(int(math.Round(float64(len(odd)*len(out))/float64(max(all, 1)))), mostOdd); kept > 0 {
		for i := range kept {
			out = append(out, odd[i*len(odd)/kept])
		}
	}
	for _, cell := range part(words, atMost/2, redline, longest) {
		w := cell[len(cell)/2]
		w.of = len(cell)
		out = append(out, w)
	}
	return out
}

func compareLikeness(a, b likeness) int {
	flag := func(x, y bool) int {
		switch {
		case x == y:
			return 0
		case y:
			return -1
		}
		return 1
	}
	return cmp.Or(cmp.Compare(a.wire, b.wire), flag(a.other, b.other), flag(a.changed, b.changed),
		flag(a.below, b.below),
		flag(a.number, b.number), cmp.Compare(a.flashes, b.flashes), cmp.Compare(a.tacho, b.tacho),
		cmp.Compare(a.engine, b.engine), flag(a.outOfSight, b.outOfSight))
}

// part halves the widest cell, again and again, until there are so many or none has any width. Speeds are measured
// against the redline, times against the longest one.
func part(cells [][]look, atMost int, redline, longest float64) [][]look {
	width := func(cell []look) (of float64, by func(look) float64, middle float64) {
		for _, x := range []func(look) float64{func(k look) float64 { return k.rpm / redline },
			func(k look) float64 { return k.minutes / longest }} {
			low, high := x(cell[0]), x(cell[0])
			for _, k := range cell {
				low, high = min(low, x(k)), max(high, x(k))
			}
			if high-low > of {
				of, by, middle = high-low, x, low+(high-low)/2
			}
		}
		return of, by, middle
	}
	widths := make([]float64, len(cells))
	for i := range cells {
		widths[i], _, _ = width(cells[i])
	}
	for len(cells) < atMost {
		at := -1
		for i, w := range widths {
			if w > 1e-6 && (at < 0 || w > widths[at]) {
				at = i
			}
		}
		if at < 0 {
			break
		}
		_, by, middle := width(cells[at])
		var below, above []look
		for _, k := range cells[at] {
			if by(k) <= middle {
				below = append(below, k)
			} else {
				above = append(above, k)
			}
		}
		cells[at] = below
		cells = append(cells, above)
		widths[at], _, _ = width(below)
		w, _, _ := width(above)
		widths = append(widths, w)
	}
	return cells
}

// meanOf takes the numbers of a cell together. A number far from the middle of the others is set apart, so that a
// misread stays one; where all scatter more than their own uncertainty says, the mean is as uncertain as they scatter.
func meanOf(cell []look) (mean look, apart []look) {
	mean = cell[0]
	if len(cell) == 1 {
		return mean, nil
	}
	// what is left without the known shift, about the first one, since an angle begins again after a turn
	rest := func(k look) float64 { return wrap(k.y-k.shift-(cell[0].y-cell[0].shift), 360) }
	middle := medianOf(cell, rest)
	// the standard deviation, of a normal distribution
	spread := 1.4826 * medianOf(cell, func(k look) float64 { return math.Abs(wrap(rest(k)-middle, 360)) })
	var weight, y, shift, asked, rpm, minutes float64
	least := math.Inf(1)
	n := 0
	for _, k := range cell {
		off := wrap(rest(k)-middle, 360)
		if len(cell) > 2 && math.Abs(off) > 5*max(spread, math.Sqrt(k.v)) {
			apart = append(apart, k)
			continue
		}
		w := 1 / k.v
		weight += w
		y += w * (off + k.shift)
		shift += w * k.shift
		asked += w * k.asked
		rpm += w * k.rpm
		minutes += w * k.minutes
		least = min(least, k.v)
		n++
	}
	mean.shift, mean.asked, mean.rpm, mean.minutes, mean.of = shift/weight, asked/weight, rpm/weight, minutes/weight, n
	mean.y = wrap(y/weight+middle+cell[0].y-cell[0].shift, 360)
	mean.v = max(1/weight, least/mostAgree, spread*spread/float64(min(n, mostAgree)))
	return mean, apart
}

func medianOf(cell []look, value func(look) float64) float64 {
	all := make([]float64, len(cell))
	for i, k := range cell {
		all[i] = value(k)
	}
	slices.Sort(all)
	return (all[(len(all)-1)/2] + all[len(all)/2]) / 2
}
