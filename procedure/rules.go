package procedure

// Rule forbids a state of the plant, whatever steps led there. It knows no steps: it is the second fence behind their needs.
type Rule struct {
	ID       string
	Reason   string
	Forbids  []Condition // all together
	Evidence string      // what shows that the rule is kept
	Source   string
}

// Sources of the rules.
const (
	common = "common practice"
	sheets = "common practice; stands among the cautions of every set-up sheet"
)

// Rules is the table of what must never be, neither while a step is done nor after it. What is not listed here may still be unwise: the
// maker's instructions come first.
func Rules() []Rule { return append([]Rule(nil), rules...) }

var turningOver = is(Engine, Cranking, Running)

var rules = []Rule{
	// Hands turn the crank.
	{"hands-coil", "a turned crank makes sparks while coil power is on: plug leads bite and fuel vapour lights",
		[]Condition{is(Hands, Turning), is(CoilPower, Live)}, "coil feed off and seen to be dead", sheets},
	{"hands-injectors", "a turned crank lets live injectors spray; the engine can kick",
		[]Condition{is(Hands, Turning), is(Injectors, Live)}, "injector feed off", sheets},
	{"hands-box", "a spark box holds a lethal charge after the key is off and fires at the next edge",
		[]Condition{is(Hands, Turning), is(Box, Charged)}, "voltage read at the box", sheets},
	{"hands-battery", "the starter must not be able to turn while a hand holds the bar",
		[]Condition{is(Hands, Turning), is(Battery, Connected)}, "battery lead off", common},
	{"hands-key", "the key stays off and in the pocket of whoever turns the engine",
		[]Condition{is(Hands, Turning), is(Key, KeyRun, KeyCrank)}, "key off and out", sheets},
	{"hands-secured", "a vehicle in gear rolls as the crank is turned",
		[]Condition{is(Hands, Turning), is(Secured, No)}, "wheels chocked, neutral or park", sheets},

	// Hands at plugs, wires, cap, housing.
	{"ignition-coil", "tens of kilovolts at the cap and wires while coil power is on",
		[]Condition{is(Hands, AtIgnition), is(CoilPower, Live)}, "coil feed off and seen to be dead", sheets},
	{"ignition-box", "a spark box holds a lethal charge after the key is off",
		[]Condition{is(Hands, AtIgnition), is(Box, Charged)}, "voltage read at the box", sheets},
	{"ignition-turning", "belts, fan and sparks are an arm's length from the distributor",
		[]Condition{is(Hands, AtIgnition), turningOver}, "engine stopped", common},

	// Tools on the crank, stop in the bore.
	{"tools-starter", "a bar on the crank is thrown as the starter turns",
		[]Condition{is(Tools, OnCrank), turningOver}, "tools off the crank and in the box", sheets},
	{"tools-key", "with the key on, one turn more of it throws the bar",
		[]Condition{is(Tools, OnCrank), is(Key, KeyRun, KeyCrank)}, "key off and in the pocket of whoever turns", common},
	{"tools-battery", "the starter must not be able to turn while tools are on the crank",
		[]Condition{is(Tools, OnCrank), is(Battery, Connected)}, "battery lead off", common},
	{"tools-coil", "whoever finds the bar on the crank will turn it: coil power stays off till it is away",
		[]Condition{is(Tools, OnCrank), is(CoilPower, Live)}, "coil feed off and seen to be dead", sheets},
	{"tools-injectors", "whoever finds the bar on the crank will turn it: injectors stay off till it is away",
		[]Condition{is(Tools, OnCrank), is(Injectors, Live)}, "injector feed off", sheets},
	{"tools-box", "whoever finds the bar on the crank will turn it: the spark box stays bled down till it is away",
		[]Condition{is(Tools, OnCrank), is(Box, Charged)}, "voltage read at the box", common},
	{"stop-starter", "the starter drives the piston stop through the piston",
		[]Condition{is(StopTool, InPlace), turningOver}, "stop out and in the box", common},
	{"stop-battery", "the starter must not be able to turn while the stop is in the bore",
		[]Condition{is(StopTool, InPlace), is(Battery, Connected)}, "battery lead off", common},
	{"stop-plug", "plug and piston stop cannot share one hole",
		[]Condition{is(StopTool, InPlace), is(Plug, In)}, "stop out and in the box", "geometry"},

	// The starter.
	{"starter-plug", "mixture blows from an open plug hole and its loose lead lights it",
		[]Condition{is(Plug, Out), turningOver}, "every plug in, every lead on", sheets},
	{"coil-plug", "a coil that fires into a loose lead strikes the nearest metal or hand",
		[]Condition{is(Plug, Out), is(CoilPower, Live)}, "every plug in, every lead on", common},
	{"injectors-plug", "live injectors and an open plug hole: fuel vapour under the bonnet",
		[]Condition{is(Plug, Out), is(Injectors, Live)}, "injector feed off", common},
	{"starter-cap", "with the cap off the spark jumps where it likes, and the rotor can touch a hand",
		[]Condition{is(Cap, Off), turningOver}, "cap seated, clips home", common},
	{"coil-cap", "a coil that fires with the cap off strikes the nearest metal or hand",
		[]Condition{is(Cap, Off), is(CoilPower, Live)}, "cap seated, clips home", common},
	{"starter-wires", "a coil without its wire breaks down inside or into a hand",
		[]Condition{is(Wires, Off), turningOver}, "every lead on its tower and plug", common},
	{"coil-wires", "a coil without its wire breaks down inside or into a hand",
		[]Condition{is(Wires, Off), is(CoilPower, Live)}, "every lead on its tower and plug", common},
	{"starter-unit", "the starter turns only with the new unit in: the old one does not answer to these settings, and an empty bore may leave the oil pump undriven",
		[]Condition{is(Distributor, OldIn, NoneIn), turningOver}, "new unit seated", common},
	{"key-unit", "with the unit out its leads hang loose: no key while the distributor is out",
		[]Condition{is(Distributor, NoneIn), is(Key, KeyRun, KeyCrank)}, "key off", common},
	{"starter-clamp", "a loose unit lifts out of mesh or swings as the starter turns",
		[]Condition{is(Clamp, Finger, Loose), turningOver}, "clamp at the maker's torque", sheets},
	{"starter-secured", "a vehicle in gear leaps as the starter turns; exhaust kills indoors",
		[]Condition{is(Secured, No), turningOver}, "wheels chocked, neutral or park, exhaust led outside", sheets},
	{"starter-fit", "an unchecked or dry gear eats itself in the first minute",
		[]Condition{is(Fit, NotLooked, Looked, Shimmed), turningOver}, "fit looked at, gear and shaft lubricated", common},
	{"starter-phased", "a housing that was never phased may fire any cylinder at any angle",
		[]Condition{is(Phased, No), turningOver}, "active edge found at the trigger lead", common},
	{"starter-walked", "nobody has looked whether all is on and all are clear",
		[]Condition{is(Walked, No), turningOver}, "walked round: plugs, leads, tools, sleeves, people", common},

	{"battery-running", "a battery taken off a running engine burns its alternator and the controller",
		[]Condition{is(Battery, Disconnected), turningOver}, "engine stopped", common},

	// Checks.
	{"check-clamp", "a reading with the clamp loose proves nothing: the housing walks",
		[]Condition{is(Clamp, Finger, Loose), is(Check, TimingCheck)}, "clamp at the maker's torque", sheets},
	{"check-zero", "a damper ring slips with age: a light read against an unproven zero says nothing of the engine",
		[]Condition{is(Check, TimingCheck), is(Zero, No)}, "zero mark proven by piston stop", common},
	{"check-marks", "a light read where no mark was laid out is a guess",
		[]Condition{is(Check, TimingCheck), is(Marks, No)}, "marks laid out from the proven zero", common},

	// Fuel.
	{"fuel-cranking", "an engine with live injectors starts if it can: base timing first",
		[]Condition{is(Base, No), is(Injectors, Live), is(Key, KeyCrank)}, "base timing read while cranking with the fuel off", sheets},
	{"fuel-base", "no injectors on the new unit before base timing is proven",
		[]Condition{is(Base, No), is(Injectors, Live), is(Distributor, NoneIn, NewIn)}, "base timing read while cranking with the fuel off", sheets},
	{"fuel-pressure", "no fuel pressure while the ignition is open or unproven: it burns",
		[]Condition{is(Base, No), is(Fuel, Open), is(Distributor, NoneIn, NewIn)}, "pump off, rail let down", sheets},
	{"fuel-plug", "fuel pressure and an open plug hole: vapour under the bonnet",
		[]Condition{is(Plug, Out), is(Fuel, Open)}, "pump off, rail let down", common},
	{"run-base", "an engine may run only on proven base timing",
		[]Condition{is(Base, No), is(Engine, Running)}, "base timing read while cranking with the fuel off", sheets},

	// Settings.
	{"settings-running", "settings change with the engine stopped, and count once power-cycled and read back",
		[]Condition{is(Settings, Changed, Stored, Cycled), turningOver}, "every setting read back", sheets},
	{"allowance-running", "the delay allowance changes with the engine stopped, and counts once power-cycled and read back",
		[]Condition{is(Allowance, AllowanceStored, AllowanceCycled), turningOver}, "allowance read back", sheets},
	{"handed-over-locked", "an engine handed over with its timing locked runs hot and weak",
		[]Condition{is(Signed, Yes), is(Lock, Locked, LockUnknown)}, "timing unlocked and seen to move", common},
	{"handed-over-unproven", "a signature stands under a proof, not under a hope",
		[]Condition{is(Signed, Yes), is(Proven, No)}, "error and uncertainty inside the tolerance", common},
}

// test is a set of conditions made ready for the search: those of one value are compared in one go.
type test struct {
	mask, want Plant
	rest       []Condition
}

func ready(all []Condition) (t test) {
	for _, c := range all {
		one := -1
		for v := range words[c.Part] {
			if c.In == 1<<v {
				one = v
			}
		}
		if one < 0 || t.mask&place[c.Part] != 0 {
			t.rest = append(t.rest, c)
			continue
		}
		t.mask |= place[c.Part]
		t.want = t.want.With(c.Part, Value(one))
	}
	return t
}

// holds says whether all of them hold.
func (t *test) holds(p Plant) bool { return p&t.mask == t.want && hold(t.rest, p) }

// broken lists the rules, by their place in the table, that a state breaks. As a set of bits: there are fewer than 64.
func (p *Procedure) broken(s Plant) uint64 {
	var out uint64
	for i := range p.tests {
		if t := &p.tests[i]; s&t.mask == t.want && hold(t.rest, s) {
			out |= 1 << i
		}
	}
	return out
}

// arm makes the rules ready.
func (p *Procedure) arm(all []Rule) {
	p.rules, p.tests = all, make([]test, len(all))
	for i := range all {
		p.tests[i] = ready(all[i].Forbids)
	}
}
