package shaft

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft/motion"
	"phasewright/shaft/terms"
	"phasewright/shaft/timing"
	"phasewright/shaft/track"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
	"phasewright/words"
)

// report puts all that was learnt and observed into a Result.
func (f *pipeline) report(info waveform.Info, res *waveform.Result) *Result {
	r := &Result{Name: info.Name, Sync: SyncNone, SyncFrom: nan, Edges: f.others, Losses: []Loss{},
		Zero: ZeroEdge, Alone: f.alone, Stated: []Compared{}}
	out := terms.Findings{List: slices.Clone(f.findings.List), Doubts: slices.Clone(f.findings.Doubts)}
	roles, reasons := slices.Clone(f.roles), slices.Clone(f.reasons)
	if f.track == nil {
		r.SyncBecause = "the shaft cannot be followed: see the findings"
	} else if why := f.noEngine(); why != "" {
		out = terms.Findings{}
		out.Find(FoundNoCrank, "",
			terms.StateRole(Crank)+". Or record crank and cam pickup together while the engine turns",
			"no crank signal was found: %s", why)
		for i, role := range roles {
			if role != Unknown && f.facts.Roles[f.name(i)] == "" {
				roles[i], reasons[i] = Unknown, fmt.Sprintf("looked like %s, but %s", role, why)
			}
		}
		r.SyncBecause = "the shaft cannot be followed: " + why
	} else {
		out.List, out.Doubts = append(out.List, f.layout.Findings.List...), append(out.Doubts,
			f.layout.Findings.Doubts...)
		f.observer.report(r, &out, max(info.Interval, info.Tick))
		if out.Has(FoundSwapped) { // we can follow the shaft, the controller cannot
			r.Sync, r.SyncBecause = SyncNone, "crank and cam cables are exchanged. The controller finds none"
		}
	}
	f.channels(r, &out, info, res, roles, reasons)
	f.anomalies(r)
	r.Findings, r.Doubts = append([]Finding{}, out.List...), append([]string{}, out.Doubts...)
	return r
}

func (f *pipeline) channels(r *Result, out *terms.Findings, info waveform.Info, res *waveform.Result,
	roles []Role, reasons []string) {
	for i, c := range info.Channels {
		if i < len(res.Channels) {
			c = res.Channels[i]
		}
		r.Edges += f.edges[i]
		q := Channel{Name: c.Name, Role: roles[i], Edges: f.edges[i], LowV: nan, HighV: nan, NoiseV: nan,
			Reason: reasons[i]}
		if c.Kind == waveform.Analog {
			q.LowV, q.HighV, q.NoiseV = Number(c.Low), Number(c.High), Number(c.Noise)
		}
		r.Channels = append(r.Channels, q)
		if p := f.profiles[i]; roles[i] == Unknown && len(p.Rise)+len(p.Fall) == 0 && f.edges[i] > 0 {
			out.Doubt("%s woke only after the roles were told. It was left out. %s", c.Name,
				words.Capital(terms.StateRole(Unknown)))
		}
	}
}

func (f *pipeline) anomalies(r *Result) {
	logs := []*track.Log{f.log}
	if f.track != nil {
		logs = append(logs, f.track.Log)
	}
	r.Anomalies, r.AnomalyCount = []Anomaly{}, map[string]int64{}
	var all []track.Anomaly
	for _, l := range logs {
		all = append(all, l.Sorted()...)
		for k, n := range l.Count {
			r.AnomalyCount[string(k)] += n
		}
	}
	slices.SortStableFunc(all, func(a, b track.Anomaly) int { return cmp.Compare(a.T, b.T) })
	for _, a := range all[:min(len(all), f.log.Most())] {
		name := ""
		if a.Channel >= 0 && a.Channel < len(f.profiles) {
			name = f.name(a.Channel)
		}
		r.Anomalies = append(r.Anomalies, Anomaly{a.Kind, float64(a.T), name})
	}
}

// Bounds beyond which what was followed is no shaft (assumed).
const (
	mostLost     = 0.05 // losses of sync for each cycle
	mostUnlikely = 0.5  // crank pulses missing or too many, as a share of all
	fewLosses    = 3
)

