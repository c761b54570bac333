package drawing

import (
	"cmp"
	"math"
)

// trace draws one channel: its name, its scale with the state levels, and what was recorded.
func (l *waveLayout) trace(t Trace, strip [2]float64) {
	d, top, foot := l.d, strip[0], strip[1]
	base := top - 1.4
	if t.Marked {
		base -= waveMarks
	}
	name := d.fit(t.Name, (l.right-l.left)*0.5, Label.Heavy())
	d.Text(l.left, base, name, Label.Heavy())
	rest := l.left + Width(name, Label.Heavy()) + 2
	d.Text(rest, base, d.fit(t.About, l.right-rest, Note), Note)
	pen := Style{Stroke: cmp.Or(t.Paint, Ink), Width: 0.35, Cap: RoundCap}
	y := linear(0, 1, foot-1, top+1)
	if t.Logic {
		d.Text(l.left-1.4, y.at(1), "1", tickText.At(End, Centred).Painted(Soft))
		d.Text(l.left-1.4, y.at(0), "0", tickText.At(End, Centred).Painted(Soft))
	} else {
		y = l.scale(t, top, foot)
	}
	field := RectPath(l.left, top-0.4, l.right-l.left, foot-top+0.8)
	d.Group(Group{Class: "wave-clip", Clip: field}, func() {
		d.Group(Group{Class: "wave-moving"}, func() {
			l.x.uprights(d, top, foot)
			l.content(t, y, pen)
			for _, m := range t.Marks {
				if l.x.holds(m.At) {
					d.Line(l.x.at(m.At), top-0.4, l.x.at(m.At), foot, Style{Stroke: Ink, Width: 0.25, Dash: Short})
				}
			}
		})
	})
	d.Line(l.left, top, l.left, foot, Style{Stroke: Ink, Width: 0.2})
	held := noValues
	held.grow(t.Lo...)
	held.grow(t.Hi...)
	held.grow(t.Values...)
	if held == noValues {
		l.set((l.left+l.right)/2, (top+foot)/2, "nothing was recorded here", Note.At(Middle, Centred).On(Sheet))
	}
}

// scale gives an analog strip its range: what the stretch holds and the state levels, out to whole small steps, so that
// it stands still while the view moves.
func (l *waveLayout) scale(t Trace, top, foot float64) axisMap {
	r := noValues
	r.grow(t.Lo...)
	r.grow(t.Hi...)
	r.grow(t.Low, t.High)
	for i, v := range t.Values {
		if at := t.Times[i]; at >= l.w.From && at <= l.w.To || t.Held {
			r.grow(v)
		} else if finite(v) && len(t.Values) > 1 { // a sample outside counts as far as its line reaches into the field
			r.grow(crossing(t, i, l.w.From, l.w.To))
		}
	}
	lo, hi := r.lo, r.hi
	if lo > hi {
		lo, hi = 0, 1
	}
	if hi-lo < 1e-12*math.Max(1, math.Abs(hi)) {
		pad := math.Max(math.Abs(hi)*0.1, 1e-3)
		lo, hi = lo-pad, hi+pad
	}
	n := int((foot-top)/8) + 1
	step := niceStep(hi-lo, n)
	fine := step / 10
	lo, hi = math.Floor(lo/fine+1e-9)*fine, math.Ceil(hi/fine-1e-9)*fine
	y := axis{axisMap: linear(lo, hi, foot-0.6, top+0.6), ticks: stepTicks(lo, hi, step)}
	y.words = tickWords(y.ticks, Axis{})
	d := l.d
	y.levels(d, l.left, l.right)
	l.numbersBefore(y, l.left, tickText.Painted(Soft))
	for _, v := range [2]float64{t.Low, t.High} {
		if finite(v) {
			d.Line(l.left, y.at(v), l.right, y.at(v), Style{Stroke: Soft, Width: 0.2, Dash: Dashed})
		}
	}
	return y.axisMap
}

// crossing is the value at which the line from sample i to its neighbour enters or leaves the stretch; NaN where it
// does not.
func crossing(t Trace, i int, from, to float64) float64 {
	k, edge := i+1, from
	if t.Times[i] > to {
		k, edge = i-1, to
	}
	if k < 0 || k >= len(t.Times) || !finite(t.Values[k]) {
		return math.NaN()
	}
	a, b := t.Times[i], t.Times[k]
	if a == b {
		return t.Values[i]
	}
	return t.Values[i] + (edge-a)/(b-a)*(t.Values[k]-t.Values[i])
}

