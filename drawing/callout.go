package drawing

import (
	"cmp"
	"math"
	"slices"
)

// callout is a name for a place, joined to it by a leader where it cannot stand beside it.
type callout struct {
	from   Point
	along  []Point // more places that the leader may begin at
	text   string
	places []Point // where the middle of the name may stand; the earlier wins a tie
}

const (
	overWords   = 10000 // cost of lying over words or a line that they must not cut, and of crossing a leader
	shortLeader = 1.6   // mm; a name that near needs no leader
	callRounds  = 4     // of moving names that are set
)

// layCallouts finds places for names so that no name and no leader lies over another name, and no two leaders cross;
// not ok where it found none. Names that are set leave the later ones less room: each is moved again until none covers
// less elsewhere, and where that fails they are set in other orders.
func (p *placer) layCallouts(all []callout, t TextStyle) (at []Point, ok bool) {
	l := calloutLayout{p: p, all: all, choices: make([][]choice, len(all))}
	for i, c := range all {
		l.choices[i] = c.choices(t)
	}
	least := math.MaxInt
	for _, order := range orders(len(all)) {
		set, cost := l.try(order)
		if cost < least {
			least, at = cost, nil
			for _, s := range set {
				at = append(at, s.place)
			}
		}
		if cost < overWords {
			break
		}
	}
	return at, least < overWords
}

// orders are orders of n things: all there are of few, some of many; the first is the given one.
func orders(n int) [][]int {
	const most = 120
	out := [][]int{{}}
	for i := range n {
		var longer [][]int
		for _, o := range out {
			for at := i; at >= 0 && len(longer) < most; at-- {
				longer = append(longer, slices.Insert(slices.Clone(o), at, i))
			}
		}
		out = longer
	}
	return out
}

// callouts sets names where layCallouts found places for them, with their leaders.
func (p *placer) callouts(all []callout, t TextStyle, at []Point) {
	t = t.At(Middle, Centred)
	for i, c := range all {
		if l := c.leader(boxAt(at[i].X, at[i].Y, c.text, t).rect()); long(l) > shortLeader {
			p.d.Line(l[0].X, l[0].Y, l[1].X, l[1].Y, Dimension)
			p.edge(l[0], l[1], 100)
		}
	}
	for i, c := range all {
		p.set(at[i].X, at[i].Y, c.text, t)
	}
}

// choice is a place that a name may take.
type choice struct {
	place Point
	rect  rect
	line  [2]Point // its leader
	long  float64  // of the leader, mm
	cost  int      // of what was there before the names; −1: not yet summed
}

// choices are the places of a name, the nearest first.
func (c callout) choices(t TextStyle) []choice {
	at := boxAt(0, 0, c.text, t.At(Middle, Centred)).rect()
	out := make([]choice, len(c.places))
	for k, q := range c.places {
		r := rect{q.Add(at.lo), q.Add(at.hi)}
		l := c.leader(r)
		out[k] = choice{q, r, l, long(l), -1}
	}
	slices.SortStableFunc(out, func(a, b choice) int { return cmp.Compare(a.long, b.long) })
	return out
}

type calloutLayout struct {
	p       *placer
	all     []callout
	choices [][]choice
}

// try sets the names in an order and moves them again. It returns them and what they cover in all.
func (l *calloutLayout) try(order []int) (set []*choice, cost int) {
	set = make([]*choice, len(l.all))
	for range callRounds {
		moved := false
		cost = 0
		for _, i := range order {
			was := set[i]
			set[i] = nil
			best, least := l.best(i, set)
			set[i], cost, moved = best, cost+least, moved || was != best
		}
		if !moved {
			break
		}
	}
	return set, cost
}

// best is the choice of name i that covers least among names that are set.
func (l *calloutLayout) best(i int, set []*choice) (best *choice, least int) {
	least = math.MaxInt
	for k := range l.choices[i] {
		c := &l.choices[i][k]
		sum := int(4 * c.long)
		if sum >= least {
			break
		}
		for _, o := range set {
			if o != nil {
				sum += c.against(o)
			}
		}
		if sum >= least {
			continue
		}
		if c.cost < 0 {
			c.cost = l.before(i, c)
		}
		if sum += c.cost; sum < least {
			best, least = c, sum
		}
	}
	if best == nil { // nowhere
		return &choice{}, overWords
	}
	return best, least
}

