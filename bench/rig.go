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

	crank, cam sensor
	mark       int     // next mark, in turns
	slack      float64 // drive flank
	crept      float64 // housing, crank degrees later
	creptAt    float64
	lastFlash  float64
	ahead      int     // tower that the rotor meets next
	headTime   float64 // of the queue's soonest, and the crank angle then
	headAngle  float64
	ev         Event

	// noise on recorded signals: apart, so that a recording does not change the run
	grain *rand.Rand
	// told of each variable-reluctance zero crossing, for recordings; nil: nobody
	pulse func(input EventKind, time, rate float64)
}

// sensor follows one pickup: which edge of which vane passes it next, and where.
type sensor struct {
	*wheel
	input EventKind
	tdc   []float64 // firing TDC that each vane belongs to; the cam pickup's one vane counts from 0
	vane  int       // the next vane, counted on over the cycles
	edge  int       // which of its edges is next: 0 the entering one, 1 the leaving one
	at    float64   // crank degrees where that passes; +Inf: the pickup is not fitted
	seen  bool      // the pickup answers at this speed
	level bool      // electrical level as the controller sees it
}

func (p *sensor) step() {
	if p.edge++; p.edge == 2 {
		p.edge = 0
		p.vane++
	}
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
	r.crank = sensor{wheel: &s.crank, input: CrankEdge, tdc: s.tdc}
	r.cam = sensor{wheel: &s.cam, input: CamEdge, tdc: []float64{0}, at: math.Inf(1)}
	r.grain = rand.New(rand.NewPCG(seed, seedMix^0xff))
	r.noisy = s.worn > 0
	r.rate = m.speed(0)
	r.start(m.where(0))
	return r
}

// start looks for the first edges after an angle.
func (r *Rig) start(angle float64) {
	cycle := int(math.Floor(angle/720)) - 2
	r.seek(&r.crank, cycle, angle)
	r.next(&r.crank, angle) // once more, so that each seed goes on drawing what it always drew
	if r.s.sync {
		r.seek(&r.cam, cycle, angle)
	}
	for _, p := range []*sensor{&r.crank, &r.cam} { // levels at rest are what the vanes say there
		p.level = (p.edge == 1) == p.inVane
	}
	r.mark = int(math.Floor(angle/360)) + 1
}

// seek finds the first edge after an angle, from a cycle before it on.
func (r *Rig) seek(p *sensor, cycle int, angle float64) {
	p.vane, p.edge = cycle*len(p.tdc), 0
	r.next(p, angle)
	for p.at <= angle {
		p.step()
		r.next(p, angle-1000)
	}
}

// next finds where the next edge passes its pickup, not before the crank's present place.
func (r *Rig) next(p *sensor, from float64) {
	n := len(p.tdc)
	cycle, k := p.vane/n, p.vane%n
	if k < 0 {
		k += n
		cycle--
	}
	first, second, seen := p.offsets(k, r.rate)
	p.seen = seen && !p.dead
	at := first
	if p.edge == 1 {
		at = second
	}
	at += 720*float64(cycle) + p.tdc[k] + r.s.shift + r.crept
	p.at = max(at+r.drive(at), from)
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
		p := &r.crank // nil: the mark is next
		if r.cam.at < p.at {
			p = &r.cam
		}
		angle := p.at
		if m := float64(r.mark) * 360; m < angle {
			angle, p = m, nil
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
		if p != nil {
			r.metal(p, angle)
			continue
		}
		r.mark++
		r.ev = Event{Kind: Mark, Time: quantity.Time(r.now), Turned: angle, Speed: quantity.Speed(r.rate * (1e6 / 6))}
		if !see(&r.ev) {
			return false
		}
	}
}

// metal is a vane's edge passing its pickup.
func (r *Rig) metal(p *sensor, angle float64) {
	s := r.s
	if p.seen {
		high := (p.edge == 0) == p.inVane
		r.q.push(&item{time: r.now + p.delay, what: r.wired(p.input), high: high})
	}
	if p.reluctor && p.edge == 1 && r.pulse != nil && !p.dead {
		// the true zero crossing that this firing belongs to
		_, fire, _ := p.swing(r.rate)
		r.pulse(r.wired(p.input), r.now-fire/r.rate+p.delay, r.rate)
	}
	p.step()
	if p.input == CrankEdge {
		if s.creep != 0 {
			r.creeps()
		}
		if s.noise > 0 && p.edge == 0 && r.rng.Float64() < s.noise {
			r.spike(r.now + r.rng.Float64()*720/float64(s.n)/r.rate)
		}
	}
	r.next(p, angle)
}

// wired is the controller's input that a pickup is connected to: the other one where the leads are exchanged.
func (r *Rig) wired(input EventKind) EventKind {
	if r.s.swapped {
		return CrankEdge + CamEdge - input
	}
	return input
}

// creeps lets a loose housing follow the rotor's drag: steadily, and by jerks a third as large.
func (r *Rig) creeps() {
	dt := r.now - r.creptAt
	r.creptAt = r.now
	r.crept += r.s.creep * dt
	r.crept += r.s.creep * math.Sqrt(dt*60e6) / 3 * r.rng.NormFloat64()
}

// spike puts a short false pulse on the crank input.
func (r *Rig) spike(at float64) {
	const width = 40 // µs, assumed
	r.q.push(&item{time: at, what: CrankEdge, extra: true})
	r.q.push(&item{time: at + width, what: CrankEdge, extra: true})
}
