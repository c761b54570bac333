package suspects

import (
	"fmt"
	"math"
	"slices"

	"phasewright/bench"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Engine is one engine prepared for weighing evidence. It may be used by several goroutines.
type Engine struct {
	c      bench.Config
	model  *bench.Model
	table  []bench.Fault
	faults [faultCount]fault
	fits   [faultCount]bool
	priors Priors
	// the timing that the card allows, degrees: what lies within it is no fault
	tolerance float64
	uneven    bool // vanes of unlike widths
	// nobody wrote down whether the crank pickup stands high or low in a vane
	vaneUnsure bool
	least      float64 // usual spacing between firings, crank degrees
	// how much less a degree or µs of a straight fault moves the spark on the starter: the crank slows towards it
	pace [faultCount]float64
	zero float64 // standard uncertainty of a zero mark that was proven, degrees
}

// New prepares the engine of a job card.
func New(card *jobcard.Card, p Priors) (*Engine, error) {
	for _, x := range []struct {
		path  string
		given bool
	}{{"controller.advance.locked", card.Controller.Advance.Locked.Given()},
		{"controller.advance.cranking", card.Controller.Advance.Cranking.Given()}} {
		if !x.given {
			return nil, fmt.Errorf("job card – %s is not given. What the light shows is weighed against it – "+
				"read it in the controller and write it on the card", x.path)
		}
	}
	c, err := bench.FromCard(card)
	if err != nil {
		return nil, err
	}
	e, err := NewFor(c, p)
	if err != nil {
		return nil, err
	}
	e.vaneUnsure = card.Assumed("signals.crank.in_vane")
	if card.Damper.ZeroMark > 0 {
		e.zero = float64(card.Damper.ZeroMark) / math.Sqrt(3)
	}
	if t := float64(card.Tolerance); t > 0 {
		e.tolerance = t
	}
	if f := card.Engine.Fuel; f != "" && f != jobcard.Port {
		e.fits[injector] = false
	}
	if card.Ignition.Output == jobcard.SparkBox { // a box makes its own current
		e.fits[ballast] = false
	}
	return e, nil
}

// battery is the supply that the card has with the engine standing.
func (e *Engine) battery() float64 { return float64(e.c.Starter.Rest) }

// delayLeaves is what a delay that keeps the timing within the tolerance leaves, one standard deviation, µs.
func (e *Engine) delayLeaves() float64 {
	return tolerated * e.tolerance / (degreesPerUS * float64(e.c.Engine.Redline))
}

// NewFor prepares a bench engine.
func NewFor(c bench.Config, p Priors) (*Engine, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	m, err := bench.NewModel(c)
	if err != nil {
		return nil, err
	}
	e := &Engine{c: c, model: m, table: bench.FaultTable(), priors: p, least: 720, zero: 0.2, tolerance: 1}
	e.faults, e.fits = faultsOf(&c)
	for _, g := range c.Engine.Intervals {
		e.least = min(e.least, float64(g))
	}
	for _, v := range c.Crank.Vanes {
		e.uneven = e.uneven || v != c.Crank.Vanes[0]
	}
	for k, r := range e.table {
		e.pace[k] = 1
		if k != housing && k != lead && k != dial && k != delay && k != allowance && k != lightDelay {
			continue
		}
		at := func(n, size float64) float64 {
			var f bench.Faults
			r.Set(&f, size)
			return float64(m.Expect(f, quantity.Speed(n), 1).Shown)
		}
		step, n := 0.1*math.Abs(r.Typical), float64(c.Engine.CrankingSpeed)
		even := 1.2 * float64(c.Controller.CrankingBelow)
		scale := 1.0
		if r.Kind == bench.TimeValue { // steady motion: the angle in a µs grows with speed
			scale = n / even
		}
		if q := (at(n, step) - at(n, 0)) / (scale * (at(even, step) - at(even, 0))); q > 0.3 && q < 2 {
			e.pace[k] = q
		}
	}
	return e, nil
}

// point is the engine with faults at given sizes: what predictions are made for.
type point struct {
	e        *Engine
	f        bench.Faults
	in       set
	picks    []pick
	inverted bool                    // the wrong edge comes from an inverted signal, not from the setting
	shows    [2]*asked               // by the engine's own light, by another; nil: nothing was asked yet
	kept     map[bench.Faults]*asked // of faults that others are weighed beside; nil: nothing is kept
	room     [2]asked                // where nothing is kept
	calm     *point                  // quiet
}

// asked is what the bench was asked of an engine with some faults, each question once.
type asked struct {
	x     *bench.Faulty
	looks []lookup
	lamps []lampLook
}

type lampLook struct {
	at         float64
	crank, cam bench.Glow
}

type lookup struct {
	rpm  float64
	wire int
	x    bench.Expectation
}

func (p *point) reset(f bench.Faults, in set, picks []pick, inverted bool) {
	p.f, p.in, p.picks, p.inverted = f, in, picks, inverted
	p.shows, p.calm = [2]*asked{}, nil
}

// bench is the engine with the faults of the point, looked at with its own light or another.
func (p *point) bench(other bool) *asked {
	f, way := p.f, 0
	if other && (f.Dial != 0 || f.TwoSpark || f.LightDelay != 0) {
		f.Dial, f.TwoSpark, f.LightDelay = 0, false, 0
		way = 1
	}
	if a := p.shows[way]; a != nil {
		return a
	}
	a := p.kept[f]
	switch {
	case a != nil:
	case p.kept != nil:
		a = &asked{x: p.e.model.With(f)}
		p.kept[f] = a
	default:
		a = &p.room[way]
		a.x, a.looks, a.lamps = p.e.model.With(f), a.looks[:0], a.lamps[:0]
	}
	p.shows[way] = a
	return a
}

// expect asks the bench, once for each question.
func (p *point) expect(rpm float64, wire int, other bool) *bench.Expectation {
	a := p.bench(other)
	for i := range a.looks {
		if l := &a.looks[i]; l.rpm == rpm && l.wire == wire {
			return &l.x
		}
	}
	a.looks = append(a.looks, lookup{rpm, wire, a.x.Expect(quantity.Speed(rpm), wire)})
	return &a.looks[len(a.looks)-1].x
}

func (p *point) cranking() bench.Expectation {
	return p.goes(float64(p.e.c.Engine.CrankingSpeed))
}
func (p *point) idle() bench.Expectation {
	return p.goes(max(float64(p.e.c.Engine.Idle), float64(p.e.c.Controller.CrankingBelow)))
}
func (p *point) high() bench.Expectation {
	return p.goes(0.8 * float64(p.e.c.Engine.Redline))
}

// goes is how the engine goes at a speed. An engine whose coil is marginal by the bench's sum is not said to spark
// weakly for that: it runs as its owner knows it, until dwell or supply are less than they were.
func (p *point) goes(rpm float64) bench.Expectation {
	x := *p.expect(rpm, 1, false)
	if x.Behaviour == bench.WeakSparks && p.f.Dwell == 0 && p.f.Supply == 0 {
		x.Behaviour = bench.Runs
	}
	return x
}

// ahead is how far the shaft stands ahead of its true place by teeth and half turns, and early how far cap and pickups
// come sooner by the housing, crank degrees.
func (p *point) ahead() (shaft, housing float64) {
	c, f := &p.e.c, &p.f
	housing = float64(engine.ShaftToCrank(f.Housing))
	if c.Distributor.GearTeeth > 0 && f.Tooth != 0 {
		shaft = float64(f.Tooth) * engine.CycleDegrees / float64(c.Distributor.GearTeeth)
		reach := float64(engine.ShaftToCrank(c.Distributor.HousingTravel))
		housing -= min(max(shaft, -reach), reach)
	}
	if f.HalfTurn {
		shaft += 360
	}
	return shaft, housing
}

// tip is where the rotor tip stands ahead of its place, shaft degrees, with the crank at the lead's mark on
// compression.
func (p *point) tip() float64 {
	shaft, housing := p.ahead()
	turned := quantity.Crank(shaft+housing) + p.f.Damper
	return wrap(float64(engine.CrankToShaft(turned)+p.f.Rotor), 360)
}

// wire is the cylinder whose wire hangs on the tower that the tip stands at, 0 between two towers.
func (p *point) wire() int {
	order, n := p.e.c.Engine.FiringOrder, p.e.c.Engine.Cylinders
	at := p.tip() * float64(n) / 360
	j := int(math.Round(at))
	if math.Abs(at-float64(j)) > 0.35 {
		return 0
	}
	from := j - p.f.Tower
	if p.f.Reversed {
		from = -j + p.f.Tower
	}
	c := order[((from%n)+n)%n]
	switch s := p.f.Swapped; {
	case s[0] == 0:
	case c == s[0]:
		c = s[1]
	case c == s[1]:
		c = s[0]
	}
	return c
}

// quiet is the same engine without crossfire: the bench's word for how it goes does not know at which speed that comes.
func (p *point) quiet() *point {
	if p.f.Crossfire == 0 {
		return p
	}
	if p.calm == nil {
		p.calm = &point{e: p.e}
		f := p.f
		f.Crossfire = 0
		p.calm.reset(f, p.in, p.picks, p.inverted)
	}
	return p.calm
}

// at is the variant of a fault at the point: the cylinder that it sits on, the vane, the way of a swing.
func (p *point) at(k int) int {
	if k == acrossWave {
		k = wobble
	}
	for i := range p.picks {
		if p.picks[i].k == k {
			return p.picks[i].at
		}
	}
	return 0
}

// sparks says whether there are sparks for a light to flash by, as far as the faults of the table go.
func (p *point) sparks() bool {
	for i := range p.picks {
		if p.picks[i].stops {
			return false
		}
	}
	return true
}

// misfires is how likely each cylinder is seen to misfire at idle.
func (p *point) misfires(wire int) float64 {
	p = p.quiet()
	b := p.idle()
	switch b.Behaviour {
	case bench.NoSpark:
		return 0.9
	case bench.Runs, bench.Sluggish:
		return 0.01
	case bench.WeakSparks:
		return 0.25
	}
	x := p.expect(max(float64(p.e.c.Engine.Idle), float64(p.e.c.Controller.CrankingBelow)), wire, false)
	if !x.Flashes || math.Abs(float64(x.Truth)) > 40 {
		return 0.95
	}
	if p.f.Noise == 0 && x.Wild > 0.002 {
		// the gap from tip to tower takes most of every spark, not only of those that stray
		return 0.85
	}
	return min(0.03+3*x.Wild, 0.8)
}

// lamp is the level of a pickup with the crank at a true position.
func (p *point) lamp(before float64) (crank, cam bench.Glow) {
	a := p.bench(false)
	i := slices.IndexFunc(a.lamps, func(l lampLook) bool { return l.at == before })
	if i < 0 {
		i = len(a.lamps)
		crank, cam = a.x.Lamps(quantity.Crank(before))
		a.lamps = append(a.lamps, lampLook{before, crank, cam})
	}
	crank, cam = a.lamps[i].crank, a.lamps[i].cam
	if p.inverted {
		crank = opposite(crank)
	}
	return crank, cam
}

func opposite(g bench.Glow) bench.Glow {
	switch g {
	case bench.GlowHigh:
		return bench.GlowLow
	case bench.GlowLow:
		return bench.GlowHigh
	}
	return g
}

func wrap(a, turn float64) float64 {
	a -= turn * math.Floor(a/turn)
	if a > turn/2 {
		a -= turn
	}
	return a
}
