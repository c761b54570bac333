package stand

import (
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/waveform"
)

// output is how a spark shows in the recording.
type output int

const (
	driver    output = iota // a coil driver's pulse: it ends in the spark
	boxPulse                // trigger of a spark box, the same with 1 to 2 ms
	clampOne                // clamp on wire 1: a short pulse from the spark on
	clampCoil               // clamp on the coil's lead: all sparks
	ramp                    // current clamp: crosses half its height well after the driver turned on
)

// coilage is how many coils share the firings.
type coilage int

const (
	oneCoil coilage = iota
	pairs
	perCylinder
)

// rig is an engine with its distributor, pickups and controller, set up to be recorded.
type rig struct {
	intervals []float64 // from each firing to the next, sum 720
	order     []int
	lead      float64 // on the card; in metal the edge stands lead + offset before TDC
	width     float64 // vane, shaft degrees
	entering  bool    // the active edge is where the vane enters the pickup
	vaneHigh  bool
	offset    float64
	lag       float64 // µs from the metal to the recorded edge
	delay     float64 // µs from the end of the planned wait to the spark
	allowance float64 // µs that the controller takes off
	locked    float64
	cranking  float64 // advance below crankBelow rpm
	below     float64
	wrongEdge bool // the controller acts on the other edge

	course   Course
	crankRPM float64 // for the card
	idle     float64
	redline  float64

	late   []float64 // crank degrees by which each vane stands late; nil: none
	wobble float64   // crank degrees, amplitude over one shaft turn
	phase  float64   // of the wobble, shaft degrees
	play   float64   // standard deviation of single vanes, crank degrees

	reluctor bool
	reversed bool

	cam      bool
	camWidth float64 // crank degrees
	camAt    float64 // BTDC of its entering edge on the card
	camHigh  bool

	mark      bool
	markWidth float64
	markAt    float64 // after TDC, degrees: nobody sets a mark exactly
	markHigh  bool

	out       output
	coils     coilage
	outHigh   bool
	dwell     func(rpm float64) float64 // ms wanted
	most      float64                   // largest share of an output's interval that dwell may fill
	clampSees int                       // clamp on wire 1: also the companion's spark, with one coil for two
	rings     int                       // further pulses of a clamp after each spark
	trains    int                       // sparks in a train below trainTo rpm; 1: single
	trainTo   float64
	trainGap  float64 // s
	skip      float64 // share of sparks that do not come
	skipTo    float64 // rpm below which sparks are skipped

	drop   []int // vanes that give no pulse, counted from the start
	extra  int   // pulses that spoil puts between vanes
	window span  // what is recorded; zero: all
	tick   float64

	leaveOut []string // roles that are not recorded
	spoil    func(r chance, wires []wire, sparks []float64) []wire
	names    func(r chance, wires []wire)
	fault    string
	faultAt  int
	faultBy  float64
	anySync  bool
}

func (g *rig) n() int { return len(g.intervals) }

// tdc is where each firing's TDC stands on the cycle.
func (g *rig) tdc() []float64 {
	at, all := 0.0, make([]float64, g.n())
	for i, v := range g.intervals {
		all[i] = at
		at += v
	}
	return all
}

// before is the interval that ends with firing k.
func (g *rig) before(k int) float64 { return g.intervals[(k+g.n()-1)%g.n()] }

// lateBy is how much later than nominal an edge passes that stands on the shaft at the given crank angle.
func (g *rig) lateBy(at float64) float64 {
	return g.wobble * math.Sin((at/2+g.phase)*math.Pi/180)
}

func (g *rig) vaneLate(k int) float64 {
	if g.late == nil {
		return 0
	}
	return g.late[k]
}

// edgePlace is where on the cycle vane k's active edge, or its other edge, passes the pickup.
func (g *rig) edgePlace(k int, other bool) float64 {
	at := g.tdc()[k] - g.lead - g.offset + g.vaneLate(k)
	if other {
		if g.entering {
			at += 2 * g.width
		} else {
			at -= 2 * g.width
		}
	}
	return at + g.lateBy(at)
}

