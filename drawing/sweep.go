package drawing

import (
	"fmt"
	"math"
)

// RotorSweep shows, to scale and from above, the rotor tip at both ends of the
// advance range against the terminal of a tower and its neighbours.
type RotorSweep struct {
	Width float64 // of the drawing, mm
	Scale float64 // times life size; 0: the largest round scale that fits

	Radius        float64 // of the rotor tip, mm
	AirGap        float64 // tip to terminal, mm
	TipWidth      float64 // mm along the arc
	TerminalWidth float64 // mm along the arc
	Neighbours    float64 // shaft degrees to the next terminal, each side

	Turn Turn
	// From and To are shaft degrees of the tip's middle from the terminal's middle, in
	// the direction of rotation, at the two ends of the advance range.
	From, To           float64
	FromWords, ToWords string
	// Seen is where the light through a cut-open cap must show the tip's middle, shaft degrees like From and To; at
	// most one. The window in the cap is drawn with it.
	Seen      []float64
	SeenWords string
	Prefix    string
}

// Draw lays the drawing out.
func (s RotorSweep) Draw() (*Drawing, error) {
	const where = "rotor sweep"
	if err := s.Turn.usable(where); err != nil {
		return nil, err
	}
	switch {
	case !(s.Width >= 60 && s.Width <= 400):
		return nil, fmt.Errorf("%s – a width of %g mm cannot be drawn – use 60 to 400 mm", where, s.Width)
	case !(s.Radius >= 5 && s.Radius <= 200):
		return nil, fmt.Errorf("%s – a rotor radius of %g mm – give 5 to 200 mm", where, s.Radius)
	case !(s.AirGap >= 0 && s.AirGap <= 10):
		return nil, fmt.Errorf("%s – an air gap of %g mm – give 0 to 10 mm", where, s.AirGap)
	case !(s.TipWidth > 0 && s.TipWidth <= math.Pi*s.Radius):
		return nil, fmt.Errorf("%s – a tip of %g mm on a radius of %g mm – give more than 0 and "+
			"less than half the circle", where, s.TipWidth, s.Radius)
	case !(s.TerminalWidth > 0 && s.TerminalWidth <= math.Pi*s.Radius):
		return nil, fmt.Errorf("%s – a terminal of %g mm on a radius of %g mm – give more than 0 and "+
			"less than half the circle", where, s.TerminalWidth, s.Radius)
	case !(s.Neighbours > 0 && s.Neighbours <= 360):
		return nil, fmt.Errorf("%s – neighbours %g° apart – give more than 0 and at most 360 shaft degrees", where,
			s.Neighbours)
	case len(s.Seen) > 1 || !finite(s.Seen...) || len(s.Seen) == 1 && math.Abs(s.Seen[0]) > 180:
		return nil, fmt.Errorf("%s – a tip seen at %g – give one place, at most 180 shaft degrees each way", where,
			s.Seen)
	case !(math.Abs(s.From) <= 180 && math.Abs(s.To) <= 180):
		return nil, fmt.Errorf("%s – a sweep from %g° to %g° – give at most 180 shaft degrees each way", where,
			s.From, s.To)
	}
	outer := s.Radius + s.AirGap
	depth := math.Max(3, outer*0.1) // of a terminal
	// What is shown: the terminal, both tips and the edges of the neighbours.
	show := math.Max(math.Abs(s.From), math.Abs(s.To)) + s.TipWidth/s.Radius*90/math.Pi + 4
	show = math.Max(show, math.Min(s.Neighbours+s.TerminalWidth/outer*90/math.Pi+3, 62))
	show = math.Min(show, 88)
	half, _ := sincos(show)
	scale := s.Scale
	if scale <= 0 {
		scale = 0.25
		for _, k := range []float64{5, 4, 3, 2.5, 2, 1.5, 1, 0.5} {
			if (outer+depth)*k*half*2 <= s.Width-6 && (outer+depth)*k <= 130 {
				scale = k
				break
			}
		}
	}
	_, low := sincos(show)
	_, end := sincos(math.Min(math.Max(math.Abs(s.From), math.Abs(s.To)), 90))
	c := Point{s.Width / 2, 12 + (outer+depth)*scale}
	words := c.Y - s.Radius*0.62*scale*end + 2 // top of the angle's number
	height := math.Max(words+4, c.Y-s.Radius*scale*low+3) + 9.3
	desc := fmt.Sprintf("Rotor tip against its terminal from above, %s times life size. The rotor turns %s. The tip's "+
		"middle stands from %s to %s shaft degrees from the terminal's middle.", Number(scale, places(scale)), s.Turn,
		Signed(s.From, places(s.From)), Signed(s.To, places(s.To)))
	for _, at := range s.Seen { // the words stand below the window
		height = math.Max(height, c.Y-(s.Radius*0.78*scale-2.5)*low+13.5) + 4
		desc += fmt.Sprintf(" Through the window the light must show it at %s.", Signed(at, places(at)))
	}
	d := New(s.Width, height, "Rotor sweep", desc)
	d.Prefix = s.Prefix
	l := sweepLayout{s: s, d: d, c: c, k: scale, outer: outer, depth: depth, show: show, words: words}
	l.draw(height)
	return d, nil
}

type sweepLayout struct {
	s                            RotorSweep
	d                            *Drawing
	c                            Point
	k, outer, depth, show, words float64
}

