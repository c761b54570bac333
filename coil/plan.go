package coil

import (
	"math"

	"phasewright/distributor"
	"phasewright/quantity"
)

// Plan is everything that decides whether there is a spark: the coil or the spark box, how often it fires, the charge,
// the plugs and the rotor.
type Plan struct {
	Primary *Primary // nil where a spark box makes the spark, or where nothing is known of the coil
	// nil where a coil driver charges the coil; with both nil there is demand and rotor, and no charge and no margin
	Box *Box
	// BoxVolts is what a spark box with its coil can deliver, by its maker; zero where unknown, and then no margin is
	// given.
	BoxVolts Band[quantity.Voltage]
	Share    Share
	Dwell    quantity.Time // fixed dwell asked for; 0: Held, or what the target needs at each supply
	Held     DwellCurve    // dwell asked for against supply, where Dwell is 0
	Cylinder Cylinder
	Plug     quantity.Length
	Rotor    *distributor.Rotor // nil where no rotor carries the spark
	Sparks   distributor.Sparks

	Cranking       Band[quantity.Crank] // advance at cranking; as wide as the running range where it is not given
	CrankingSpeed  quantity.Speed
	CrankingSupply quantity.Voltage
	Running        quantity.Voltage
	Idle, Redline  quantity.Speed
}

// Check reports the first value that cannot be used.
func (p Plan) Check() error {
	if p.Primary != nil && p.Box != nil {
		return quantity.Bad("ignition.output", "choose coil driver or spark box", "both make the spark")
	}
	if p.Primary != nil {
		if err := p.Primary.Check(); err != nil {
			return err
		}
		if !(p.Dwell >= 0) || math.IsInf(float64(p.Dwell), 0) {
			return quantity.Bad("ignition.dwell", "write the dwell, such as 3.2 ms, or 0 to follow the table",
				"%v is below zero", p.Dwell)
		}
	}
	if p.Box != nil {
		if err := p.Box.Check(); err != nil {
			return err
		}
	}
	if err := p.Cylinder.Check(); err != nil {
		return err
	}
	if err := CheckGap("ignition.plug_gap", p.Plug); err != nil {
		return err
	}
	if p.Rotor != nil {
		if err := p.Rotor.Check(); err != nil {
			return err
		}
		if err := CheckGap("distributor.air_gap", p.Rotor.AirGap); err != nil {
			return err
		}
	}
	switch {
	case !(p.Sparks.Earliest >= p.Sparks.Latest):
		return quantity.Bad("controller.advance", "write min not above max", "min %v, max %v", p.Sparks.Latest,
			p.Sparks.Earliest)
	case !(p.Share.Shortest > 0) || !(p.Share.Mean >= p.Share.Shortest):
		return quantity.Bad("engine.intervals", "give the firing intervals", "no interval between sparks")
	case !(p.CrankingSpeed > 0):
		return quantity.Bad("engine.cranking_speed", "write the cranking speed, such as 180 rpm",
			"%v is not above zero", p.CrankingSpeed)
	case !(p.Idle > p.CrankingSpeed) || !(p.Redline > p.Idle) || p.Redline > 30000:
		return quantity.Bad("engine.redline", "write cranking, idle and redline in rising order, below 30000 rpm",
			"cranking %v, idle %v, redline %v", p.CrankingSpeed, p.Idle, p.Redline)
	case !(p.CrankingSupply > 0) || !(p.Running > 0):
		return quantity.Bad("ignition.supply", "write the supply running and cranking", "running %v, cranking %v",
			p.Running, p.CrankingSupply)
	}
	return nil
}

// DwellAt is the dwell asked for at a supply: the one set, or the controller's own at that supply, or, where neither is
// known, what the target needs.
func (p Plan) DwellAt(supply quantity.Voltage) quantity.Time {
	switch {
	case p.Dwell > 0:
		return p.Dwell
	case p.Held != nil:
		return p.Held(supply)
	}
	return p.Primary.dwellAt(p.Primary.Hot(supply), supply).Dwell
}

// sparksAt are the advances that may be commanded at a speed: below idle the cranking advance alone.
func (p Plan) sparksAt(n quantity.Speed) distributor.Sparks {
	s := p.Sparks
	if n < p.Idle {
		s.Earliest, s.Latest = p.Cranking.High, p.Cranking.Low
	}
	return s
}

// Limit names what holds a spark back.
type Limit int8

// The limits, in the order in which one brings about the next.
const (
	Nothing      Limit = iota
	NeverTarget        // the supply can never drive the target current
	NoTime             // dwell and off time do not fit the interval
	DwellShort         // the dwell set is shorter than what the target needs
	DriverOver         // more current than the driver may carry
	Cooks              // more copper heat than the coil may give off
	TriggerPulse       // the spark box's trigger pulse is wrong here
	WeakSpark          // demand may pass what is available
	RotorClear         // the tip does not face its terminal
	Crossfire          // the way to a neighbouring terminal may be the easier one
)

func (l Limit) String() string {
	return [...]string{
		"nothing", "supply never reaches the target current", "no time left: dwell and off time do not fit",
		"dwell set too short", "driver limit passed",
		"coil cooks", "trigger pulse of the spark box", "spark may not jump the plug gap",
		"rotor stands clear of the tower", "spark may cross to the next tower",
	}[l]
}

// Point is one speed at one supply.
type Point struct {
	Speed quantity.Speed
	// dwell to the target; +Inf where this supply never reaches it. For a spark box the trigger width
	Needed  quantity.Time
	Fits    quantity.Time // largest dwell that leaves the off time
	Applied quantity.Time
	Current quantity.Current // at the spark, winding hot; 0 for a spark box
	Stored  quantity.Energy
	Mean    quantity.Current
	Copper  quantity.Power
	Heat    Band[quantity.Power]

	Available Band[quantity.Voltage] // zero where unknown
	Demand    Breakdown              // whole way, over the advances that may be commanded here
	Margin    Band[float64]          // available over demand; zero where unknown
	Rotor     distributor.Sweep      // zero without a rotor
	Round     Breakdown              // what the way by the nearest wrong terminal and its idle plug needs
	Crossfire Band[float64]          // way round over right way; above 1 the spark keeps its way

	Beyond bool // current above the iron's data: draw dashed; Demand.Outside and Round.Outside likewise

	Limit Limit   // what fails here first, or Nothing
	Least Limit   // what has least in hand, whether or not it fails
	Hand  float64 // how much it has in hand: have over need, below 1 it fails
}

// rating collects have-over-need ratios in causal order.
type rating struct {
	first, least Limit
	ratio        float64
}

func (r *rating) add(l Limit, ratio float64) {
	if math.IsNaN(ratio) {
		return
	}
	if ratio < 1 && r.first == Nothing {
		r.first = l
	}
	if r.least == Nothing || ratio < r.ratio {
		r.least, r.ratio = l, ratio
	}
}