// hundredth rounds to a hundredth of a millimetre, which is finer than any pen and keeps the page small.
func hundredth(v float64) float64 { return math.Round(v*100) / 100 }

// tracer makes a path without the points that lie on the line between their neighbours.
type tracer struct {
	p    Path
	a, b Point
	held int // of a and b
}

func (c *tracer) to(x, y float64) {
	q := Point{hundredth(x), hundredth(y)}
	switch {
	case c.held == 0:
		c.a, c.held = q, 1
		c.p.Move(q.X, q.Y)
	case c.held == 1:
		c.b, c.held = q, 2
	default:
		if cross := (c.b.X-c.a.X)*(q.Y-c.a.Y) - (c.b.Y-c.a.Y)*(q.X-c.a.X); math.Abs(cross) > 1e-9 ||
			(q.X-c.b.X)*(c.b.X-c.a.X)+(q.Y-c.b.Y)*(c.b.Y-c.a.Y) < 0 {
			c.p.Line(c.b.X, c.b.Y)
			c.a = c.b
		}
		c.b = q
	}
}

// lift ends a part of the path.
func (c *tracer) lift() {
	switch c.held {
	case 2:
		c.p.Line(c.b.X, c.b.Y)
	case 1:
		c.p.Line(c.a.X, c.a.Y) // one point: a dot by its round ends
	}
	c.held = 0
}

// ribbon draws the range of a quantity: a line where it is thin, an outlined tint where it is wide. at gives place and
// range of point i; gaps are bridged by a dashed line.
func (l *waveLayout) ribbon(n int, at func(i int) (x, lo, hi float64), y axisMap, pen Style) {
	last := -1
	for i := 0; i < n; {
		if _, lo, hi := at(i); !finite(lo, hi) {
			i++
			continue
		}
		end := i
		for end < n {
			if _, lo, hi := at(end); !finite(lo, hi) {
				break
			}
			end++
		}
		if last >= 0 {
			x0, lo0, hi0 := at(last)
			x1, lo1, hi1 := at(i)
			gap := pen
			if i-last > 3 {
				gap = Style{Stroke: pen.Stroke, Width: pen.Width * 0.7, Dash: Short}
			}
			l.d.Line(hundredth(x0), hundredth(y.at((lo0+hi0)/2)), hundredth(x1), hundredth(y.at((lo1+hi1)/2)), gap)
		}
		var c tracer
		wide, any := 0, false
		for k := i; k < end; k++ {
			x, lo, hi := at(k)
			c.to(x, y.at(hi))
			thick := math.Abs(y.at(hi) - y.at(lo))
			any = any || thick > 0.02
			if thick > 0.5 {
				wide++
			}
		}
		outline := pen
		if 8*wide > end-i { // much goes on: a fine outline keeps it from running together
			outline.Width *= 0.55
		}
		if any {
			for k := end - 1; k >= i; k-- {
				x, lo, _ := at(k)
				c.to(x, y.at(lo))
			}
			c.lift()
			l.d.Path(c.p.Close(), outline.Filled(Tint))
		} else {
			c.lift()
			l.d.Path(&c.p, pen)
		}
		last, i = end-1, end
	}
}

// levels draws columns of a value that holds, the first from start to first+wide: a line at its level, a filled bar
// where it changes within a column.
func (l *waveLayout) levels(lows, highs []float64, start, wide, first float64, y axisMap, pen Style) {
	n := len(lows)
	var bars Path
	var c tracer
	for i := 0; i < n; {
		lo, hi := lows[i], highs[i]
		if !finite(lo, hi) {
			c.lift()
			i++
			continue
		}
		end := i + 1
		for end < n && lows[end] == lo && highs[end] == hi {
			end++
		}
		x0, x1 := first+float64(i)*wide, first+float64(end)*wide
		if i == 0 {
			x0 = start
		}
		if lo == hi {
			c.to(x0, y.at(lo))
			c.to(x1, y.at(lo))
		} else if end-i < 3 { // a change or two: the line goes through both levels
			mid := (x0 + x1) / 2
			c.to(mid, y.at(lo))
			c.to(mid, y.at(hi))
			if end < n && lows[end] == highs[end] {
				c.to(mid, y.at(lows[end]))
			}
		} else {
			c.lift()
			a, b, top, foot := hundredth(x0), hundredth(x1), hundredth(y.at(hi)), hundredth(y.at(lo))
			bars.Move(a, top).Line(b, top).Line(b, foot).Line(a, foot).Close()
		}
		i = end
	}
	c.lift()
	l.d.Path(&bars, pen.Filled(Tint))
	l.d.Path(&c.p, pen)
}

