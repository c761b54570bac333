package shaft

import (
	"fmt"
	"math"
	"sort"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/waveform"
)

// Role is what a channel carries.
type Role string

// The roles.
const (
	Crank   Role = "crank"
	Cam     Role = "cam"
	Spark   Role = "spark"
	Mark    Role = "mark"
	Unknown Role = "unknown"
)

// ParseRole reads a role as a person writes it.
func ParseRole(text string) (Role, error) {
	switch r := Role(text); r {
	case Crank, Cam, Spark, Mark, Unknown:
		return r, nil
	}
	return Unknown, fmt.Errorf("%q is not a role; write crank, cam, spark, mark or unknown", text)
}

// Instant says which end of a pulse counts.
type Instant string

// The ends of a pulse. The zero value lets the recording decide.
const (
	Found    Instant = ""
	PulseOn  Instant = "start of pulse"
	PulseOff Instant = "end of pulse"
)

// Command is one point of what the controller was told: straight lines between points, flat outside.
type Command struct {
	Speed   quantity.Speed
	Advance quantity.Crank
}

// Options steer Run. The zero value is ready: everything is found from the recording.
type Options struct {
	Roles map[string]Role // channel name to role; takes the place of what would be found
	Card  *jobcard.Card   // the job card, where there is one: cylinders, order, intervals, edges, lead, locked advance, tolerance

	Cylinders  int            // firings a cycle; 0: from the card, else counted between cam edges
	ActiveEdge jobcard.Edge   // electrical edge of the crank pickup that the controller acts on; "": from the card, else found
	Commanded  []Command      // ascending speed; nil: the card's locked advance; without both no timing error can be given
	FitFrom    quantity.Speed // lowest speed that enters the timing line; 0: 500 rpm, or all where the engine never ran faster
	SparkAt    Instant        // which end of the spark pulse is the spark; Found: end of a driver's pulse, start of a clamp's
	MarkAt     Instant        // which end of the mark's pulse stands at TDC; Found: its start
	MarkLimit  quantity.Crank // half-width of limits of the mark's place at TDC (rectangular); 0: not stated, then not in the uncertainty
	Tolerance  quantity.Crank // largest timing error allowed; 0: from the card, else no verdict but "read more"

	MostAnomalies int           // kept in the list, the first ones; all are counted; 0: 1000
	Tee           waveform.Sink // also given every edge, for writing them out; nil: none
}

// setup is what is known before the recording is read: options and card in one place.
type setup struct {
	opt        Options
	cylinders  int
	order      []int
	intervals  []float64 // from firing i to i+1, sums to cycle; nil: not stated
	lead       float64   // NaN: not stated
	active     jobcard.Edge
	inVane     jobcard.Level
	reluctor   bool      // the crank pickup has no level in the vane
	vane       []float64 // crank degrees of each vane
	camStated  bool
	camAfter   float64 // crank degrees from the cam's active edge on to cylinder 1's active edge
	camActive  jobcard.Edge
	camVane    float64 // crank degrees
	camInVane  jobcard.Level
	commanded  []Command
	tolerance  float64
	allowance  float64
	step       float64
	onCard     bool
	fitFrom    float64
	cranking   float64 // advance commanded below crankBelow rpm, by the card; NaN: no other than commanded
	crankBelow float64
	mostListed int
}

