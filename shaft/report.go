package shaft

import (
	"fmt"
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/waveform"
)

// report puts all that was gathered into a Result.
func (a *Analyser) report(res *waveform.Result) *Result {
	p := a.plan
	r := &Result{Name: a.info.Name, Sync: SyncNone, SyncFrom: nan, Edges: a.others, Findings: append([]Finding{}, p.findings...), Doubts: append([]string{}, p.doubts...), Losses: []Loss{},
		Zero: "cylinder 1's active crank edge"}
	for i := range a.info.Channels {
		c, edges := a.info.Channels[i], a.route[i].edges
		r.Edges += edges
		if i < len(res.Channels) {
			c = res.Channels[i]
		}
		out := Channel{Name: c.Name, Role: p.roles[i], Edges: edges, LowV: nan, HighV: nan, NoiseV: nan, Reason: p.reasons[i]}
		if c.Kind == waveform.Analog {
			out.LowV, out.HighV, out.NoiseV = Number(c.Low), Number(c.High), Number(c.Noise)
		}
		r.Channels = append(r.Channels, out)
		if p.roles[i] == Unknown && len(p.ps[i].rise)+len(p.ps[i].fall) == 0 && edges > 0 {
			r.Doubts = append(r.Doubts, fmt.Sprintf("%s woke only after the roles were told: it was left out; %s", c.Name, stateRole(Unknown)))
		}
	}
	names := func(i int) string {
		if i >= 0 && i < len(r.Channels) {
			return r.Channels[i].Name
		}
		return ""
	}
	if tr := a.tr; tr != nil {
		tr.report(r)
	} else {
		r.SyncBecause = "the shaft cannot be followed: see the findings"
	}
	r.Anomalies = a.log.sorted(names)
	r.AnomalyCount = map[string]int64{}
	for _, k := range []Kind{MissingPulse, ExtraPulse, ShortPulse, Dropout} {
		if n := a.log.count[k]; n > 0 {
			r.AnomalyCount[string(k)] = n
		}
	}
	return r
}

const leastDelay = 100 // µs below nought that a signal delay may seem to be, for what a pickup's shape does to it (assumed)

const dawdling = 40 // rpm; a starter that turns more slowly fires nothing

// vane is the one that belongs to a place in the firing order, cylinder 1 first.
func (tr *tracker) vane(firing int) int { return (tr.p.first + firing) % tr.w.n }

// told says whether cylinders could be told apart at all.
func (tr *tracker) told() bool { return tr.sync.ever }

// cylinder is the number of the firing-th cylinder.
func (tr *tracker) cylinder(firing int) int {
	if o := tr.s.order; len(o) == tr.w.n {
		return o[firing]
	}
	return firing + 1
}

func (tr *tracker) report(r *Result) {
	r.Speed = tr.speed.result()
	if s := r.Speed; s != nil && (s.Mean > fastest || s.Max < dawdling) {
		r.Doubts = append(r.Doubts, fmt.Sprintf("no engine turns at %v: look at the recording's unit of time; write it in the header, as in \"time (ms)\", or correct the sample interval", rounded(s.Mean)))
	}
	r.Stops = tr.stops
	if tr.shape.accel.n > 0 {
		r.Acceleration = &Speeds{tr.shape.accel.lo, tr.shape.accel.mean(), tr.shape.accel.hi}
	}
	tr.reportSync(r)
	tr.reportCrank(r)
	if tr.p.cam.on {
		tr.reportCam(r)
	}
	r.Timing = tr.fit()
	if len(tr.p.a.sparks) > 0 {
		tr.reportSpark(r)
	}
	tr.reportSeries(r)
	if tr.lost > 0 {
		r.Doubts = append(r.Doubts, fmt.Sprintf("%d edges were too many to stand between two crank edges: left out as noise", tr.lost))
	}
	if tr.stray > 3 { // one or two beside each stop are nothing to speak of
		r.Doubts = append(r.Doubts, fmt.Sprintf("%d sparks came while the crank signal was still: counted, not timed", tr.stray))
	}
	tr.checkLead(r)
	if r.Timing != nil {
		r.Timing.withhold(r)
	}
}