// noEngine says why what was followed cannot be an engine, "" where it can. Roles that the user stated are believed.
func (f *pipeline) noEngine() string {
	a, t := f.assigned, f.track
	for _, i := range []int{a.Crank, a.Cam} {
		if i >= 0 && f.facts.Roles[f.name(i)] != "" {
			return ""
		}
	}
	cycles := float64(t.Head) / float64(f.layout.N)
	if n := float64(t.Sync.Count); n >= fewLosses && n > mostLost*cycles {
		return fmt.Sprintf("sync would be lost %d times in %.0f cycles: the channels run by clocks of their "+
			"own", t.Sync.Count, cycles)
	}
	missing, extra := 0.0, 0.0
	for _, x := range t.Log.Sorted() {
		switch {
		case x.Channel != a.Crank:
		case x.Kind == track.MissingPulse:
			missing++
		case x.Kind == track.ExtraPulse:
			extra++
		}
	}
	p := f.profiles[a.Crank]
	ringing := float64(p.TooNarrow) / float64(1+len(p.Rise)+len(p.Fall)) // extra pulses that are known to be ringing
	if t.Head > 20 && missing+math.Max(0, extra-ringing*float64(t.Head)) > mostUnlikely*float64(t.Head) {
		return "its pulses follow no turning shaft"
	}
	return ""
}

const (
	fastestEngine = 25000 // rpm
	slowestCrank  = 40    // rpm; an engine that is turned more slowly fires nothing
	// leastDelay is how many µs below nought a signal delay may seem to be, by the shape of a pickup's pulse (assumed).
	leastDelay = 100
)

// report puts what the observer added up into r, and what it finds into out.
func (s *observer) report(r *Result, out *terms.Findings, tick waveform.Second) {
	r.Speed = s.speeds.result()
	if v := r.Speed; v != nil && (v.Mean > fastestEngine || v.Max < slowestCrank) {
		out.Doubt("no engine turns at %v. Look at the recording's unit of time. Write it in the header, as in "+
			"\"time (ms)\". Or correct the sample interval", rounded(v.Mean))
	}
	r.Stops = s.track.Stops
	if a := s.vanes.accel; a.N > 0 {
		r.Acceleration = &Speeds{a.Lo, a.Mean.Mean(), a.Hi}
	}
	s.reportSync(r)
	s.reportCrank(r, out)
	if s.l.Cam.On {
		s.reportCam(r, out)
	}
	run, all := s.fired.span(s.l.Facts.FitFrom, tick), s.fired.span(0, tick)
	r.Timing = s.timing.Fit(run, all, s.cylindersKnown(), s.vanes.running())
	if len(s.l.Assigned.Sparks) > 0 {
		s.reportSpark(r, out)
	}
	s.reportSeries(r)
	if s.track.Dropped > 0 {
		out.Doubt("%d edges were too many to stand between two crank edges: left out as noise", s.track.Dropped)
	}
	if s.stray > 3 { // one or two at a stop are normal
		out.Doubt("%d sparks came while the crank signal was still: counted, not timed", s.stray)
	}
	s.reportDrive(r, out)
	s.compare(r, out)
	if r.Timing != nil {
		withhold(r.Timing, s.l.Facts, out)
	}
}

// span is the range of speeds, from n on, in which all but the outermost 0.1 % of the firings lie.
func (f *firings) span(n quantity.Speed, tick waveform.Second) timing.Span {
	out := timing.Span{Lo: quantity.Speed(math.NaN()), Hi: quantity.Speed(math.NaN()), Tick: tick}
	from := float64(n)
	in := func(c *speedFirings) bool { return c.after.N > 0 && c.hi >= from }
	total, sum := int64(0), int64(0)
	for i := range f.class {
		if c := &f.class[i]; in(c) {
			total += c.after.N
		}
	}
	edge := total / 1000
	for i := range f.class {
		c := &f.class[i]
		if !in(c) {
			continue
		}
		if sum <= edge {
			out.Lo = quantity.Speed(math.Max(c.lo, from))
		}
		if sum += c.after.N; sum >= total-edge {
			out.Hi = quantity.Speed(c.hi)
			break
		}
	}
	return out
}

