package bench

import (
	"math"
	"math/rand/v2"

	"phasewright/cranking"
	"phasewright/quantity"
)

// Rig is one run of the simulated engine. Make it with NewRig, then take its events with Run. The same Config, Faults,
// Profile and seed give the same events.
type Rig struct {
	s      *setup
	motion motion
	rng    *rand.Rand
	noisy  bool
	q      queue
	now    float64 // µs
	rate   float64 // °/µs at the last event
	brain  brain
	end    float64

	firing, edge int // next crank vane (counts on over the cycles) and which of its edges
	camTurn      int // next cam vane's cycle, and edge
	camEdge      int
	mark         int // next mark, in turns
	atCrank      float64
	atCam        float64
	crankSeen    bool
	camSeen      bool
	slack        float64 // drive flank
	crept        float64 // housing, crank degrees later
	creptAt      float64
	crankLevel   bool
	camLevel     bool
	lastFlash    float64
	ahead        int     // tower that the rotor meets next
	headTime     float64 // of the queue's soonest, and the crank angle then
	headAngle    float64
	ev           Event

	// noise on recorded signals: apart, so that a recording does not change the run
	grain *rand.Rand
	// told of each variable-reluctance zero crossing, for recordings; nil: nobody
	pulse func(input EventKind, time, rate float64)
}

// NewRig sets the engine up for a profile. It fails with a *quantity.Invalid that says what cannot be.
func NewRig(c Config, f Faults, p Profile, seed uint64) (*Rig, error) {
	return newRigOn(c, f, p, nil, seed)
}

// newRigOn takes the steady turning on the starter where it is known already.
func newRigOn(c Config, f Faults, p Profile, turn *cranking.Turning, seed uint64) (*Rig, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if err := f.Check(c); err != nil {
		return nil, err
	}
	if err := p.Check(c); err != nil {
		return nil, err
	}
	for _, part := range p {
		if part.Kind == OnStarter && turn == nil {
			var err error
			if turn, err = c.CrankOver(); err != nil {
				return nil, err
			}
		}
	}
	r := newRig(newSetup(c, f), newImposed(p, turn), seed)
	r.end = float64(p.Duration())
	return r, nil
}

// seedMix is the second word of the generator's state: any odd constant does (here 2⁶⁴ over the golden ratio).
const seedMix = 0x9e3779b97f4a7c15

func newRig(s *setup, m motion, seed uint64) *Rig {
	r := &Rig{s: s, motion: m, rng: rand.New(rand.NewPCG(seed, seedMix)), brain: newBrain(s), lastFlash: math.NaN(),
		headTime: math.NaN()}
	r.grain = rand.New(rand.NewPCG(seed, seedMix^0xff))
	r.noisy = s.worn > 0
	r.rate = m.speed(0)
	r.start(m.where(0))
	return r
}

// start looks for the first edges after an angle.
func (r *Rig) start(angle float64) {
	s := r.s
	cycle := int(math.Floor(angle/720)) - 2
	r.firing, r.edge, r.camTurn, r.camEdge = cycle*s.n, 0, cycle, 0
	r.nextCrank(angle)
	for r.atCrank <= angle {
		r.stepCrank()
		r.nextCrank(angle - 1000)
	}
	r.nextCrank(angle)
	if s.sync {
		r.nextCam(angle)
		for r.atCam <= angle {
			r.stepCam()
			r.nextCam(angle - 1000)
		}
	} else {
		r.atCam = math.Inf(1)
	}
	r.mark = int(math.Floor(angle/360)) + 1
	// Levels at rest are what the vanes say there.
	r.crankLevel = (r.edge == 1) == s.crank.inVane
	r.camLevel = (r.camEdge == 1) == s.cam.inVane
}

func (r *Rig) stepCrank() {
	if r.edge++; r.edge == 2 {
		r.edge = 0
		r.firing++
	}
}

func (r *Rig) stepCam() {
	if r.camEdge++; r.camEdge == 2 {
		r.camEdge = 0
		r.camTurn++
	}
}

// nextCrank finds where the next crank-vane edge passes its pickup, not before the crank's present place.
func (r *Rig) nextCrank(from float64) {
	s := r.s
	cycle, k := r.firing/s.n, r.firing%s.n
	if k < 0 {
		k += s.n
		cycle--
	}
	var at float64
	first, second, seen := s.crank.offsets(k, r.rate)
	r.crankSeen = seen && !s.crank.dead
	if at = first; r.edge == 1 {
		at = second
	}
	at += 720*float64(cycle) + s.tdc[k] + s.shift + r.crept
	r.atCrank = max(at+r.drive(at), from)
}

func (r *Rig) nextCam(from float64) {
	s := r.s
	if !s.sync {
		return
	}
	first, second, seen := s.cam.offsets(0, r.rate)
	r.camSeen = seen && !s.cam.dead
	at := first
	if r.camEdge == 1 {
		at = second
	}
	at += 720*float64(r.camTurn) + s.shift + r.crept
	r.atCam = max(at+r.drive(at), from)
}

