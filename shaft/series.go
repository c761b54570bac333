package shaft

import (
	"cmp"
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
)

const mostSpeedPoints = 80

// reportSeries adds the data that drawings are made of, of bounded size.
func (s *observer) reportSeries(r *Result) {
	out := &Series{Speed: s.speeds.series()}
	r.Series = out
	zero := s.l.Pos[s.l.First]
	if lead := s.l.Lead(); !math.IsNaN(float64(lead)) && s.cylindersKnown() {
		zero = s.l.Nominal[s.l.First] + lead
		r.Zero = ZeroTDC
	} else if !s.cylindersKnown() {
		r.Zero = ZeroSome
	}
	s.cycleSeries(out, zero)
	s.speedSeries(r)
	s.firingSeries(out)
	for i := range s.l.N {
		for j := range s.fired.grid[s.vane(i)] {
			if g := &s.fired.grid[s.vane(i)][j]; g.N > 0 {
				out.Cylinders = append(out.Cylinders,
					GridPoint{s.l.Cylinder(i), (float64(j) + 0.5) * gridClass, g.N, g.Mean(), g.SD()})
			}
		}
	}
}

// cycleSeries adds every edge of one cycle at its mean place, counted from zero.
func (s *observer) cycleSeries(out *Series, zero quantity.Crank) {
	l := s.l
	add := func(role Role, ch int, rising bool, at quantity.Crank, sd float64, cylinder int) {
		if !math.IsNaN(float64(at)) && ch >= 0 {
			out.Cycle = append(out.Cycle, CyclePoint{role, l.Name(ch), terms.EdgeName(rising),
				float64(motion.Wrap(at-zero, motion.Cycle)), Number(sd), cylinder})
		}
	}
	others := s.vanes.others()
	for i := range l.N {
		k := s.vane(i)
		cylinder := 0
		if s.cylindersKnown() {
			cylinder = s.l.Cylinder(i)
		}
		add(Crank, l.Assigned.Crank, l.ActiveRising, l.Pos[k], math.NaN(), cylinder)
		add(Crank, l.Assigned.Crank, !l.ActiveRising, l.Pos[k]+others[k], math.NaN(), 0)
		if len(l.Assigned.Sparks) > 0 {
			if after := s.fired.afterVane(k); s.fired.vane[k].all().count > 0 {
				ch := l.Assigned.Sparks[0]
				add(Spark, ch, l.Spark[ch].Rising, l.Pos[k]+quantity.Crank(after.Mean), after.SD, cylinder)
			}
		}
	}
	for i := 0; l.Cam.On && i < 2; i++ {
		q := &s.cams.edges[i].place[0]
		add(Cam, l.Assigned.Cam, i == 1, l.Cam.At[i]+quantity.Crank(q.Mean()), q.SD(), 0)
	}
	for q := 0; l.Mark.On && q < 2; q++ {
		add(Mark, l.Assigned.Mark, l.Mark.TopRising, l.Mark.At+quantity.Crank(q)*motion.Turn, math.NaN(), 0)
	}
	slices.SortStableFunc(out.Cycle, func(a, b CyclePoint) int { return cmp.Compare(a.Deg, b.Deg) })
}

// speedSeries adds the spark against speed: neighbouring classes of speed are joined so that at most mostSpeedPoints
// are left.
func (s *observer) speedSeries(r *Result) {
	used := 0
	for i := range s.fired.class {
		if s.fired.class[i].after.N > 0 {
			used++
		}
	}
	each := (used + mostSpeedPoints - 1) / mostSpeedPoints
	var c speedFirings
	held := 0
	flush := func() {
		if c.after.N == 0 {
			return
		}
		p := SpeedPoint{RPM: c.mean(c.rpm), Count: c.after.N, AfterEdge: c.after.Mean(), SD: c.after.SD(),
			Error: nan, Line: nan, U: nan, DwellMS: nan}
		if c.dwells > 0 {
			p.DwellMS = Number(c.dwell / float64(c.dwells))
		}
		if t := r.Timing; t != nil {
			if line, u := t.ErrorAround(p.RPM); !math.IsNaN(line) {
				p.Error = Number(t.LeadAt(p.RPM) - c.mean(c.wait+c.wanted))
				p.Line, p.U = Number(line), Number(u)
			}
		}
		r.Series.BySpeed = append(r.Series.BySpeed, p)
		c, held = speedFirings{}, 0
	}
	for i := range s.fired.class {
		q := &s.fired.class[i]
		if q.after.N == 0 {
			continue
		}
		c.join(q)
		if held++; held == each {
			flush()
		}
	}
	flush()
}

// fewestFirings: a class of speed with fewer firings is not shown.
const fewestFirings = 3

// firingSeries compares each cylinder's sparks with those of all.
func (s *observer) firingSeries(out *Series) {
	l, f := s.l, &s.fired
	if !s.cylindersKnown() || len(l.Assigned.Sparks) == 0 {
		return
	}
	from := int(l.Facts.FitFrom / gridClass) // the class in which the timing line begins
	running := false
	for k := range l.N {
		running = running || slices.ContainsFunc(f.grid[k][min(from, gridClasses):],
			func(g sums.Mean) bool { return g.N >= fewestFirings })
	}
	if !running {
		from = 0
	}
	common := make([]sums.Mean, gridClasses) // by class of speed, all cylinders: nominal edge to spark
	for k := range l.N {
		for j := range common {
			common[j].Join(s.fromNominal(k, j))
		}
	}
	most := int64(0)
	for k := range f.vane {
		most = max(most, f.vane[k].scatter.N)
	}
	few := func(v *vaneFirings) bool { return v.scatter.N < (most+19)/20 || v.scatter.N == 0 }
	all, fired := 0.0, 0.0
	for k := range f.vane {
		if v := &f.vane[k]; !few(v) {
			all += v.all().advance()
			fired++
		}
	}
	for i := range l.N {
		k := s.vane(i)
		v := &f.vane[k]
		if few(v) {
			continue
		}
		c := CylinderSpread{Cylinder: s.l.Cylinder(i), Count: v.scatter.N, Mean: v.all().advance() - all/fired,
			SD: nan, BySpeed: []SpreadAt{}}
		squares, free := 0.0, 0.0
		for j := from; j < gridClasses; j++ {
			if g := s.fromNominal(k, j); g.N >= fewestFirings {
				c.BySpeed = append(c.BySpeed,
					SpreadAt{(float64(j) + 0.5) * gridClass, g.N, common[j].Mean() - g.Mean(), g.SD()})
				squares += g.Squares()
				free += float64(g.N - 1)
			}
		}
		spread := &s.spread.vane[k]
		if sd := spread.sd(s.vanes.edgeScatter()); !math.IsNaN(sd) {
			c.SD, c.Bins = Number(sd), spread.bins[:]
		} else if free > 0 {
			c.SD = Number(math.Sqrt(squares / free))
		}
		out.Firings = append(out.Firings, c)
	}
}

// fromNominal is the angle from the nominal place of vane k's active edge to the spark, in speed class j.
func (s *observer) fromNominal(k, j int) sums.Mean {
	return s.fired.grid[k][j].Shifted(float64(s.l.Late(k)))
}