// against is the cost of a choice beside a name that is set.
func (c *choice) against(o *choice) (sum int) {
	if c.rect.widened(0.4).meets(o.rect) {
		sum += overWords
	}
	if c.long > shortLeader && o.rect.widened(0.4).cutBy(c.line) {
		sum += overWords
	}
	if o.long > shortLeader && (c.rect.widened(0.6).cutBy(o.line) || c.long > shortLeader && meet(o.line, c.line)) {
		sum += overWords
	}
	return sum
}

// before is the cost of a choice of name i over what was drawn before the names, and over the places of the others.
func (l *calloutLayout) before(i int, c *choice) int {
	sum := l.p.costOf(c.rect)
	wide := c.rect.widened(1)
	for k, o := range l.all {
		if k != i && wide.holds(o.from) {
			sum += overWords
		}
	}
	for _, w := range l.p.taken {
		if r := w.rect(); c.rect.meets(r) || c.long > shortLeader && r.widened(0.4).cutBy(c.line) {
			sum += overWords
		}
	}
	return sum
}

// leader is the shortest line from the place to half a millimetre off the name.
func (c callout) leader(r rect) [2]Point {
	off := r.widened(0.5)
	best := [2]Point{c.from, off.nearest(c.from)}
	for _, from := range c.along {
		if l := [2]Point{from, off.nearest(from)}; long(l) < long(best) {
			best = l
		}
	}
	return best
}

func long(l [2]Point) float64 { return math.Hypot(l[1].X-l[0].X, l[1].Y-l[0].Y) }

// rect is a level box.
type rect struct{ lo, hi Point }

func (t TextBox) rect() rect {
	lo, hi := t.extent()
	return rect{lo, hi}
}

func (r rect) widened(by float64) rect {
	return rect{Point{r.lo.X - by, r.lo.Y - by}, Point{r.hi.X + by, r.hi.Y + by}}
}

func (r rect) holds(q Point) bool {
	return q.X > r.lo.X && q.X < r.hi.X && q.Y > r.lo.Y && q.Y < r.hi.Y
}

func (r rect) meets(o rect) bool {
	return r.lo.X < o.hi.X && o.lo.X < r.hi.X && r.lo.Y < o.hi.Y && o.lo.Y < r.hi.Y
}

// nearest is the place of the box that is nearest to a point.
func (r rect) nearest(q Point) Point {
	return Point{math.Min(math.Max(q.X, r.lo.X), r.hi.X), math.Min(math.Max(q.Y, r.lo.Y), r.hi.Y)}
}

// cutBy says whether a straight piece runs through the box.
func (r rect) cutBy(l [2]Point) bool { return len(r.cut([][2]Point{l})) > 0 }

// cut is what of straight pieces lies in the box (Liang and Barsky's clipping: p·t ≤ q).
func (r rect) cut(pieces [][2]Point) (within [][2]Point) {
	for _, l := range pieces {
		from, to := 0.0, 1.0
		for _, side := range [4][2]float64{
			{l[0].X - l[1].X, l[0].X - r.lo.X}, {l[1].X - l[0].X, r.hi.X - l[0].X},
			{l[0].Y - l[1].Y, l[0].Y - r.lo.Y}, {l[1].Y - l[0].Y, r.hi.Y - l[0].Y},
		} {
			switch p, q := side[0], side[1]; {
			case p == 0 && q <= 0:
				to = -1
			case p < 0:
				from = math.Max(from, q/p)
			case p > 0:
				to = math.Min(to, q/p)
			}
		}
		if to-from > 1e-9 {
			at := func(t float64) Point {
				return Point{l[0].X + t*(l[1].X-l[0].X), l[0].Y + t*(l[1].Y-l[0].Y)}
			}
			within = append(within, [2]Point{at(from), at(to)})
		}
	}
	return within
}

// meet says whether two straight pieces cross.
func meet(a, b [2]Point) bool {
	side := func(l [2]Point, q Point) float64 {
		return (l[1].X-l[0].X)*(q.Y-l[0].Y) - (l[1].Y-l[0].Y)*(q.X-l[0].X)
	}
	return side(a, b[0])*side(a, b[1]) < 0 && side(b, a[0])*side(b, a[1]) < 0
}
