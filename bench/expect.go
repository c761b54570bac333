package bench

import (
	"math"

	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/quantity"
)

// Behaviour says how the engine goes.
type Behaviour string

// How an engine may go. Limits between them are assumed.
const (
	Runs       Behaviour = "runs"
	Sluggish   Behaviour = "sluggish and hot" // sparks after TDC
	WeakSparks Behaviour = "weak sparks"
	Misfires   Behaviour = "misfires"   // some cylinders get their spark elsewhere or not always
	KicksBack  Behaviour = "kicks back" // far too early while cranking
	SpitsBack  Behaviour = "spits back" // sparks on the exhaust or intake stroke: will not start
	NoSpark    Behaviour = "no spark"
)

// Expectation is what a sound instrument should show on one wire at one speed, as a distribution.
type Expectation struct {
	Flashes   bool           // the light flashes at all
	Shown     quantity.Crank // mean of the steady flashes
	FlashSD   quantity.Crank // standard deviation of single flashes about it
	ReadingSD quantity.Crank // of one reading: eye, rounding, and what is left of the flashes' scatter
	// share of flashes that stand somewhere else (noise, crossfire, a spark to the neighbour's tower)
	Wild      float64
	Walk      quantity.Crank // change of the reading in a minute
	Misread   float64        // share of readings misread
	Tacho     float64        // what the light's tachometer shows over the true speed
	Truth     quantity.Crank // true advance on that cylinder's own cycle, −360…360
	Crank     Lamp           // at rest, about cylinder 1's trigger lead
	Cam       Lamp
	Behaviour Behaviour
}

// Lamp is a test lamp or logic state on a pickup while the engine stands 2° before cylinder 1's trigger lead, and 2°
// after it.
type Lamp struct{ Before, After Glow }

// Glow is what the lamp shows.
type Glow string

// What a lamp may show.
const (
	GlowHigh Glow = "high"
	GlowLow  Glow = "low"
	NoSignal Glow = "no signal" // unpowered, not fitted, or a pickup that gives nothing at rest
)

// Model is an engine prepared for many expectations. It is safe for use by several goroutines.
type Model struct {
	c    Config
	turn *cranking.Turning // nil: the starter would not turn it; cranking is then taken as steady
}

// NewModel prepares an engine.
func NewModel(c Config) (*Model, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	turn, err := c.CrankOver()
	if err != nil {
		turn = nil
	}
	return &Model{c, turn}, nil
}

// course is a crank motion that repeats: times in µs, angles in degrees.
type course interface {
	When(angle float64) float64
	Where(time float64) float64
}

type steady float64 // °/µs

func (s steady) When(a float64) float64  { return a / float64(s) }
func (s steady) Where(t float64) float64 { return t * float64(s) }

// Expect is the closed form of the bench: what the light on a wire shows at a steady speed, without running the
// simulation. Below the speed that the controller takes for cranking the engine turns on its starter at its own
// cranking speed. Wires are named by their cylinder. Wild shares and the flashes' scatter are first-order sums (each
// flash disturbed by at most one cause), good to about a tenth of themselves.
func (m *Model) Expect(f Faults, speed quantity.Speed, wire int) Expectation {
	return m.With(f).Expect(speed, wire)
}

// Faulty is an engine with some faults, worked out once for many expectations. It is safe for use by several
// goroutines.
type Faulty struct {
	m *Model
	f Faults
	s *setup
}

// With is the engine with faults.
func (m *Model) With(f Faults) *Faulty { return &Faulty{m, f, newSetup(m.c, f)} }

// Expect is Model.Expect with these faults.
func (x *Faulty) Expect(speed quantity.Speed, wire int) Expectation {
	return x.m.expect(x.s, x.f, float64(speed), wire)
}

// shot is one firing's spark: when it comes, where it goes and how likely it goes astray.
type shot struct {
	cyl, pair int
	angle     float64 // unwrapped, from TDC firing of cylinder 1
	charge    float64 // µs of dwell
	miss      float64 // chance of taking the neighbour's tower
	slower    float64 // crank speed at the spark over that at its edge
	slowest   float64 // and over that at the edge before
}

