package jobcard

import (
	"fmt"
	"slices"

	"phasewright/engine"
	"phasewright/quantity"
)

// Card is a job card after parsing: every field carries its type, and defaults have been filled in (Card.Assumed lists
// them). What belongs to the controller or the spark box has no default: it is a Setting, given or open.
type Card struct {
	Job         Job
	Engine      Engine
	Damper      Damper
	Distributor Distributor
	Signals     Signals
	Controller  Controller
	Ignition    Ignition
	Coil        Coil
	Light       TimingLight
	Proof       Proof
	Tolerance   quantity.Crank // largest timing error allowed over the speed range

	source  []byte // the text that it was read from
	firings *engine.Firings
	doubts  []Doubt
	assumed map[string]bool // dotted paths of fields that the writer left to their defaults
}

// Source is the text that the card was read from, byte for byte; nil for a card that was not read. It is the card's own
// and must not be changed.
func (c *Card) Source() []byte { return c.source }

// Job names the job and the people.
type Job struct {
	Name, Shop, Owner, Note string
	Serial                  string              // number of the engine, its hull or its vehicle
	Units                   quantity.LengthUnit // that the shop works in
	Confirmed               []string            // paths of unlikely fields that were looked at and stand
}

// Engine is the engine's own data.
type Engine struct {
	Cycle             Cycle
	Cylinders         int
	FiringOrder       []int            // cylinder numbers, the first fires at 0°
	Intervals         []quantity.Crank // from each firing in FiringOrder to the next; always filled, sums to 720
	Rotation          engine.Direction // seen from the front
	Bore              quantity.Length
	Stroke            quantity.Length
	Rod               quantity.Length // centre to centre
	PinOffset         quantity.Length // wrist pin offset, towards the major thrust side positive
	CompressionRatio  float64
	RatioLimit        float64 // half-width of where the ratio lies; 0: not known
	RatioWorkedOut    bool    // from Chamber
	Chamber           Chamber
	CrankingPressure  quantity.Measured[quantity.Gauge] // of a compression test; 0: none
	Inertia           quantity.Inertia                  // of the whole crank train with flywheel
	ReciprocatingMass quantity.Mass                     // per cylinder
	InletPressure     quantity.Pressure                 // absolute, at full load
	ChargeTemperature quantity.Temperature              // as compression begins
	CrankingSpeed     quantity.Speed
	IdleSpeed         quantity.Speed
	Redline           quantity.Speed
	Fuel              Fuel  // "" where the card does not say
	Place             Place // "" where the card does not say
	Starts            Starts
	Cooling           Cooling
	OilShown          OilShown
}

// Fuel is how fuel gets into the engine, and so what has to be cut off.
type Fuel string

// The fuel systems.
const (
	Port         Fuel = "port"          // injectors in the ports, pressure in a rail
	ThrottleBody Fuel = "throttle body" // injectors in a throttle body, pressure in a line
	Carburettor  Fuel = "carburettor"   // a full bowl runs the engine with the tap shut
	Gas          Fuel = "gas"           // a valve and a mixer
	NoFuel       Fuel = "none"          // a rig that is only cranked or driven
)

// Injected says whether injectors feed the engine, so that it can be cranked dry with pressure in the line.
func (f Fuel) Injected() bool { return f == Port || f == ThrottleBody }

// Place is where the engine stands while it is worked on.
type Place string

// The places.
const (
	RoadVehicle Place = "road vehicle"
	Boat        Place = "boat"
	Stationary  Place = "stationary"
)

// Starts says from where the engine can be started.
type Starts string

// The ways to start.
const (
	MainStart   Starts = "main"
	RemoteStart Starts = "main and remote"
	SecondHelm  Starts = "main and second helm"
)

// Cooling is what cools the engine.
type Cooling string

// The ways of cooling.
const (
	ClosedCircuit Cooling = "closed circuit"
	RawWater      Cooling = "raw water" // drawn in from outside, seen at the outlet
	Air           Cooling = "air"
)

// OilShown is what shows oil pressure.
type OilShown string

// What shows oil pressure.
const (
	OilLamp  OilShown = "lamp"
	OilGauge OilShown = "gauge"
)

// Damper is what the marks are put on.
type Damper struct {
	Diameter      quantity.Measured[quantity.Length]
	MarkPlacement quantity.Length // half-width of limits of placing a mark along the rim
	ZeroMark      quantity.Crank  // half-width of limits within which the zero mark is proven to stand at true TDC
}

// Use says what the distributor does on this engine.
type Use string

// What a distributor is used for.
const (
	SparkAndSignal Use = "spark and signal" // rotor and cap steer the spark
	SignalOnly     Use = "signal only"      // coils per cylinder; the unit only carries the pickups
)

// CapTowers says how the towers of the cap stand.
type CapTowers string

// The ways in which they stand.
const (
	EvenCap   CapTowers = "even"
	UnevenCap CapTowers = "uneven" // half a firing interval apart each
)