// withhold takes back the corrections where something else must be put right first, which a turn of the housing would
// hide.
func withhold(t *Timing, facts *terms.Facts, out *terms.Findings) {
	if now := facts.Allowance; facts.OnCard && t.Delay.Hi+now < -leastDelay {
		out.Find(FoundNotLocked, "",
			"lock the timing at the job card's advance. Read the allowance back from the controller. Record again",
			"sparks come earlier with speed by more than any signal delay explains (%s µs in all, where none "+
				"can be below nought). The timing is not locked, or the controller's delay allowance is not the "+
				"job card's",
			quantity.Number(t.Delay.Value+now, 0))
	}
	first := []string{FoundNotLocked, FoundWrongEdge, FoundPolarity, FoundVaneCount, FoundCamPlace,
		FoundVaneBent, FoundWobble}
	switch i := slices.IndexFunc(first, out.Has); {
	case i >= 0:
		t.Withheld = "no correction is given before this is put right. " +
			words.Capital(out.Text(first[i]))
	case t.Slow():
		t.Withheld = "recorded at cranking speed only. There compression bends the motion between edges by " +
			"degrees. Never turn the housing for it"
	case t.Verdict == readings.NotALine:
		t.Withheld = "the error follows no line. Neither housing nor allowance would cure it"
	case t.Tolerance > 0 && t.Offset.Known() && t.Offset.Expanded() > t.Tolerance:
		t.Withheld = fmt.Sprintf("the offset is not known better than ± %s. Record for longer, over a wide "+
			"range of speeds", quantity.Degrees(t.Offset.Expanded(), 1))
	default:
		return
	}
	t.Housing = readings.Housing{Direction: readings.Leave}
	t.Allowance = readings.Allow(float64(t.Allowance.Now), 0, 1)
}

func (s *observer) reportSync(r *Result) {
	sync := &s.track.Sync
	for _, l := range sync.Losses {
		r.Losses = append(r.Losses, Loss{float64(l.At), Number(l.Regained), l.Because})
	}
	r.LossCount = sync.Count
	if sync.Ever {
		r.SyncFrom = Number(sync.From)
	}
	switch {
	case !s.l.Cam.On && s.l.Mark.On:
		r.SyncBecause = "no cam signal. The mark tells the turn, but not compression from exhaust"
	case !s.l.Cam.On:
		r.SyncBecause = "no cam signal"
	case !sync.Ever:
		r.SyncBecause = "no cam edge fell into a stretch of whole crank intervals"
	case sync.Count > 0:
		r.Sync = SyncLost
		r.SyncBecause = fmt.Sprintf("lost %d times, first at %s: %s", sync.Count, seconds(r.Losses[0].TimeS),
			r.Losses[0].Because)
	default:
		r.Sync = SyncHeld
		r.SyncBecause = fmt.Sprintf("cam and crank edges agree from %s on", seconds(float64(sync.From)))
	}
}

func (s *observer) reportCrank(r *Result, out *terms.Findings) {
	w := s.l.Wheel
	c := &CrankResult{EdgesPerCycle: w.N, VaneWidthDeg: nan, SpacingErrorDeg: []float64{}, SpacingU: []Number{},
		ScatterDeg: Number(s.vanes.edgeScatter()), Uneven: w.Uneven, ActiveEdge: terms.EdgeName(s.l.ActiveRising),
		ActiveBecause: s.l.ActiveBecause, ActsOn: string(s.l.Acts)}
	r.Crank = c
	late, u := s.vanes.spacing()
	others := s.vanes.others()
	vaneFirst := s.vaneFirst(others)
	sum, n := 0.0, 0
	for i := range w.N {
		k := s.vane(i)
		if late != nil {
			c.SpacingErrorDeg, c.SpacingU = append(c.SpacingErrorDeg, late[k]), append(c.SpacingU, Number(u[k]))
		}
		c.IntervalsDeg = append(c.IntervalsDeg, float64(w.NomStep[w.Next(k)]))
		width := others[k] // way from the active edge on to the other edge
		if !vaneFirst {    // the vane ends with the active edge and begins with the other edge before it
			width = w.Step[k] - others[w.Before(k)]
		}
		if math.IsNaN(float64(width)) || !w.Firm {
			c.VaneWidthsDeg = append(c.VaneWidthsDeg, nan)
			continue
		}
		shaft := float64(engine.CrankToShaft(width))
		c.VaneWidthsDeg = append(c.VaneWidthsDeg, Number(shaft))
		sum += shaft
		n++
	}
	if n > 0 {
		c.VaneWidthDeg = Number(sum / float64(n))
	}
}

