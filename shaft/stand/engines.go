package stand

import (
	"math"
	"slices"
)

// sound is an engine of any kind without a fault, revved up and down so that its timing can be told.
func sound(r chance, cylinders ...int) *rig {
	n := 0
	if len(cylinders) > 0 {
		n = pick(r, cylinders...)
	} else {
		n = pick(r, 1, 2, 3, 3, 4, 4, 4, 4, 5, 6, 6, 6, 6, 8, 8, 8, 8, 10, 12, 16)
	}
	iv := make([]float64, n)
	for i := range iv {
		iv[i] = 720 / float64(n)
	}
	return soundOf(r, iv)
}

func soundOf(r chance, intervals []float64) *rig {
	n := len(intervals)
	least := slices.Min(intervals)
	g := &rig{intervals: intervals, faultAt: -1, trains: 1, most: 0.8}
	g.order = append([]int{1}, make([]int, n-1)...)
	for i, v := range r.Perm(n - 1) {
		g.order[1+i] = v + 2
	}
	reach := min(least*0.9, 75)
	g.locked = round(r.between(2, min(20, reach-18)), 0.5)
	g.lead = round(r.between(g.locked+15, reach), 0.5)
	g.cranking = g.locked
	if r.one(0.5) {
		g.cranking = round(r.between(0, min(18, g.lead-12)), 0.5)
	}
	g.width = round(r.between(8, max(min(40, 0.38*least), 8.5)), 0.5)
	g.entering, g.vaneHigh = r.one(0.5), r.one(0.5)
	g.offset = r.between(-4, 4)
	g.lag, g.delay = r.between(0, 20), r.between(20, 220)
	g.allowance = round(r.between(0, 200), 5)

	g.crankRPM = round(r.between(110, 260), 1)
	g.idle = round(r.between(650, 1100), 10)
	g.redline = round(r.between(3600, 7000), 100)
	g.below = r.between(1.5*g.crankRPM, 0.75*g.idle)
	g.revved(r)

	if n > 1 || r.one(0.5) {
		g.placeCam(r)
	}
	g.mark, g.markWidth, g.markHigh = true, r.between(1, 20), r.one(0.6)
	g.outHigh = r.one(0.6)
	ms := r.between(1.2, 3.5)
	g.dwell = func(float64) float64 { return ms }
	g.tick = pick(r, 1e-8, 1e-7, 1e-6, 2e-6, 5e-6)
	g.play = r.between(0.005, 0.04) // assumed: a drive and pickup in good order
	g.markAt = r.between(-MarkLimit, MarkLimit)
	return g
}

func round(v, step float64) float64 { return math.Round(v/step) * step }

// placeCam puts the cam's window where neither end comes near an active crank edge.
func (g *rig) placeCam(r chance) {
	g.cam, g.camHigh = true, r.one(0.5)
	clear := min(0.12*slices.Min(g.intervals), 15)
	for {
		g.camWidth = round(r.between(20, 170), 1)
		g.camAt = round(r.between(0, 720), 0.5)
		near := 720.0
		for _, top := range g.tdc() {
			for _, e := range []float64{-g.camAt, -g.camAt + g.camWidth} {
				near = min(near, math.Abs(math.Remainder(e-(top-g.lead), 720)))
			}
		}
		if near >= clear && (g.n() > 1 || math.Abs(math.Log(g.camWidth/(2*g.width))) > 0.4) {
			return
		}
	}
}

// ripples gives the crank the uneven running of its cylinders, share at a speed.
func (g *rig) ripples(share, rpm float64) {
	g.course.Ripple, g.course.RippleRPM = share, rpm
}

// usualRipple is the swing of speed at idle: more the fewer cylinders. Assumed.
func (g *rig) usualRipple(r chance) float64 {
	return min(r.between(0.005, 0.05)*4/float64(g.n()), 0.1)
}