// samples draws the samples themselves in a part of the axis: joined by straight lines, or held each until the next. A
// dot stands at each where they stand apart.
func (l *waveLayout) samples(t Trace, part stretch, y axisMap, pen Style) {
	near, far := l.left-(l.right-l.left), l.right+(l.right-l.left)
	if t.Logic || t.Held {
		if part.from > l.left {
			near = part.from
		}
		if part.to < l.right {
			far = part.to
		}
	}
	place := func(at float64) float64 { return math.Min(math.Max(l.x.at(at), near), far) }
	var c tracer
	seen := 0
	for i, v := range t.Values {
		if !finite(v) {
			c.lift()
			continue
		}
		x, h := place(t.Times[i]), y.at(v)
		steps := t.Logic || t.Held
		if !steps && (t.Times[i] < l.w.From || t.Times[i] > l.w.To) {
			// cut where the line crosses the edge of the field
			if k := crossing(t, i, l.w.From, l.w.To); finite(k) {
				x, h = l.left, y.at(k)
				if t.Times[i] > l.w.To {
					x = l.right
				}
			}
		}
		c.to(x, h)
		if t.Times[i] >= l.w.From && t.Times[i] <= l.w.To {
			seen++
		}
		if steps {
			next := far
			if i+1 < len(t.Times) {
				next = place(t.Times[i+1])
			}
			c.to(next, h)
		}
	}
	c.lift()
	l.d.Path(&c.p, pen)
	if t.Logic || t.Held || float64(seen)*1.8 > l.right-l.left {
		return
	}
	for i, v := range t.Values {
		if finite(v) && t.Times[i] >= l.w.From && t.Times[i] <= l.w.To {
			l.d.Circle(Point{hundredth(l.x.at(t.Times[i])), hundredth(y.at(v))}, 0.45, Area(pen.Stroke))
		}
	}
}

// marks sets the sign of each thing wrong above the strip, with its word where there is room. Signs that would touch
// are one, with their number.
func (l *waveLayout) marks(t Trace, strip [2]float64) {
	y := strip[0] - waveMarks/2 - 0.4
	const size = 2.6
	for i := 0; i < len(t.Marks); {
		m := t.Marks[i]
		if !l.x.holds(m.At) {
			i++
			continue
		}
		x, same := l.x.at(m.At), true
		end := i + 1
		for end < len(t.Marks) && l.x.holds(t.Marks[end].At) && l.x.at(t.Marks[end].At) < x+size+0.8 {
			same = same && t.Marks[end].Text == m.Text
			end++
		}
		text := m.Text
		if n := end - i; n > 1 && same {
			text = Number(float64(n), 0) + " × " + text
		} else if n > 1 {
			text = Number(float64(n), 0) + " wrong"
		}
		at := math.Min(math.Max(x, l.left+size/2), l.right-size/2)
		l.d.Mark(Point{at, y}, size, IsCaution, Ink)
		l.taken = append(l.taken, TextBox{Corners: [4]Point{{at - size/2, y - size/2}, {at + size/2, y - size/2},
			{at + size/2, y + size/2}, {at - size/2, y + size/2}}})
		room := l.right
		if end < len(t.Marks) && l.x.holds(t.Marks[end].At) {
			room = l.x.at(t.Marks[end].At) - size/2
		}
		l.d.Heed(text)
		style := Note.Painted(Ink).At(Start, Centred)
		w := Width(text, style)
		switch {
		case at+size/2+1+w < room-0.5:
			l.ifFree(at+size/2+1, y, text, style)
		case room == l.right:
			l.ifFree(at-size/2-1-w, y, text, style)
		}
		i = end
	}
}
