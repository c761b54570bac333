package words

import (
	"cmp"
	"slices"
	"strings"
)

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

// Entries are the words of the trade, in the order of their IDs.
func Entries() []Entry {
	return slices.SortedFunc(slices.Values(slices.Concat(entries, known)), func(a, b Entry) int {
		return cmp.Compare(a.ID, b.ID)
	})
}

// entries are the words that a text is linked from where they first stand in it.
var entries = []Entry{
	{"active-edge", "active edge", "The rising or falling edge of the signal that the controller acts on.", nil},
	{"advance", "advance", "Degrees of the crankshaft before top dead centre at which the spark jumps.", nil},
	{"atdc", "ATDC", "After top dead centre: the piston is on its way down again.",
		[]string{"after top dead centre"}},
	{"backlash", "backlash", "The free play between the teeth of two gears.", nil},
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
	{"end-play", "end play", "How far a shaft can move along its own length.", nil},
	{"flange", "flange", "The rim of the unit that rests on the engine.", nil},
	{"kill", "kill", "The switch that stops the engine at once.", nil},
	{"latency", "latency", "The time that the controller itself needs before it can act on an edge.", nil},
	{"lead", "trigger lead", "The angle before top dead centre at which the active edge arrives. The controller " +
		"counts " +
		"from it.", []string{"lead mark"}},
	{"locked-timing", "locked timing", "The controller holds one advance. Every correction is switched off.",
		[]string{"locked"}},
	{"off-time", "off time", "The pause between two charges of a coil. It must end before the next begins.", nil},
	{"parallax", "parallax", "The error of an eye that looks at a mark from the side.", nil},
	{"phase", "phase the housing", "Turn the housing until the active edge comes exactly at the trigger lead.",
		[]string{"phasing"}},
	{"piston-stop", "piston stop", "A dead stop in the plug hole. Two marks are made, and true TDC is midway.", nil},
	{"pointer", "pointer", "The fixed finger on the engine that the marks of the damper pass.", nil},
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
	{"zero-mark", "zero mark", "The line on the damper that stands at the pointer at TDC of cylinder 1.", nil},
}

