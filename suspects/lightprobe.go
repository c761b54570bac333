package suspects

import (
	"fmt"
	"math"
	"slices"

	"phasewright/bench"
	"phasewright/engine"
	"phasewright/quantity"
)

// degreesPerUS is 6 °/s per rpm over a µs.
const degreesPerUS = 6e-6

// lightCase is one look with the light.
type lightCase struct {
	rpm     float64
	wire    int
	other   bool
	minutes float64
	changed bool   // taken after a change of the allowance that was believed in force
	base    bool   // an allowance that is not in force counts from the card's value
	engine  string // cold, hot, under load; "": not said
}

func (l lightCase) name() string {
	s := fmt.Sprintf("light on wire %d at %.0f rpm", l.wire, l.rpm)
	if l.other {
		s = "another " + s
	}
	if l.engine != "" {
		s += ", " + l.engine
	}
	return s
}

// shownProbe is the advance that the light shows.
func (e *Engine) shownProbe(l lightCase) probe {
	n := l.rpm
	below := n < float64(e.c.Controller.CrankingBelow)
	if below {
		n = float64(e.c.Engine.CrankingSpeed)
	}
	late := -degreesPerUS * n
	q := probe{id: fmt.Sprintf("light %.0f wire %d", l.rpm, l.wire), key: "light.shown", saw: l.name(), unit: "°",
		u: math.Hypot(float64(e.c.Light.Eye), float64(e.c.Light.Resolution)/math.Sqrt(12)), turn: 360, odd: 0.004,
		span: 90, double: !l.other}
	if l.other {
		q.id = "other " + q.id
	}
	if l.engine != "" {
		q.id += " " + l.engine
	}
	q.ask = "read the " + l.name()
	if l.other {
		q.ask = fmt.Sprintf("read wire %d at %.0f rpm with another light, one known to be sound", l.wire, l.rpm)
	}
	q.loose = [nuisances]float64{nConstant: 1, nZero: 1, nDelay: late}
	if below {
		q.loose[nCranking] = 1
	}
	q.mean = func(p *point) (float64, float64, bool) {
		if !p.sparks() {
			return 0, 0, false
		}
		x := p.expect(l.rpm, l.wire, l.other)
		if !x.Flashes {
			return 0, 0, false
		}
		// readings hold the eye already; what the engine adds is what is left of the flashes' scatter, and flashes that
		// stand elsewhere
		sd := math.Sqrt(math.Pi/2) * float64(x.FlashSD) / math.Sqrt(float64(max(e.c.Light.Flashes, 1)))
		if x.Wild > 0.3 {
			each := 8.0
			if p.f.Crossfire == 0 { // most sparks go to another tower: which of them the eye takes is chance
				each = 60
			}
			sd += each * (x.Wild - 0.3)
		}
		if p.f.Unlocked && !below {
			sd = math.Hypot(sd, 3) // the map is not known so well
		}
		if p.f.Clamp > 0 {
			sd = math.Hypot(sd, math.Sqrt(math.Max(l.minutes, 0.1))*2/3)
		}
		shows := float64(x.Shown)
		if below { // how the crank slows is foretold for the spark in its place, or in another cylinder's
			sd = math.Hypot(sd, 0.15*math.Abs(wrap(shows-float64(e.c.Controller.Cranking), e.least)))
		}
		if p.f.Edge && p.at(edge) == mirrored {
			f := p.f
			f.Edge = false
			shows -= 2 * wrap(shows-float64(e.model.Expect(f, quantity.Speed(l.rpm), l.wire).Shown), 360)
		}
		if p.f.Edge { // the width of a vane is known to a degree or so
			sd = math.Hypot(sd, 1.2)
		}
		if p.f.Polarity && p.at(polarity) == curved { // the curve has no form that is known
			sd = math.Hypot(sd, 0.9)
		}
		if p.f.Edge && l.wire != 1 && e.uneven { // how a controller takes unlike intervals is its own affair
			sd = math.Hypot(sd, 3)
		}
		for _, o := range p.picks {
			if o.k >= benchFaults {
				sd = math.Hypot(sd, e.strays(o, l))
				shows += o.size * e.shape(p, o.k, o.at, l)
			}
		}
		return shows, sd, true
	}
	q.slope = func(p *point, fault int) float64 {
		if fault >= benchFaults || fault == wobble || fault == vane {
			return e.shape(p, fault, p.at(fault), l)
		}
		d := 1.0
		if p.f.TwoSpark && !l.other {
			d = 2
		}
		if below {
			d *= e.pace[fault]
		}
		switch fault {
		case housing:
			return float64(engine.ShaftToCrank(quantity.Shaft(d)))
		case lead:
			return -d
		case damper:
			return d
		case dial:
			if !l.other {
				return -d
			}
		case allowance:
			return -late * d
		case delay:
			return late * d
		case lightDelay:
			if !l.other {
				return late * d
			}
		case unstored:
			if l.changed || l.base {
				return late * d
			}
		case clamp:
			return -float64(engine.ShaftToCrank(quantity.Shaft(l.minutes * d)))
		}
		return 0
	}
	return q
}