func (l *sweepLayout) draw(height float64) {
	d, s, c, k := l.d, l.s, l.c, l.k
	turn := float64(s.Turn)
	tip := s.TipWidth / s.Radius * 180 / math.Pi
	terminal := s.TerminalWidth / l.outer * 180 / math.Pi
	d.Arc(c, s.Radius*k, -l.show, 2*l.show, Quiet)
	d.Arc(c, l.outer*k, -l.show, 2*l.show, Grid)
	d.Group(Group{ID: "terminals", Class: "terminals"}, func() {
		for i := -1; i <= 1; i++ {
			mid := float64(i) * s.Neighbours
			from, to := math.Max(mid-terminal/2, -l.show), math.Min(mid+terminal/2, l.show)
			if to <= from || (i != 0 && s.Neighbours >= 180) {
				continue
			}
			p := SectorPath(c, l.outer*k, (l.outer+l.depth)*k, from, to-from)
			if i == 0 {
				d.Path(p, Area(Ink))
			} else {
				d.Path(p, Style{Stroke: Ink, Width: 0.3, Fill: Wash})
			}
		}
	})
	inner := s.Radius * 0.78
	lo, hi := math.Min(s.From, s.To), math.Max(s.From, s.To)
	a0 := turn*(lo+hi)/2 - (hi-lo)/2 - tip/2
	d.Group(Group{ID: "sweep", Class: "sweep"}, func() {
		d.Path(SectorPath(c, inner*k, s.Radius*k, a0, hi-lo+tip), Area(Tint))
		for i, at := range []float64{s.From, s.To} {
			p := SectorPath(c, inner*k, s.Radius*k, turn*at-tip/2, tip)
			st := Outline
			if len(s.Seen) > 0 {
				st = Fine // the tip to look for stands out
			}
			if i == 1 {
				st = st.Dashed(Dashed)
			}
			d.Path(p, st)
		}
	})
	l.seen(inner*k, height)
	// The sweep as an angle, on a dimension line below the tips.
	rr := s.Radius * 0.62 * k
	d.Line(c.X, c.Y-(l.outer+l.depth)*k-3, c.X, l.words-1, CentreLn)
	d.DimArc(c, inner*k-0.8, rr, turn*s.From, turn*(s.To-s.From))
	angle := Number(math.Abs(s.To-s.From), places(s.To-s.From)) + "°"
	d.Text(c.X, l.words, angle, Value.Sized(3.4).At(Middle, Top).On(Sheet))
	// Words for both ends, outside the terminals.
	for i, at := range []float64{s.From, s.To} {
		text := []string{s.FromWords, s.ToWords}[i]
		if text == "" {
			continue
		}
		text = l.d.fit(text, s.Width*0.48-1, Note)
		a := End
		x := c.X - 2
		if turn*at > turn*(s.From+s.To)/2 || (s.From == s.To && i == 1) {
			a, x = Start, c.X+2
		}
		tipTop := Polar(c, (l.outer+l.depth)*k+1.5, turn*at)
		y := 5.0
		d.Path(Poly(Polar(c, s.Radius*k, turn*at), tipTop, Point{tipTop.X, y + 1}), Dimension)
		if a == End {
			x = math.Max(math.Min(x, tipTop.X+Width(text, Note)*0.5), Width(text, Note)+0.5)
		} else {
			x = math.Min(math.Max(x, tipTop.X-Width(text, Note)*0.5), s.Width-0.5-Width(text, Note))
		}
		d.Text(x, y, text, Note.At(a, Baseline))
	}
	turnArrow(d, c, inner*k*0.94, -turn*(l.show-6), math.Min(18, l.show/2), s.Turn)
	ratio := "scale " + Number(k, places(k)) + " : 1"
	if k < 1 {
		ratio = "scale 1 : " + Number(1/k, places(1/k))
	}
	if len(s.Seen) > 0 {
		height -= 4 // the last line is the words of what is seen
	}
	d.Text(s.Width/2, height-5.4, "seen from above; the rotor turns "+s.Turn.String(), Note.At(Middle, Baseline))
	d.Text(s.Width/2, height-1.6, ratio, Note.At(Middle, Baseline))
}

// seen draws the window that is cut beside the tower, and the tip as the light must show it.
func (l *sweepLayout) seen(inner, height float64) {
	s, k := l.s, l.k
	for _, at := range s.Seen {
		tip := s.TipWidth / s.Radius * 180 / math.Pi
		side := math.Min(math.Max(math.Abs(at)+tip, s.Neighbours/3), l.show)
		l.d.Group(Group{ID: "window", Class: "window"}, func() {
			l.d.Path(SectorPath(l.c, inner-2.5, l.outer*k, -side, 2*side), Heavy.Dashed(Short))
		})
		l.d.Group(Group{ID: "seen", Class: "seen"}, func() {
			mid := float64(s.Turn) * at
			p := SectorPath(l.c, inner, s.Radius*k, mid-tip/2, tip)
			l.d.Path(p, Area(Wash))
			l.d.Hatch(p, 45, 1.1, Style{Stroke: Ink, Width: 0.2})
			l.d.Path(p, Heavy)
		})
		l.d.Text(s.Width/2, height-1.6, l.d.fit(s.SeenWords, s.Width-2, Note), Note.At(Middle, Baseline))
	}
}