// withhold keeps back the corrections where something else must be put right first: turning the housing would hide it.
func (t *Timing) withhold(r *Result) {
	if now := float64(t.Allowance.Now); t.onCard && t.Delay.Hi+now < -leastDelay {
		r.Findings = append(r.Findings, Finding{FoundNotLocked, "", fmt.Sprintf("sparks come earlier with speed by more than any signal delay explains (%s µs in all, where none can be below nought): the timing is not locked, or the controller's delay allowance is not the job card's",
			quantity.Number(t.Delay.Value+now, 0)), "lock the timing at the job card's advance, read the allowance back from the controller, and record again"})
	}
	first := []string{FoundNotLocked, FoundWrongEdge, FoundPolarity, FoundVaneCount, FoundCamPlace}
	switch i := slices.IndexFunc(first, r.Found); {
	case i >= 0:
		t.Withheld = "no correction is given before this is put right: " + first[i]
	case t.slow:
		t.Withheld = "recorded at cranking speed only, where compression bends the motion between edges by degrees: never turn the housing for it"
	case t.Verdict == readings.NotALine:
		t.Withheld = "the error follows no line, so neither housing nor allowance would cure it"
	default:
		return
	}
	t.Housing = readings.Housing{Direction: readings.Leave}
	t.Allowance = readings.Allow(float64(t.Allowance.Now), 0, 1)
}

func (tr *tracker) reportSync(r *Result) {
	s := &tr.sync
	r.Losses = append(r.Losses, s.losses...)
	r.LossCount = s.count
	if s.ever {
		r.SyncFrom = Number(s.from)
	}
	switch {
	case !tr.p.cam.on && tr.p.mark.on:
		r.SyncBecause = "no cam signal: the mark tells the turn, but not compression from exhaust"
	case !tr.p.cam.on:
		r.SyncBecause = "no cam signal"
	case !s.ever:
		r.SyncBecause = "no cam edge fell into a stretch of whole crank intervals"
	case s.count > 0:
		r.Sync = SyncLost
		r.SyncBecause = fmt.Sprintf("lost %d times, first at %s: %s", s.count, seconds(s.losses[0].TimeS), s.losses[0].Because)
	default:
		r.Sync = SyncHeld
		r.SyncBecause = fmt.Sprintf("cam and crank edges agree from %s on", seconds(s.from))
	}
}

func (tr *tracker) reportCrank(r *Result) {
	w := tr.w
	c := &CrankResult{EdgesPerCycle: w.n, VaneWidthDeg: nan, ActiveEdge: edgeName(tr.p.activeRising), ActiveBecause: tr.p.activeBecause, Uneven: w.uneven,
		SpacingErrorDeg: []float64{}, SpacingU: []Number{}, ScatterDeg: nan}
	r.Crank = c
	c.ScatterDeg = Number(tr.edgeScatter())
	late, u := tr.shape.spacing()
	others := tr.shape.others()
	sum, n := 0.0, 0
	narrow := tr.narrowVane(others)
	for i := range w.n {
		k := tr.vane(i)
		next := (k + 1) % w.n
		if late != nil {
			c.SpacingErrorDeg = append(c.SpacingErrorDeg, late[k])
			c.SpacingU = append(c.SpacingU, Number(u[k]))
		}
		c.IntervalsDeg = append(c.IntervalsDeg, w.nomStep[next])
		width := others[k] // from the active edge on to the other edge
		if !narrow {       // the vane ends with the active edge: its other edge lies in the interval before
			before := (k + w.n - 1) % w.n
			width = w.step[k] - others[before]
		}
		if math.IsNaN(width) || !w.firm {
			c.VaneWidthsDeg = append(c.VaneWidthsDeg, nan)
			continue
		}
		shaft := float64(engine.CrankToShaft(quantity.Crank(width)))
		c.VaneWidthsDeg = append(c.VaneWidthsDeg, Number(shaft))
		sum += shaft
		n++
	}
	if n > 0 {
		c.VaneWidthDeg = Number(sum / float64(n))
	}
}

