package procedure

import (
	"math/bits"
	"strings"
)

// Part is a part of the plant, or a piece of evidence that stands or does not.
type Part uint8

// The parts. Value 0 of each is how an engine is found, or what must be feared of it.
const (
	People Part = iota
	Secured
	Feed
	Box
	Injectors
	FuelLine
	Starter
	Battery
	Key
	Engine
	Plugs
	Bar
	StopTool
	Unit
	Clamp
	Cap
	Wires
	Crank
	Lock
	Hands // during a step only
	Light // during a step only

	// Evidence.
	AsFound
	Noted
	Zero
	Marks
	Fit
	Settings
	Phased
	Stroke
	Turned
	Base
	Leaks
	Idle
	Range
	Proven
	Signed
	parts // how many
)

// Value is a state of a part.
type Value uint8

// No and Yes are the values of evidence.
const (
	No  Value = 0
	Yes Value = 1
)

// The values of the parts.
const (
	Live, Dead         Value = 0, 1 // Feed, Injectors
	Charged, Bled      Value = 0, 1 // Box
	Full, Empty        Value = 0, 1 // FuelLine
	Able, Disabled     Value = 0, 1 // Starter
	Connected, Removed Value = 0, 1 // Battery
	In, Out            Value = 0, 1 // Plugs
	On, Off            Value = 0, 1 // Cap, Wires
	OffCrank, OnCrank  Value = 0, 1 // Bar
	NotIn, InPlace     Value = 0, 1 // StopTool
	Tight, Loose       Value = 0, 1 // Clamp
	Anywhere, AtLead   Value = 0, 1 // Crank

	KeyOff, KeyRun, KeyCrank           Value = 0, 1, 2
	Stopped, Cranking, Running         Value = 0, 1, 2    // Engine
	OldIn, NoneIn, NewIn               Value = 0, 1, 2    // Unit
	LockUnknown, Locked, Free          Value = 0, 1, 2    // Lock
	Clear, Turning, AtIgnition, AtFuel Value = 0, 1, 2, 3 // Hands
	NotLooked, DryFitted, Ready        Value = 0, 1, 2    // Fit
	NoLight, OnMarks                   Value = 0, 1       // Light
)

// states is how a part reads in each of its values; its length says how many values there are.
var states = [parts][]string{
	People:    {"nobody has said who is here", "everybody here is known"},
	Secured:   {"place not shown safe since people came back", "place safe, drive out"},
	Feed:      {"coil feed not shown dead", "coil feed dead by meter"},
	Box:       {"spark box charged", "spark box bled down"},
	Injectors: {"injectors fed", "injectors off"},
	FuelLine:  {"fuel in the line", "fuel line let down and shut"},
	Starter:   {"starter able to turn", "every start disabled"},
	Battery:   {"battery on", "all batteries off"},
	Key:       {"key off", "key at run", "key at start"},
	Engine:    {"engine stopped", "engine turned by the starter", "engine running"},
	Plugs:     {"plugs in", "plugs out"},
	Bar:       {"bar off the crankshaft", "bar on the crankshaft"},
	StopTool:  {"piston stop out", "piston stop in"},
	Unit:      {"old unit in", "unit out", "new unit in"},
	Clamp:     {"clamp tight", "clamp loose"},
	Cap:       {"cap and air cleaner on", "cap off"},
	Wires:     {"wires on", "wires off"},
	Crank:     {"crankshaft not at the lead mark", "crankshaft at the lead mark, compression stroke"},
	Lock:      {"not known whether the timing is locked", "timing locked", "timing free"},
	Hands:     {"hands clear", "hands turning the crankshaft", "hands at the ignition", "hands at the fuel"},
	Light:     {"no light on the marks", "light on the marks"},
	AsFound:   {"not run as found", "run as found"},
	Noted:     {"old unit not recorded", "old unit recorded"},
	Zero:      {"zero mark not proven", "zero mark proven"},
	Marks:     {"marks not on the damper", "marks on the damper"},
	Fit:       {"fit not looked at", "fit looked at, not oiled", "fit right and oiled"},
	Settings:  {"settings not read back", "settings read back"},
	Phased:    {"housing not phased", "housing phased"},
	Stroke:    {"stroke not shown by the cam pickup", "stroke shown by the cam pickup"},
	Turned:    {"not turned over closed up, coil dead", "turned over closed up, oil pressure shown"},
	Base:      {"base timing not shown", "base timing shown"},
	Leaks:     {"fuel not primed and looked over", "fuel primed, no leak"},
	Idle:      {"no locked reading at idle", "locked reading at idle inside the bound"},
	Range:     {"speeds not read", "speeds read, each inside the bound"},
	Proven:    {"timing not proven", "timing proven"},
	Signed:    {"not signed", "signed"},
}

