package drawing

import "math"

// WaveRest is a time in which a channel did not change from one of its levels to the other.
type WaveRest struct {
	From, To float64
	Period   float64 // with the shorter of the rests beside it, s
	High     bool    // at which level
	Gap      bool    // longer than the signal's rhythm has: drawn apart however short
}

// Where changes come too close for a line each, an area between the extremes holds them. Both are mm of the drawing:
// a rhythm becomes lines from the first on and an area again below the second, so that a steady one is drawn one way.
const (
	apartPeriod = 1.6
	closePeriod = 1.2
	leastGap    = 0.8 // what a gap in an area is widened to
	toneReach   = 2.5 // to either side, mm: how far the changes are counted that say how dark it is
)

// tones are the fills of an area by the changes in a mm of it, from the given number on.
var tones = [...]struct {
	from  float64
	paint Paint
}{{0, Tint}, {8, Hair}, {80, Soft}}

// toneStays is how far the changes must pass a tone's limit for the next one: a steady rhythm keeps one tone.
const toneStays = 1.3

// stretch is a part of the time axis, mm.
type stretch struct{ from, to float64 }

// part is a stretch with how it is drawn.
type part struct {
	stretch
	area bool      // changes come too close for a line each
	gap  *WaveRest // widened, so that it is seen
}

// parts divide the axis.
func (l *waveLayout) parts(t Trace) []part {
	all := stretch{l.left, l.right}
	if len(t.Changes) == 0 {
		return []part{{stretch: all}}
	}
	scale := (l.x.to - l.x.from) / (l.x.hi - l.x.lo)
	var out []part
	apart := apartRests(t.Rests, scale)
	lined, at := l.left, l.left // drawn as lines since, no rest since
	upTo := func(to float64, gap *WaveRest, from float64) {
		if from-at >= apartPeriod {
			if at > lined {
				out = append(out, part{stretch: stretch{lined, at}})
			}
			out = append(out, part{stretch: stretch{at, from}, area: true})
			lined = from
		}
		if gap != nil {
			if from > lined {
				out = append(out, part{stretch: stretch{lined, from}})
			}
			out = append(out, part{stretch: stretch{from, to}, gap: gap})
			lined = to
		}
		at = math.Max(at, to)
	}
	for i := range t.Rests {
		r := &t.Rests[i]
		from, to := l.x.span(r.From, r.To)
		if short := leastGap - (to - from); r.Gap && short > 0 {
			upTo(math.Min(to+short/2, l.right), r, math.Max(from-short/2, at))
		} else if apart[i] || r.Gap {
			upTo(to, nil, from)
		}
	}
	upTo(l.right, nil, l.right)
	if l.right > lined {
		out = append(out, part{stretch: stretch{lined, l.right}})
	}
	return out
}

// apartRests says which rests have room to be drawn as lines; scale is mm a second.
func apartRests(rests []WaveRest, scale float64) []bool {
	out := make([]bool, len(rests))
	apart := false
	step := func(i int) {
		if !rests[i].Gap {
			wide := rests[i].Period * scale
			apart = out[i] || wide >= apartPeriod || apart && wide >= closePeriod
			out[i] = apart
		}
	}
	for i := range rests {
		step(i)
	}
	apart = false
	for i := len(rests) - 1; i >= 0; i-- {
		step(i)
	}
	return out
}

// content draws what a channel recorded: lines, and areas where lines have no room.
func (l *waveLayout) content(t Trace, y axisMap, pen Style) {
	for _, p := range l.parts(t) {
		switch {
		case p.area:
			l.area(t, p.stretch, y, pen)
		case p.gap != nil:
			level := t.level(p.gap.High)
			l.d.Line(p.from, y.at(level), p.to, y.at(level), pen)
		case len(t.Times) > 0:
			l.samples(l.between(t, p.stretch), p.stretch, y, pen)
		case t.Logic && len(t.Changes) > 0:
			l.logic(t, p.stretch, y, pen)
		default:
			l.lines(t, p.stretch, y, pen)
		}
	}
}

// level is the value of a state.
func (t *Trace) level(high bool) float64 {
	switch {
	case t.Logic && high:
		return 1
	case t.Logic:
		return 0
	case high:
		return t.High
	}
	return t.Low
}

// logic draws a stretch of a logic channel from its rests, so that an edge stands at its time and not in a column.
func (l *waveLayout) logic(t Trace, part stretch, y axisMap, pen Style) {
	var c tracer
	last := -1
	for i, r := range t.Rests {
		from, to := l.x.span(r.From, r.To)
		if to <= part.from || from >= part.to {
			continue
		}
		from, to = math.Max(from, part.from), math.Min(to, part.to)
		h := y.at(t.level(r.High))
		if last >= 0 {
			before := t.Rests[last]
			mid := (l.x.within(before.To) + from) / 2
			if before.High == r.High { // too short to be kept: there and back
				c.to(mid, h)
				c.to(mid, y.at(t.level(!r.High)))
				from = mid
			} else {
				c.to(mid, y.at(t.level(before.High)))
				from = mid
			}
		}
		c.to(from, h)
		c.to(to, h)
		last = i
	}
	c.lift()
	l.d.Path(&c.p, pen)
}

