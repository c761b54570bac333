package bench

import (
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// setup is a Config with its Faults resolved into plain numbers: crank degrees, µs. The event simulation and the closed
// form both start from it, and from nothing else.
type setup struct {
	n        int
	tdc, gap []float64 // firing TDCs; interval that ends with firing k
	order    []int     // cylinder of firing k

	crank, cam wheel
	shift      float64 // whole shaft pattern later by this, crank degrees (negative: early)
	housing    float64 // of which by the housing: cap and pickups earlier by this
	early      float64 // the shaft itself ahead by this (teeth, half turn)
	creep      float64 // housing with the rotor, crank degrees per µs
	worn, wobble,
	lash float64 // crank degrees

	lead, cranking, below, locked float64
	unlocked                      bool
	chart                         []MapPoint
	allowance, latency, blank     float64
	dwell, dwellOn, off           float64 // µs; dwellOn on the starter
	swapped                       bool    // leads
	noise, crossfire              float64
	worst                         float64 // rpm at which crossfire is worst
	redline                       float64

	steers  bool
	shared  bool // one coil serves all
	pairs   bool
	sync    bool // a cam pickup tells the cycle
	m0      int  // firing whose crank edge follows the cam edge as the controller was told
	wires   []int
	tip     float64 // half of tip and terminal, shaft degrees
	radius  float64 // mm
	square  float64 // crank degrees within which tip and terminal meet and no other tower is nearer
	rotor   float64 // tip ahead, crank degrees
	middle  float64 // advance at which the tip is centred when all is right
	sparkAt float64 // µs from command to spark
	coil    Ignition
	supply  float64
	least   float64 // µs of dwell for a spark to rely on, at that supply
	leastOn float64 // and on the starter
	onStart float64 // supply there

	light    Light
	dial     float64
	doubled  bool
	lightLag float64
	damper   float64
	misread  float64
}

// wheel is one pickup with its vanes.
type wheel struct {
	reluctor, reversed bool
	inVane             bool // level while a vane stands in it: high?
	rising             bool // controller acts on the rising edge
	enter, leave       []float64
	delay              float64
	dead               bool
	gain, threshold    float64 // V per °/µs, V
	spread             float64
}

func newWheel(p Pickup, edge, reversed, dead bool) wheel {
	w := wheel{delay: float64(p.Delay), inVane: p.InVane == jobcard.High, rising: p.ActiveEdge == jobcard.Rising,
		dead: dead}
	first := w.inVane == w.rising // the active edge is the one at which the vane comes in
	w.enter, w.leave = make([]float64, len(p.Vanes)), make([]float64, len(p.Vanes))
	for i, v := range p.Vanes {
		width, at := 2*float64(v), -float64(p.At)
		if len(p.Shift) > 0 {
			at += 2 * float64(p.Shift[i])
		}
		w.enter[i], w.leave[i] = at, at+width
		if !first {
			w.enter[i], w.leave[i] = at-width, at
		}
		if p.Kind == jobcard.Reluctor {
			w.enter[i], w.leave[i] = at, at
		}
	}
	if p.Kind == jobcard.Reluctor {
		// The comparator is high from the arming swing to the zero crossing; other edges than the falling one do not
		// exist for the controller.
		w.reluctor, w.reversed, w.inVane, w.rising = true, reversed != edge, true, false
		w.gain, w.threshold, w.spread = float64(p.Gain)/6e-3, float64(p.Threshold), float64(p.PulseSpread)
		return w
	}
	if edge {
		w.rising = !w.rising
	}
	return w
}

// offsets gives where vane k's two edges stand from its TDC at a speed (°/µs): only a variable-reluctance pickup
// depends on speed.
func (w *wheel) offsets(k int, rate float64) (first, second float64, seen bool) {
	if !w.reluctor {
		return w.enter[k], w.leave[k], true
	}
	arm, fire, seen := w.swing(rate)
	return w.enter[k] + arm, w.enter[k] + fire, seen
}

// residual is the level, as a share of the arming threshold, at which the falling swing counts as "zero" by the
// comparator's hysteresis; assumed.
const residual = 0.25

// swing is where a variable-reluctance comparator arms and fires, in degrees from the true zero crossing. The signal is
// A·x·e^(½(1−x²)) with x in units of the pulse spread and A proportional to speed: wired right, the positive swing
// comes first and the crossing at x = 0 is steep. Reversed, the positive swing comes last and only its slow tail falls
// to nought.
func (w *wheel) swing(rate float64) (arm, fire float64, seen bool) {
	peak := w.gain * rate
	if peak <= w.threshold {
		return 0, 0, false
	}
	if !w.reversed {
		return -w.spread * tail(w.threshold/peak), 0, true
	}
	return w.spread * inner(w.threshold/peak), w.spread * tail(residual*w.threshold/peak), true
}

// tail solves x·e^(½(1−x²)) = level for x > 1, and inner for 0 < x < 1, by Newton's method on the logarithm; level in
// (0, 1).
func tail(level float64) float64 {
	l := math.Log(level)
	x := math.Sqrt(1 - 2*l) // exact but for the factor x, so on the right side
	for i := 0; i < 6; i++ {
		f := math.Log(x) + 0.5*(1-x*x) - l
		x -= f / (1/x - x)
		if x < 1.0001 {
			x = 1.0001
		}
	}
	return x
}

func inner(level float64) float64 {
	l := math.Log(level)
	x := level / math.Sqrt(math.E)
	for i := 0; i < 8; i++ {
		f := math.Log(x) + 0.5*(1-x*x) - l
		x -= f / (1/x - x)
		x = min(max(x, 1e-9), 0.9999)
	}
	return x
}

// newSetup resolves a valid configuration.
func newSetup(c Config, f Faults) *setup {
	e, k := c.Engine, c.Controller
	s := &setup{n: e.Cylinders, tdc: e.Firings(), order: e.FiringOrder, redline: float64(e.Redline)}
	s.gap = make([]float64, s.n)
	for i := range s.gap {
		s.gap[i] = e.spacing(i)
	}
	if f.Vane != 0 && s.n >= 3 {
		shift := make([]quantity.Shaft, s.n)
		copy(shift, c.Crank.Shift)
		shift[2] += f.Vane
		c.Crank.Shift = shift
	}
	c.Crank.Delay += f.Delay
	if c.Crank.Delay < 0 { // the spark path gives back what the pickup cannot
		c.Ignition.SparkDelay += c.Crank.Delay
		c.Crank.Delay = 0
	}
	s.crank = newWheel(c.Crank, f.Edge, f.Polarity, f.NoCrank)
	s.sync = c.CamFitted
	if c.CamFitted {
		s.cam = newWheel(c.Cam, false, false, f.NoCam)
	}
	s.swapped = f.Leads && c.CamFitted

	s.housing = float64(engine.ShaftToCrank(f.Housing + c.Distributor.follows(f.Tooth)))
	if c.Distributor.GearTeeth > 0 {
		s.early += float64(f.Tooth) * 720 / float64(c.Distributor.GearTeeth)
	}
	if f.HalfTurn {
		s.early += 360
	}
	s.shift = -s.housing - s.early
	s.creep = float64(engine.ShaftToCrank(f.Clamp)) / 60e6
	s.worn = math.Hypot(float64(c.Distributor.Scatter), float64(f.Worn))
	s.wobble, s.lash = float64(f.Wobble), 2*float64(f.Lash)

	s.lead = float64(k.Lead + f.Lead)
	s.cranking, s.below, s.locked = float64(k.Cranking), float64(k.CrankingBelow), float64(k.Locked)
	s.unlocked, s.chart = k.Unlocked || f.Unlocked, k.Map
	s.allowance, s.latency, s.blank = float64(k.Allowance+f.Allowance), float64(k.Latency), k.Blank
	s.dwell, s.off = float64(k.Dwell+f.Dwell), float64(k.OffTime)
	if s.dwellOn = s.dwell; k.DwellOnStarter > 0 {
		s.dwellOn = float64(k.DwellOnStarter + f.Dwell)
	}
	s.noise, s.crossfire, s.worst = f.Noise, f.Crossfire, 0.55*float64(e.Redline)

	s.steers = c.Distributor.Steers
	s.shared = c.Ignition.Coils == jobcard.OneCoil
	s.pairs = c.Ignition.Coils == jobcard.CompanionPairs && !s.steers
	s.m0 = firstAfterCam(c, s.tdc)
	s.wires = wiring(e.FiringOrder, f)
	d := c.Distributor
	s.radius = max(float64(d.Radius), 1)
	s.tip = (float64(d.RotorTip) + float64(d.Terminal)) / 2 / s.radius * 180 / math.Pi
	s.square = 2 * s.tip
	for _, g := range s.gap {
		s.square = min(s.square, float64(engine.CrankToShaft(quantity.Crank(g))))
	}
	s.rotor = float64(engine.ShaftToCrank(d.RotorOffset + f.Rotor))
	s.middle = middleAdvance(k)
	s.sparkAt, s.coil = float64(c.Ignition.SparkDelay), c.Ignition
	s.supply = float64(c.Ignition.Supply + f.Supply)
	if s.coil.Target == 0 {
		s.coil.Target = s.current(float64(k.Dwell), float64(c.Ignition.Supply))
	}
	s.least = s.leastDwell(s.supply)
	s.onStart = float64(c.Starter.Loaded + f.Supply)
	s.leastOn = s.leastDwell(s.onStart)
	s.light, s.dial = c.Light, float64(c.Light.Dial+f.Dial)
	s.doubled, s.lightLag = f.TwoSpark, float64(c.Light.Delay+f.LightDelay)
	s.damper, s.misread = float64(c.Light.Damper+f.Damper), f.Misread
	return s
}

// follows is the turn of a housing that was set by its lamp with the gear so many teeth ahead: after the shaft, as far
// as the slot lets it. What is left of the tooth is an error.
func (d Distributor) follows(teeth int) quantity.Shaft {
	if d.GearTeeth == 0 {
		return 0
	}
	ahead := quantity.Shaft(float64(teeth) * 360 / float64(d.GearTeeth))
	return -min(max(ahead, -d.HousingTravel), d.HousingTravel)
}

// held is the dwell that the controller holds at a speed in degrees a µs.
func (s *setup) held(rate float64) float64 {
	if rate*(1e6/6) < s.below {
		return s.dwellOn
	}
	return s.dwell
}

// firstAfterCam is the firing whose crank edge comes next after the cam edge when all stands where the settings say.
func firstAfterCam(c Config, tdc []float64) int {
	best, first := math.Inf(1), 0
	for k, a := range tdc {
		way := math.Mod(a-float64(c.Crank.At)+float64(c.Cam.At)+1440, 720)
		if way < best {
			best, first = way, k
		}
	}
	return first
}

// wiring says which cylinder's plug hangs on the tower of firing j.
func wiring(order []int, f Faults) []int {
	n := len(order)
	w := make([]int, n)
	for j := range w {
		from := j - f.Tower
		if f.Reversed {
			from = -j + f.Tower
		}
		w[j] = order[((from%n)+n)%n]
	}
	if f.Swapped[0] != 0 {
		exchange(w, f.Swapped[0], f.Swapped[1])
	}
	return w
}

// exchange changes two cylinders' wires over.
func exchange(wires []int, a, b int) {
	for j, c := range wires {
		switch c {
		case a:
			wires[j] = b
		case b:
			wires[j] = a
		}
	}
}

// middleAdvance is the middle of what the controller may command.
func middleAdvance(k Controller) float64 {
	low, high := float64(min(k.Cranking, k.Locked)), float64(max(k.Cranking, k.Locked))
	for _, p := range k.Map {
		low, high = min(low, float64(p.Advance)), max(high, float64(p.Advance))
	}
	return (low + high) / 2
}

// advance is what the controller commands at a measured speed in rpm.
func (s *setup) advance(rpm float64) float64 {
	switch {
	case rpm < s.below:
		return s.cranking
	case !s.unlocked || len(s.chart) == 0:
		return s.locked
	}
	p := s.chart
	if rpm <= float64(p[0].Speed) {
		return float64(p[0].Advance)
	}
	for i := 1; i < len(p); i++ {
		if rpm <= float64(p[i].Speed) {
			x := (rpm - float64(p[i-1].Speed)) / float64(p[i].Speed-p[i-1].Speed)
			return float64(p[i-1].Advance) + x*float64(p[i].Advance-p[i-1].Advance)
		}
	}
	return float64(p[len(p)-1].Advance)
}

// current is the primary current in A after a charge of dwell µs: V/R·(1 − e^(−R·t/L)), constant inductance.
func (s *setup) current(dwell, supply float64) quantity.Current {
	v := supply - float64(s.coil.DriverDrop)
	if v <= 0 || dwell <= 0 {
		return 0
	}
	r, l := float64(s.coil.Resistance), float64(s.coil.Inductance)
	return quantity.Current(v / r * (1 - math.Exp(-r*dwell*1e-6/l)))
}