// drive is what the drive of the distributor adds to an edge: scatter, the bushing's swing once a shaft turn, and the
// flank the gear lies on.
func (r *Rig) drive(at float64) float64 {
	s := r.s
	d := 0.0
	if r.noisy {
		d = s.worn * r.rng.NormFloat64()
	}
	if s.wobble != 0 {
		d += s.wobble * math.Sin(at/2*degree)
	}
	if s.lash != 0 {
		const flips = 0.15 // share of edges at which the gear changes flank; assumed
		if r.rng.Float64() < flips {
			r.slack = -r.slack
		}
		if r.slack == 0 {
			r.slack = s.lash / 2
		}
		d += r.slack
	}
	return d
}

// Run gives every event up to the end of the profile, in order of time. The event is reused: copy what is to be kept.
// It stops early when see returns false.
func (r *Rig) Run(see func(*Event) bool) {
	for r.advance(r.end, see) && r.now < r.end {
	}
}

// advance gives the events up to time, and says whether see wants more.
func (r *Rig) advance(time float64, see func(*Event) bool) bool {
	r.headTime = math.NaN()
	for {
		angle, which := r.atCrank, CrankEdge
		if r.atCam < angle {
			angle, which = r.atCam, CamEdge
		}
		if m := float64(r.mark) * 360; m < angle {
			angle, which = m, Mark
		}
		// What is due at a known time comes first where the crank gets there first. Asking for its angle before asking
		// when the vane arrives keeps a motion that depends on the sparks from being carried beyond the next spark.
		if r.q.n > 0 && r.q.soonest().time <= time {
			head := r.q.soonest()
			if head.time != r.headTime {
				r.headTime, r.headAngle = head.time, r.motion.where(head.time)
			}
			if r.headAngle <= angle {
				r.q.n--
				if !r.due(*head, r.headAngle, see) {
					return false
				}
				continue
			}
		}
		at := max(r.motion.when(angle), r.now)
		if at > time {
			r.now = time
			return true
		}
		r.now = at
		r.rate = r.motion.speed(at)
		if !r.metal(which, angle, see) {
			return false
		}
	}
}

// metal is a vane edge or the mark passing.
func (r *Rig) metal(which EventKind, angle float64, see func(*Event) bool) bool {
	s := r.s
	switch which {
	case Mark:
		r.mark++
		r.ev = Event{Kind: Mark, Time: quantity.Time(r.now), Turned: angle, Speed: quantity.Speed(r.rate * (1e6 / 6))}
		return see(&r.ev)
	case CrankEdge:
		if r.crankSeen {
			r.signal(&s.crank, r.edge == 0, CrankEdge)
		}
		if s.crank.reluctor && r.edge == 1 && r.pulse != nil && !s.crank.dead {
			r.crossing(&s.crank, CrankEdge)
		}
		r.stepCrank()
		if s.creep != 0 {
			r.creeps()
		}
		if s.noise > 0 && r.edge == 0 && r.rng.Float64() < s.noise {
			r.spike(r.now + r.rng.Float64()*720/float64(s.n)/r.rate)
		}
		r.nextCrank(angle)
	case CamEdge:
		if r.camSeen {
			r.signal(&s.cam, r.camEdge == 0, CamEdge)
		}
		if s.cam.reluctor && r.camEdge == 1 && r.pulse != nil && !s.cam.dead {
			r.crossing(&s.cam, CamEdge)
		}
		r.stepCam()
		r.nextCam(angle)
	}
	return true
}

// creeps lets a loose housing follow the rotor's drag: steadily, and by jerks a third as large.
func (r *Rig) creeps() {
	dt := r.now - r.creptAt
	r.creptAt = r.now
	r.crept += r.s.creep * dt
	r.crept += r.s.creep * math.Sqrt(dt*60e6) / 3 * r.rng.NormFloat64()
}

// signal puts the electrical edge of a vane's edge on its way to the controller.
func (r *Rig) signal(w *wheel, entering bool, input EventKind) {
	high := entering == w.inVane
	if r.s.swapped {
		input = CrankEdge + CamEdge - input
	}
	r.q.push(&item{time: r.now + w.delay, what: input, high: high})
}

// crossing tells a recording where the pickup's true zero crossing lies that this firing belongs to.
func (r *Rig) crossing(w *wheel, input EventKind) {
	_, fire, _ := w.swing(r.rate)
	if r.s.swapped {
		input = CrankEdge + CamEdge - input
	}
	r.pulse(input, r.now-fire/r.rate+w.delay, r.rate)
}

// spike puts a short false pulse on the crank input.
func (r *Rig) spike(at float64) {
	const width = 40 // µs, assumed
	r.q.push(&item{time: at, what: CrankEdge, extra: true})
	r.q.push(&item{time: at + width, what: CrankEdge, extra: true})
}