// acts are the orders that bring a part to each of its values; "" where nobody brings it there by hand.
var acts = [parts][]string{
	People:    {"", "say who is here"},
	Secured:   {"", "make the place safe and take the drive out"},
	Feed:      {"put the coil feed on", "pull the coil feed and meter it dead"},
	Box:       {"", "let the spark box bleed down"},
	Injectors: {"plug the injectors in", "unplug the injectors"},
	FuelLine:  {"let fuel into the line", "let the fuel line down and shut it"},
	Starter:   {"put the starter wire on", "disable every start"},
	Battery:   {"put the battery on", "take all batteries off"},
	Key:       {"turn the key off", "turn the key to run", ""},
	Engine:    {"stop the engine", "", "start the engine"},
	Plugs:     {"put the plugs in", "take the plugs out"},
	Bar:       {"take the bar off the crankshaft", "put the bar on the crankshaft"},
	StopTool:  {"take the piston stop out", "fit the piston stop"},
	Unit:      {"put the old unit back", "lift out the unit that is in", "drop the new unit in"},
	Clamp:     {"tighten the clamp", "loosen the clamp"},
	Cap:       {"put cap and air cleaner on", "take the cap off"},
	Wires:     {"put the wires on", "take the wires off"},
	Crank:     {"", "bring the crankshaft to the lead mark, on compression"},
	Lock:      {"", "lock the timing", "unlock the timing"},
	Hands:     {"take your hands away", "", "", ""},
	Light:     {"", ""},
	AsFound:   {"", "run it as found"},
	Noted:     {"", "record the old unit"},
	Zero:      {"", "prove the zero mark"},
	Marks:     {"", "mark the damper"},
	Fit:       {"", "look at the fit, dry", "look at the fit and oil it"},
	Settings:  {"", "read the settings back"},
	Phased:    {"", "phase the housing"},
	Stroke:    {"", "look at the cam signal"},
	Turned:    {"", "turn it over on the starter, closed up, coil dead"},
	Base:      {"", "read the base timing"},
	Leaks:     {"", "prime the fuel and look for leaks"},
	Idle:      {"", "read the light at idle, timing locked"},
	Range:     {"", "read every speed"},
	Proven:    {"", "prove the timing"},
	Signed:    {"", "sign"},
}

// Plant is the state of every part, packed: comparable, and small enough to search.
type Plant uint64

// shift is where each part lies in the word, place the bits it takes there: one for a part of two values, two for
// others.
var shift, place = func() (at [parts]uint8, bitsOf [parts]Plant) {
	var n uint8
	for p := range parts {
		width := uint8(bits.Len(uint(len(states[p]) - 1)))
		at[p], bitsOf[p] = n, (1<<width-1)<<n
		n += width
	}
	return at, bitsOf
}()

// Get is the value of a part.
func (p Plant) Get(part Part) Value { return Value(p & place[part] >> shift[part]) }

// With is the plant with a part at a value.
func (p Plant) With(part Part, v Value) Plant {
	return p&^place[part] | Plant(v)<<shift[part]&place[part]
}

// String lists the parts that are not as found.
func (p Plant) String() string {
	var out []string
	for part := range parts {
		if v := p.Get(part); v != 0 {
			out = append(out, Say(part, v))
		}
	}
	if out == nil {
		return "as found"
	}
	return strings.Join(out, ", ")
}

// Say puts the state of a part into words.
func Say(part Part, v Value) string {
	if part >= parts || int(v) >= len(states[part]) {
		return "not a state of the plant"
	}
	return states[part][v]
}

// Condition holds while the part is at one of the values.
type Condition struct {
	Part Part
	In   uint8 // bit v is set for each value v that will do
}

// is makes a condition of the values that will do.
func is(part Part, values ...Value) Condition {
	c := Condition{Part: part}
	for _, v := range values {
		c.In |= 1 << v
	}
	return c
}

// Holds says whether the condition holds.
func (c Condition) Holds(p Plant) bool { return c.In>>p.Get(c.Part)&1 != 0 }

// String names the values that will do.
func (c Condition) String() string {
	var out []string
	for v := range states[c.Part] {
		if c.In>>v&1 != 0 {
			out = append(out, states[c.Part][v])
		}
	}
	return strings.Join(out, " or ")
}

// act is the order that makes the condition hold; "" where there is none.
func (c Condition) act() string {
	for v, order := range acts[c.Part] {
		if c.In>>v&1 != 0 && order != "" {
			return order
		}
	}
	return ""
}

// hold says whether all conditions hold.
func hold(all []Condition, p Plant) bool {
	for _, c := range all {
		if !c.Holds(p) {
			return false
		}
	}
	return true
}

// Clause holds while one of its conditions does. The first is what a step brings about; the others say when that is
// past and needed no more.
type Clause []Condition

func either(c ...Condition) Clause { return c }

// Holds says whether one of the conditions holds.
func (c Clause) Holds(p Plant) bool {
	for _, one := range c {
		if one.Holds(p) {
			return true
		}
	}
	return false
}

// Effect puts a part to a value.
type Effect struct {
	Part Part
	To   Value
}

func to(part Part, v Value) Effect { return Effect{part, v} }

// phase is what is so at one moment of a step.
func phase(effects ...Effect) []Effect { return effects }
