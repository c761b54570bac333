package drawing

import (
	"math"
)

// strip draws one piece with its left end at x and its top edge at y.
func (t Tape) strip(d *Drawing, p piece, x, y float64, join int) {
	s := &stripLayout{t: t, p: p, x0: x - p.from, y: y, placer: placer{d: d}}
	h := t.Height
	right := s.x0 + p.to
	tab := !p.last || t.whole()
	end := right
	if tab {
		end += glueTab
	}
	d.Group(Group{Class: "strip"}, func() {
		if tab {
			box := RectPath(right, y, glueTab, h)
			d.Hatch(box, 45, 2, Grid)
		}
		d.Group(Group{Class: "cut"}, func() { d.Rect(x, y, end-x, h, Style{Stroke: Soft, Width: 0.15, Dash: Dashed}) })
		if t.Face == DegreeScale {
			s.ticks()
		}
		if t.Face == DegreeScale {
			s.numbers()
		}
		s.edgeWords()
		s.flags()
		if tab {
			d.Line(right, y, right, y+h, Fine)
			d.Text(right+glueTab/2, y+h/2, "glue", Note.Sized(leastText).At(Middle, Centred).Turned(-90).On(Sheet))
		}
		if !p.first {
			s.register(x, join)
		}
		if !p.last {
			s.register(right, join+1)
		}
	})
}

func letter(n int) string {
	s := ""
	for ; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

type stripLayout struct {
	t     Tape
	p     piece
	x0, y float64 // of the zero line, and of the top edge
	placer
}

// up turns a distance from the pointer's edge into a y on the sheet.
func (s *stripLayout) up(in float64) float64 {
	if s.t.Pointer == FrontEdge {
		return s.y + s.t.Height - in
	}
	return s.y + in
}

func (s *stripLayout) holds(u float64) bool { return u >= s.p.from-1e-6 && u <= s.p.to+1e-6 }

var tickPens = [3]Style{{Stroke: Ink, Width: 0.18}, {Stroke: Ink, Width: 0.25}, {Stroke: Ink, Width: 0.35}}

// each calls draw for each multiple of step degrees on this piece but 0, along mm from the zero line.
func (s *stripLayout) each(step float64, draw func(deg, along float64)) {
	for _, deg := range stepTicks(s.t.From, s.t.To, step) {
		if u := s.t.along(deg); s.holds(u) && deg != 0 {
			draw(deg, u)
		}
	}
}

func (s *stripLayout) ticks() {
	tick, number := s.t.steps()
	s.d.Group(Group{Class: "ticks"}, func() {
		s.each(tick, func(deg, along float64) {
			long, pen := 3.2, 0
			switch {
			case math.Mod(deg, number) == 0:
				long, pen = 6, 2
			case math.Mod(deg, 5*tick) == 0 || math.Mod(deg, 5) == 0 && tick < 5:
				long, pen = 4.6, 1
			}
			s.d.Line(s.x0+along, s.up(0), s.x0+along, s.up(long), tickPens[pen])
		})
	})
}

// numbers sets the figures; a mark's line leaves them out.
func (s *stripLayout) numbers() {
	_, number := s.t.steps()
	size := tapeFigures.At(Middle, Centred).Turned(s.t.Front.turn())
	s.d.Group(Group{Class: "numbers"}, func() {
		s.each(number, func(deg, along float64) { s.number(along, Number(deg, 0), size) })
	})
}

// number sets a figure under its tick, kept on the piece.
func (s *stripLayout) number(u float64, text string, size TextStyle) {
	w := Width(text, size)
	if math.Mod(size.Turn, 180) != 0 {
		w = size.Size * (capHeight + 2*descent)
	}
	x := math.Min(math.Max(s.x0+u, s.x0+s.p.from+w/2+0.4), s.x0+s.p.to-w/2-0.4)
	in := 6.8 + size.Size*capHeight/2
	if math.Mod(size.Turn, 180) != 0 {
		in = 6.8 + Width(text, size)/2
	}
	s.ifFree(x, s.up(in), text, size)
}

// edgeWords say how the strip lies on the rim, in as many words as stand free.
func (s *stripLayout) edgeWords() {
	t := Note.Sized(leastText).At(Middle, Centred)
	way, sign := "to the right", 1.0
	if s.t.Turn == Counterclockwise {
		way, sign = "to the left", -1
	}
	y := s.y + s.t.Height - 1.9
	all := []string{"this edge to the front of the engine; with it below, the rim moves " + way,
		"this edge to the front of the engine", "front edge"}
	if s.t.Pointer == FrontEdge { // the ticks take this edge: the words stand above them
		y = s.y + 1.9
		all = []string{"far edge: away from the front of the engine; with the front edge below, the rim moves " + way,
			"away from the front"}
	}
	const head = 5.0 // mm, of the arrow behind the words
	for _, text := range all {
		half := Width(text, t) / 2
		x, ok := s.free(text, y, half+head+1, t)
		if !ok {
			continue
		}
		s.set(x, y, text, t)
		from, to := x+sign*(half+1.2), x+sign*(half+head)
		s.d.Line(from, y, to, y, Dimension)
		s.d.arrow(Point{to, y}, 90*sign, 1.8, Ink)
		return
	}
}

// free is the middle of words that reach half mm either way where they lie over no others and the fewest lines of marks
// run through; not ok where there is none.
func (s *stripLayout) free(text string, y, half float64, t TextStyle) (x float64, ok bool) {
	mid, least := s.x0+(s.p.from+s.p.to)/2, math.MaxInt
	flags := s.t.ownFlags(s.p)
	for k := range 120 {
		at, n := mid+float64((k+1)/2)*float64(1-2*(k%2)), 0
		if at-half < s.x0+s.p.from+0.6 || at+half > s.x0+s.p.to-0.6 || s.wordsUnder(boxAt(at, y, text, t)) > 0 {
			continue
		}
		for _, f := range flags {
			if u := s.x0 + f.u; math.Abs(u-at) < half+0.5 {
				n++
			}
		}
		if n < least {
			x, least = at, n
		}
	}
	return x, least < math.MaxInt
}

// register draws the marks that two pieces are laid together by.
func (s *stripLayout) register(x float64, n int) {
	first := 12.5 // clear of the figures
	if math.Mod(s.t.Front.turn(), 180) != 0 {
		first = 16
	}
	for _, in := range []float64{math.Min(first, s.t.Height-8), s.t.Height - 3.6} {
		c := Point{x, s.up(in)}
		s.d.Circle(c, 1.3, Fine)
		s.d.Line(c.X-2, c.Y, c.X+2, c.Y, Fine)
		s.d.Line(c.X, c.Y-2, c.X, c.Y+2, Fine)
	}
	s.d.Text(x, s.y-1.2, letter(n), Note.Heavy().At(Middle, Baseline))
}
