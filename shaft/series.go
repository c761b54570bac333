package shaft

import (
	"math"
	"sort"
)

const mostSpeedPoints = 80

// reportSeries gives the bounded data that drawings are made of.
func (tr *tracker) reportSeries(r *Result) {
	s := &Series{Speed: tr.speed.series()}
	r.Series = s
	zero := tr.w.pos[tr.p.first]
	if lead := tr.lead(); !math.IsNaN(lead) && tr.told() {
		zero = tr.w.nominal[tr.p.first] + lead
		r.Zero = ZeroTDC
	} else if !tr.told() {
		r.Zero = ZeroSome
	}
	tr.cycleSeries(r, zero)
	tr.speedSeries(r)
	tr.firingSeries(s)
	for i := range tr.w.n {
		for j, g := range tr.spark.grid[tr.vane(i)] {
			if g.n > 0 {
				s.Cylinders = append(s.Cylinders, GridPoint{tr.cylinder(i), (float64(j) + 0.5) * gridClass, g.n, g.mean(), g.sd()})
			}
		}
	}
}

func (tr *tracker) cycleSeries(r *Result, zero float64) {
	s := r.Series
	add := func(role Role, ch int, rising bool, at float64, sd float64, cylinder int) {
		if !math.IsNaN(at) && ch >= 0 {
			s.Cycle = append(s.Cycle, CyclePoint{role, tr.p.name(ch), edgeName(rising), wrap(at-zero, cycle), Number(sd), cylinder})
		}
	}
	others := tr.shape.others()
	for i := range tr.w.n {
		k := tr.vane(i)
		cylinder := 0
		if tr.told() {
			cylinder = tr.cylinder(i)
		}
		add(Crank, tr.p.a.crank, tr.p.activeRising, tr.w.pos[k], math.NaN(), cylinder)
		add(Crank, tr.p.a.crank, !tr.p.activeRising, tr.w.pos[k]+others[k], math.NaN(), 0)
		if len(tr.p.a.sparks) > 0 {
			if after := tr.spark.afterVane(int(k)); after.n > 0 {
				ch := tr.p.a.sparks[0]
				add(Spark, ch, tr.p.spark[ch].sparkRising, tr.w.pos[k]+after.mean(), after.sd(), cylinder)
			}
		}
	}
	if tr.p.cam.on {
		for i := range 2 {
			add(Cam, tr.p.a.cam, i == 1, tr.p.cam.at[i]+tr.cams[i].place[0].mean(), tr.cams[i].place[0].sd(), 0)
		}
	}
	if tr.p.mark.on {
		for q := range 2 {
			add(Mark, tr.p.a.mark, tr.p.mark.topRising, tr.p.mark.at+float64(q)*turn, math.NaN(), 0)
		}
	}
	sort.SliceStable(s.Cycle, func(i, j int) bool { return s.Cycle[i].Deg < s.Cycle[j].Deg })
}

// speedSeries joins speed classes until at most 80 are left.
func (tr *tracker) speedSeries(r *Result) {
	used := 0
	for i := range tr.spark.class {
		if tr.spark.class[i].after.n > 0 {
			used++
		}
	}
	if used == 0 {
		return
	}
	each := (used + mostSpeedPoints - 1) / mostSpeedPoints
	var c speedSums
	held := 0
	flush := func() {
		if c.after.n == 0 {
			return
		}
		p := SpeedPoint{RPM: c.mean(c.n), Count: c.after.n, AfterEdge: c.after.mean(), SD: c.after.sd(), Error: nan, Line: nan, U: nan, DwellMS: nan}
		if c.dwells > 0 {
			p.DwellMS = Number(c.dwell / float64(c.dwells))
		}
		if t := r.Timing; t != nil {
			if t.Offset.Known() {
				p.Error = Number(t.leadAt(p.RPM) - c.mean(c.own+c.told))
				p.Line = Number(t.Offset.Value + perMicrosecond*t.Delay.Value*p.RPM)
				p.U = Number(t.band(p.RPM))
			} else if len(t.ErrorAt) == 1 {
				p.Error = Number(t.leadAt(p.RPM) - c.mean(c.own+c.told))
				p.Line, p.U = Number(t.ErrorAt[0].Value), Number(t.ErrorAt[0].U)
			}
		}
		r.Series.BySpeed = append(r.Series.BySpeed, p)
		c, held = speedSums{}, 0
	}
	for i := range tr.spark.class {
		q := &tr.spark.class[i]
		if q.after.n == 0 {
			continue
		}
		c.join(q)
		if held++; held == each {
			flush()
		}
	}
	flush()
}

// band is U of the line at n rpm, between the speeds of ErrorAt.
func (t *Timing) band(n float64) float64 {
	e := t.ErrorAt
	for i := 1; i < len(e); i++ {
		if n <= e[i].RPM || i == len(e)-1 {
			f := (n - e[i-1].RPM) / (e[i].RPM - e[i-1].RPM)
			return math.Max(0, e[i-1].U+f*(e[i].U-e[i-1].U))
		}
	}
	return math.Inf(1)
}

// fewestFirings is the least number of firings that a class of speed is shown by.
const fewestFirings = 3

// firingSeries sets each cylinder against all of them.
func (tr *tracker) firingSeries(s *Series) {
	if !tr.told() || len(tr.p.a.sparks) == 0 {
		return
	}
	from := int(tr.s.fitFrom / gridClass) // the class that the line begins in
	running := false
	for k := range tr.w.n {
		for j := from; j < gridMost; j++ {
			running = running || tr.spark.grid[k][j].n >= fewestFirings
		}
	}
	if !running {
		from = 0
	}
	common := make([]gathered, gridMost) // of all cylinders, from the nominal place of their active edge on
	for k := range tr.w.n {
		for j := range common {
			common[j].join(tr.fromNominal(k, j))
		}
	}
	most, all, fired := int64(0), 0.0, 0.0
	for k := range tr.spark.vane {
		most = max(most, tr.spark.vane[k].scatter.n)
	}
	few := func(v *vaneFiring) bool { return v.scatter.n < (most+19)/20 || v.scatter.n == 0 }
	for k := range tr.spark.vane {
		if v := &tr.spark.vane[k]; !few(v) {
			all += v.all().advance()
			fired++
		}
	}
	for i := range tr.w.n {
		k := int(tr.vane(i))
		v := &tr.spark.vane[k]
		if few(v) {
			continue
		}
		c := CylinderSpread{Cylinder: tr.cylinder(i), Count: v.scatter.n, Mean: v.all().advance() - all/fired, SD: nan, BySpeed: []SpreadAt{}}
		squares, free := 0.0, 0.0
		for j := from; j < gridMost; j++ {
			if g := tr.fromNominal(k, j); g.n >= fewestFirings {
				c.BySpeed = append(c.BySpeed, SpreadAt{(float64(j) + 0.5) * gridClass, g.n, common[j].mean() - g.mean(), g.sd()})
				squares += g.squares()
				free += float64(g.n - 1)
			}
		}
		shown := &tr.shown.vane[k]
		if sd := shown.sd(tr.edgeScatter()); !math.IsNaN(sd) {
			c.SD, c.Bins = Number(sd), shown.bins[:]
		} else if free > 0 {
			c.SD = Number(math.Sqrt(squares / free))
		}
		s.Firings = append(s.Firings, c)
	}
}

// fromNominal is the degrees to the spark from where the active edge of vane k would stand by the book, in speed class j.
func (tr *tracker) fromNominal(k, j int) gathered {
	g := tr.spark.grid[k][j]
	g.first += tr.w.pos[k] - tr.w.nominal[k]
	return g
}
