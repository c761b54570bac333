package words

import "strings"

// Entry is a word of the trade with what it means, in a plain sentence or two.
type Entry struct {
	ID    string // for links
	Word  string
	Means string
	also  []string // other forms in which it stands in a text; of an abbreviation first what its letters stand for
}

// Full is what the letters of an abbreviation stand for; "" for other words.
func (e *Entry) Full() string {
	if e.Word == strings.ToUpper(e.Word) {
		return e.also[0]
	}
	return ""
}

// Entries are the words of the trade that the texts use, in alphabetical order. A caller must not change it.
func Entries() []Entry { return append([]Entry(nil), entries...) }

var entries = []Entry{
	{"active-edge", "active edge", "The rising or falling edge of the signal that the controller acts on.", nil},
	{"advance", "advance", "Degrees of the crankshaft before top dead centre at which the spark jumps.", nil},
	{"atdc", "ATDC", "After top dead centre: the piston is on its way down again.",
		[]string{"after top dead centre"}},
	{"base-timing", "base timing", "The timing check at cranking, before fuel is let in.", nil},
	{"bench", "bench", "The simulated engine of this tool, for practice.", nil},
	{"btdc", "BTDC", "Before top dead centre: degrees that the crankshaft still has to turn up to TDC.",
		[]string{"before top dead centre"}},
	{"cam-pickup", "cam pickup", "The sensor that sees one vane in two turns of the crankshaft. It tells the " +
		"strokes apart.",
		nil},
	{"cap", "cap", "The lid of the distributor. Its towers carry the spark to the plug wires.", nil},
	{"captures", "capture", "Recorded signals: voltages, or changes, against time.", nil},
	{"commanded", "commanded", "What the controller was told. What the light shows may be another angle.", nil},
	{"companion", "companion", "The cylinder that reaches top dead centre together with another, one turn apart.",
		[]string{"companion cylinder", "companions"}},
	{"compression-stroke", "compression stroke", "The piston comes up with both valves shut. The spark belongs here.",
		[]string{"on compression"}},
	{"crank-pickup", "crank pickup", "The sensor that sees one vane for each firing.", []string{"crank signal"}},
	{"cranking", "cranking", "The starter turns the engine. It does not run by itself yet.", nil},
	{"crossfire", "crossfire", "The spark jumps to the tower of another cylinder.", nil},
	{"damper", "damper", "The wheel at the front of the crankshaft that carries the timing marks.", nil},
	{"delay-allowance", "delay allowance", "Microseconds that the controller already takes off for the signal delay.",
		nil},
	{"dividers", "dividers", "A tool with two points. It measures the straight line, not the way along the rim.", nil},
	{"dry-fit", "dry fit", "The unit is set in without oil and clamp, to see how it seats.", nil},
	{"dwell", "dwell", "How long, in milliseconds, the coil is charged before a spark.", nil},
	{"flange", "flange", "The rim of the unit that rests on the engine.", nil},
	{"kill", "kill", "The switch that stops the engine at once.", nil},
	{"lead", "trigger lead", "The angle before top dead centre at which the active edge arrives. The controller " +
		"counts " +
		"from it.", []string{"lead mark"}},
	{"locked-timing", "locked timing", "The controller holds one advance. Every correction is switched off.",
		[]string{"locked"}},
	{"phase", "phase the housing", "Turn the housing until the active edge comes exactly at the trigger lead.",
		[]string{"phasing"}},
	{"piston-stop", "piston stop", "A dead stop in the plug hole. Two marks are made, and true TDC is midway.", nil},
	{"power-cycle", "power-cycle", "Switch the controller off until it is dark, then on " +
		"again.", []string{"power cycle"}},
	{"proof", "proof", "The closing statement: error and uncertainty over all speeds, against the tolerance.", nil},
	{"redline", "redline", "The highest speed that the engine may run at.", nil},
	{"retard", "retard", "Make the spark later.", nil},
	{"rotor", "rotor", "The arm on the distributor's shaft that points the spark at a tower.", nil},
	{"scribe", "scribe", "Scratch a fine line with a sharp point.", nil},
	{"shim", "shim", "A thin ring laid under the flange to lift the unit.", []string{"shims"}},
	{"signal-delay", "signal delay", "The time from the metal at the pickup to the spark seen on the mark.", nil},
	{"spark-box", "spark box", "A unit that stores a high charge and fires it into the coil. It charges itself.", nil},
	{"suspect", "suspect", "A fault that could explain what was seen, with how likely it is.", []string{"suspects"}},
	{"sync", "sync", "The controller knows which cylinder is next.", nil},
	{"tdc", "TDC", "Top dead centre: the piston stands at its highest place.", []string{"top dead centre"}},
	{"timing-error", "timing error", "What the light shows less what was commanded. Above zero it is early.", nil},
	{"tower", "tower", "The place in the cap where one plug wire goes on.", []string{"towers"}},
	{"vane", "vane", "The metal blade that passes the pickup and makes its signal.", []string{"vanes"}},
	{"wasted-spark", "wasted spark", "One coil fires two plugs. The spark in the exhaust stroke does nothing.", nil},
}