func (g *rig) revved(r chance) {
	top := r.between(0.5, 0.85) * g.redline
	rate := r.between(600, 1800)
	k := []Knot{{0, g.idle}}
	add := func(dt, n float64) { k = append(k, Knot{k[len(k)-1].At + dt, n}) }
	add(r.between(1, 1.6), g.idle)
	mid := r.between(g.idle+200, top)
	add((mid-g.idle)/rate, mid)
	add(r.between(0.5, 1), mid)
	add((top-mid)/rate+0.05, top)
	add(r.between(0.5, 1), top)
	add((top-g.idle)/rate, g.idle)
	add(0.8, g.idle)
	g.course = Course{Knots: k, Start: r.between(0, 720)}
	g.ripples(g.usualRipple(r), g.idle)
}

// steady holds one speed.
func (g *rig) steady(r chance, n, dt float64) {
	g.course = Course{Knots: []Knot{{0, n}, {dt, n}}, Start: r.between(0, 720)}
}

// cranked is from rest on the starter for dt seconds; the crank is at rest before.
func (g *rig) cranked(r chance, dt float64) {
	g.course = Course{Start: r.between(0, 720), Knots: []Knot{{0, 0}, {0.3, 0}, {0.3 + r.between(0.15, 0.35),
		g.crankRPM}}}
	g.course.Knots = append(g.course.Knots, Knot{g.course.Knots[2].At + dt, g.crankRPM})
	g.ripples(min(r.between(0.15, 0.55)*4/float64(g.n()), 0.7), g.crankRPM)
	g.course.Pull, g.course.PullTo = 4, 1.3*g.crankRPM
}

// started is cranked, then the first firings, a flare and idle.
func (g *rig) started(r chance) {
	g.cranked(r, r.between(0.8, 2.2))
	k := g.course.Knots
	add := func(dt, n float64) { k = append(k, Knot{k[len(k)-1].At + dt, n}) }
	add(r.between(0.25, 0.5), g.idle*r.between(1.25, 1.9))
	add(r.between(0.4, 1), g.idle)
	add(r.between(1.5, 3), g.idle)
	g.course.Knots = k
	ms := r.between(1.5, 3)
	g.dwell = func(n float64) float64 { // the supply sags on the starter
		if n < g.below {
			return ms * 1.6
		}
		return ms
	}
}

// oddFire are the firing intervals of engines that do not fire evenly. Common practice for engines of two banks
// or shared pins; some invented.
var oddFire = [][]float64{
	{315, 405}, {270, 450}, {180, 540}, {405, 315},
	{180, 180, 360}, {200, 280, 240},
	{180, 270, 180, 90}, {200, 160, 200, 160}, {290, 70, 290, 70},
	{75, 165, 75, 165, 75, 165}, {90, 150, 90, 150, 90, 150}, {100, 140, 100, 140, 100, 140},
	{110, 130, 110, 130, 110, 130},
	{70, 110, 70, 110, 70, 110, 70, 110}, {90, 180, 90, 90, 90, 90, 45, 45},
}

// engine is one class of engine cases: a sound engine, and what is special about the class; nil: nothing.
type engine struct {
	name  string
	sound func(r chance) *rig
	with  func(r chance, g *rig)
}

func (e engine) make(r chance) *rig {
	g := e.sound(r)
	if e.with != nil {
		e.with(r, g)
	}
	return g
}

// of is a sound engine of one of these numbers of cylinders, or of any.
func of(cylinders ...int) func(r chance) *rig {
	return func(r chance) *rig { return sound(r, cylinders...) }
}

