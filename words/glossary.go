package words

import (
	"regexp"
	"strings"
)

// Entry is a word of the trade with what it means, in a plain sentence or two.
type Entry struct {
	ID    string // for links
	Word  string
	Means string
	also  []string // other forms in which it stands in a text
}

// Entries are the words of the trade that the texts use, in alphabetical order. A caller must not change it.
func Entries() []Entry { return append([]Entry(nil), entries...) }

var entries = []Entry{
	{"active-edge", "active edge", "The rising or falling edge of the signal that the controller acts on.", nil},
	{"advance", "advance", "Degrees of the crankshaft before top dead centre at which the spark jumps.", nil},
	{"atdc", "ATDC", "After top dead centre: the piston is on its way down again.", nil},
	{"base-timing", "base timing", "The timing check at cranking, before fuel is let in.", nil},
	{"bench", "bench", "The simulated engine of this tool, for practice.", nil},
	{"btdc", "BTDC", "Before top dead centre: degrees that the crankshaft still has to turn up to TDC.", nil},
	{"cam-pickup", "cam pickup", "The sensor that sees one vane in two turns of the crankshaft. It tells the " +
		"strokes apart.",
		nil},
	{"cap", "cap", "The lid of the distributor. Its towers carry the spark to the plug wires.", nil},
	{"capture", "capture", "Recorded signals: voltages, or changes, against time.", nil},
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

// find is each entry's word in a text, whole, in any of its forms.
var find = func() []*regexp.Regexp {
	out := make([]*regexp.Regexp, len(entries))
	for i, e := range entries {
		forms := []string{regexp.QuoteMeta(e.Word)}
		for _, a := range e.also {
			forms = append(forms, regexp.QuoteMeta(a))
		}
		how := `(?i)`
		if e.Word == strings.ToUpper(e.Word) {
			how = ""
		}
		out[i] = regexp.MustCompile(how + `\b(?:` + strings.Join(forms, "|") + `)\b`)
	}
	return out
}()

// Piece is a part of a text; Entry is what explains it, nil for the text between.
type Piece struct {
	Text  string
	Entry *Entry
}

// Mark cuts a text where a word of the trade stands for the first time on a page. seen holds the IDs that the page has
// marked already, and takes up those that are marked now.
func Mark(text string, seen map[string]bool) []Piece {
	best, at, to := -1, len(text), 0
	for i := range entries {
		if seen[entries[i].ID] {
			continue
		}
		m := find[i].FindStringIndex(text)
		if m != nil && (m[0] < at || m[0] == at && m[1] > to) {
			best, at, to = i, m[0], m[1]
		}
	}
	if best < 0 {
		if text == "" {
			return nil
		}
		return []Piece{{Text: text}}
	}
	e := entries[best]
	seen[e.ID] = true
	var out []Piece
	if at > 0 {
		out = append(out, Piece{Text: text[:at]})
	}
	return append(append(out, Piece{Text: text[at:to], Entry: &e}), Mark(text[to:], seen)...)
}
