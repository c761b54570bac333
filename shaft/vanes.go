package shaft

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/track"
	"phasewright/shaft/wheel"
)

// vanes finds the vanes' places and widths from the whole recording. Each vane is placed on a curve through passes of
// vane 0 alone, 720° apart, so that no other vane's error enters. What compression adds falls with the square of speed:
// a term c/n² is fitted and left out.
type vanes struct {
	l         *wheel.Layout
	rows      *sums.Stretches[spacingRow, *spacingRow]
	widths    [][2]sums.Moments // by vane: way to the other edge, below 500 rpm [0] and from there on [1]
	at        [4]int64          // pass numbers of vane 0 in the last four cycles, of which the last held are set
	held      int
	lastSpeed quantity.Speed // of the last cycle; NaN: none
	lastMid   float64        // seconds
	accel     sums.Range     // rpm/s
	loose     sums.Mean      // distance of a running wheel's active edge from the curve through its neighbours
	lo, hi    [2]float64     // lowest and highest speed in 1000 rpm, by set: slow, running
	off       []quantity.Crank
}

// spacingRow holds, for one stretch, the moments of each vane's distance from its nominal place, counted from vane 0,
// over x and 1/x² with x in 1000 rpm: below the speeds of the timing line (slow) and at them (run).
type spacingRow struct{ slow, run []sums.Moments }

// Join adds f times the sums of o.
func (r *spacingRow) Join(o *spacingRow, f float64) {
	for k := range r.slow {
		r.slow[k].Join(&o.slow[k], f)
		r.run[k].Join(&o.run[k], f)
	}
}

func newVanes(l *wheel.Layout) vanes {
	v := vanes{l: l, widths: make([][2]sums.Moments, l.N), lastSpeed: quantity.Speed(math.NaN()),
		off: make([]quantity.Crank, l.N)}
	v.lo = [2]float64{math.Inf(1), math.Inf(1)}
	v.rows = sums.NewStretches[spacingRow, *spacingRow](v.empty)
	return v
}

func (v *vanes) empty() spacingRow {
	return spacingRow{make([]sums.Moments, v.l.N), make([]sums.Moments, v.l.N)}
}

func (v *vanes) clone() vanes {
	c := *v
	c.rows, c.widths, c.off = v.rows.Clone(), slices.Clone(v.widths), slices.Clone(v.off)
	return c
}

// restart forgets the cycles held: the next one does not follow them.
func (v *vanes) restart() { v.held, v.lastSpeed = 0, quantity.Speed(math.NaN()) }

// cycle takes the interval that begins with vane 0. The vanes of the last cycle but one are then placed, since the
// cycles on either side of it are known.
func (v *vanes) cycle(s *observer, x *track.Interval) {
	if v.held > 0 && x.I-v.at[3] != int64(v.l.N) {
		v.restart()
	}
	copy(v.at[:], v.at[1:])
	v.at[3] = x.I
	point := func(i int64) motion.Point { p := s.track.At(i); return motion.Point{T: p.T, A: p.A} }
	if v.held++; v.held > 1 {
		a, b := point(v.at[2]), point(x.I)
		n, mid := motion.Speed(motion.Cycle, b.T-a.T), float64(a.T+b.T)/2
		if v.held > 2 && !math.IsNaN(float64(v.lastSpeed)) {
			v.accel.Add(float64(n-v.lastSpeed) / (mid - v.lastMid))
		}
		v.lastSpeed, v.lastMid = n, mid
	}
	if v.held < 4 || !x.Numbered {
		return
	}
	v.held = 4
	var p [4]motion.Point
	for j := range p {
		p[j] = motion.Point{T: s.track.At(v.at[j]).T, A: quantity.Crank(j-1) * motion.Cycle}
	}
	c := motion.Through(p[1], p[2], p[0], p[3])
	took := p[2].T - p[1].T
	if c.Jerk(took) > mostJerk {
		return
	}
	n := motion.Speed(motion.Cycle, took)
	row, set := v.rows.Now().slow, 0
	if n >= v.l.Facts.FitFrom {
		row, set = v.rows.Now().run, 1
	}
	z := float64(n) / 1000
	for k := range v.off {
		v.off[k] = 0
		if k > 0 {
			v.off[k] = c.At(s.track.At(v.at[1]+int64(k)).T) - (v.l.Nominal[k] - v.l.Nominal[0])
		}
		row[k].Add(z, 1/(z*z), float64(v.off[k]))
	}
	v.lo[set], v.hi[set] = min(v.lo[set], z), max(v.hi[set], z)
	s.timing.Places(n, v.off)
	v.rows.Step()
}