// errors is the timing error of each firing at no speed: where its edge stands, and what the last interval,
// measured between edges that are both out of place, adds to the wait.
func (g *rig) errors(advance float64) []float64 {
	e := make([]float64, g.n())
	out := func(k int) float64 { // late, degrees
		return g.edgePlace(k, g.wrongEdge) - (g.tdc()[k] - g.lead)
	}
	for k := range e {
		p := (k + g.n() - 1) % g.n()
		e[k] = -out(k) - (out(k)-out(p))*(g.lead-advance)/g.before(k)
	}
	return e
}

// passing is one vane at the pickup.
type passing struct {
	k       int
	active  float64 // times at which the wire changes
	other   float64
	on      span
	acted   float64 // when the controller acts
	dropped bool
	spark   float64
	per     float64 // seconds a degree in the last interval, as the controller had it
}

// vanes lists every vane that passes with both edges during the motion, and the times of those that stand in
// the pickup at one end of it.
func (g *rig) vanes(r chance, m *Motion) (ps []passing, cutOff []span) {
	first := math.Floor((m.Angle(m.From())-720)/720) * 720
	last := m.Angle(m.To()) + 720
	count := 0
	for c := first; c <= last; c += 720 {
		for k := range g.n() {
			j1, j2 := 0.0, 0.0
			if g.play > 0 {
				j1 = r.NormFloat64() * g.play
				j2 = j1 + r.NormFloat64()*g.play*0.3 // both edges of a vane mostly move together
			}
			p := passing{k: k}
			p.active = m.TimeAt(c+g.edgePlace(k, false)+j1) + g.lag*1e-6
			p.other = m.TimeAt(c+g.edgePlace(k, true)+j2) + g.lag*1e-6
			if g.reluctor {
				g.sense(&p, m, c+g.edgePlace(k, false)+j1)
			}
			p.on = span{min(p.active, p.other), max(p.active, p.other)}
			if a, b := math.IsNaN(p.active), math.IsNaN(p.other); a || b {
				if a != b && !g.reluctor {
					cutOff = append(cutOff, g.cutVane(p, a == g.entering, m))
				}
				continue
			}
			p.dropped = slices.Contains(g.drop, count)
			count++
			ps = append(ps, p)
		}
	}
	slices.SortFunc(ps, func(a, b passing) int {
		if a.active < b.active {
			return -1
		}
		return 1
	})
	return ps, cutOff
}

// cutVane is the time that a vane stands in the pickup which was there before the motion began, or is still
// there as it ends.
func (g *rig) cutVane(p passing, cameBefore bool, m *Motion) span {
	t := p.active
	if math.IsNaN(t) {
		t = p.other
	}
	if cameBefore {
		return span{m.From() - 1, t}
	}
	return span{t, m.To() + 1}
}

// A reluctance pickup gives a swing up, through zero as the vane's middle passes, and a swing down, both
// growing with speed; its shape here is the slope of a bell curve of half a vane's width. The input turns on
// where the voltage passes a fixed level and off at the zero crossing. With the wires reversed the swing comes
// down first: the input turns on at the level after the middle and off where the voltage has fallen to half
// that level, later and later as the swing grows.
const (
	reluctorWakes = 40.0 // rpm at which the greatest voltage reaches the input's level; assumed
	reluctorTrail = 0.5  // where a reversed one turns off, of the level that turns it on; assumed
)

// swing is the voltage at x half-widths after the middle, in levels of the input, at n rpm; the greatest, at
// −1, is n/reluctorWakes.
func swing(x, n float64) float64 {
	return -x * math.Exp(0.5-x*x/2) * n / reluctorWakes
}