func (m *Model) expect(s *setup, f Faults, rpm float64, wire int) Expectation {
	out := Expectation{
		Walk: -engine.ShaftToCrank(f.Clamp), Misread: s.misread, Tacho: 1, Behaviour: NoSpark,
		Crank: lampOf(&s.crank, s, s.n, float64(m.c.Crank.At)), Cam: Lamp{NoSignal, NoSignal},
	}
	if s.sync {
		out.Cam = lampOf(&s.cam, s, 1, float64(m.c.Crank.At))
	}
	if s.swapped {
		out.Crank, out.Cam = out.Cam, out.Crank
	}
	if s.doubled {
		out.Tacho = 2
	}
	var way course = steady(6e-6 * rpm)
	rate := 6e-6 * rpm
	cranking := rpm < s.below
	if cranking && m.turn != nil {
		way, rate = m.turn, 6e-6*float64(m.turn.Mean)
	}
	var room [16]shot
	shots := s.shots(way, rate, room[:0])
	if len(shots) == 0 {
		return out
	}
	q := (s.lead - s.advance(rate*(1e6/6))) / s.gap[0]
	out.Wild = s.wild(rate, q)
	variance := 0.0
	for i := range shots {
		sh := &shots[i]
		if sh.cyl != wire && sh.pair != wire {
			continue
		}
		angle := way.Where(way.When(sh.angle) + max(s.lightLag+s.dial/rate, 0))
		shown := s.shown(wire, angle)
		out.Wild = out.Wild + sh.miss - out.Wild*sh.miss
		variance = s.scatter(q, sh.slower, sh.slowest)
		if out.Flashes { // the other spark of a companion pair, half of the flashes
			half := wrap(shown-float64(out.Shown), 360) / 2
			out.Shown = quantity.Crank(wrap(float64(out.Shown)+half, 360))
			variance += half * half
		} else {
			out.Shown = quantity.Crank(shown)
		}
		if a := -wrap(sh.angle-s.tdcOf(wire), 720); !out.Flashes || math.Abs(a) < math.Abs(float64(out.Truth)) {
			out.Truth = quantity.Crank(a)
		}
		out.Flashes = true
	}
	out.FlashSD = quantity.Crank(math.Sqrt(variance))
	if s.doubled {
		out.FlashSD *= 2
	}
	out.ReadingSD = readingSD(s.light, out.FlashSD)
	out.Behaviour = s.behaviour(shots, cranking)
	return out
}

// readingSD puts eye, rounding and the median of the flashes together. The median of n normal values has π/2 times the
// variance of their mean.
func readingSD(l Light, flash quantity.Crank) quantity.Crank {
	n := float64(max(l.Flashes, 1))
	round := float64(l.Resolution) / math.Sqrt(12)
	return quantity.Crank(math.Sqrt(float64(l.Eye)*float64(l.Eye) + round*round +
		math.Pi/2*float64(flash)*float64(flash)/n))
}

// shots works out every firing's spark at a steady motion.
func (s *setup) shots(way course, rate float64, out []shot) []shot {
	if s.crank.dead || s.swapped || s.sync && s.cam.dead || !s.sync && !s.steers && s.n > 1 {
		return nil
	}
	edges := s.crank.leave
	if s.crank.inVane == s.crank.rising {
		edges = s.crank.enter
	}
	extra := 0.0
	if s.crank.reluctor {
		_, fire, seen := s.crank.swing(rate)
		if !seen {
			return nil
		}
		extra = fire
	}
	at := func(k int) float64 { // unwrapped angle of firing k's active edge, k may be −1
		cycle := 0.0
		if k < 0 {
			k, cycle = k+s.n, -720
		}
		a := edges[k] + extra + s.tdc[k] + s.shift + cycle
		if s.wobble == 0 {
			return a
		}
		return a + s.wobble*math.Sin(float64(engine.CrankToShaft(quantity.Crank(a)))*degree)
	}
	index := 0 // the controller's number of physical firing 0
	if s.sync {
		cam := s.cam.leave
		if s.cam.inVane == s.cam.rising {
			cam = s.cam.enter
		}
		edge := cam[0] + s.shift
		if s.cam.reluctor {
			if _, fire, seen := s.cam.swing(rate); seen {
				edge += fire
			} else {
				return nil
			}
		}
		best, after := math.Inf(1), 0
		for k := range s.tdc {
			w := at(k) - edge + (s.crank.delay-s.cam.delay)*rate
			w -= 720 * math.Floor(w/720)
			if w < best {
				best, after = w, k
			}
		}
		index = s.m0 - after
	}
	before := at(-1)
	came, paced := way.When(before), 1.0
	if turn, ok := way.(*cranking.Turning); ok {
		paced = pace(turn, before)
	}
	for k := 0; k < s.n; k++ {
		edge := at(k)
		t := way.When(edge)
		interval := t - came
		came = t
		i := ((k+index)%s.n + s.n) % s.n
		gap := 720 / float64(s.n)
		if s.sync {
			gap = s.gap[i]
		}
		guess := gap / interval
		wait := max((s.lead-s.advance(guess*(1e6/6)))/guess-s.allowance, s.latency)
		angle := way.Where(t + s.crank.delay + wait + s.sparkAt)
		dwell := s.held(guess)
		sh := shot{angle: angle, charge: dwell, slower: 1, slowest: 1}
		if turn, ok := way.(*cranking.Turning); ok {
			spark, now := pace(turn, angle), pace(turn, edge)
			sh.slower, sh.slowest = spark/now, spark/paced
			paced = now
		}
		if s.shared {
			sh.charge = min(dwell, interval-s.off)
		}
		if s.steers {
			j, _, miss := s.tower(angle, k)
			sh.cyl, sh.miss = s.wires[j], miss
		} else {
			sh.cyl = s.order[i]
			if s.pairs && s.n%2 == 0 {
				sh.pair = s.order[(i+s.n/2)%s.n]
			}
		}
		if sh.charge > 0 {
			out = append(out, sh)
		}
	}
	return out
}