// setRight marks a worn bushing's swing on an engine of which somebody set wire 1 right by the light.
const setRight = 1

// shape is how far a unit of a fault's size moves what the light shows, degrees: of the faults that the bench does not
// have, and of those that it has in one place only.
func (e *Engine) shape(p *point, fault, at int, l lightCase) float64 {
	switch fault {
	case wobble, acrossWave:
		crest := 0.0
		if fault == acrossWave {
			crest = math.Pi / 2
		}
		swing := func(wire int) float64 {
			return math.Cos(2*math.Pi*e.before(wire)/engine.CycleDegrees - crest)
		}
		if at != setRight {
			return swing(l.wire)
		}
		return swing(l.wire) - swing(1)
	case vane: // what the bench's bent vane does, on the wire that stands to this one as that wire to that vane
		const bent = 2 // the bench bends the third in the order
		order, n := e.c.Engine.FiringOrder, e.c.Engine.Cylinders
		if at > alone {
			if l.wire != order[(at-alone-1)%n] {
				return 0
			}
			return -float64(engine.ShaftToCrank(1))
		}
		if n <= bent {
			return 0
		}
		l.wire = order[((slices.Index(order, l.wire)-(at-1)+bent)%n+n)%n]
		return e.derivative(p, vane, l)
	case polarityShift, turnedBack:
		return 1
	case lateBefore:
		return -degreesPerUS * l.rpm
	case polarityCurve: // about the speed in the middle of the range, on a scale of ratios
		return math.Log(max(l.rpm, 50) / 1500)
	case heat:
		switch {
		case l.engine == "hot":
			return 1
		case l.engine == "cold":
			return 0
		}
		const warmsIn = 8 // minutes; common practice
		return 1 - math.Exp(-l.minutes/warmsIn)
	case advance: // weights lift a little over idle and reach their stop at a share of the redline
		from := 1.15 * float64(e.c.Engine.Idle)
		to := float64(e.c.Engine.Redline) * [...]float64{1, 0.45, 0.65, 0.85}[at]
		return min(max((l.rpm-from)/(to-from), 0), 1)
	case chain:
		return 1
	case cylinderOne: // the light is clamped on that cylinder's wire
		if at > 0 {
			return -e.before(at)
		}
	}
	return 0
}

// strays is how uncertain a fault makes what the light shows, degrees.
func (e *Engine) strays(o pick, l lightCase) float64 {
	if o.k == advance { // two springs make two slopes of the ramp
		x := e.shape(nil, advance, o.at, l)
		return 8 * x * (1 - x)
	}
	if o.k == orderTable && coils(&e.c) && (o.at == 0 && l.wire != 1 || o.sitsOn(l.wire)) {
		return 150
	}
	return 0
}

// before is how far a cylinder fires after cylinder 1, crank degrees.
func (e *Engine) before(cylinder int) float64 {
	at := 0.0
	for i, c := range e.c.Engine.FiringOrder {
		if c == cylinder {
			break
		}
		at += float64(e.c.Engine.Intervals[i])
	}
	return at
}

// derivative asks the bench what a unit of a fault does to a reading.
func (e *Engine) derivative(p *point, fault int, l lightCase) float64 {
	other := point{e: e, kept: p.kept}
	f := p.f
	step := 1.0
	e.table[fault].Set(&f, e.table[fault].Size(p.f)+step)
	other.reset(f, p.in, p.picks, p.inverted)
	a, b := p.expect(l.rpm, l.wire, l.other), other.expect(l.rpm, l.wire, l.other)
	if !a.Flashes || !b.Flashes {
		return 0
	}
	return wrap(float64(b.Shown-a.Shown), 360) / step
}

