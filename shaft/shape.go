package shaft

import "math"

// shapeTrack learns the vanes' places and widths over the whole recording. Each sum is kept twice: [0] below the speeds that enter the timing line, [1] at
// them, where the ripple of compression is small.
//
// The vanes of one cycle share its speed: a row of g holds, for each set, the six moments of 1, x, z and then, for each vane, its y, yx, yz, yy.
type shapeTrack struct {
	n     int
	at    [4]int64 // knots of vane 0 in the last four cycles
	held  int
	g     *groups // moments of each vane's place against vane 0's
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
	s.g = newGroups(2 * s.setWide())
	s.wide = make([][2][moments]float64, n)
	s.lastN = math.NaN()
	s.lo = [2]float64{math.Inf(1), math.Inf(1)}
}

const (
	sharedMoments = 6
	vaneMoments   = moments - sharedMoments
)

func (s *shapeTrack) setWide() int { return sharedMoments + s.n*vaneMoments }

// ofVane are the moments of vane k in a set.
func (s *shapeTrack) ofVane(set []float64, k int) []float64 {
	m := append(make([]float64, 0, moments), set[:sharedMoments]...)
	return append(m, set[sharedMoments+k*vaneMoments:][:vaneMoments]...)
}

func (s *shapeTrack) restart() { s.held, s.lastN = 0, math.NaN() }

// cycle is called when the interval after vane 0, at knot i, has been worked through.
func (s *shapeTrack) cycle(tr *ledger, i int64, numbered bool) {
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
	if s.held < 4 || !numbered {
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
	set := bit(n >= tr.s.fitFrom)
	row := s.g.row()[set*s.setWide():][:s.setWide()]
	vanes := tr.timing.vaneRow(set)
	z := 1 / (x * x)
	// addMoments in two parts, written out: made of two calls it is inlined no longer where every firing goes through it
	row[0]++
	row[1] += x
	row[2] += z
	row[3] += x * x
	row[4] += x * z
	row[5] += z * z
	for k := range s.n {
		d := 0.0
		if k > 0 {
			d = c.at(tr.knot(s.at[1]+int64(k)).t) - (tr.w.nominal[k] - tr.w.nominal[0])
		}
		m := row[sharedMoments+k*vaneMoments:][:vaneMoments]
		m[0] += d
		m[1] += d * x
		m[2] += d * z
		m[3] += d * d
		vanes[k] += d
	}
	s.lo[set], s.hi[set] = min(s.lo[set], x), max(s.hi[set], x)
	s.g.step()
}

// looseFactor takes the four neighbours' own scatter out for evenly spaced edges: their weights are −1/6, 4/6, 4/6, −1/6.
var looseFactor = math.Sqrt(1 + 34.0/36)

// width takes the place of the pickup's other edge after vane k's active edge.
func (s *shapeTrack) width(k int32, n, other float64) {
	x := n / 1000
	addMoments(s.wide[k][bit(n >= 500)][:], x, 1/(x*x), other)
}

// spacing is each vane's distance from its nominal place against the middle of all, with standard uncertainties; nil where no
// undisturbed cycles were seen.
func (s *shapeTrack) spacing() (late []float64, u []float64) {
	wide := s.setWide()
	from, lo, hi := wide, s.lo[1], s.hi[1]
	parts := s.g.parts(wide)
	if len(parts) < 3 { // all speeds then
		from, lo, hi = 0, min(s.lo[0], s.lo[1]), max(s.hi[0], s.hi[1])
		parts = s.g.parts(0, wide)
		for i, p := range parts {
			p = append([]float64(nil), p...)
			for j := range wide {
				p[j] += p[wide+j]
			}
			parts[i] = p
		}
	}
	if len(parts) == 0 {
		return nil, nil
	}
	of := func(use basis) func(sum []float64) ([]float64, bool) {
		return func(sum []float64) ([]float64, bool) {
			out := make([]float64, s.n)
			for k := range out {
				c, _, ok := solve(s.ofVane(sum[from:], k), use)
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
		}
	}
	value, cov, ok := jackknife(parts, of(basis{true, false, hi > 2*lo}))
	if !ok && hi > 2*lo { // too few cycles for the ripple term
		value, cov, ok = jackknife(parts, of(basis{true}))
	}
	if !ok {
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
		sum := s.wide[k][1]
		if sum[0] < 10 {
			for j, v := range s.wide[k][0] {
				sum[j] += v
			}
		}
		m := sum[:]
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