// engines are the classes, in the order of the report.
var engines = []engine{
	{"steady", of(), func(r chance, g *rig) { g.steady(r, r.between(600, 4500), r.between(2, 4)) }},
	{"ramp", of(), func(r chance, g *rig) {
		a, b := r.between(600, 1500), r.between(3000, 5500)
		if r.one(0.3) {
			a, b = b, a
		}
		g.course = Course{Start: r.between(0, 720), Knots: []Knot{{0, a}, {math.Abs(b-a) / r.between(400, 2000), b}}}
	}},
	{"sweep", of(), nil},
	{"start", of(), func(r chance, g *rig) { g.started(r) }},
	{"starter-only", of(), func(r chance, g *rig) { g.cranked(r, r.between(2.5, 5)) }},
	{"run-down", of(), func(r chance, g *rig) {
		g.steady(r, g.idle, r.between(1.5, 2.5))
		at := g.course.Knots[1].At
		stop := at + r.between(1, 3)
		g.course.Knots = append(g.course.Knots, Knot{stop, 0}, Knot{stop + 0.8, 0})
		g.ripples(g.usualRipple(r), g.idle)
		g.course.Pull, g.course.PullTo = 4, 60
	}},
	{"ripple", of(1, 2, 3, 4, 4, 5, 6, 8), func(r chance, g *rig) {
		g.ripples(min(r.between(0.05, 0.15)*4/float64(g.n()), 0.2), g.idle)
	}},
	{"odd-fire", func(r chance) *rig { return soundOf(r, slices.Clone(pick(r, oddFire...))) }, nil},
	{"many", of(10, 12, 14, 16), func(r chance, g *rig) { g.coils = pick(r, oneCoil, pairs, perCylinder) }},
	{"few", of(1, 2, 3), nil},
	{"single-cam", of(1), func(r chance, g *rig) { g.placeCam(r) }},
	{"two-wheel", of(2), func(r chance, g *rig) { // the mark comes as often as the vanes
		g.mark, g.markWidth = true, g.width*2*r.between(0.5, 1.5)
	}},
	{"pairs", of(2, 4, 6, 8, 12), func(r chance, g *rig) { g.coils = pairs }},
	{"per-cylinder", of(3, 4, 5, 6, 8, 10, 12, 15, 16), func(r chance, g *rig) { g.coils = perCylinder }},
	{"clamp-one", of(2, 3, 4, 5, 6, 8, 12), func(r chance, g *rig) {
		g.out, g.rings = clampOne, pick(r, 0, 0, 2, 4, 6)
		if g.n()%2 == 0 && r.one(0.3) {
			g.clampSees, g.coils = g.n()/2, pairs
		}
	}},
	{"clamp-coil", of(), func(r chance, g *rig) { g.out, g.rings = clampCoil, pick(r, 0, 0, 2, 4, 6) }},
	{"box", of(), func(r chance, g *rig) {
		ms := r.between(1, 2)
		g.out, g.dwell = boxPulse, func(float64) float64 { return ms }
	}},
	{"current-clamp", of(), func(r chance, g *rig) { g.out, g.outHigh = ramp, true }},
	{"trains", of(1, 2, 3, 4, 6, 8), func(r chance, g *rig) {
		g.trains, g.trainGap = r.whole(2, 6), r.between(0.8e-3, 1.5e-3)
		// a train ends well before the next one
		g.trainTo = 720 / float64(g.n()) / (float64(g.trains) + 4) / g.trainGap / 6
		if r.one(0.6) {
			g.started(r)
		}
		g.out = pick(r, driver, driver, clampOne, clampCoil)
	}},
	{"skipped", of(), func(r chance, g *rig) {
		g.skip, g.skipTo = r.between(0.02, 0.4), 1e9
		if r.one(0.5) {
			g.started(r)
			g.skip, g.skipTo = r.between(0.3, 0.9), g.below
		}
	}},
	{"long-dwell", of(4, 5, 6, 8), func(r chance, g *rig) {
		ms := r.between(4, 8)
		g.dwell, g.most = func(float64) float64 { return ms }, r.between(0.8, 0.95)
	}},
	{"reluctor", reluctorOf, nil},
	{"reluctor-reversed", reluctorOf, func(r chance, g *rig) {
		g.reversed, g.fault, g.anySync = true, "wires reversed", true
	}},
	{"wide-vane", of(1, 2, 3, 4, 5, 6, 8), func(r chance, g *rig) {
		g.width = min(r.between(28, 40), 360/float64(g.n())*0.85)
		g.placeCam(r)
	}},
	{"coarse", of(), func(r chance, g *rig) { g.tick = pick(r, 1e-5, 2e-5, 5e-5) }},
	{"bent", of(2, 3, 4, 5, 6, 8, 10), func(r chance, g *rig) {
		g.fault, g.faultAt = "bent vane", r.IntN(g.n())
		g.faultBy = r.between(1, min(8, 0.1*720/float64(g.n()))) * pick(r, -1.0, 1)
		g.late = make([]float64, g.n())
		g.late[g.faultAt] = g.faultBy
	}},
	{"wobble", of(), func(r chance, g *rig) {
		g.wobble, g.phase = r.between(0.3, 3), r.between(0, 360)
		g.fault, g.faultBy = "bushing", g.wobble
	}},
	{"worn-drive", of(), func(r chance, g *rig) {
		g.play = r.between(0.05, 0.8)
		g.fault, g.faultBy = "drive", g.play
	}},
	{"spikes", of(), func(r chance, g *rig) {
		g.tick = min(g.tick, 1e-6)
		g.spoil = spikes(r.logBetween(0.5, 30))
	}},
	{"ringing", of(), func(r chance, g *rig) {
		g.tick = min(g.tick, 1e-6)
		g.spoil = ringing(r.between(0.05, 0.6))
	}},
	{"missing", of(2, 3, 4, 5, 6, 8), func(r chance, g *rig) {
		for range r.whole(1, 3) {
			g.drop = append(g.drop, r.whole(8, 100))
		}
		if r.one(0.3) { // a stretch
			at, n := r.whole(10, 60), r.whole(3, 12)
			for i := range n {
				g.drop = append(g.drop, at+i)
			}
		}
		slices.Sort(g.drop)
		g.drop = slices.Compact(g.drop)
		g.fault, g.anySync = "missing pulses", true
	}},
	{"extra", of(), func(r chance, g *rig) {
		g.extra = r.whole(1, 4)
		g.spoil, g.fault = extra(g.extra), "extra pulses"
	}},
	{"floating", of(), func(r chance, g *rig) { g.spoil = floating(r.between(0.1, 0.5)) }},
	{"wrong-edge", of(1, 2, 3, 4, 5, 6, 8), func(r chance, g *rig) {
		g.width = min(g.width, 0.2*720/float64(g.n()), 25)
		g.wrongEdge, g.fault, g.faultBy = true, "wrong edge", 2*g.width
	}},
	{"swapped", of(2, 3, 4, 5, 6, 8, 12), func(r chance, g *rig) {
		g.placeCam(r)
		g.names, g.fault, g.anySync = swappedNames, "leads swapped", true
	}},
	{"short", of(3, 4, 5, 6, 8, 12), func(r chance, g *rig) {
		at := r.between(0.5, 4)
		g.window = span{at, at + r.between(0.2, 0.5)}
	}},
	{"no-crank", of(3, 4, 5, 6, 8), func(r chance, g *rig) { g.leaveOut = []string{RoleCrank} }},
	{"one-wire", of(), func(r chance, g *rig) {
		g.leaveOut = []string{RoleCrank, RoleCam, RoleMark}
		g.out = pick(r, driver, clampOne, clampCoil)
	}},
	{"part", of(2, 3, 4, 5, 6, 8), func(r chance, g *rig) {
		g.leaveOut = pick(r, []string{RoleCam}, []string{RoleMark}, []string{RoleSpark},
			[]string{RoleMark, RoleSpark}, []string{RoleCam, RoleMark}, []string{RoleCam, RoleSpark})
	}},
}

func reluctorOf(r chance) *rig {
	g := sound(r, 1, 2, 3, 4, 6, 8)
	g.reluctor, g.vaneHigh = true, true
	g.width = round(r.between(3, min(8, 0.09*720/float64(g.n()))), 0.5)
	g.tick = 0
	if g.cam {
		g.placeCam(r)
	}
	return g
}