// narrowVane says whether the vane begins with the active edge. The card's level in the vane tells; without a card the shorter state is taken for the vane.
func (tr *tracker) narrowVane(others []float64) bool {
	if v := tr.s.inVane; v != "" {
		return (v == "high") == tr.p.activeRising // the level of the vane begins with the active edge
	}
	first, all := 0.0, 0.0
	for k, o := range others {
		if !math.IsNaN(o) {
			first += o
			all += tr.w.step[(k+1)%tr.w.n]
		}
	}
	return first <= all/2
}

func (tr *tracker) reportCam(r *Result) {
	c := &CamResult{LevelMarginDeg: nan}
	one := tr.w.pos[tr.p.first]
	margin := [2][2]float64{} // by cam edge, by crank edge: active, other
	place := [2]float64{math.NaN(), math.NaN()}
	for i := range 2 { // falling, rising
		st := &tr.cams[i]
		j := 1
		if st.place[1].n < 3 {
			j = 0
		}
		if st.place[j].n == 0 {
			return
		}
		at := tr.p.cam.at[i] + st.place[j].mean()
		place[i] = at
		margin[i] = [2]float64{st.margin[j], st.other[j]}
		e := CamEdge{Edge: edgeName(i == 1), AtDeg: wrap(at-one, cycle), SD: st.place[j].sd(), MarginDeg: st.margin[j], AfterEdge: st.afterEdge[j].mean(), BeforeEdge: st.beforeEdge[j].mean(), OtherDeg: st.other[j]}
		if math.IsInf(e.OtherDeg, 0) {
			e.OtherDeg = 0
		}
		c.Edges = append(c.Edges, e)
	}
	c.SafeEdge, c.SafeMarginDeg = c.Edges[0].Edge, c.Edges[0].MarginDeg
	if c.Edges[1].MarginDeg > c.SafeMarginDeg {
		c.SafeEdge, c.SafeMarginDeg = c.Edges[1].Edge, c.Edges[1].MarginDeg
	}
	from, to := place[1], place[0] // the high state
	if !tr.p.cam.narrowHigh {
		from, to = to, from
	}
	c.WindowDeg = wrap(to-from, cycle)
	best := -1.0
	for j, at := range [2][]float64{tr.w.pos, tr.w.other} {
		inside := 0
		for _, x := range at {
			if !math.IsNaN(x) && wrap(x-from, cycle) < c.WindowDeg {
				inside++
			}
		}
		if m := math.Min(margin[0][j], margin[1][j]); inside == 1 && m > best {
			best = m
			c.ReadAt = edgeName(tr.p.activeRising == (j == 0))
			c.LevelMarginDeg = Number(m)
		}
	}
	r.Cam = c
	if c.SafeMarginDeg < 5 {
		r.Findings = append(r.Findings, Finding{FoundCamMargin, tr.p.name(tr.p.a.cam), fmt.Sprintf("the cam edge comes within %s of an active crank edge: backlash may count it for the wrong cylinder", quantity.Degrees(c.SafeMarginDeg, 1)),
			"read the cam at its " + c.SafeEdge + " edge, or move the cam vane"})
	} else if s := tr.s; s.camStated && string(s.camActive) != c.SafeEdge && c.Edges[bit(s.camActive == "rising")].MarginDeg < 5 {
		r.Findings = append(r.Findings, Finding{FoundCamMargin, tr.p.name(tr.p.a.cam), fmt.Sprintf("the stated cam edge (%s) comes within %s of an active crank edge", s.camActive, quantity.Degrees(c.Edges[bit(s.camActive == "rising")].MarginDeg, 1)),
			"set the cam's active edge to " + c.SafeEdge})
	}
}