// pace is the crank speed about an angle, up to a factor.
func pace(t *cranking.Turning, angle float64) float64 {
	return 1 / (t.When(angle+0.5) - t.When(angle-0.5))
}

// scatter is the variance of single flashes. An edge off by δ moves the spark by δ and, through the measured interval,
// by q·(δ − δ of the edge before) more, q = (L−a)/spacing; where the crank is slower at the spark than at the edges the
// time lost there covers less angle.
func (s *setup) scatter(q, slower, slowest float64) float64 {
	a, b := (1+q)*slower, q*slowest
	v := s.worn * s.worn * (a*a + b*b)
	if s.lash > 0 {
		// Two flanks, and both edges of a vane may change between them: of two active edges in a row, 1 − 2·p·(1−p) lie
		// on the same flank, which correlates them by this much; p = 0.15.
		const together = 1 - 2*(2*0.15*0.85)
		v += s.lash * s.lash / 4 * (a*a + b*b - 2*a*b*together)
	}
	return v
}

// wild is the share of flashes at a wrong place because of an extra edge. That edge makes the interval wrong that the
// next true edge measures. It also brings a spark of its own, unless the coil was already being charged for the true
// edge's spark, as it is where the dwell is longer than the wait.
func (s *setup) wild(rate, q float64) float64 {
	p := 0.0
	if s.noise > 0 {
		p += s.noise * (1 - s.blank)
	}
	if s.crossfire > 0 && q > s.blank && q < 1 {
		p += s.crossfire * crossfireAt(rate*(1e6/6), s.worst, s.redline)
	}
	p = min(p, 1)
	if q*s.gap[0]/rate-s.allowance > s.held(rate) {
		return 2 * p / (1 + p)
	}
	return p
}

// behaviour judges the sparks of a cycle.
func (s *setup) behaviour(shots []shot, cranking bool) Behaviour {
	least := s.least
	if cranking {
		least = s.leastOn
	}
	early, lateSparks, far, exhaust, weak, missed := 0, 0, 0, 0, 0, 0
	right := 0
	for i := range shots {
		sh := &shots[i]
		a := -wrap(sh.angle-s.tdcOf(sh.cyl), 720)
		if sh.pair != 0 { // one of the pair is on compression
			if b := -wrap(sh.angle-s.tdcOf(sh.pair), 720); math.Abs(b) < math.Abs(a) {
				a = b
			}
		}
		switch d := math.Abs(a); {
		case d > gasFrom:
			exhaust++
		case d > firesTo:
			far++
		default:
			right++
			if a > kicksFrom {
				early++
			}
			if a < 0 {
				lateSparks++
			}
		}
		if sh.charge < least {
			weak++
		}
		if sh.miss > 0 {
			missed++
		}
	}
	wildly := s.noise*(1-s.blank) + s.crossfire
	switch {
	case exhaust > s.n/2:
		return SpitsBack
	case cranking && early > 0:
		return KicksBack
	case far+exhaust > 0 || missed > 0 || len(shots) < s.n || wildly > 0.05:
		return Misfires
	case weak > 0:
		return WeakSparks
	case lateSparks > 0:
		return Sluggish
	}
	return Runs
}

// lampOf finds a pickup's level at rest about a lead before cylinder 1's TDC.
func lampOf(w *wheel, s *setup, vanes int, lead float64) Lamp {
	return Lamp{s.glow(w, vanes, -lead-2), s.glow(w, vanes, -lead+2)}
}

// glow is a pickup's level with the crank at rest at an angle.
func (s *setup) glow(w *wheel, vanes int, angle float64) Glow {
	if w.dead || w.reluctor {
		return NoSignal
	}
	in := false
	for k := 0; k < vanes; k++ {
		from := w.enter[k] + s.shift
		if vanes > 1 {
			from += s.tdc[k]
		}
		way := angle - from
		way -= 720 * math.Floor(way/720)
		in = in || way < w.leave[k]-w.enter[k]
	}
	if in == w.inVane {
		return GlowHigh
	}
	return GlowLow
}

// Lamps are the two test lamps at rest with the crank standing at a position, as an advance before cylinder 1's TDC of
// compression.
func (m *Model) Lamps(f Faults, before quantity.Crank) (crank, cam Glow) {
	return m.With(f).Lamps(before)
}

// Lamps is Model.Lamps with these faults.
func (x *Faulty) Lamps(before quantity.Crank) (crank, cam Glow) {
	s := x.s
	crank, cam = s.glow(&s.crank, s.n, -float64(before)), NoSignal
	if s.sync {
		cam = s.glow(&s.cam, 1, -float64(before))
	}
	if s.swapped {
		crank, cam = cam, crank
	}
	return crank, cam
}