// Distributor is the unit that is fitted.
type Distributor struct {
	Use          Use
	Rotation     engine.Direction // of the rotor, seen from above the cap
	Cap          CapTowers        // always filled
	GearTeeth    int              // 0: driven by a slot and tongue, no gear to step
	HelixAngle   quantity.Angle
	GearDiameter quantity.Length // pitch diameter
	// which way the rotor turns, seen from above, as the unit drops in; 0 where not stated
	DropTurn       engine.Direction
	DropTravel     quantity.Length // axial travel through the mesh as the unit drops in
	GearMaterial   string
	CamMaterial    string
	SeatGap        quantity.Length // gap under the flange in a dry fit; 0 where it seats
	EndPlay        quantity.Length // wanted end play
	ShimThickness  quantity.Length // compressed thickness of one shim or gasket
	GearEngagement quantity.Length // how far the unit may be lifted before the gears engage too little
	RotorTip       quantity.Length // width of the rotor tip along its arc
	Terminal       quantity.Length // width of a cap terminal along its arc
	Radius         quantity.Length // of the rotor tip
	AirGap         quantity.Length // tip to terminal, radially
	// rotor tip against terminal No. 1 as the active edge for cylinder 1 arrives, ahead in rotor direction positive
	RotorOffset   quantity.Shaft
	RotorPlay     quantity.Shaft // half-width of where the tip stands: cap seat, pickup place, drive play
	HousingTravel quantity.Shaft // the housing may be turned this far each way
	// 1 is the first tower clockwise from the clip side mark, counted clockwise from above
	TowerForNo1 int
}

// Edge is an electrical edge.
type Edge string

// The two edges.
const (
	Rising  Edge = "rising"
	Falling Edge = "falling"
)

// Level is an electrical level as a lamp or logic state shows it.
type Level string

// The two levels.
const (
	High Level = "high"
	Low  Level = "low"
)

// PickupKind is how a pickup senses the vane.
type PickupKind string

// The pickup kinds of the trade.
const (
	Hall      PickupKind = "hall"
	Optical   PickupKind = "optical"
	Proximity PickupKind = "inductive proximity"
	Reluctor  PickupKind = "variable reluctance"
	NoPickup  PickupKind = "none" // cam only
)

// Signals are the two pickups.
type Signals struct {
	Crank CrankPickup
	Cam   CamPickup
}

// CrankPickup sees one vane per firing.
type CrankPickup struct {
	Kind       PickupKind
	VaneWidth  quantity.Shaft
	Vanes      []quantity.Shaft // width of each vane in firing order; always filled
	InVane     Level            // electrical level while a vane stands in the pickup
	ActiveEdge Edge
	Lead       quantity.Crank // trigger lead: BTDC of a cylinder at which its active edge arrives
}

// CamPickup sees one vane in two crank turns.
type CamPickup struct {
	Fitted     bool
	Kind       PickupKind
	VaneWidth  quantity.Shaft
	InVane     Level
	ActiveEdge Edge
	EdgeAt     quantity.Crank // BTDC of cylinder 1 at which the active edge arrives
}

// Controller is the timing set-up in the electronics.
type Controller struct {
	Advance        Advance
	DelayAllowance Setting[quantity.Time]
	DelayStep      Setting[quantity.Time]
	SignalDelay    Range[quantity.Time] // signal delay τ to plan with; a reading replaces it
	// time the controller needs between an edge and the earliest spark it can still place
	Latency Range[quantity.Time]
	Guard   quantity.Crank
}

// Advance is what the controller commands.
type Advance struct {
	Cranking Setting[quantity.Crank] // while the starter turns the engine
	Locked   Setting[quantity.Crank] // while the timing is locked for checking
	Min, Max quantity.Crank          // over the whole range of running
}

// Output is what the controller drives.
type Output string

// The spark outputs.
const (
	CoilDriver Output = "coil driver"
	SparkBox   Output = "spark box"
)

// Coils says how many coils share the firings.
type Coils string

// The coil layouts.
const (
	OneCoil         Coils = "one"
	CompanionPairs  Coils = "companion pairs"
	CoilPerCylinder Coils = "per cylinder"
)

// Ignition is the spark side.
type Ignition struct {
	Output         Output
	Coils          Coils
	Dwell          Setting[quantity.Time] // of a coil, or the width of a spark box's trigger pulse
	DwellTable     []DwellPoint           // of a coil, against supply, instead of one dwell for all
	BoxPulse       BoxPulse
	Supply         quantity.Voltage // running
	CrankingSupply quantity.Voltage
	PlugGap        quantity.Length
	Plugs          int // to a cylinder
	// what a spark box with its coil delivers, by its maker; 0 where unknown
	BoxVoltage quantity.Measured[quantity.Voltage]
}

// LongestDwell is the most that a card takes: more is a slip of the unit.
const LongestDwell quantity.Time = 20000

// DwellPoint is the dwell that the controller holds at one supply.
type DwellPoint struct {
	Supply quantity.Voltage
	Dwell  quantity.Time
}

