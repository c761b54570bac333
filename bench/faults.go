package bench

import (
	"fmt"
	"strconv"
	"strings"

	"phasewright/quantity"
)

// Faults is everything that may be wrong with one engine at once. The zero value is a sound engine. Signs are beside
// the fields and in the table of faults (FaultTable), which is also how a fault is named and read from text.
type Faults struct {
	Housing   quantity.Shaft // housing off, against the rotor positive: spark early
	Lead      quantity.Crank // lead setting more than the metal's: spark late
	Allowance quantity.Time  // delay allowance in force more than the configuration's: earlier with speed
	Delay     quantity.Time  // true signal delay more than the configuration's: later with speed
	Damper    quantity.Crank // damper ring slipped, pointer bent: reads early where positive
	Edge      bool           // controller acts on the other edge
	HalfTurn  bool           // unit in on the exhaust stroke
	// teeth out, ahead in rotor direction positive; the housing is turned back as far as it goes
	Tooth    int
	Reversed bool           // wires walked the wrong way round from No. 1
	Swapped  [2]int         // these two cylinders' wires changed over; 0: none
	Tower    int            // all wires this many towers further on in rotor direction
	Rotor    quantity.Shaft // tip ahead of where it should be
	Unlocked bool           // the spark map commands
	Unstored quantity.Time  // a change of the allowance that is believed and not in force
	Dial     quantity.Crank // light's dial left here: reads late
	// dial light, set for one flash in two turns, on a wire that sparks every turn: reads double
	TwoSpark   bool
	LightDelay quantity.Time  // of the light itself
	Polarity   bool           // variable-reluctance wires reversed
	Leads      bool           // crank and cam leads changed over
	NoCrank    bool           // crank pickup without power or broken
	NoCam      bool           // cam pickup without power or broken
	Noise      float64        // extra edges a firing, at any time
	Crossfire  float64        // share of sparks that reach the crank pickup at the worst speed
	Worn       quantity.Crank // standard deviation of edges from a worn drive or chain
	Wobble     quantity.Crank // once-a-shaft-turn swing from a worn bushing, amplitude
	Lash       quantity.Shaft // backlash of the drive, flank to flank
	Clamp      quantity.Shaft // housing creeps with the rotor by this much a minute
	Dwell      quantity.Time  // dwell longer than the configuration's
	Supply     quantity.Voltage
	Vane       quantity.Shaft // the third vane bent, late positive
	Misread    float64        // share of readings misread by ten degrees
}

// ValueKind is the sort of value a fault takes.
type ValueKind string

// The kinds of value.
const (
	ShaftAngle ValueKind = "shaft angle"
	CrankAngle ValueKind = "crank angle"
	TimeValue  ValueKind = "time"
	Volts      ValueKind = "voltage"
	Count      ValueKind = "whole number"
	Share      ValueKind = "share in %"
	Word       ValueKind = "word"
)

// Fault is one row of the table: a fault that can be switched on with a size. Sizes are in base units (degrees, µs, V,
// share 0…1); a fault of kind Word has size 1, or for wires the code that Read gives.
type Fault struct {
	Name      string
	Title     string
	Shows     string // how it shows
	Kind      ValueKind
	Words     string // accepted words, where Kind is Word
	Low, High float64
	Typical   float64 // default size
	Needs     Need
	access
}

// access reads and writes a fault's size in base units.
type access struct {
	set func(*Faults, float64)
	get func(Faults) float64
}

func amount[T ~float64](at func(*Faults) *T) access {
	return access{func(f *Faults, v float64) { *at(f) = T(v) }, func(f Faults) float64 { return float64(*at(&f)) }}
}

func count(at func(*Faults) *int) access {
	return access{func(f *Faults, v float64) { *at(f) = int(v) }, func(f Faults) float64 { return float64(*at(&f)) }}
}

func flag(at func(*Faults) *bool) access {
	return access{func(f *Faults, v float64) { *at(f) = v != 0 }, func(f Faults) float64 {
		if *at(&f) {
			return 1
		}
		return 0
	}}
}

// Need is what an engine must have for a fault to make sense.
type Need string

// What faults may need.
const (
	NeedsNothing Need = ""
	NeedsRotor   Need = "a distributor that steers the spark"
	NeedsGear    Need = "a gear-driven distributor"
	NeedsCam     Need = "a cam pickup"
	NeedsCoilVR  Need = "a variable-reluctance crank pickup"
	NeedsThird   Need = "three cylinders or more"
)

const wiresReversed = 1 // size code of wires=reversed; a pair a-b is 100·a+b