func newSetup(o Options) (*setup, error) {
	s := &setup{opt: o, cylinders: o.Cylinders, lead: math.NaN(), cranking: math.NaN(), active: o.ActiveEdge, commanded: o.Commanded,
		tolerance: float64(o.Tolerance), fitFrom: float64(o.FitFrom), mostListed: o.MostAnomalies}
	if s.mostListed == 0 {
		s.mostListed = 1000
	}
	if s.fitFrom == 0 {
		s.fitFrom = 500
	}
	if o.Cylinders < 0 || o.Cylinders > mostVanes {
		return nil, fmt.Errorf("options – %d cylinders – write 1 to %d, or 0 to have them counted", o.Cylinders, mostVanes)
	}
	if !(o.MarkLimit >= 0) || !(o.Tolerance >= 0) || !(o.FitFrom >= 0) || o.MostAnomalies < 0 {
		return nil, fmt.Errorf("options – a limit, tolerance, speed or count below nought – write nought for \"not stated\"")
	}
	if !sort.SliceIsSorted(o.Commanded, func(i, j int) bool { return o.Commanded[i].Speed < o.Commanded[j].Speed }) {
		return nil, fmt.Errorf("options – commanded advance is not in order of speed – write the lowest speed first")
	}
	one := map[Role]string{}
	for _, name := range s.stated() {
		r := o.Roles[name]
		if _, err := ParseRole(string(r)); err != nil {
			return nil, fmt.Errorf("role of channel %q – %w", name, err)
		}
		if r != Spark && r != Unknown {
			if other, ok := one[r]; ok {
				return nil, fmt.Errorf("roles – both %q and %q are to be %s – name one", other, name, r)
			}
			one[r] = name
		}
	}
	if o.Card != nil {
		if err := s.fromCard(o.Card); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// stated are the channels whose role was given, in order.
func (s *setup) stated() []string {
	var names []string
	for name := range s.opt.Roles {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

func (s *setup) fromCard(c *jobcard.Card) error {
	s.onCard = true
	if s.cylinders != 0 && c.Engine.Cylinders != 0 && s.cylinders != c.Engine.Cylinders {
		return fmt.Errorf("options – %d cylinders asked for, the job card says %d – drop one of them", s.cylinders, c.Engine.Cylinders)
	}
	s.cylinders = c.Engine.Cylinders
	s.order = c.Engine.FiringOrder
	for _, v := range c.Engine.Intervals {
		s.intervals = append(s.intervals, float64(v))
	}
	sum := 0.0
	for _, v := range s.intervals {
		if sum += v; !(v >= closest) {
			sum = math.NaN()
		}
	}
	if len(s.intervals) != s.cylinders || !(math.Abs(sum-cycle) < 1e-6) {
		s.intervals = nil // a card that says nothing usable; the recording then tells
	}
	s.lead = float64(c.Signals.Crank.Lead)
	if s.active == "" {
		s.active = c.Signals.Crank.ActiveEdge
	}
	s.inVane = c.Signals.Crank.InVane
	s.reluctor = c.Signals.Crank.Kind == jobcard.Reluctor
	for _, w := range c.Signals.Crank.Vanes {
		s.vane = append(s.vane, crankDegrees(w))
	}
	if len(s.vane) == 0 && c.Signals.Crank.VaneWidth > 0 {
		s.vane = []float64{crankDegrees(c.Signals.Crank.VaneWidth)}
	}
	if cam := c.Signals.Cam; cam.Fitted {
		s.camStated = true
		s.camActive = cam.ActiveEdge
		s.camAfter = wrap(float64(cam.EdgeAt)-s.lead, cycle)
		s.camVane = crankDegrees(cam.VaneWidth)
		if cam.Kind != jobcard.Reluctor {
			s.camInVane = cam.InVane
		}
	}
	if s.commanded == nil {
		a := c.Controller.Advance
		if locked, given := a.Locked.Get(); given {
			s.commanded = []Command{{0, locked}}
		}
		if cranking, given := a.Cranking.Get(); given && c.Engine.CrankingSpeed > 0 && c.Engine.IdleSpeed > c.Engine.CrankingSpeed {
			s.cranking, s.crankBelow = float64(cranking), float64(c.Engine.CrankingSpeed+c.Engine.IdleSpeed)/2
		}
	}
	if s.tolerance == 0 {
		s.tolerance = float64(c.Tolerance)
	}
	s.allowance = float64(c.Controller.DelayAllowance.Or(quantity.Time(math.NaN())))
	s.step = float64(c.Controller.DelayStep.Or(0))
	return nil
}

// command is the advance commanded at n rpm.
func (s *setup) command(n float64) float64 {
	c := s.commanded
	if len(c) == 0 {
		return 0
	}
	if n < s.crankBelow && !math.IsNaN(s.cranking) {
		return s.cranking
	}
	if n <= float64(c[0].Speed) {
		return float64(c[0].Advance)
	}
	for i := 1; i < len(c); i++ {
		lo, hi := c[i-1], c[i]
		if n < float64(hi.Speed) {
			f := (n - float64(lo.Speed)) / float64(hi.Speed-lo.Speed)
			return float64(lo.Advance) + f*float64(hi.Advance-lo.Advance)
		}
	}
	return float64(c[len(c)-1].Advance)
}
