package drawing

import "math"

// placer puts words on a drawing, remembers where they and lines stand, and finds room for more words.
type placer struct {
	d     *Drawing
	taken []TextBox
	marks []weighed
}

// weighed is a spot of a line that words should not cover, the heavier the less.
type weighed struct {
	Point
	weight int
}

// set puts words on the sheet and remembers their place.
func (p *placer) set(x, y float64, s string, t TextStyle) {
	if p.d.Text(x, y, s, t) > 0 {
		p.taken = append(p.taken, boxAt(x, y, s, t))
	}
}

// ifFree sets words where they touch no others: where there is little room some are left out.
func (p *placer) ifFree(x, y float64, s string, t TextStyle) {
	if p.wordsUnder(boxAt(x, y, s, t)) == 0 {
		p.set(x, y, s, t)
	}
}

// boxAt is the box that words would take.
func boxAt(x, y float64, s string, t TextStyle) TextBox {
	clean, _ := Clean(s)
	return setAt(x, y, clean, t).box(identity())
}

// edge remembers a straight line.
func (p *placer) edge(a, b Point, weight int) {
	n := int(math.Hypot(b.X-a.X, b.Y-a.Y)/0.8) + 1
	n = min(n, 2000)
	for i := range n + 1 {
		f := float64(i) / float64(n)
		p.marks = append(p.marks, weighed{Point{a.X + f*(b.X-a.X), a.Y + f*(b.Y-a.Y)}, weight})
	}
}

// avoid remembers a path.
func (p *placer) avoid(path *Path, weight int) {
	var at, start Point
	for _, s := range path.segs {
		switch s.kind {
		case segMove:
			start = s.to
		case segLine, segCurve:
			p.edge(at, s.to, weight)
		case segArc:
			n := int(math.Abs(s.sweep)*math.Pi/180*s.r) + 1
			for i := range n + 1 {
				p.marks = append(p.marks, weighed{Polar(s.a, s.r, s.start+s.sweep*float64(i)/float64(n)), weight})
			}
		case segClose:
			p.edge(at, start, weight)
			continue
		}
		at = s.to
	}
}

// wordsUnder counts the words that a box would lie over.
func (p *placer) wordsUnder(b TextBox) int {
	n := 0
	for _, t := range p.taken {
		if t.Overlaps(b) {
			n++
		}
	}
	return n
}

// cost says how much a box would cover.
func (p *placer) cost(b TextBox) int { return overWords*p.wordsUnder(b) + p.costOf(b.rect()) }

// costOf says how much of the lines a level box would cover.
func (p *placer) costOf(r rect) int {
	sum := 0
	r = r.widened(0.4)
	for _, m := range p.marks {
		if r.holds(m.Point) {
			sum += m.weight
		}
	}
	return sum
}

func (t TextBox) extent() (lo, hi Point) {
	lo, hi = t.Corners[0], t.Corners[0]
	for _, q := range t.Corners[1:] {
		lo = Point{math.Min(lo.X, q.X), math.Min(lo.Y, q.Y)}
		hi = Point{math.Max(hi.X, q.X), math.Max(hi.Y, q.Y)}
	}
	return lo, hi
}

// best sets words at the candidate that covers least. Candidates are the left
// middle of the words, or where t's anchor says; earlier ones win a tie.
func (p *placer) best(text string, t TextStyle, candidates []Point) {
	if at, ok := p.cheapest(text, t, candidates); ok {
		p.set(at.X, at.Y, text, t)
	}
}

// cheapest is the candidate at which words cover least; not ok without candidates.
func (p *placer) cheapest(text string, t TextStyle, candidates []Point) (at Point, ok bool) {
	least := math.MaxInt
	for _, q := range candidates {
		if c := p.cost(boxAt(q.X, q.Y, text, t)); c < least {
			least, at = c, q
			if c == 0 {
				break
			}
		}
	}
	return at, least < math.MaxInt
}

// near sets words beside one of the places, inside the field lo to hi, on the ground that suits their box.
func (p *placer) near(places []Point, gap float64, text string, t TextStyle, ground func(TextBox) Paint, lo, hi Point) {
	t = t.At(Start, Centred)
	w, half := Width(text, t), t.Size*capHeight/2
	var all []Point
	for _, at := range places {
		for _, far := range []float64{1, 1.6, 2.4, 3.4, 5} {
			g := gap * far
			for _, q := range []Point{
				{at.X + g, at.Y + g/2 + half}, {at.X + g, at.Y}, {at.X + g, at.Y - g/2 - half},
				{at.X - g - w, at.Y + g/2 + half}, {at.X - g - w, at.Y}, {at.X - g - w, at.Y - g/2 - half},
				{at.X - w/2, at.Y - g - half}, {at.X - w/2, at.Y + g + half},
				{at.X - w, at.Y - g - half}, {at.X - w, at.Y + g + half},
			} {
				q.X = math.Min(math.Max(q.X, lo.X), hi.X-w)
				if q.Y-half >= lo.Y && q.Y+half+t.Size*descent <= hi.Y {
					all = append(all, q)
				}
			}
		}
	}
	if at, ok := p.cheapest(text, t, all); ok {
		p.set(at.X, at.Y, text, t.On(ground(boxAt(at.X, at.Y, text, t))))
	}
}