// vaneFirst says whether the vane begins with the active edge: by the card's level in the vane, without a card by
// taking the shorter state for the vane.
func (s *observer) vaneFirst(others []quantity.Crank) bool {
	if v := s.l.Facts.InVane; v != "" {
		return (v == jobcard.High) == s.l.ActiveRising // the active edge leads to the vane's level
	}
	first, all := quantity.Crank(0), quantity.Crank(0)
	for k, o := range others {
		if !math.IsNaN(float64(o)) {
			first += o
			all += s.l.Step[s.l.Next(k)]
		}
	}
	return first <= all/2
}

// camMargin: a cam edge nearer than this to an active crank edge may come on its other side, by backlash, and be
// counted for the wrong cylinder; crank degrees (assumed).
const camMargin = 5

func (s *observer) reportCam(r *Result, out *terms.Findings) {
	l := s.l
	c := &CamResult{LevelMarginDeg: nan}
	one := l.Pos[l.First]
	var margin [2][2]quantity.Crank // by cam edge: least distance from active crank edges, from the others
	var place [2]quantity.Crank
	for i := range 2 { // falling, rising
		q := &s.cams.edges[i]
		j := 1
		if q.place[1].N < 3 {
			j = 0
		}
		if q.place[j].N == 0 {
			return
		}
		place[i] = l.Cam.At[i] + quantity.Crank(q.place[j].Mean())
		margin[i] = [2]quantity.Crank{q.margin[j], q.other[j]}
		e := CamEdge{Edge: terms.EdgeName(i == 1), AtDeg: float64(motion.Wrap(place[i]-one, motion.Cycle)),
			SD:        q.place[j].SD(),
			MarginDeg: float64(q.margin[j]), AfterEdge: q.after[j].Mean(), BeforeEdge: q.before[j].Mean(),
			OtherDeg: float64(q.other[j])}
		if math.IsInf(e.OtherDeg, 0) {
			e.OtherDeg = 0
		}
		c.Edges = append(c.Edges, e)
	}
	safe := c.Edges[0]
	if c.Edges[1].MarginDeg > safe.MarginDeg {
		safe = c.Edges[1]
	}
	c.SafeEdge, c.SafeMarginDeg = safe.Edge, safe.MarginDeg
	from, to := place[1], place[0] // the window is the high state
	if !l.Cam.NarrowHigh {
		from, to = to, from
	}
	window := motion.Wrap(to-from, motion.Cycle)
	c.WindowDeg = float64(window)
	best := quantity.Crank(-1)
	for j, at := range [2][]quantity.Crank{l.Pos, l.Other} {
		inside := 0
		for _, x := range at {
			if motion.Wrap(x-from, motion.Cycle) < window {
				inside++
			}
		}
		if m := min(margin[0][j], margin[1][j]); inside == 1 && m > best {
			best = m
			c.ReadAt = terms.EdgeName(l.ActiveRising == (j == 0))
			c.LevelMarginDeg = Number(m)
		}
	}
	r.Cam = c
	name := l.Name(l.Assigned.Cam)
	stated := c.Edges[wheel.Index(l.Facts.Cam.Active == jobcard.Rising)]
	switch {
	case c.SafeMarginDeg < camMargin:
		out.Find(FoundCamMargin, name, "read the cam at its "+c.SafeEdge+" edge, or move the cam vane",
			"the cam edge comes within %s of an active crank edge. Backlash may count it for the wrong "+
				"cylinder", quantity.Degrees(c.SafeMarginDeg, 1))
	case l.Facts.Cam.Stated && stated.Edge != c.SafeEdge && stated.MarginDeg < camMargin:
		out.Find(FoundCamMargin, name, "set the cam's active edge to "+c.SafeEdge,
			"the stated cam edge (%s) comes within %s of an active crank edge", l.Facts.Cam.Active,
			quantity.Degrees(stated.MarginDeg, 1))
	}
}