// FaultTable lists every fault. Sizes and ranges are assumed: wide enough for what a shop meets.
func FaultTable() []Fault {
	return []Fault{
		{"housing", "housing off", "constant error of twice the turn, all speeds; against the rotor (+) is early",
			ShaftAngle, "", -20, 20, 2, NeedsNothing,
			amount(func(f *Faults) *quantity.Shaft { return &f.Housing })},
		{"lead", "lead setting not equal to metal", "constant error of minus this, all speeds", CrankAngle, "", -60, 60,
			3, NeedsNothing,
			amount(func(f *Faults) *quantity.Crank { return &f.Lead })},
		{"allowance", "delay allowance wrong", "error proportional to speed, early where positive; right at cranking",
			TimeValue, "", -1000, 1000, -60, NeedsNothing,
			amount(func(f *Faults) *quantity.Time { return &f.Allowance })},
		{"delay", "signal delay longer than expected",
			"error proportional to speed, late where positive; right at cranking", TimeValue, "", -1000, 2000, 120,
			NeedsNothing,
			amount(func(f *Faults) *quantity.Time { return &f.Delay })},
		{"damper", "damper ring slipped or pointer bent", "light and piston stop disagree; reads early where positive",
			CrankAngle, "", -60, 60, 4, NeedsNothing,
			amount(func(f *Faults) *quantity.Crank { return &f.Damper })},
		{"edge", "wrong active edge", "constant error of two vane widths; lamp at rest inverted", Word, "inverted", 0,
			1, 1, NeedsNothing, flag(func(f *Faults) *bool { return &f.Edge })},
		{"stroke", "unit in half a turn out", "reads right; no compression at the mark, spits back, will not start",
			Word, "exhaust", 0, 1, 1, NeedsNothing, flag(func(f *Faults) *bool { return &f.HalfTurn })},
		{"tooth", "drive gear teeth out", "housing at the end of its travel", Count, "", -3, 3, 1, NeedsGear,
			count(func(f *Faults) *int { return &f.Tooth })},
		{"wires", "plug wires swapped or walked the wrong way round",
			"reads right on 1, others wrong by whole spacings; misfire, backfire", Word,
			"reversed, or two cylinders such as 3-5", 0, 1, wiresReversed, NeedsRotor, access{setWires, getWires}},
		{"tower", "No. 1 wire in the wrong tower", "all wires wrong by whole spacings", Count, "", -8, 8, 1, NeedsRotor,
			count(func(f *Faults) *int { return &f.Tower })},
		{"rotor", "rotor phasing out", "reads right; crossfire or misfire at one end of the advance range", ShaftAngle,
			"", -40, 40, 14, NeedsRotor,
			amount(func(f *Faults) *quantity.Shaft { return &f.Rotor })},
		{"lock", "timing not locked", "error follows the spark map", Word, "off", 0, 1, 1, NeedsNothing,
			flag(func(f *Faults) *bool { return &f.Unlocked })},
		{"unstored", "change of the allowance not stored or not power-cycled", "slope unchanged after the correction",
			TimeValue, "", -1000, 1000, 40, NeedsNothing,
			amount(func(f *Faults) *quantity.Time { return &f.Unstored })},
		{"dial", "light's own dial not at zero", "constant error of minus the dial; another light disagrees",
			CrankAngle, "", -60, 60, 5, NeedsNothing,
			amount(func(f *Faults) *quantity.Crank { return &f.Dial })},
		{"flashes", "dial light on a wire that sparks every turn", "advance and tachometer doubled", Word, "doubled", 0,
			1, 1, NeedsNothing, flag(func(f *Faults) *bool { return &f.TwoSpark })},
		{"lightdelay", "light flashes late", "as a longer signal delay, with this light only", TimeValue, "", 0, 2000,
			150, NeedsNothing,
			amount(func(f *Faults) *quantity.Time { return &f.LightDelay })},
		{"polarity", "variable-reluctance wires reversed", "late and drifting with speed, not a straight line", Word,
			"reversed", 0, 1, 1, NeedsCoilVR, flag(func(f *Faults) *bool { return &f.Polarity })},
		{"leads", "crank and cam cables swapped", "no sync, no spark; one edge in two turns on the crank input", Word,
			"swapped", 0, 1, 1, NeedsCam, flag(func(f *Faults) *bool { return &f.Leads })},
		{"pickup", "crank pickup without power", "no edges", Word, "off", 0, 1, 1, NeedsNothing,
			flag(func(f *Faults) *bool { return &f.NoCrank })},
		{"campickup", "cam pickup without power", "no sync", Word, "off", 0, 1, 1, NeedsCam,
			flag(func(f *Faults) *bool { return &f.NoCam })},
		{"noise", "noise or bad ground on the crank pickup", "scattered flashes, extra edges at any time", Share, "", 0,
			1, 0.05, NeedsNothing,
			amount(func(f *Faults) *float64 { return &f.Noise })},
		{"crossfire", "sparks reach the crank pickup", "scattered flashes, worst near one speed; extra edges at sparks",
			Share, "", 0, 1, 0.3, NeedsNothing,
			amount(func(f *Faults) *float64 { return &f.Crossfire })},
		{"worn", "worn drive or chain", "flashes scatter with this standard deviation", CrankAngle, "", 0, 10, 1.2,
			NeedsNothing, amount(func(f *Faults) *quantity.Crank { return &f.Worn })},
		{"wobble", "worn bushing", "pattern from cylinder to cylinder, once a shaft turn", CrankAngle, "", 0, 10, 1.5,
			NeedsNothing, amount(func(f *Faults) *quantity.Crank { return &f.Wobble })},
		{"lash", "backlash in the drive", "flashes fall in two groups", ShaftAngle, "", 0, 5, 0.6, NeedsNothing,
			amount(func(f *Faults) *quantity.Shaft { return &f.Lash })},
		{"clamp", "clamp loose", "readings walk later by twice this a minute", ShaftAngle, "", 0, 20, 1, NeedsNothing,
			amount(func(f *Faults) *quantity.Shaft { return &f.Clamp })},
		{"dwell", "dwell too short or too long", "weak spark at speed or everywhere", TimeValue, "", -20000, 20000,
			-1400, NeedsNothing, amount(func(f *Faults) *quantity.Time { return &f.Dwell })},
		{"supply", "supply too low", "weak spark, worst while cranking", Volts, "", -10, 6, -5, NeedsNothing,
			amount(func(f *Faults) *quantity.Voltage { return &f.Supply })},
		{"vane", "third vane bent", "one cylinder out, its follower the other way", ShaftAngle, "", -5, 5, 1,
			NeedsThird, amount(func(f *Faults) *quantity.Shaft { return &f.Vane })},
		{"misread", "readings misread by ten degrees", "a reading off the line of the others", Share, "", 0, 1, 0.1,
			NeedsNothing, amount(func(f *Faults) *float64 { return &f.Misread })},
	}
}

