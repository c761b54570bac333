package terms

import (
	"fmt"
	"math"
	"sort"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Command is one point of the commanded advance: straight lines between points, constant outside them.
type Command struct {
	Speed   quantity.Speed
	Advance quantity.Crank
}

// MostVanes is how many vanes a wheel may have here: more than any wheel of this trade.
const MostVanes = 64

// NotStated stands for an angle that nobody stated.
var NotStated = quantity.Crank(math.NaN())

// Facts are what is known before the recording is read: what was stated with it, and what the job card says. Angles are
// crank degrees. What nobody stated is NaN for an angle, 0 for a count, nil for a list.
type Facts struct {
	Roles      map[string]Role // channel name to role, as stated
	Cylinders  int
	Order      []int            // firing order
	Intervals  []quantity.Crank // from each firing to the next; sums to a cycle
	Lead       quantity.Crank
	ActiveEdge jobcard.Edge
	InVane     jobcard.Level
	Reluctor   bool             // the crank pickup is a reluctance pickup, which has no level in the vane
	Metal      bool             // the crank pickup is of a kind that has one: Hall, optical or proximity
	Vanes      []quantity.Crank // width of each vane, or of all
	Cam        CamFacts
	Commanded  []Command
	Tolerance  quantity.Crank
	Allowance  float64 // µs
	Step       float64 // µs
	Dwell      float64 // ms, as set; NaN: not stated
	OnCard     bool
	MarkLimit  quantity.Crank // half-width of the limits of the mark's place at TDC (rectangular); 0: not stated
	FitFrom    quantity.Speed // lowest speed that enters the timing line: 500 rpm, or 0.8 of idle where that is more
	Idle       quantity.Speed
	Redline    quantity.Speed

	cranking   quantity.Crank // advance commanded below the speed crankBelow
	crankBelow quantity.Speed
}

// CamFacts are what the card says of the cam pickup.
type CamFacts struct {
	Stated bool
	After  quantity.Crank // way from the cam's active edge on to cylinder 1's active crank edge
	Active jobcard.Edge
	Width  quantity.Crank
	InVane jobcard.Level
}

// Names are the channels whose role was stated, in order.
func (f *Facts) Names() []string {
	var names []string
	for name := range f.Roles {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

// CheckRoles refuses roles that contradict one another: only sparks may come on several channels.
func (f *Facts) CheckRoles() error {
	one := map[Role]string{}
	for _, name := range f.Names() {
		r := f.Roles[name]
		if _, err := ParseRole(string(r)); err != nil {
			return fmt.Errorf("role of channel %q – %w", name, err)
		}
		if r != Spark && r != Unknown {
			if other, taken := one[r]; taken {
				return fmt.Errorf("roles – both %q and %q are to be %s – name one", other, name, r)
			}
			one[r] = name
		}
	}
	return nil
}

// FromCard adds what the job card says. What was stated with the recording takes precedence, except a contradicting
// number of cylinders, which is an error.
func (f *Facts) FromCard(c *jobcard.Card) error {
	f.OnCard = true
	if f.Cylinders != 0 && c.Engine.Cylinders != 0 && f.Cylinders != c.Engine.Cylinders {
		return fmt.Errorf("options – %d cylinders asked for, the job card says %d – drop one of them",
			f.Cylinders, c.Engine.Cylinders)
	}
	f.Cylinders, f.Order = c.Engine.Cylinders, c.Engine.FiringOrder
	f.Idle, f.Redline = c.Engine.IdleSpeed, c.Engine.Redline
	if usable(c.Engine.Intervals, f.Cylinders) {
		f.Intervals = c.Engine.Intervals
	}
	crank := c.Signals.Crank
	f.Lead, f.InVane, f.Reluctor = crank.Lead, crank.InVane, crank.Kind == jobcard.Reluctor
	f.Metal = crank.Kind == jobcard.Hall || crank.Kind == jobcard.Optical || crank.Kind == jobcard.Proximity
	if f.ActiveEdge == "" {
		f.ActiveEdge = crank.ActiveEdge
	}
	for _, w := range crank.Vanes {
		f.Vanes = append(f.Vanes, engine.ShaftToCrank(w))
	}
	if len(f.Vanes) == 0 && crank.VaneWidth > 0 {
		f.Vanes = []quantity.Crank{engine.ShaftToCrank(crank.VaneWidth)}
	}
	if cam := c.Signals.Cam; cam.Fitted {
		f.Cam = CamFacts{Stated: true, Active: cam.ActiveEdge, Width: engine.ShaftToCrank(cam.VaneWidth)}
		f.Cam.After = quantity.Crank(engine.At(cam.EdgeAt - f.Lead))
		if cam.Kind != jobcard.Reluctor {
			f.Cam.InVane = cam.InVane
		}
	}
	if f.Commanded == nil {
		f.fromAdvance(c)
	}
	if f.Tolerance == 0 {
		f.Tolerance = c.Tolerance
	}
	if f.MarkLimit == 0 {
		f.MarkLimit = c.Damper.ZeroMark
	}
	f.Allowance = float64(c.Controller.DelayAllowance.Or(quantity.Time(math.NaN())))
	f.Step = float64(c.Controller.DelayStep.Or(0))
	if dwell, given := c.Ignition.Dwell.Get(); given {
		f.Dwell = float64(dwell) / 1e3
	}
	return nil
}

// fromAdvance takes the commanded advance from the card: the locked advance, and the cranking advance up to the speed
// halfway between cranking and idle.
func (f *Facts) fromAdvance(c *jobcard.Card) {
	if locked, given := c.Controller.Advance.Locked.Get(); given {
		f.Commanded = []Command{{0, locked}}
	}
	cranking, given := c.Controller.Advance.Cranking.Get()
	if given && c.Engine.CrankingSpeed > 0 && c.Engine.IdleSpeed > c.Engine.CrankingSpeed {
		f.cranking, f.crankBelow = cranking, (c.Engine.CrankingSpeed+c.Engine.IdleSpeed)/2
	}
}

// usable says that a card's firing intervals can be used: n of them, each at least Closest, 720° in all. Else the
// recording has to show them.
func usable(intervals []quantity.Crank, n int) bool {
	sum := quantity.Crank(0)
	for _, v := range intervals {
		if !(v >= Closest) {
			return false
		}
		sum += v
	}
	return len(intervals) == n && math.Abs(float64(sum)-engine.CycleDegrees) < 1e-6
}

// Closest is the least distance between two vanes, crank degrees: metal cannot be nearer.
const Closest = quantity.Crank(0.5)

// Command is the advance commanded at the speed n, crank degrees; 0 where none was stated (Commanded is nil).
func (f *Facts) Command(n quantity.Speed) quantity.Crank {
	c := f.Commanded
	switch {
	case len(c) == 0:
		return 0
	case n < f.crankBelow:
		return f.cranking
	case n <= c[0].Speed:
		return c[0].Advance
	}
	for i := 1; i < len(c); i++ {
		if lo, hi := c[i-1], c[i]; n < hi.Speed {
			return lo.Advance + quantity.Crank((n-lo.Speed)/(hi.Speed-lo.Speed))*(hi.Advance-lo.Advance)
		}
	}
	return c[len(c)-1].Advance
}