// flashProbe is how the flashes fall.
func (e *Engine) flashProbe(l lightCase) probe {
	q := probe{id: fmt.Sprintf("flashes %.0f wire %d", l.rpm, l.wire), key: "light.flashes", cyl: l.wire,
		saw: "flashes of the " + l.name() + ":", outcomes: flashWords}
	q.ask = "watch how the flashes fall: " + l.name()
	q.chances = func(p *point, out []float64) {
		x := p.expect(l.rpm, l.wire, l.other)
		if !x.Flashes {
			one(out, 6, 0.99)
			return
		}
		sd := float64(x.FlashSD)
		spread := 1 / (1 + math.Exp(-(math.Log(math.Max(sd, 1e-3))-math.Log(0.8))/0.18))
		wild := 1 - math.Pow(1-min(x.Wild, 1), 24) // of about two dozen flashes, one stands elsewhere
		split := 0.08
		if p.f.Lash > 0 {
			split = 0.5
		}
		out[3] = wild
		rest := 1 - wild
		out[0], out[1], out[2] = rest*(1-spread), rest*spread*(1-split), rest*spread*split
		if x.Wild > 0.2 { // so many stand elsewhere that the eye no longer sees which place is the right one
			out[1] += 0.25 * out[3]
			out[2] += 0.25 * out[3]
			out[3] *= 0.5
		}
		if p.f.Lash > 0 && l.rpm > 1.5*float64(e.c.Engine.Idle) { // at speed the drive may stay on one flank
			for i := range out {
				out[i] *= 0.5
			}
			out[0] += 0.5
		}
		out[4], out[5], out[6] = 0.004+0.1*out[3], 0.006+0.12*out[3], 0.004
		out[3] *= 0.78
	}
	return q
}

// markProbe is whether the mark is to be seen at all: the scale of a damper ends some tens of degrees from its zero.
func (e *Engine) markProbe(l lightCase) probe {
	shown := e.shownProbe(l)
	q := probe{id: fmt.Sprintf("mark %.0f wire %d", l.rpm, l.wire), key: "light.mark", cyl: l.wire,
		saw: "the mark, " + l.name(), outcomes: markWords}
	q.chances = func(p *point, out []float64) {
		at, sd, ok := shown.mean(p)
		if !ok {
			one(out, 1, 0.5)
			return
		}
		const seenTo, blur = 42, 9 // degrees either way; common practice
		blurred := math.Hypot(blur, 0.6*sd)
		one(out, 1, 0.01+0.97/(1+math.Exp((seenTo-math.Abs(wrap(at, 360)))/blurred)))
	}
	return q
}

// tachoProbe is the light's own tachometer against the true speed.
func (e *Engine) tachoProbe(l lightCase) probe {
	q := probe{id: "tachometer of the light", key: "light.tacho", saw: "the light's tachometer",
		ask: "compare the light's tachometer with the controller's speed", outcomes: []string{"agrees", "doubled"}}
	q.chances = func(p *point, out []float64) {
		if x := p.expect(l.rpm, l.wire, l.other); x.Tacho > 1.5 {
			one(out, 1, 0.98)
			return
		}
		one(out, 0, 0.985)
	}
	return q
}

// walkProbe is the same reading again after some minutes.
func (e *Engine) walkProbe() probe {
	q := probe{id: "repeat after five minutes", key: "light.after", saw: "the same reading five minutes later",
		ask: "read wire 1 at idle again after five minutes of running", unit: "° of change", u: 0.55, odd: 0.01,
		span: 60, turn: 0}
	q.mean = func(p *point) (float64, float64, bool) {
		x := p.idle()
		if !x.Flashes {
			return 0, 0, false
		}
		sd := float64(x.ReadingSD) * math.Sqrt2
		if p.f.Clamp > 0 {
			sd = math.Hypot(sd, math.Sqrt(5)*2/3)
		}
		return 5 * float64(x.Walk), sd, p.sparks()
	}
	q.slope = func(p *point, fault int) float64 {
		switch fault {
		case clamp:
			return -10
		case heat:
			return e.shape(p, heat, 0, lightCase{minutes: 5})
		}
		return 0
	}
	return q
}

// startProbe and runProbe put the bench's words for how an engine goes into what people see. The chances are our
// judgement.
func (e *Engine) startProbe() probe {
	q := probe{id: "starting", key: "engine.starting", saw: "on the starter:",
		ask:      "run the starter with fuel on and watch",
		outcomes: startWords}
	q.chances = func(p *point, out []float64) {
		started(p, out)
	}
	return q
}