func setWires(f *Faults, v float64) {
	f.Reversed = v == wiresReversed
	f.Swapped = [2]int{}
	if v >= 100 {
		f.Swapped = [2]int{int(v) / 100, int(v) % 100}
	}
}

func getWires(f Faults) float64 {
	switch {
	case f.Swapped[0] != 0:
		return float64(100*f.Swapped[0] + f.Swapped[1])
	case f.Reversed:
		return wiresReversed
	}
	return 0
}

// Size is what the fault stands at in f, nought where it is off.
func (r Fault) Size(f Faults) float64 { return r.get(f) }

// Set puts the fault into f with a size in base units: degrees, µs, volts, a share of 0…1, a count; 1 for a fault that
// is a word.
func (r Fault) Set(f *Faults, size float64) { r.set(f, size) }

// Fits says whether the engine has what the fault needs.
func (r Fault) Fits(c Config) bool {
	switch r.Needs {
	case NeedsRotor:
		return c.Distributor.Steers
	case NeedsGear:
		return c.Distributor.GearTeeth > 0
	case NeedsCam:
		return c.CamFitted
	case NeedsCoilVR:
		return c.Crank.Kind == "variable reluctance"
	case NeedsThird:
		return c.Engine.Cylinders >= 3
	}
	return true
}

// Accepts tells what may be written as the value: "−20° to 20°, with unit".
func (r Fault) Accepts() string {
	switch r.Kind {
	case Word:
		return r.Words
	case Count:
		return fmt.Sprintf("%g to %+g", r.Low, r.High)
	}
	return r.write(r.Low) + " to " + r.write(r.High)
}

// Default is the typical size as it is written.
func (r Fault) Default() string {
	if r.Kind == Word {
		word, _, _ := strings.Cut(r.Words, ",")
		return word
	}
	return r.write(r.Typical)
}

func (r Fault) write(v float64) string {
	switch r.Kind {
	case ShaftAngle, CrankAngle:
		return strconv.FormatFloat(v, 'g', -1, 64) + "deg"
	case TimeValue:
		return strconv.FormatFloat(v, 'g', -1, 64) + "us"
	case Volts:
		return strconv.FormatFloat(v, 'g', -1, 64) + "V"
	case Share:
		return strconv.FormatFloat(100*v, 'g', -1, 64) + "%"
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// List names every fault that is switched on, as ParseFaults reads them.
func (f Faults) List() []string {
	var out []string
	for _, r := range FaultTable() {
		if v := r.get(f); v != 0 {
			if r.Kind == Word {
				if r.Name == "wires" && v >= 100 {
					out = append(out, fmt.Sprintf("wires=%d-%d", int(v)/100, int(v)%100))
					continue
				}
				out = append(out, r.Name+"="+r.Default())
				continue
			}
			out = append(out, r.Name+"="+r.write(v))
		}
	}
	return out
}
