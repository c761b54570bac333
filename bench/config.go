package bench

import (
	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Config is one simulated engine as it is built, before any fault. Default gives a complete one; FromCard makes one
// from a job card.
type Config struct {
	Name        string
	Engine      Engine
	Starter     Starter
	Distributor Distributor
	Crank       Pickup // one vane per firing
	Cam         Pickup // one vane in two turns; CamFitted says whether there is one
	CamFitted   bool
	Controller  Controller
	Ignition    Ignition
	Light       Light

	// Invented names what FromCard took from Default because the card leaves it open, each with its value: "locked
	// advance 7°". Nobody read it in a controller.
	Invented []string
}

// Engine is the crank train with what is known of the whole engine.
type Engine struct {
	cranking.Engine
	FiringOrder []int            // cylinder numbers, the first fires at 0°
	Rotation    engine.Direction // seen from the front
	Idle        quantity.Speed
	Redline     quantity.Speed
}

// Starter is the starter motor with its supply. Its current is proportional to its torque, so the supply sags with
// torque.
type Starter struct {
	cranking.Starter
	Rest   quantity.Voltage // supply with no load
	Loaded quantity.Voltage // mean supply while cranking
}

// Distributor is the unit as fitted.
type Distributor struct {
	// the rotor steers the spark; false: coils per cylinder or pairs, the unit only carries the pickups
	Steers        bool
	Rotation      engine.Direction // of the rotor, seen from above the cap
	GearTeeth     int              // 0: tongue drive
	HousingTravel quantity.Shaft   // each way
	RotorOffset   quantity.Shaft   // tip ahead of where it should be for the middle of the advance range
	RotorTip      quantity.Length
	Terminal      quantity.Length
	Radius        quantity.Length
	TowerForNo1   int            // clockwise from the clip side mark, seen from above, from 1
	Scatter       quantity.Crank // standard deviation of each edge from the drive
}

// Pickup is one pickup with its vanes.
type Pickup struct {
	Kind       jobcard.PickupKind
	Vanes      []quantity.Shaft // widths, in firing order (the cam pickup has one)
	Shift      []quantity.Shaft // where each vane stands off its true place, late positive; empty: all true
	InVane     jobcard.Level
	ActiveEdge jobcard.Edge
	// BTDC at which the active edge arrives: of each cylinder (crank pickup), of cylinder 1 (cam pickup)
	At          quantity.Crank
	Delay       quantity.Time    // metal to electrical edge
	Low, High   quantity.Voltage // output levels
	Rise        quantity.Time    // 10–90 % of a transition
	Noise       quantity.Voltage // standard deviation on the recorded signal
	Gain        quantity.Voltage // variable reluctance: peak at 1,000 rpm
	Threshold   quantity.Voltage // variable reluctance: the swing that arms the zero-crossing detector
	PulseSpread quantity.Crank   // variable reluctance: from the zero crossing to either peak
}

// Controller is what is set in the electronics, and what it can do.
type Controller struct {
	Lead          quantity.Crank // trigger lead that it was told
	Cranking      quantity.Crank // advance below CrankingBelow
	CrankingBelow quantity.Speed
	Locked        quantity.Crank // commanded advance while timing is locked
	Unlocked      bool           // true: the spark map commands instead
	Map           []MapPoint     // ascending speed, straight lines between, flat outside
	Allowance     quantity.Time  // delay allowance in force
	Step          quantity.Time  // of the allowance
	Latency       quantity.Time  // from a seen edge to the earliest spark it can still place
	// share of the last interval within which a further active edge is taken for noise; assumed
	Blank float64
	Dwell quantity.Time
	// dwell on the starter, of a controller that holds one against supply; 0: Dwell there too
	DwellOnStarter quantity.Time
	OffTime        quantity.Time // least time between a spark and the next charge of the same coil
}

// MapPoint is one point of a spark map.
type MapPoint struct {
	Speed   quantity.Speed
	Advance quantity.Crank
}

// Ignition is coil, or spark box, and plugs.
type Ignition struct {
	Output     jobcard.Output
	Coils      jobcard.Coils
	SparkDelay quantity.Time    // from the driver's command to the spark
	Supply     quantity.Voltage // running
	Resistance quantity.Resistance
	Inductance quantity.Inductance
	DriverDrop quantity.Voltage
	Target     quantity.Current // 0: unknown, taken as what Dwell gives at Supply
}

// Light is the strobe light and the person reading it.
type Light struct {
	Wire       int            // cylinder on whose wire it is clamped
	Delay      quantity.Time  // spark to flash
	Dial       quantity.Crank // delays the flash by this much of the turn it expects; 0 for a plain light
	Resolution quantity.Crank // readings are rounded to this
	Eye        quantity.Crank // standard deviation of one reading by one pair of eyes
	Damper     quantity.Crank // marks read this much early
	Flashes    int            // averaged by the eye in one reading
}

// Default is an eight of the bench's own, invented, with everything in it set right.
func Default() Config {
	c := Config{Name: "invented eight"}
	turning, starter := cranking.Assumed()
	c.Engine = Engine{Engine: turning, FiringOrder: []int{1, 5, 6, 8, 4, 2, 7, 3}, Rotation: engine.Clockwise,
		Idle: 720, Redline: 5300}
	e := &c.Engine
	e.Cylinders, e.Intervals = 8, even(8)
	e.Bore, e.Stroke, e.Rod, e.CompressionRatio = 103, 87, 161, 8.7
	e.Inertia, e.ReciprocatingMass, e.CrankingSpeed = 0.31, 0.67, 185
	c.Starter = Starter{Starter: starter, Rest: 12.6, Loaded: 10.2}
	c.Distributor = Distributor{
		Steers: true, Rotation: engine.Clockwise, GearTeeth: 11, HousingTravel: 20, RotorTip: 9, Terminal: 7,
		Radius: 29, TowerForNo1: 1, Scatter: 0.05,
	}
	c.Crank = Pickup{
		Kind: jobcard.Hall, Vanes: same(14, 8), InVane: jobcard.Low, ActiveEdge: jobcard.Falling, At: 58, Delay: 85,
		Low: 0.2, High: 5, Rise: 2, Noise: 0.02, Gain: 8, Threshold: 0.8, PulseSpread: 5,
	}
	c.Cam = c.Crank
	c.Cam.Vanes, c.Cam.At, c.CamFitted = same(40, 1), 103, true
	c.Controller = Controller{
		Lead: 58, Cranking: 13, CrankingBelow: 400, Locked: 7, Allowance: 85, Step: 15, Latency: 60, Blank: 0.25,
		Dwell: 2200, OffTime: 600,
		Map: []MapPoint{{600, 11}, {1100, 15}, {2300, 27}, {3200, 33}},
	}
	c.Ignition = Ignition{Output: jobcard.CoilDriver, Coils: jobcard.OneCoil, Supply: 13.8, Resistance: 0.6,
		Inductance: 5e-3, DriverDrop: 1.2}
	c.Light = Light{Wire: 1, Resolution: 0.5, Eye: 0.3, Flashes: 24}
	return c
}

func even(n int) []quantity.Crank {
	s := make([]quantity.Crank, n)
	for i := range s {
		s[i] = quantity.Crank(engine.CycleDegrees / float64(n))
	}
	return s
}

func same(w quantity.Shaft, n int) []quantity.Shaft {
	s := make([]quantity.Shaft, n)
	for i := range s {
		s[i] = w
	}
	return s
}
