package capture

import "math"

// shapeTrack learns the vanes' places and widths over the whole recording. Each sum is kept twice: [0] at all speeds, [1] at
// speeds that enter the timing line, where the ripple of compression is small.
type shapeTrack struct {
	n     int
	at    [4]int64 // knots of vane 0 in the last four cycles
	held  int
	g     *groups // moments of each vane's place against vane 0's, all speeds then running
	wide  [][2][moments]float64
	lastN float64 // rpm of the last cycle, and its middle
	lastT float64
	accel ranged
	loose gathered // of active edges from the curve through their four neighbours, running
	lo    [2]float64
	hi    [2]float64
}

func (s *shapeTrack) init(n int) {
	s.n = n
	s.g = newGroups(2 * n * moments)
	s.wide = make([][2][moments]float64, n)
	s.lastN = math.NaN()
	s.lo = [2]float64{math.Inf(1), math.Inf(1)}
}

func (s *shapeTrack) restart() { s.held, s.lastN = 0, math.NaN() }

// cycle is called when the interval after vane 0, at knot i, has been worked through.
func (s *shapeTrack) cycle(tr *tracker, i int64) {
	if s.held > 0 && i-s.at[3] != int64(s.n) {
		s.restart()
	}
	copy(s.at[:], s.at[1:])
	s.at[3] = i
	if s.held++; s.held > 1 {
		a, b := tr.knot(s.at[2]), tr.knot(i)
		n := cycle / (b.t - a.t) / degPerRPM
		mid := (a.t + b.t) / 2
		if s.held > 2 && !math.IsNaN(s.lastN) {
			s.accel.add((n - s.lastN) / (mid - s.lastT))
		}
		s.lastN, s.lastT = n, mid
	}
	if s.held < 4 || !tr.numbered() {
		return
	}
	s.held = 4
	var t, a [4]float64
	for j, q := range [4]int{1, 2, 0, 3} {
		t[j], a[j] = tr.knot(s.at[q]).t, float64(q-1)*cycle
	}
	c := newCurve(&t, &a, 4)
	if c.jerk(t[1]-t[0]) > mostJerk {
		return
	}
	n := cycle / (t[1] - t[0]) / degPerRPM
	x := n / 1000
	row := s.g.row()
	vanes := tr.timing.vaneRow(tr, n)
	for k := range s.n {
		d := 0.0
		if k > 0 {
			d = c.at(tr.knot(s.at[1]+int64(k)).t) - (tr.w.nominal[k] - tr.w.nominal[0])
		}
		addMoments(row[k*moments:], x, 1/(x*x), d)
		for _, v := range vanes {
			if v != nil {
				v[k] += d
			}
		}
		if n >= tr.s.fitFrom {
			addMoments(row[(s.n+k)*moments:], x, 1/(x*x), d)
		}
	}
	for j := range 2 {
		if j == 0 || n >= tr.s.fitFrom {
			s.lo[j], s.hi[j] = min(s.lo[j], x), max(s.hi[j], x)
		}
	}
	s.g.step()
}

// looseness measures how far knot i stands from the cubic through the two edges on either side: scatter of the drive and the pickup.
func (s *shapeTrack) looseness(tr *tracker, i int64) {
	if i-2 < tr.first || i+2 >= tr.head || tr.upset > 0 || tr.w.rough > 5 {
		return
	}
	var t, a [4]float64
	for j, q := range [4]int64{i - 1, i + 1, i - 2, i + 2} {
		k := tr.knot(q)
		t[j], a[j] = k.t, k.a
	}
	c := newCurve(&t, &a, 4)
	k := tr.knot(i)
	s.loose.add(c.at(k.t) - k.a)
}

// looseFactor takes the four neighbours' own scatter out for evenly spaced edges: their weights are −1/6, 4/6, 4/6, −1/6.
var looseFactor = math.Sqrt(1 + 34.0/36)

// width takes the place of the pickup's other edge after vane k's active edge.
func (s *shapeTrack) width(k int32, n, other float64) {
	x := n / 1000
	addMoments(s.wide[k][0][:], x, 1/(x*x), other)
	if n >= 500 {
		addMoments(s.wide[k][1][:], x, 1/(x*x), other)
	}
}

// spacing is each vane's distance from its nominal place against the middle of all, with standard uncertainties; nil where no
// undisturbed cycles were seen.
func (s *shapeTrack) spacing() (late []float64, u []float64) {
	set := 1
	parts := s.g.parts(s.n * moments)
	if len(parts) < 3 {
		set = 0
		parts = s.g.parts(0)
	}
	if len(parts) == 0 {
		return nil, nil
	}
	use := basis{true, false, s.hi[set] > 2*s.lo[set]}
	value, cov, ok := jackknife(parts, func(sum []float64) ([]float64, bool) {
		out := make([]float64, s.n)
		for k := range out {
			c, _, ok := solve(sum[(set*s.n+k)*moments:], use)
			if !ok {
				return nil, false
			}
			out[k] = c[0]
		}
		m := median(append([]float64(nil), out...))
		for k := range out {
			out[k] -= m
		}
		return out, true
	})
	if !ok {
		if use[2] {
			s.hi[set] = s.lo[set] // too few cycles for the ripple term
			return s.spacing()
		}
		return nil, nil
	}
	u = make([]float64, s.n)
	for k := range u {
		u[k] = math.Inf(1)
		if cov != nil {
			u[k] = math.Sqrt(cov[k][k])
		}
	}
	return value, u
}

// others are the places of the pickup's other edges after each vane's active edge, as at great speed; NaN where not seen.
func (s *shapeTrack) others() []float64 {
	out := make([]float64, s.n)
	for k := range out {
		out[k] = math.NaN()
		m := s.wide[k][1][:]
		if m[0] < 10 {
			m = s.wide[k][0][:]
		}
		if m[0] < 1 {
			continue
		}
		mean := m[1] / m[0]
		sd := math.Sqrt(math.Max(0, m[3]/m[0]-mean*mean))
		use := basis{true, sd > 0.2*mean, sd > 0.2*mean && m[0] > 50}
		c, _, ok := solve(m, use)
		if !ok {
			c, _, ok = solve(m, basis{true})
		}
		if ok {
			out[k] = c[0]
		}
	}
	return out
}