func (tr *tracker) reportSpark(r *Result) {
	s := &tr.spark
	out := &SparkResult{Count: s.count, DwellMS: nan, DwellMin: nan, DwellMax: nan, DwellSD: nan, ByCylinder: []CylinderResult{}, Placed: s.placed, Adrift: s.adrift, ScatterSD: nan, TimedSD: nan}
	after := s.afterAll()
	out.AfterEdge = Spread{after.mean(), after.sd()}
	sp := tr.p.spark[tr.p.a.sparks[0]]
	out.SparkAt = fmt.Sprintf("%s edge: %s", edgeName(sp.sparkRising), sp.by)
	if sp.driver && s.dwell.n > 0 {
		out.DwellMS, out.DwellMin, out.DwellMax, out.DwellSD = Number(s.dwell.mean()), Number(s.dwell.lo), Number(s.dwell.hi), Number(s.dwell.sd())
	}
	r.Spark = out
	var pooled, count, shown, seen float64
	most := int64(0)
	for i := range s.vane {
		most = max(most, s.vane[i].all().count)
	}
	for i := range tr.w.n {
		k := tr.vane(i)
		v := &s.vane[k]
		pooled += v.scatter.squares()
		count += float64(v.scatter.n)
		all := v.all()
		if all.count < (most+19)/20 || all.count == 0 || !tr.told() {
			continue
		}
		after := s.afterVane(k)
		c := CylinderResult{Cylinder: tr.cylinder(i), Count: all.count, AfterEdge: Spread{after.mean(), after.sd()}, Advance: nan, Error: nan, TimedSD: Number(v.scatter.sd()), ScatterSD: Number(tr.shown.vane[k].sd(tr.edgeScatter())), Scatter: tr.shown.vane[k].bins[:]}
		if sd := float64(c.ScatterSD); !math.IsNaN(sd) {
			n := float64(tr.shown.vane[k].off.n)
			shown += n * sd * sd
			seen += n
		}
		if t := r.Timing; t != nil {
			c.Advance = Number(t.leadAt(all.rpm()) + all.advance())
			if t.Commanded && v.running.count > 0 {
				c.Error = Number(t.leadAt(v.running.rpm()) + v.running.error())
			}
		}
		out.ByCylinder = append(out.ByCylinder, c)
	}
	if count > 10 {
		out.TimedSD = Number(math.Sqrt(pooled / count))
		if seen > 0 {
			out.ScatterSD = Number(math.Sqrt(shown / seen))
		}
		if sd := max(float64(out.TimedSD), orZero(float64(out.ScatterSD))); sd > 1.5 {
			r.Findings = append(r.Findings, Finding{FoundSparkSpread, tr.p.name(tr.p.a.sparks[0]), fmt.Sprintf("the sparks scatter by %s (standard deviation)", quantity.Degrees(sd, 1)),
				"look for a worn drive, chain or bushing, noise on the crank signal, or timing that is not locked"})
		}
	}
	if !math.IsNaN(s.endedAt) {
		r.Findings = append(r.Findings, Finding{FoundSparksEnd, tr.p.name(tr.p.a.sparks[0]), fmt.Sprintf("the sparks end at %s while the crank turns on at %s", seconds(s.endedAt), quantity.Speed(math.Round(s.endedN))),
			"fine if the ignition was switched off there"})
	}
}

func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// checkLead compares the lead in metal with the card's.
func (tr *tracker) checkLead(r *Result) {
	want, got := tr.s.lead, tr.lead()
	if math.IsNaN(want) || math.IsNaN(got) || !tr.s.onCard || want == 0 {
		return
	}
	if off := near(got-want, turn); math.Abs(off) > 0.4*cycle/float64(tr.w.n) {
		r.Doubts = append(r.Doubts, fmt.Sprintf("by the mark the active edge stands %s before TDC, the job card says %s: cylinder 1 was told by %s", quantity.Degrees(got, 1), quantity.Degrees(want, 1), tr.p.firstBy))
	}
}
