package procedure

// Rule is a lock: it forbids a state of the plant, whatever steps led there. It knows no steps: it is the second
// fence behind their line.
type Rule struct {
	ID       string
	Never    bool // nobody can override it
	Only     trait
	Reason   string
	Forbids  []Condition // all together
	Evidence string      // what shows that the rule is kept
	Source   string
}

// trait narrows a rule to some engines.
type trait uint8

const (
	anyEngine trait = iota
	unmetered       // fuel that is in the line gets in by itself: carburettor, gas
)

// Sources of the rules.
const (
	common = "common practice"
	sheets = "common practice; stands among the cautions of every set-up sheet"
)

// Rules is the table of what must never be, neither while a step is done nor after it. What is not listed here may
// still be unwise: the maker's instructions come first. docs/hazards.md says for each hazard what holds it.
func Rules() []Rule { return append([]Rule(nil), rules...) }

var (
	handsIn     = is(Hands, Turning, AtIgnition)
	turningOver = is(Engine, Cranking, Running)
	notOld      = is(Unit, NoneIn, NewIn) // the old unit ran by its own timing
)

var rules = []Rule{
	// Hands. None of these can be overridden.
	{"hands-feed", true, anyEngine, "plug wires can shock you; a turned crankshaft makes sparks while the coil may " +
		"be fed",
		[]Condition{handsIn, is(Feed, Live)}, "coil feed dead by meter", sheets},
	{"hands-box", true, anyEngine, "a spark box holds a lethal charge after the key is off and fires at the next edge",
		[]Condition{handsIn, is(Box, Charged)}, "voltage read at the box", sheets},
	{"hands-starter", true, anyEngine, "a starter that turns while hands are in takes the hand",
		[]Condition{handsIn, is(Starter, Able)}, "starter wire off, every other start tagged", common},
	{"hands-turning", true, anyEngine, "belts, fan and sparks are an arm's length away",
		[]Condition{is(Hands, Turning, AtIgnition, AtFuel), turningOver}, "engine stopped", common},
	{"turn-battery", true, anyEngine, "a fault in a starter or a relay turns the engine while a hand holds the bar",
		[]Condition{is(Hands, Turning), is(Battery, Connected)},
		"every battery and charger off at the negative", common},
	{"turn-injectors", true, anyEngine, "a turned crankshaft lets fed injectors spray; the engine can kick",
		[]Condition{is(Hands, Turning), is(Injectors, Live)}, "injectors unplugged", sheets},
	{"turn-fuel", true, anyEngine, "with fuel in the way the engine can start as it is turned by hand",
		[]Condition{is(Hands, Turning), is(FuelLine, Full)}, "rail let down, bowl drained, tap shut", common},
	{"turn-plugs", false, anyEngine, "against compression the bar jumps back",
		[]Condition{is(Hands, Turning), is(Plugs, In)}, "every plug out", common},
	{"turn-secured", false, anyEngine, "a vehicle in gear rolls as the crankshaft is turned, a propeller turns",
		[]Condition{is(Hands, Turning), is(Secured, No)}, "drive out, chocked or moored", sheets},
	{"fuel-feed", true, anyEngine, "a spark sets fuel on fire that is opened or primed",
		[]Condition{is(Hands, AtFuel), is(Feed, Live)}, "coil feed dead by meter", common},
	{"hands-people", false, anyEngine, "who is not counted is not warned",
		[]Condition{handsIn, is(People, No)}, "everybody here is known", common},

	// Tools on the crank, stop in the bore. None of these can be overridden.
	{"bar-turning", true, anyEngine, "a bar on the crankshaft is thrown as the engine turns",
		[]Condition{is(Bar, OnCrank), turningOver}, "bar off the crankshaft and in the box", sheets},
	{"bar-key", true, anyEngine, "with the key on, one turn more of the key throws the bar",
		[]Condition{is(Bar, OnCrank), is(Key, KeyRun, KeyCrank)}, "key off and in the pocket of whoever turns", common},
	{"stop-turning", true, anyEngine, "the starter drives the piston stop through the piston",
		[]Condition{is(StopTool, InPlace), turningOver}, "stop out and in the box", common},
	{"stop-battery", true, anyEngine, "the starter must not be able to turn while the stop is in the bore",
		[]Condition{is(StopTool, InPlace), is(Battery, Connected)}, "every battery off", common},
	{"stop-plugs", true, anyEngine, "plug and piston stop cannot share one hole",
		[]Condition{is(StopTool, InPlace), is(Plugs, In)}, "plugs out", "geometry"},

	// The starter.
	{"starter-plugs", false, anyEngine, "mixture blows from an open plug hole, and a loose plug wire sets it on fire",
		[]Condition{is(Plugs, Out), turningOver}, "every plug in, every plug wire on", sheets},
	{"starter-cap", false, anyEngine,
		"without cap and air cleaner the spark jumps where it likes and a backfire comes out",
		[]Condition{is(Cap, Off), turningOver}, "cap and air cleaner or arrester on", common},
	{"coil-wires", true, anyEngine, "a coil that fires without its wires strikes the nearest metal or hand",
		[]Condition{is(Feed, Live), is(Wires, Off), turningOver}, "every wire on its tower and plug", common},
	{"starter-unit", false, anyEngine, "an empty bore may leave the oil pump without its drive",
		[]Condition{is(Unit, NoneIn), turningOver}, "new unit seated, its drive engaged", common},
	{"key-unit", false, anyEngine, "with the unit out its cables hang loose",
		[]Condition{is(Unit, NoneIn), is(Key, KeyCrank)}, "key off", common},
	{"starter-clamp", false, anyEngine, "a loose unit lifts out of mesh or swings as the engine turns",
		[]Condition{is(Clamp, Loose), turningOver}, "clamp at the maker's torque", sheets},
	{"starter-secured", false, anyEngine, "a vehicle in gear leaps, a propeller bites; exhaust kills indoors",
		[]Condition{is(Secured, No), turningOver}, "drive out, chocked or moored, exhaust outside by a hose", sheets},
	{"starter-people", false, anyEngine, "who is not counted is not warned",
		[]Condition{is(People, No), is(Engine, Cranking)}, "everybody here is known", common},
	{"starter-fit", false, anyEngine, "an unchecked or dry gear eats itself in the first minute",
		[]Condition{is(Unit, NewIn), is(Fit, NotLooked, DryFitted), turningOver},
		"fit looked at, gear and shaft oiled", common},
	{"starter-phased", false, anyEngine, "a housing that was never phased may fire any cylinder at any angle",
		[]Condition{notOld, is(Phased, No), is(Feed, Live), turningOver}, "active edge found at the lead", common},
	{"settings-turning", false, anyEngine, "settings count once power-cycled and read back",
		[]Condition{notOld, is(Settings, No), is(Feed, Live), turningOver}, "every setting read back", sheets},

	// Checks.
	{"check-clamp", false, anyEngine, "a reading with the clamp loose proves nothing: the housing walks",
		[]Condition{is(Clamp, Loose), is(Light, OnMarks)}, "clamp at the maker's torque", sheets},
	{"check-marks", false, anyEngine, "a light read where no mark was laid out from a proven zero is a guess",
		[]Condition{is(Light, OnMarks), is(Marks, No), notOld}, "marks laid out from the proven zero", common},

	// Fuel before base timing is shown. None of these can be overridden.
	{"base-injectors", true, anyEngine, "an engine with fed injectors starts if it can: base timing first",
		[]Condition{notOld, is(Base, No), is(Injectors, Live), is(Feed, Live), turningOver},
		"base timing read while cranking, injectors off", sheets},
	{"base-bowl", true, unmetered, "a full bowl starts the engine with the tap shut: base timing first",
		[]Condition{notOld, is(Base, No), is(FuelLine, Full), is(Feed, Live), turningOver},
		"base timing read while cranking, bowl empty, tap shut", common},
	{"base-running", true, anyEngine, "an engine may run only on base timing that was shown",
		[]Condition{notOld, is(Base, No), is(Engine, Running)}, "base timing read while cranking without fuel", sheets},
	{"dead-cranking-injectors", false, anyEngine, "unburnt fuel gathers in the exhaust and burns there later",
		[]Condition{is(Feed, Dead), is(Injectors, Live), is(Engine, Cranking)},
		"injectors off while cranking with a dead coil", common},
	{"dead-cranking-bowl", false, unmetered, "unburnt fuel gathers in the exhaust and burns there later",
		[]Condition{is(Feed, Dead), is(FuelLine, Full), is(Engine, Cranking)},
		"tap shut, bowl empty while cranking with a dead coil", common},
	{"running-leaks", false, anyEngine, "a leak that nobody looked for burns on a hot engine",
		[]Condition{notOld, is(Leaks, No), is(Engine, Running)},
		"primed with the coil dead, every joint looked at", common},

	// The end.
	{"signed-locked", false, anyEngine, "an engine handed over with its timing locked runs hot and weak",
		[]Condition{is(Signed, Yes), is(Lock, Locked, LockUnknown)}, "timing unlocked and seen to move", common},
	{"signed-unproven", true, anyEngine, "a signature stands under a proof, not under a hope",
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
		for v := range states[c.Part] {
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

// broken lists the rules, by their place in the table, that a state breaks. As a set of bits: there are fewer than 64.
func (p *Procedure) broken(s Plant) uint64 {
	var out uint64
	for i := range p.tests {
		if t := &p.tests[i]; s&t.mask == t.want && hold(t.rest, s) && (p.rules[i].Only == anyEngine || p.unmetered) {
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