// DwellAt is the dwell that the controller holds at a supply: the one dwell, or the table's, straight between its
// points and beyond its ends as at the end (assumed: what controllers with such a table do).
func (g Ignition) DwellAt(supply quantity.Voltage) Setting[quantity.Time] {
	t := g.DwellTable
	if len(t) == 0 {
		return g.Dwell
	}
	k := slices.IndexFunc(t, func(p DwellPoint) bool { return p.Supply >= supply })
	switch k {
	case 0:
		return Set(t[0].Dwell)
	case -1:
		return Set(t[len(t)-1].Dwell)
	}
	a, b := t[k-1], t[k]
	share := quantity.Time((supply - a.Supply) / (b.Supply - a.Supply))
	return Set(a.Dwell + share*(b.Dwell-a.Dwell))
}

// DwellText prints the dwell that the controller holds with the engine running, and that it is one of a table.
func (g Ignition) DwellText() string {
	text := g.DwellAt(g.Supply).String()
	if n := len(g.DwellTable); n > 0 {
		text += fmt.Sprintf(" at %v, by a table of %d points", g.Supply, n)
	}
	return text
}

// usualOff stands in for an off time that nobody stated. The default of coil.off_time says the same.
const usualOff quantity.Time = 600

// OffTime is the least time without current between two charges of one coil, or between two trigger pulses of a spark
// box, and the field that holds it. Where nobody stated it, one value stands in for both.
func (c *Card) OffTime() (off quantity.Time, path string, assumed bool) {
	if c.Ignition.Output == SparkBox {
		rest, given := c.Ignition.BoxPulse.Rest.Get()
		if !given {
			rest = usualOff
		}
		return rest, "ignition.box_pulse_rest", !given
	}
	path = "coil.off_time"
	if !c.Coil.Stated {
		return usualOff, path, true
	}
	return c.Coil.OffTime, path, c.Assumed(path)
}

// BoxPulse are the limits of a spark box's trigger pulse, by its maker.
type BoxPulse struct {
	Least Setting[quantity.Time] // least width that the box answers to
	Most  Setting[quantity.Time] // greatest width that its maker allows
	Rest  Setting[quantity.Time] // least time between the end of a pulse and the start of the next
}

// Coil is the coil, where a coil driver charges it.
type Coil struct {
	Stated               bool                // false: no coil section was written
	Resistance           quantity.Resistance // primary at 20 °C
	Inductance           quantity.Inductance // unsaturated
	SaturatesAt          quantity.Current    // current scale of L(i) = L0/(1+(i/Is)²); 0 where Curve or Charge is given
	Curve                []CurvePoint        // L(i) table, ascending current
	Charge               []ChargePoint       // measured current against time at Supply, fitted
	Target               quantity.Current
	Wiring               quantity.Resistance // leads and connectors in series
	DriverDrop           quantity.Voltage    // across the driver while on
	DriverLimit          quantity.Current
	Temperature          quantity.Temperature // of the winding when hot
	HeatLimit            quantity.Power
	OffTime              quantity.Time        // least off time between charges: burn and recovery
	SecondaryCapacitance quantity.Capacitance // coil, lead and plug together
	// share of the stored energy that reaches the secondary before breakdown, 0..1
	Efficiency float64
	Ceiling    quantity.Voltage // what the secondary never passes; 0 where not stated
}

// CurvePoint is a point of an L(i) table: L = dλ/di at the current.
type CurvePoint struct {
	Current    quantity.Current
	Inductance quantity.Inductance
}

// ChargePoint is a measured point of a charging curve.
type ChargePoint struct {
	Time    quantity.Time
	Current quantity.Current
}

// Assumed says whether the field at the dotted path ("engine.pin_offset") was left to its default by the writer of
// the card.
func (c *Card) Assumed(path string) bool { return c.assumed[path] }

// Written says whether the card has the line at the dotted path. A coil section that is left out counts as written.
func (c *Card) Written(path string) bool {
	_, left := c.assumed[path]
	return !left
}

// Spacing is the smallest interval between firings: what the lead has to fit in. 720/N on an even-fire engine.
func (c *Card) Spacing() quantity.Crank { return c.firings.Smallest() }

// EvenFire says whether all firings are equally spaced.
func (c *Card) EvenFire() bool { return c.firings.Even() }

// TimingLight is what is known of the light that the timing is read with.
type TimingLight struct {
	// Checked is "yes" where its dial stands at zero and it flashes without delay of its own, seen against a second
	// light or a recording.
	Checked string
}

// Proof is what the closing statement is to say.
type Proof struct {
	// NotClaimed are the clauses, by title, that the shop does not claim for this job.
	NotClaimed []string
}

// Clauses are the titles of the nine clauses of the closing statement.
var Clauses = []string{"zero mark", "locked", "timing", "every cylinder", "right cylinder", "first crank", "signals",
	"spark", "held"}

// Unclaimed says whether the card does not claim the clause with a title.
func (c *Card) Unclaimed(title string) bool { return slices.Contains(c.Proof.NotClaimed, title) }
