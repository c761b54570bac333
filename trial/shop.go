package trial

import (
	"context"
	"fmt"
	"math"

	"phasewright/bench"
	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/suspects"
)

// Technician is a way of bringing an engine's timing right with nothing but its shop.
type Technician interface {
	Name() string
	// Tune works until the engine is handed over, and says as what.
	Tune(context.Context, *Shop) (Outcome, error)
}

// Outcome is what the engine is handed over as.
type Outcome string

// The outcomes.
const (
	Right    Outcome = "right"     // as timed right
	HandedOn Outcome = "handed on" // with a part to be mended, named
	Stuck    Outcome = "stuck"     // no further look was found
)

// Shop is what a technician has of one engine: the light, the housing, the allowance, and eyes. Everything costs time
// and is counted.
type Shop struct {
	j       job
	d       dice
	running bool
	Cost    Cost
	wrong   int // cures that did not bring it nearer, or hid another fault
}

// Cost is what the work took.
type Cost struct {
	Restarts int     // engine starts after the first, for a change of settings or of the housing, or for a look
	Readings int     // of the light with the engine running or on the starter
	HighRevs float64 // minutes above half the redline
	Minutes  float64 // at the engine, all told
}

// Minutes that things take; assumed.
const (
	minutesReading = 0.5 // bring to speed, let it settle, read
	minutesRestart = 2   // stop, change, store, power-cycle, read back, start
	minutesHousing = 2   // loosen, turn, tighten, with the engine stopped
	minutesRecord  = 8   // connect, record from the starter to the redline, read it
	minutesMend    = 5   // put right what a look found: mark, wires, clamp, setting
	minutesUnit    = 20  // lift the unit and put it in a tooth on
)

// Engine is what is known of the engine to anyone: its card, without its faults.
func (s *Shop) Engine() bench.Config { return s.j.c }

// Allowance is what the controller shows.
func (s *Shop) Allowance() quantity.Time { return s.j.c.Controller.Allowance + s.j.f.Allowance }

// Read brings the running engine to a speed and reads the light on a wire at the locked advance.
func (s *Shop) Read(n quantity.Speed, wire int) (bench.Reading, error) {
	s.running = true
	s.Cost.Minutes += minutesReading
	if n > s.j.c.Engine.Redline/2 {
		s.Cost.HighRevs += minutesReading
	}
	return s.read(n, wire)
}

// ReadCranking reads the light on the starter, fuel off.
func (s *Shop) ReadCranking() (bench.Reading, error) {
	s.stop()
	s.Cost.Minutes += minutesReading
	return s.read(s.j.c.Engine.CrankingSpeed, 1)
}

func (s *Shop) read(n quantity.Speed, wire int) (bench.Reading, error) {
	s.Cost.Readings++
	r, ok, err := bench.TakeReading(s.j.c, s.j.f, n, wire, quantity.Seconds(60*s.Cost.Minutes), s.d.Uint64())
	if err == nil && !ok {
		err = fmt.Errorf("reading at %v – the light does not flash – look at spark and light", n)
	}
	return r, err
}

func (s *Shop) stop() {
	if s.running {
		s.Cost.Restarts++
		s.running = false
	}
}

// Correct turns the housing, against the rotor positive, and sets the allowance, in one stop; none is left out. Hands
// and a scale turn to a tenth of a degree either way, the allowance takes whole steps.
func (s *Shop) Correct(by quantity.Shaft, set *quantity.Time) {
	s.stop()
	was := s.j.f
	if by != 0 {
		const hand = 0.1
		s.Cost.Minutes += minutesHousing
		s.j.f.Housing += by + quantity.Shaft(s.d.between(-hand, hand))
	}
	if set != nil {
		s.Cost.Minutes += minutesRestart
		c := s.j.c.Controller
		step := max(c.Step, 1)
		s.j.f.Allowance = max(quantity.Time(math.Round(float64(*set/step)))*step, 0) - c.Allowance
		s.j.f.Unstored = 0
	}
	s.count(was)
}

// Nudge turns the housing on the starter while the light is watched: no change of the engine's state, a smaller cost.
func (s *Shop) Nudge(by quantity.Shaft) {
	s.Cost.Minutes += minutesReading
	s.j.f.Housing += by
}

// count counts a change of housing and allowance as a wrong cure, by the same definition as the judge's own; but one
// that leaves every cylinder within the tolerance and hides nothing does no harm and is not counted.
func (s *Shop) count(was bench.Faults) {
	if s.j.wrongChange(was, s.j.f) != "" &&
		(s.j.hides(was) != "" || s.j.built.truth(s.j.f).most() > float64(s.j.card.Tolerance)) {
		s.wrong++
	}
}

// Phase sets the housing by the lamp with the crank at rest at the trigger lead's mark: it puts right to a degree of
// the shaft whatever housing, lead and teeth did, as far as the housing goes, and takes the mark for true.
func (s *Shop) Phase() {
	s.stop()
	s.Cost.Minutes += minutesMend
	s.j.f.Housing = quantity.Shaft(s.d.between(-1, 1)) + (quantity.Shaft(s.j.f.Lead)-quantity.Shaft(s.j.f.Damper))/2
}

// See does one look, engine stopped, and writes it down.
func (s *Shop) See(ev *suspects.Evidence, what look) {
	if what == lookRuns {
		s.running = true
	} else {
		s.stop()
	}
	for _, l := range allLooks {
		if l.look == what {
			s.Cost.Minutes += l.minutes
		}
	}
	s.j.see(ev, what, true, s.d)
	if what == lookStop && !s.j.markOff() { // he writes on the card how well it is proven now
		card := *s.j.card
		card.Damper.ZeroMark = min(card.Damper.ZeroMark, 0.3)
		s.j.card = &card
	}
}

// Record makes a recording from the starter to the redline.
func (s *Shop) Record(ctx context.Context) (*shaft.Result, error) {
	s.stop()
	s.running = true
	s.Cost.Minutes += minutesRecord
	s.Cost.HighRevs += 0.1
	return s.j.record(ctx, true)
}

// mended is what a look finds that the technician mends himself at once: the fault, by name, with the minutes.
var mended = map[look]map[string]float64{
	lookStop:  {"damper": minutesMend},
	lookLamps: {"edge": minutesRestart},
	lookBack:  {"edge": minutesRestart, "lead": minutesRestart, "unstored": minutesRestart, "dwell": minutesRestart},
	lookWires: {"wires": minutesMend, "tower": minutesMend},
	lookRotor: {"wires": minutesMend, "tower": minutesMend, "tooth": minutesUnit},
	lookLock:  {"lock": minutesRestart},
	lookDial:  {"dial": 1, "flashes": 1},
	lookClamp: {"clamp": minutesMend},
}

// Mend puts right what a look shows, and says what that was; "" where it shows nothing wrong.
func (s *Shop) Mend(what look) (name string) {
	for _, r := range bench.FaultTable() {
		minutes, can := mended[what][r.Name]
		if !can || r.Size(s.j.f) == 0 || r.Name == "damper" && !s.j.markOff() {
			continue
		}
		s.stop()
		s.Cost.Minutes += minutes
		r.Set(&s.j.f, 0)
		if r.Name == "tooth" { // phased again by the lamp
			s.j.f.Housing = quantity.Shaft(s.d.between(-1, 1))
		}
		name = r.Name
	}
	return name
}

// markOff says whether the mark stands outside what the card states.
func (j *job) markOff() bool {
	return math.Abs(float64(j.f.Damper)) > float64(j.card.Damper.ZeroMark)
}
