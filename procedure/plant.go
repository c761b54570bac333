package procedure

import (
	"math/bits"
	"strings"
)

// Part is a part of the plant, or a piece of evidence that stands or does not.
type Part uint8

// The parts. Value 0 of each is how an engine is found.
const (
	Secured Part = iota
	Battery
	Key
	Injectors
	Fuel
	CoilPower
	Box
	Plug
	StopTool
	Tools
	Distributor
	Clamp
	Cap
	Wires
	Settings
	Allowance
	Lock
	Engine
	Crank
	Hands // during a step only
	Check // during a step only

	// Evidence.
	Plan
	Noted
	Zero
	Marks
	Found
	Fit
	Phased
	Stroke
	Walked
	Base
	Idle
	Range
	Proven
	Signed
	Recorded
	parts // how many
)

// Value is a state of a part.
type Value uint8

// No and Yes are the values of evidence and of Secured.
const (
	No  Value = 0
	Yes Value = 1
)

// The values of the parts.
const (
	Connected, Disconnected Value = 0, 1 // Battery
	Live, Dead              Value = 0, 1 // Injectors, CoilPower
	Open, Shut              Value = 0, 1 // Fuel
	Charged, Bled           Value = 0, 1 // Box
	In, Out                 Value = 0, 1 // Plug
	On, Off                 Value = 0, 1 // Cap, Wires
	NotIn, InPlace          Value = 0, 1 // StopTool
	OffCrank, OnCrank       Value = 0, 1 // Tools

	KeyOff, KeyRun, KeyCrank             Value = 0, 1, 2
	OldIn, NoneIn, NewIn                 Value = 0, 1, 2    // Distributor
	Tight, Finger, Loose                 Value = 0, 1, 2    // Clamp
	Changed, Stored, Cycled, ReadBack    Value = 0, 1, 2, 3 // Settings
	AllowanceRead, AllowanceStored       Value = 0, 1       // Allowance
	AllowanceCycled                      Value = 2
	Free, Locked, LockUnknown            Value = 0, 1, 2 // Lock
	Stopped, Cranking, Running           Value = 0, 1, 2 // Engine
	Anywhere, AtLead                     Value = 0, 1    // Crank
	Clear, Turning, AtIgnition           Value = 0, 1, 2 // Hands
	NoCheck, TimingCheck, StandstillLook Value = 0, 1, 2 // Check
	NotLooked, Looked, Shimmed, Oiled    Value = 0, 1, 2, 3
)

// words is how a part reads in each of its values; its length says how many values there are.
var words = [parts][]string{
	Secured:     {"vehicle not secured", "vehicle secured"},
	Battery:     {"battery connected", "battery off"},
	Key:         {"key off", "key at run", "key at crank"},
	Injectors:   {"injectors live", "injectors off"},
	Fuel:        {"fuel on", "fuel shut"},
	CoilPower:   {"coil power on", "coil power off"},
	Box:         {"spark box charged", "spark box bled down"},
	Plug:        {"plug 1 in", "plug 1 out"},
	StopTool:    {"piston stop out", "piston stop in"},
	Tools:       {"tools off the crank", "tools on the crank"},
	Distributor: {"old distributor in", "distributor out", "new distributor in"},
	Clamp:       {"clamp tight", "clamp finger tight", "clamp off"},
	Cap:         {"cap on", "cap off"},
	Wires:       {"wires on", "wires off"},
	Settings:    {"settings changed, not stored", "settings stored, not power-cycled", "settings power-cycled, not read back", "settings read back"},
	Allowance:   {"delay allowance settled", "delay allowance stored, not power-cycled", "delay allowance power-cycled, not read back"},
	Lock:        {"timing free", "timing locked", "timing lock not known since the key was off"},
	Engine:      {"engine stopped", "engine cranking", "engine running"},
	Crank:       {"crank not at the trigger lead", "crank at the trigger lead"},
	Hands:       {"hands clear", "hands turning the crank", "hands at the ignition"},
	Check:       {"no check under way", "timing light on the marks", "signals looked at"},
	Plan:        {"set-up sheet not read", "set-up sheet read"},
	Noted:       {"old unit not recorded", "old unit recorded"},
	Zero:        {"zero mark not proven", "zero mark proven"},
	Marks:       {"marks not on the damper", "marks on the damper"},
	Found:       {"trigger lead on compression not found", "trigger lead on compression found"},
	Fit:         {"fit not looked at", "fit looked at, not lubricated", "shims laid, not lubricated", "fit right and lubricated"},
	Phased:      {"housing not phased", "housing phased"},
	Stroke:      {"stroke not proven by the cam pickup", "stroke proven by the cam pickup"},
	Walked:      {"not walked round the engine", "walked round the engine"},
	Base:        {"base timing not proven", "base timing proven"},
	Idle:        {"no locked reading at idle", "locked reading at idle taken"},
	Range:       {"no readings through the speed range", "readings through the speed range taken"},
	Proven:      {"timing not proven", "timing proven"},
	Signed:      {"job not signed off", "job signed off"},
	Recorded:    {"no record with the engine", "record with the engine"},
}

// Plant is the state of every part, packed: comparable, and small enough to search.
type Plant uint64

// shift is where each part lies in the word, place the bits it takes there: one for a part of two values, two for others. 36 parts take 46 bits.
var shift, place = func() (at [parts]uint8, bitsOf [parts]Plant) {
	var n uint8
	for p := range parts {
		width := uint8(bits.Len(uint(len(words[p]) - 1)))
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
	if part >= parts || int(v) >= len(words[part]) {
		return "not a state of the plant"
	}
	return words[part][v]
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

// not makes a condition that fails at one value only.
func not(part Part, v Value) Condition {
	return Condition{Part: part, In: (1<<len(words[part]) - 1) &^ (1 << v)}
}

// Holds says whether the condition holds.
func (c Condition) Holds(p Plant) bool { return c.In>>p.Get(c.Part)&1 != 0 }

// String names the values that will do.
func (c Condition) String() string {
	var out []string
	for v := range words[c.Part] {
		if c.In>>v&1 != 0 {
			out = append(out, words[c.Part][v])
		}
	}
	return strings.Join(out, " or ")
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

// Effect puts a part to a value.
type Effect struct {
	Part Part
	To   Value
}

func to(part Part, v Value) Effect { return Effect{part, v} }