// known are words that a workshop knows. The list explains them; no text is cluttered with links for them.
var known = []Entry{
	{"backfire", "backfire", "A charge burns in the exhaust or the intake. The spark came in the wrong stroke.", nil},
	{"bore", "bore", "The inside diameter of a cylinder.", nil},
	{"breakdown-voltage", "breakdown voltage",
		"The voltage at which a spark jumps a gap. It rises with gap and pressure.", nil},
	{"budget", "uncertainty budget", "A list of all that makes a number unsure, each with its share.", nil},
	{"camshaft", "camshaft", "The shaft that opens the valves. It turns once in two turns of the crankshaft.", nil},
	{"clamp", "inductive clamp", "It closes around a plug wire and tells the timing light of each spark.", nil},
	{"clause", "clause", "One of nine parts of the statement that is proven. Each stands or falls by itself.", nil},
	{"coil", "coil", "It stores energy in iron while current flows. It gives it as a high voltage.", nil},
	{"coil-driver", "coil driver",
		"The switch that lets current into the coil and stops it. The spark comes at the stop.", nil},
	{"compression-ratio", "compression ratio",
		"Volume of a cylinder at the bottom, divided by the volume at the top.", nil},
	{"controller", "controller", "The electronic box that decides when each spark comes.", nil},
	{"correction", "correction", "One turn of the housing, one new setting, or both, after readings.", nil},
	{"coverage", "coverage, 95 %",
		"Nineteen times in twenty the true value lies inside the ± that stands beside a number.", nil},
	{"crankshaft", "crankshaft",
		"The main shaft of the engine. All angles are its degrees unless shaft is said.", nil},
	{"cycle", "cycle", "All four strokes of a cylinder. It takes two turns, 720°, of the crankshaft.", nil},
	{"degree-wheel", "degree wheel",
		"A paper or metal disc with 360 degrees, put on the front of the crankshaft.", nil},
	{"dial-light", "dial light", "A timing light with a dial. The dial must stand at zero for our work.", nil},
	{"distributor", "distributor",
		"The unit with shaft, pickups, rotor and cap. Its shaft turns at half crankshaft speed.", nil},
	{"divider", "divider", "Two resistors that bring a voltage down to what a recorder can stand.", nil},
	{"edge", "edge", "The moment at which a signal changes from low to high, or back.", nil},
	{"even-fire", "even fire", "An engine whose firings all lie the same angle apart.", nil},
	{"firing-order", "firing order", "The order in which the cylinders fire, such as 1-5-3-6-2-4.", nil},
	{"flash", "flash", "One blink of the timing light. It shows where the mark stands at the spark.", nil},
	{"gear", "drive gear", "The gear at the foot of the distributor. The camshaft turns it.", nil},
	{"gear-step", "gear step", "One tooth of the drive gear. A unit one tooth out is off by that angle.", nil},
	{"hall", "Hall pickup", "A sensor with a chip that feels a magnet. The vane stands between and hides it.", nil},
	{"helix", "helical gear", "A gear with slanted teeth. It turns the rotor while the unit slides in.", nil},
	{"housing", "housing", "The body of the distributor. It is turned to set the timing, then clamped.", nil},
	{"idle", "idle", "The lowest speed at which the engine runs by itself.", nil},
	{"inertia", "inertia", "What keeps a turning crankshaft turning. A heavy flywheel has much of it.", nil},
	{"interval", "firing interval", "Crankshaft degrees, or time, from one firing to the next.", nil},
	{"job-card", "job card", "All that is known of one engine, on one page. Every sum begins there.", nil},
	{"kick-back", "kick back", "The spark comes too early on the starter and throws the crankshaft backwards.", nil},
	{"knock", "knock", "The charge burns too soon or too fast and hammers on the piston.", nil},
	{"lamp", "test lamp", "A small lamp on the signal wire. It shows high or low with the engine at rest.", nil},
	{"mark-channel", "mark channel",
		"A recorded signal that comes once a turn, at TDC. It shows the true angle.", nil},
	{"misfire", "misfire", "A charge that does not burn.", nil},
	{"misread", "misread", "A reading that does not fit the others. It is named and left out.", nil},
	{"noise", "noise", "What is on a signal and does not belong there.", nil},
	{"odd-fire", "odd fire", "An engine whose firings do not all lie the same angle apart.", nil},
	{"offset", "offset", "The part of the timing error that is the same at every speed.", nil},
	{"optical", "optical pickup", "A sensor with a beam of infrared. The vane cuts the beam.", nil},
	{"order-of-work", "order of work", "The steps of the job in an order that keeps hands whole.", nil},
	{"plug-gap", "plug gap", "The distance that the spark jumps in the cylinder.", nil},
	{"plug-wire", "plug wire", "The thick wire from cap or coil to a spark plug. It carries tens of kilovolts.", nil},
	{"reading", "reading", "What the light showed at one steady speed, with what was commanded.", nil},
	{"reluctor", "variable-reluctance pickup",
		"A coil on a magnet. It makes its own voltage, more of it at speed.", nil},
	{"rim", "rim", "The outer edge of the damper, where marks are made and measured along.", nil},
	{"rotor-phasing", "rotor phasing", "Where the rotor stands against the tower when the spark jumps.", nil},
	{"running-direction", "running direction",
		"The way in which the engine turns by itself. Turn it by hand that way only.", nil},
	{"saturation", "saturation", "The iron of a coil is full. More current brings little more spark.", nil},
	{"scatter", "scatter", "How far readings of the same thing lie apart.", nil},
	{"scope", "scope", "An instrument that draws voltage against time.", nil},
	{"seat", "seat", "The face on the engine that the flange rests on.", nil},
	{"set-up-sheet", "set-up sheet",
		"All that follows from a job card: distances, angles, settings, and what is wrong.", nil},
	{"shop-book", "shop book", "The store of all jobs and of everything that was recorded about them.", nil},
	{"slope", "slope", "The part of the timing error that grows with speed. A wrong delay allowance makes it.", nil},
	{"sound-card", "sound card", "The microphone input of a computer. With a divider it records signals.", nil},
	{"spark-plug", "spark plug", "Where the spark jumps in the cylinder.", nil},
	{"stroke", "stroke", "One way of the piston, up or down. Also the length of that way.", nil},
	{"test-lead", "test lead", "A wire with a divider on it, made to record a signal.", nil},
	{"timing-light", "timing light",
		"A lamp that flashes with each spark. It makes the turning marks stand still.", nil},
	{"timing-tape", "timing tape", "A printed strip of degrees that goes around the damper.", nil},
	{"tolerance", "tolerance", "How far the spark may be off. The job card says it.", nil},
	{"uncertainty", "uncertainty, ±", "How far off a number may be. It stands beside the number, after a ±.", nil},
	{"vane-wheel", "vane wheel", "The wheel of metal vanes on the shaft of the distributor.", nil},
	{"verdict", "verdict", "What the evidence comes to: pass, fails, or not shown yet.", nil},
	{"wrong-edge", "wrong edge", "The controller acts on the other edge. The error is twice the vane width.", nil},
}