// columns are those of the trace whose middle lies in a part of the axis.
func (l *waveLayout) columns(n int, part stretch) (from, to int) {
	wide := (l.right - l.left) / float64(max(n, 1))
	first := func(x float64) int { return min(max(int(math.Ceil((x-l.left)/wide-0.5-1e-9)), 0), n) }
	if part.to >= l.right {
		return first(part.from), n
	}
	return first(part.from), first(part.to)
}

// lines draws a part of the axis from its columns.
func (l *waveLayout) lines(t Trace, part stretch, y axisMap, pen Style) {
	from, to := l.columns(len(t.Lo), part)
	wide := (l.right - l.left) / float64(max(len(t.Lo), 1))
	if t.Logic || t.Held {
		l.levels(t.Lo[from:to], t.Hi[from:to], math.Max(part.from, l.left), wide, l.left+float64(from)*wide, y, pen)
		return
	}
	l.ribbon(to-from, func(i int) (float64, float64, float64) {
		return l.left + (float64(from+i)+0.5)*wide, t.Lo[from+i], t.Hi[from+i]
	}, y, pen)
}

// between is the trace with the samples in a part of the axis, the one before it and the one after it.
func (l *waveLayout) between(t Trace, part stretch) Trace {
	x, from, to := l.x, 0, len(t.Times)
	if part.from > l.left {
		for from+1 < len(t.Times) && x.at(t.Times[from+1]) <= part.from {
			from++
		}
	}
	if part.to < l.right {
		for to > from+1 && x.at(t.Times[to-2]) >= part.to {
			to--
		}
	}
	t.Times, t.Values = t.Times[from:to], t.Values[from:to]
	return t
}

// area draws a part of the axis as the extremes that the changes reach, darker the more of them there are. Extremes are
// taken over a period of what would be lines, so that the area does not show which column an edge fell into.
func (l *waveLayout) area(t Trace, part stretch, y axisMap, pen Style) {
	n := len(t.Lo)
	from, to := l.columns(n, part)
	if to <= from {
		return
	}
	wide := (l.right - l.left) / float64(n)
	near := int(math.Ceil(apartPeriod / wide))
	lo, hi := spread(t.Lo[from:to], near, math.Min), spread(t.Hi[from:to], near, math.Max)
	if !finite(lo[0], hi[0]) {
		return
	}
	edge := func(i int) float64 {
		switch {
		case i <= from:
			return part.from
		case i >= to:
			return part.to
		}
		return l.left + float64(i)*wide
	}
	outline := func(a, b int) *Path {
		var c tracer
		for i := a; i < b; i++ {
			c.to(edge(i), y.at(hi[i-from]))
			c.to(edge(i+1), y.at(hi[i-from]))
		}
		for i := b - 1; i >= a; i-- {
			c.to(edge(i+1), y.at(lo[i-from]))
			c.to(edge(i), y.at(lo[i-from]))
		}
		c.lift()
		return c.p.Close()
	}
	tone := l.tones(t.Changes[from:to], wide)
	for a := from; a < to; {
		b := a + 1
		for b < to && tone[b-from] == tone[a-from] {
			b++
		}
		l.d.Path(outline(a, b), Area(tones[tone[a-from]].paint))
		a = b
	}
	pen.Width *= 0.55
	l.d.Path(outline(from, to), pen)
}

// spread gives each column the extreme of those near it; of columns without one, of the nearest.
func spread(v []float64, near int, pick func(a, b float64) float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = math.NaN()
		for k := max(0, i-near); k <= min(len(v)-1, i+near); k++ {
			if math.IsNaN(out[i]) {
				out[i] = v[k]
			} else if finite(v[k]) {
				out[i] = pick(out[i], v[k])
			}
		}
		if i > 0 && math.IsNaN(out[i]) {
			out[i] = out[i-1]
		}
	}
	return out
}

// tones are the tones of an area's columns.
func (l *waveLayout) tones(changes []int, wide float64) []int {
	sum := make([]int, len(changes)+1)
	for i, n := range changes {
		sum[i+1] = sum[i] + n
	}
	reach := int(toneReach/wide) + 1
	out := make([]int, len(changes))
	now := -1
	for i := range changes {
		a, b := max(0, i-reach), min(len(changes), i+reach+1)
		per := float64(sum[b]-sum[a]) / (float64(b-a) * wide)
		if now < 0 {
			now = 0
			for now+1 < len(tones) && per >= tones[now+1].from {
				now++
			}
		}
		for now+1 < len(tones) && per >= tones[now+1].from*toneStays {
			now++
		}
		for now > 0 && per < tones[now].from/toneStays {
			now--
		}
		out[i] = now
	}
	return out
}
