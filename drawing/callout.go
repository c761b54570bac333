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

// layCallouts finds places for names so that no name and no leader lies over another name, and no two leaders cross;
// not ok where it found none. Names that were set before leave the later ones less room, so other orders are tried
// where the given one fails.
func (p *placer) layCallouts(all []callout, t TextStyle) (at []Point, ok bool) {
	t = t.At(Middle, Centred)
	n := len(all)
	orders := [][]int{make([]int, n), make([]int, n)}
	for i := range n {
		orders[0][i], orders[1][i] = i, n-1-i
	}
	for i := 1; i < n; i++ { // each in turn before the others
		o := []int{i}
		for k := range n {
			if k != i {
				o = append(o, k)
			}
		}
		orders = append(orders, o)
	}
	least := math.MaxInt
	for _, order := range orders {
		one, cost := p.tryCallouts(all, t, order)
		if cost < least {
			at, least = one, cost
		}
		if cost < overWords {
			break
		}
	}
	return at, least < overWords
}

// callouts sets names with their leaders where layCallouts found places for them.
func (p *placer) callouts(all []callout, t TextStyle, at []Point) {
	t = t.At(Middle, Centred)
	for i, c := range all {
		l := c.leader(boxAt(at[i].X, at[i].Y, c.text, t))
		if math.Hypot(l[1].X-l[0].X, l[1].Y-l[0].Y) > shortLeader {
			p.d.Line(l[0].X, l[0].Y, l[1].X, l[1].Y, Dimension)
			p.edge(l[0], l[1], 100)
		}
	}
	for i, c := range all {
		p.set(at[i].X, at[i].Y, c.text, t)
	}
}

const (
	overWords   = 10000 // cost of lying over words, or of crossing a leader
	shortLeader = 1.6   // mm; a name that near needs no leader
)

// tryCallouts finds a place for each name in an order, then moves each again until none covers less elsewhere. It
// returns the places and what they cover in all.
func (p *placer) tryCallouts(all []callout, t TextStyle, order []int) (at []Point, cost int) {
	const rounds = 4
	at = make([]Point, len(all))
	set := make([]*setCallout, len(all))
	for range rounds {
		moved := false
		cost = 0
		for _, i := range order {
			was := set[i]
			set[i] = nil
			place, least := p.bestCallout(all, t, i, set)
			box := boxAt(place.X, place.Y, all[i].text, t)
			set[i] = &setCallout{box, all[i].leader(box)}
			moved = moved || was == nil || at[i] != place
			at[i] = place
			cost += least
		}
		if !moved {
			break
		}
	}
	return at, cost
}

// setCallout is a name in its place.
type setCallout struct {
	box    TextBox
	leader [2]Point
}

// bestCallout is the place of name i that covers least, among names that are set.
func (p *placer) bestCallout(all []callout, t TextStyle, i int, set []*setCallout) (at Point, least int) {
	c := all[i]
	type candidate struct {
		place Point
		box   TextBox
		line  [2]Point
		long  float64
	}
	near := make([]candidate, len(c.places))
	for k, place := range c.places {
		b := boxAt(place.X, place.Y, c.text, t)
		l := c.leader(b)
		near[k] = candidate{place, b, l, math.Hypot(l[1].X-l[0].X, l[1].Y-l[0].Y)}
	}
	slices.SortStableFunc(near, func(a, b candidate) int { return cmp.Compare(a.long, b.long) })
	least = math.MaxInt
	for _, n := range near {
		sum := int(4 * n.long)
		if sum >= least {
			break
		}
		led := n.long > shortLeader
		wide, wider := n.box.widened(0.6), n.box.widened(1)
		for k, other := range all {
			if k == i {
				continue
			}
			if lo, hi := wider.extent(); other.from.X > lo.X && other.from.X < hi.X && other.from.Y > lo.Y &&
				other.from.Y < hi.Y {
				sum += overWords
			}
			o := set[k]
			if o == nil {
				continue
			}
			if n.box.widened(0.2).Overlaps(o.box) {
				sum += overWords
			}
			if led && o.box.widened(0.4).crossedBy([][2]Point{n.line}) {
				sum += overWords
			}
			if math.Hypot(o.leader[1].X-o.leader[0].X, o.leader[1].Y-o.leader[0].Y) > shortLeader &&
				(wide.crossedBy([][2]Point{o.leader}) || led && meet(o.leader, n.line)) {
				sum += overWords
			}
		}
		for _, other := range p.taken {
			if led && other.widened(0.4).crossedBy([][2]Point{n.line}) {
				sum += overWords
			}
		}
		if sum >= least {
			continue
		}
		if sum += p.cost(n.box); sum < least {
			at, least = n.place, sum
		}
	}
	if least == math.MaxInt {
		least = overWords
	}
	return at, least
}

// leader is the shortest line from the place to the box of the name.
func (c callout) leader(box TextBox) [2]Point {
	best := [2]Point{c.from, box.nearest(c.from)}
	for _, from := range c.along {
		end := box.nearest(from)
		if math.Hypot(end.X-from.X, end.Y-from.Y) < math.Hypot(best[1].X-best[0].X, best[1].Y-best[0].Y) {
			best = [2]Point{from, end}
		}
	}
	return best
}

// nearest is the place half a millimetre off the box that is nearest to a point outside of it.
func (t TextBox) nearest(q Point) Point {
	lo, hi := t.extent()
	return Point{math.Min(math.Max(q.X, lo.X-0.5), hi.X+0.5), math.Min(math.Max(q.Y, lo.Y-0.5), hi.Y+0.5)}
}

// widened is the level box with so many mm more on every side.
func (t TextBox) widened(by float64) TextBox {
	lo, hi := t.extent()
	return TextBox{t.Text, [4]Point{{lo.X - by, lo.Y - by}, {hi.X + by, lo.Y - by}, {hi.X + by, hi.Y + by},
		{lo.X - by, hi.Y + by}}}
}

// meet says whether two straight pieces cross.
func meet(a, b [2]Point) bool {
	side := func(l [2]Point, q Point) float64 {
		return (l[1].X-l[0].X)*(q.Y-l[0].Y) - (l[1].Y-l[0].Y)*(q.X-l[0].X)
	}
	return side(a, b[0])*side(a, b[1]) < 0 && side(b, a[0])*side(b, a[1]) < 0
}
