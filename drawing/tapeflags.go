package drawing

import (
	"cmp"
	"math"
	"slices"
)

// markFlag is the name of a mark on a strip, hoisted on the mark's line: the line ends at its name where other names
// stand beyond it, so that no name lies over a line.
type markFlag struct {
	u           float64 // of the line, mm from the zero line
	text        string
	full        bool    // the line runs over the whole width whatever stands there
	in          float64 // of the middle of the name, mm from the pointer's edge; 0: the name has no room
	left, right float64 // of the name, mm from the zero line
}

const (
	flagGap     = 0.8  // mm between a name and its line, and from one name to the next
	longestFlag = 70.0 // mm
	flagTries   = 20000
)

// flagSizes are the sizes of names on a strip, mm: the smaller where the larger has no room.
var flagSizes = []float64{2.8, leastText}

// flagRows are the places of names across the strip in a text size, mm from the pointer's edge.
func (t Tape) flagRows(size float64) (rows []float64) {
	first := 4.6
	if t.Face == DegreeScale {
		first = 10.4 + size*capHeight/2
		if math.Mod(t.Front.turn(), 180) != 0 {
			first += 3.4 // figures stand on end
		}
	}
	for in := first; in <= t.Height-3.4-size*(capHeight/2+descent); in += size + 0.2 {
		rows = append(rows, in)
	}
	return rows
}

// layFlags gives each flag a place between lo and hi, mm from the zero line; the longest names it can. It returns the
// size of the names.
func (t Tape) layFlags(all []markFlag, lo, hi float64) (laid []markFlag, size float64) {
	for _, size := range flagSizes {
		if laid, ok := t.tryFlags(all, lo, hi, size); ok {
			return laid, size
		}
	}
	some := slices.Clone(all) // without some of the names: the lines stay
	for i := range some {
		some[i].text = ""
	}
	laid, _ = t.tryFlags(some, lo, hi, leastText)
	for i := range some {
		some[i].text = all[i].text
		if more, ok := t.tryFlags(some, lo, hi, leastText); ok {
			laid = more
		} else {
			some[i].text = ""
		}
	}
	return laid, leastText
}

// tryFlags places the flags in rows by trying; not ok where no way was found.
func (t Tape) tryFlags(all []markFlag, lo, hi, size float64) (laid []markFlag, ok bool) {
	laid = slices.Clone(all)
	slices.SortStableFunc(laid, func(a, b markFlag) int { return cmp.Compare(a.u, b.u) })
	rows, tries := t.flagRows(size), 0
	var place func(i int) bool
	place = func(i int) bool {
		if i == len(laid) {
			return true
		}
		f := &laid[i]
		if f.text == "" {
			f.in = 0
			return place(i + 1)
		}
		w := Width(f.text, flagStyle.Sized(size))
		for _, in := range rows {
			for _, left := range []float64{f.u + flagGap, f.u - flagGap - w} {
				if tries++; tries > flagTries {
					return false
				}
				f.in, f.left, f.right = in, left, left+w
				if left >= lo && left+w <= hi && laid[i].standsBeside(laid[:i], laid[i+1:]) && place(i+1) {
					return true
				}
			}
		}
		return false
	}
	return laid, place(0)
}

// standsBeside says whether the flag leaves those room that are placed, and the lines of those that are not.
func (f markFlag) standsBeside(placed, coming []markFlag) bool {
	for _, o := range placed {
		if o.over(f) || f.over(o) || o.text != "" && math.Abs(o.in-f.in) < 0.1 && f.left < o.right+flagGap &&
			o.left < f.right+flagGap {
			return false
		}
	}
	for _, o := range coming {
		if o.full && f.covers(o) {
			return false
		}
	}
	return true
}

// covers says whether the name stands where another flag's line would run.
func (f markFlag) covers(o markFlag) bool {
	return f.text != "" && o.u > f.left-flagGap/2 && o.u < f.right+flagGap/2
}

// over says whether the name lies over another flag's line.
func (f markFlag) over(o markFlag) bool { return f.covers(o) && (o.full || o.in >= f.in-0.1) }

// flagStyle is how names stand on a strip.
var flagStyle = TextStyle{Size: 2.8, Weight: Bold}.At(Start, Centred)

// ownFlags are the flags of a piece.
func (t Tape) ownFlags(p piece) (all []markFlag) {
	holds := func(u float64) bool { return u >= p.from-1e-6 && u <= p.to+1e-6 }
	if u := t.along(0); t.From <= 0 && t.To >= 0 && holds(u) {
		all = append(all, markFlag{u: u, text: "0 TDC", full: true})
	}
	for _, m := range t.Marks {
		if u := t.along(m.Before); holds(u) && m.Before != 0 {
			text := m.Label
			if t.Face == MarksOnly && text != "" {
				text += "  " + t.Lengths.of(math.Abs(math.Pi*t.Diameter*m.Before/360), 1)
			}
			room := math.Min(p.to-p.from-4, longestFlag)
			all = append(all, markFlag{u: u, text: Fit(text, room, flagStyle)})
		}
	}
	return all
}

// flags sets the names and draws the lines.
func (s *stripLayout) flags() {
	laid, size := s.t.layFlags(s.t.ownFlags(s.p), s.p.from+0.6, s.p.to-0.6)
	style := flagStyle.Sized(size)
	if s.t.Front == FrontAbove { // the reader has the strip the other way up
		style = style.Turned(180)
	}
	for _, m := range s.t.Marks {
		s.d.Heed(m.Label)
	}
	for _, f := range laid {
		if f.text == "" {
			continue
		}
		x := s.x0 + f.left
		if style.Turn != 0 {
			x = s.x0 + f.right // words turned over run to the left from their point
		}
		s.set(x, s.up(f.in), f.text, style)
	}
	for _, f := range laid {
		class, width, end := "mark", 0.4, s.t.Height
		if f.full {
			class, width = "zero", 0.5
		} else if slices.ContainsFunc(laid, func(o markFlag) bool { return o.covers(f) && o.u != f.u }) && f.in > 0 {
			end = f.in + size*capHeight/2
		}
		s.d.Group(Group{Class: class}, func() {
			s.pole(s.x0+f.u, end, Style{Stroke: Ink, Width: width})
			if x, head := s.x0+f.u, s.up(0); f.full {
				s.d.Polygon([]Point{{x, s.up(4.2)}, {x - 1.5, head}, {x + 1.5, head}}, Area(Ink))
			}
		})
	}
}

// pole draws a line from the pointer's edge to end mm from it, and stops before and after words in its way.
func (s *stripLayout) pole(x, end float64, pen Style) {
	const clear = 0.4
	type span struct{ from, to float64 }
	var gaps []span
	for _, b := range s.taken {
		lo, hi := b.extent()
		if x < lo.X-clear || x > hi.X+clear {
			continue
		}
		from, to := lo.Y-s.y, hi.Y-s.y
		if s.t.Pointer == FrontEdge {
			from, to = s.y+s.t.Height-hi.Y, s.y+s.t.Height-lo.Y
		}
		gaps = append(gaps, span{from - clear, to + clear})
	}
	slices.SortFunc(gaps, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	at := 0.0
	for _, g := range append(gaps, span{end, end}) {
		if to := math.Min(g.from, end); to > at+0.1 {
			s.d.Line(x, s.up(at), x, s.up(to), pen)
		}
		at = math.Max(at, g.to)
	}
}