// started is what is seen on the starter; far too late an engine starts badly and bangs.
func started(p *point, out []float64) {
	at := p.quiet().cranking()
	early := wrap(float64(at.Truth-p.e.c.Controller.Cranking), 720)
	if at.Flashes && early < -14 && early > -90 && (at.Behaviour == bench.Runs || at.Behaviour == bench.Sluggish) {
		copy(out, []float64{0.5, 0.2, 0.02, 0.06, 0.22})
		return
	}
	if at.Flashes && at.Behaviour == bench.Runs && early > 5 { // it begins to kick
		share := min((early-5)/15, 1)
		for i, x := range []float64{0.5, 0.07, 0.38, 0.03, 0.02} {
			sure := [...]float64{0.965, 0.02, 0.005, 0.005, 0.005}[i]
			out[i] = share*x + (1-share)*sure
		}
		return
	}
	if p.f.Tower != 0 && at.Behaviour == bench.Misfires { // every plug gets another's spark
		copy(out, []float64{0.32, 0.15, 0.1, 0.22, 0.21})
		return
	}
	copy(out, map[bench.Behaviour][]float64{ // starts, nothing, kicks, spits, bangs
		bench.Runs:       {0.965, 0.02, 0.005, 0.005, 0.005},
		bench.Sluggish:   {0.7, 0.15, 0.02, 0.04, 0.09},
		bench.WeakSparks: {0.35, 0.6, 0.01, 0.02, 0.02},
		bench.Misfires:   {0.6, 0.1, 0.08, 0.12, 0.1},
		bench.KicksBack:  {0.1, 0.04, 0.82, 0.03, 0.01},
		bench.SpitsBack:  {0.01, 0.12, 0.03, 0.64, 0.2},
		bench.NoSpark:    {0.01, 0.96, 0.01, 0.01, 0.01},
	}[at.Behaviour])
}

func (e *Engine) runProbe() probe {
	q := probe{id: "running", key: "engine.running", saw: "running:", ask: "run it from idle to high speed and watch",
		outcomes: runWords}
	q.chances = func(p *point, out []float64) { // fine, rough, will not rev, hot, does not run, cuts out
		if p.f.Crossfire > 0 { // it comes and goes with speed
			run(p.quiet(), out)
			for i, x := range []float64{0, 0.25, 0.2, 0, 0, 0.1} {
				out[i] = 0.45*out[i] + x
			}
			return
		}
		run(p, out)
		feel(p, out)
	}
	return q
}

// feel blends in what a driver feels of an error of the timing that the bench calls running: our judgement, from
// nothing at three degrees to most of it at thirteen.
func feel(p *point, out []float64) {
	at := p.idle()
	if !at.Flashes || at.Behaviour != bench.Runs && at.Behaviour != bench.Sluggish {
		return
	}
	early := wrap(float64(at.Truth-p.e.c.Controller.Locked), 720)
	if p.f.Unlocked {
		return
	}
	share := min(max((math.Abs(early)-3)/14, 0), 0.7)
	felt := [...]float64{0.2, 0.2, 0.17, 0.38, 0.04, 0.01} // late
	if early < -18 {
		felt = [...]float64{0.02, 0.16, 0.1, 0.34, 0.37, 0.01}
	}
	if early > 0 {
		felt = [...]float64{0.35, 0.32, 0.15, 0.11, 0.05, 0.02}
	}
	for i := range out {
		out[i] = (1-share)*out[i] + share*felt[i]
	}
}

// run puts the bench's words for how an engine runs into what people see.
func run(p *point, out []float64) {
	switch p.cranking().Behaviour {
	case bench.NoSpark, bench.SpitsBack:
		copy(out, []float64{0.01, 0.02, 0.01, 0.01, 0.95, 0.01})
		return
	}
	switch p.idle().Behaviour {
	case bench.NoSpark, bench.SpitsBack:
		copy(out, []float64{0.01, 0.02, 0.01, 0.01, 0.95, 0.01})
	case bench.Misfires:
		if p.f.Tower != 0 { // every plug gets another's spark
			copy(out, []float64{0.02, 0.46, 0.03, 0.01, 0.47, 0.01})
			return
		}
		copy(out, []float64{0.04, 0.85, 0.06, 0.01, 0.04, 0.01})
	case bench.WeakSparks:
		copy(out, []float64{0.1, 0.5, 0.3, 0.02, 0.08, 0.01})
	case bench.Sluggish:
		copy(out, []float64{0.15, 0.06, 0.17, 0.6, 0.02, 0.01})
	default:
		switch p.high().Behaviour {
		case bench.Misfires, bench.WeakSparks:
			copy(out, []float64{0.08, 0.3, 0.6, 0.01, 0.01, 0.01})
		case bench.Sluggish:
			copy(out, []float64{0.5, 0.05, 0.25, 0.19, 0.01, 0.01})
		default:
			copy(out, []float64{0.945, 0.025, 0.01, 0.008, 0.006, 0.006})
		}
	}
}