// width adds the way from vane k's active edge on to the pickup's other edge, at the speed n.
func (v *vanes) width(k int, n quantity.Speed, after quantity.Crank) {
	z, set := float64(n)/1000, 0
	if n >= 500 {
		set = 1
	}
	v.widths[k][set].Add(z, 1/(z*z), float64(after))
}

// spacing is how far each vane stands from its nominal place, late positive, less the median of all, with standard
// uncertainties by the jackknife; nil where there was no undisturbed cycle.
func (v *vanes) spacing() (late, u []float64) {
	lo, hi := v.lo[1], v.hi[1]
	parts := v.rows.Parts(func(r *spacingRow) float64 { return r.run[0].N })
	if len(parts) < 3 { // too few at those speeds: use all
		lo, hi = min(v.lo[0], v.lo[1]), max(v.hi[0], v.hi[1])
		parts = v.rows.Parts(func(r *spacingRow) float64 { return r.run[0].N + r.slow[0].N })
		for _, p := range parts {
			for k := range p.run {
				p.run[k].Join(&p.slow[k], 1)
			}
		}
	}
	over := func(use sums.Basis) func(r *spacingRow) ([]float64, bool) {
		return func(r *spacingRow) ([]float64, bool) {
			out := make([]float64, v.l.N)
			for k := range out {
				c, _, ok := r.run[k].Solve(use)
				if !ok {
					return nil, false
				}
				out[k] = c[0]
			}
			m := sums.Median(out)
			for k := range out {
				out[k] -= m
			}
			return out, true
		}
	}
	value, cov, ok := sums.Jackknife[spacingRow, *spacingRow](v.empty, parts, over(sums.Basis{true, false, hi > 2*lo}))
	if !ok && hi > 2*lo { // too few cycles for the ripple term
		value, cov, ok = sums.Jackknife[spacingRow, *spacingRow](v.empty, parts, over(sums.Basis{true}))
	}
	if !ok {
		return nil, nil
	}
	u = make([]float64, v.l.N)
	for k := range u {
		u[k] = math.Inf(1)
		if cov != nil {
			u[k] = math.Sqrt(cov[k][k])
		}
	}
	return value, u
}

// others is the way from each vane's active edge on to the pickup's other edge, as it would be at great speed; NaN
// where none was seen.
func (v *vanes) others() []quantity.Crank {
	out := make([]quantity.Crank, v.l.N)
	for k := range out {
		out[k] = quantity.Crank(math.NaN())
		m := v.widths[k][1]
		if m.N < 10 {
			m.Join(&v.widths[k][0], 1)
		}
		if m.N < 1 {
			continue
		}
		mean := m.X / m.N
		sd := math.Sqrt(math.Max(0, m.XX/m.N-mean*mean))
		c, _, ok := m.Solve(sums.Basis{true, sd > 0.2*mean, sd > 0.2*mean && m.N > 50})
		if !ok {
			c, _, ok = m.Solve(sums.Basis{true})
		}
		if ok {
			out[k] = quantity.Crank(c[0])
		}
	}
	return out
}

// looseFactor is by how much the distance of an edge from the cubic through its four neighbours scatters more than the
// edge itself. On an even wheel the cubic weighs the neighbours by −1/6, 4/6, 4/6, −1/6, so its variance is 34/36 of an
// edge's.
var looseFactor = math.Sqrt(1 + 34.0/36)

// edgeScatter is the standard deviation of single active edges about smooth motion, degrees; NaN where there are too
// few.
func (v *vanes) edgeScatter() float64 {
	if v.loose.N <= 20 {
		return math.NaN()
	}
	return v.loose.SD() / looseFactor
}

// running are, by vane, the moments of the way to the other edge at 500 rpm and more.
func (v *vanes) running() []sums.Moments {
	out := make([]sums.Moments, v.l.N)
	for k := range out {
		out[k] = v.widths[k][1]
	}
	return out
}