// crossing is where the falling or rising flank of the swing passes a level: in from lo to hi, where it is monotonic.
func crossing(level, n, lo, hi float64) float64 {
	up := swing(hi, n) > swing(lo, n)
	for range 60 {
		mid := (lo + hi) / 2
		if swing(mid, n) < level == up {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func (g *rig) sense(p *passing, m *Motion, middle float64) {
	t := m.TimeAt(middle)
	if math.IsNaN(t) {
		p.active, p.other = t, t
		return
	}
	n := m.RPM(t)
	if swing(-1, n) <= 1.05 { // too slow to turn the input on
		p.active, p.other = math.NaN(), math.NaN()
		return
	}
	half := g.width // crank degrees: half of a vane of 2·width crank degrees
	on, off := crossing(1, n, -6, -1), 0.0
	if g.reversed {
		on, off = -crossing(1, n, -1, 0), -crossing(reluctorTrail, n, -6, -1)
	}
	p.other = m.TimeAt(middle+on*half) + g.lag*1e-6
	p.active = m.TimeAt(middle+off*half) + g.lag*1e-6
}

// voltage is the pickup's voltage at any time: the swings of the vanes beside it.
func (g *rig) voltage() func(t float64) float64 {
	m := g.course.Run()
	return func(t float64) float64 {
		t -= g.lag * 1e-6
		a, n, v := m.Angle(t), m.RPM(t), 0.0
		for k := range g.n() {
			x := math.Remainder(a-g.edgePlace(k, false), 720) / g.width
			if math.Abs(x) < 6 {
				v += swing(x, n)
			}
		}
		return v
	}
}

// reversedLate is how late a reversed pickup's edge comes at a speed, crank degrees.
func (g *rig) reversedLate(n float64) float64 {
	return -crossing(reluctorTrail, n, -6, -1) * g.width
}

// slowest is the speed from one vane to the next below which the controller takes the crank for standing, rpm.
const slowest = 20.0

// fire is the controller: after each active edge it waits T·(L−a)/S less its allowance, T being the last
// interval and S the degrees it should span. After a pulse that did not come it goes by the interval before.
func (g *rig) fire(ps []passing) {
	for i := range ps {
		ps[i].spark = math.NaN()
		ps[i].acted = ps[i].active
		if g.wrongEdge {
			ps[i].acted = ps[i].other
		}
	}
	last, per := -1, math.NaN() // seconds a degree
	started := 0
	for i := range ps {
		p := &ps[i]
		if p.dropped {
			continue
		}
		if last >= 0 {
			span := g.before(p.k)
			if i == last+1 {
				per = (p.acted - ps[last].acted) / span
			}
			if per > 1/(6*slowest) {
				per, started = math.NaN(), 0
			} else {
				started++
			}
			if !math.IsNaN(per) && started > 1 {
				a := g.locked
				if 1/(6*per) < g.below {
					a = g.cranking
				}
				wait := per*(g.lead-a) - g.allowance*1e-6
				p.spark = p.acted + max(wait, 0) + g.delay*1e-6
				p.per = per
			}
		}
		last = i
	}
}

// spark is one firing as the outputs see it.
type spark struct {
	t   float64
	k   int
	per float64 // seconds a degree, as the controller had it
	nth int     // within a train
}

func (g *rig) sparks(r chance, ps []passing) []spark {
	var ss []spark
	for _, p := range ps {
		if math.IsNaN(p.spark) {
			continue
		}
		n := 1 / (6 * p.per)
		if g.skip > 0 && n < g.skipTo && r.one(g.skip) {
			continue
		}
		ss = append(ss, spark{p.spark, p.k, p.per, 0})
		if n < g.trainTo {
			for j := 1; j < g.trains; j++ {
				ss = append(ss, spark{p.spark + float64(j)*g.trainGap, p.k, p.per, j})
			}
		}
	}
	slices.SortFunc(ss, func(a, b spark) int {
		if a.t < b.t {
			return -1
		}
		return 1
	})
	return ss
}

// outputs lays the sparks on wires and gives the mean dwell in ms.
func (g *rig) outputs(r chance, ss []spark) (ws []wire, dwell float64) {
	n := 1
	switch {
	case g.out == clampOne, g.out == clampCoil:
	case g.coils == pairs:
		n = g.n() / 2
	case g.coils == perCylinder:
		n = g.n()
	}
	spans := make([][]span, n)
	last := make([]float64, n)
	for i := range last {
		last[i] = math.Inf(-1)
	}
	sum, count := 0.0, 0.0
	for _, s := range ss {
		c := s.k % n
		switch g.out {
		case clampOne, clampCoil:
			if g.out == clampOne && s.k != 0 && (g.clampSees == 0 || s.k != g.clampSees) {
				continue
			}
			on, width := s.t, r.between(25e-6, 90e-6)
			spans[0] = append(spans[0], span{on, on + width})
			for range g.rings {
				on += width + r.between(8e-6, 25e-6)
				width = r.between(4e-6, 15e-6)
				spans[0] = append(spans[0], span{on, on + width})
			}
		default:
			d := g.dwell(1/(6*s.per)) * 1e-3
			if s.nth > 0 {
				d = min(d, 0.6*g.trainGap)
			}
			d = min(d, g.most*720/float64(g.n())*float64(n)*s.per, s.t-last[c]-0.25e-3)
			if d <= 20e-6 {
				continue
			}
			on := s.t - d
			if g.out == ramp {
				on = s.t - d*0.45
			}
			spans[c] = append(spans[c], span{on, s.t})
			last[c] = s.t
			if s.nth == 0 && (g.window.off == 0 || on > g.window.on && s.t < g.window.off) {
				sum += d * 1e3
				count++
			}
		}
	}
	for _, s := range spans {
		w := newWire(RoleSpark, g.outHigh, s)
		if g.out == ramp {
			w.unit, w.ramp = "A", true
		}
		ws = append(ws, w)
	}
	if count > 0 {
		dwell = sum / count
	}
	return ws, dwell
}

// record runs the engine and makes the case, but for class, name, seed and card.
func (g *rig) record(r chance) *Case {
	g.course.TDC = g.tdc()
	m := g.course.Run()
	if g.window.off == 0 {
		g.window = span{m.From() + 0.15, m.To() - 0.15} // what passes only half at the ends stays outside
	}
	ps, crank := g.vanes(r, m)
	g.fire(ps)
	ss := g.sparks(r, ps)

	for _, p := range ps {
		if !p.dropped {
			crank = append(crank, p.on)
		}
	}
	w := newWire(RoleCrank, g.vaneHigh, crank)
	if g.reluctor {
		w.unit, w.method, w.active = "V", waveform.ByZeroCrossing, waveform.Fall
	}
	wires := []wire{w}
	if g.cam {
		wires = append(wires, newWire(RoleCam, g.camHigh, g.camSpans(r, m)))
	}
	outs, dwell := g.outputs(r, ss)
	wires = append(wires, outs...)
	if g.mark {
		var spans []span
		for _, t := range m.Turns(g.markAt, 360) {
			if off := m.TimeAt(m.Angle(t) + g.markWidth); !math.IsNaN(off) {
				spans = append(spans, span{t, off})
			}
		}
		wires = append(wires, newWire(RoleMark, g.markHigh, spans))
	}
	wires = slices.DeleteFunc(wires, func(w wire) bool { return slices.Contains(g.leaveOut, w.role) })

	var fired []float64
	for _, s := range ss {
		fired = append(fired, s.t)
	}
	if g.spoil != nil {
		wires = g.spoil(r, wires, fired)
	}
	r.Shuffle(len(wires), func(i, j int) { wires[i], wires[j] = wires[j], wires[i] })
	if g.names == nil {
		g.names = anyNames
	}
	g.names(r, wires)
	for i := range wires {
		wires[i].cut(g.window.on, g.window.off)
		wires[i].sampled(g.tick)
	}
	from := g.window.on
	if g.tick > 0 {
		from = math.Floor(from/g.tick) * g.tick
	}
	chans, es := edges(wires, from)
	c := &Case{Edges: es, End: waveform.Second(g.window.off)}
	c.Info = waveform.Info{Format: waveform.FormatVCD, Channels: chans, Size: -1,
		Start: waveform.Second(from), Tick: waveform.Second(g.tick)}
	c.Truth = g.truth(wires, ps, dwell)
	c.Truth.ShownLow, c.Truth.ShownHigh = g.shown(m, ps, c.Truth)
	return c
}

// camSpans are the times of the cam's one vane a cycle; it sits on the distributor's shaft as the crank vanes do.
func (g *rig) camSpans(r chance, m *Motion) []span {
	var spans []span
	at := -g.camAt - g.offset
	first := math.Floor((m.Angle(m.From())-720)/720) * 720
	for c := first; c <= m.Angle(m.To())+720; c += 720 {
		a, b := at+g.lateBy(at), at+g.camWidth
		b += g.lateBy(b)
		on, off := m.TimeAt(c+a+r.NormFloat64()*g.play), m.TimeAt(c+b+r.NormFloat64()*g.play)
		if math.IsNaN(on) && math.IsNaN(off) {
			continue
		}
		if math.IsNaN(on) {
			on = m.From()
		}
		if math.IsNaN(off) {
			off = m.To() + 1
		}
		spans = append(spans, span{on + g.lag*1e-6, off + g.lag*1e-6})
	}
	return spans
}

func (g *rig) has(wires []wire, role string) bool {
	return slices.ContainsFunc(wires, func(w wire) bool { return w.role == role })
}

func (g *rig) truth(wires []wire, ps []passing, dwell float64) Truth {
	t := Truth{Engine: true, Cylinders: g.n(), Advance: g.locked,
		Fault: g.fault, FaultAt: g.faultAt, FaultSize: g.faultBy, Extra: g.extra,
		Delay: g.lag + g.delay - g.allowance, LowRPM: math.Inf(1)}
	for _, w := range wires {
		t.Roles = append(t.Roles, w.role)
	}
	t.ActiveEdge = jobcard.Falling
	if g.activeRises() != g.wrongEdge {
		t.ActiveEdge = jobcard.Rising
	}
	if g.reversed {
		t.Curve = func(n float64) float64 { return g.offset - g.reversedLate(n) - 6*n*t.Delay*1e-6 }
	}
	last, seen := -1, 0
	for i, p := range ps {
		if p.active < g.window.on || p.active > g.window.off {
			continue
		}
		if p.dropped {
			t.Missing++
			continue
		}
		seen++
		if last >= 0 && last == i-1 {
			n := g.before(p.k) / (p.active - ps[last].active) / 6
			if n > slowest {
				t.LowRPM, t.HighRPM = min(t.LowRPM, n), max(t.HighRPM, n)
			}
		}
		last = i
	}
	if t.HighRPM < g.below {
		t.Advance = g.cranking
	}
	t.Cylinder = g.errors(t.Advance)
	for _, e := range t.Cylinder {
		t.Offset += e / float64(g.n())
	}
	if g.out == driver || g.out == boxPulse || g.out == ramp {
		t.DwellMS, t.RampDwell = dwell, g.out == ramp
	}
	if g.trains > 1 {
		t.DwellMS = 0
	}
	t.Clean = t.Missing == 0 && g.spoil == nil && !g.anySync
	t.Timed = g.has(wires, RoleCrank) && g.has(wires, RoleMark) && g.has(wires, RoleSpark)
	switch {
	case g.anySync, seen < 3*g.n(): // too short to ask
	case !g.has(wires, RoleCrank), !g.has(wires, RoleCam) && g.n() > 1:
		t.Sync = SyncNone
	case g.has(wires, RoleCam) && t.Clean:
		t.Sync = SyncHeld
	}
	return t
}

// shown is the mean error of the firings near the least and the greatest speed, read from the crank itself.
func (g *rig) shown(m *Motion, ps []passing, t Truth) (low, high float64) {
	tdc := g.tdc()
	var sum, n [2]float64
	for _, p := range ps {
		if math.IsNaN(p.spark) || p.spark < g.window.on || p.spark > g.window.off {
			continue
		}
		rpm := 1 / (6 * p.per)
		told := g.locked
		if rpm < g.below {
			told = g.cranking
		}
		e := math.Remainder(tdc[p.k]-m.Angle(p.spark), 720) - told
		if rpm < 1.1*t.LowRPM {
			sum[0], n[0] = sum[0]+e, n[0]+1
		}
		if rpm > 0.9*t.HighRPM {
			sum[1], n[1] = sum[1]+e, n[1]+1
		}
	}
	return sum[0] / n[0], sum[1] / n[1]
}

// activeRises says whether the edge that the card calls active is a rising one.
func (g *rig) activeRises() bool { return !g.reluctor && g.entering == g.vaneHigh }
