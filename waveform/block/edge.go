package block

import "strconv"

// EdgeKind says what happened at an instant.
type EdgeKind uint8

// Kinds of edge. Each channel begins with FoundLow or FoundHigh: its first known state, which is no edge. Lost and the
// next Found… enclose a time in which the state is unknown (x or z in a VCD). ShortHigh and ShortLow are pulses shorter
// than Options.Glitch, or of no width at all: their two edges are not given as Rise and Fall.
const (
	Rise EdgeKind = iota
	Fall
	FoundLow
	FoundHigh
	Lost
	ShortHigh
	ShortLow
)

// EdgeKinds is how many kinds of edge there are.
const EdgeKinds = int(ShortLow) + 1

// edgeWords are the words of the edge column of a written CSV, by kind.
var edgeWords = [EdgeKinds]string{Rise: "rise", Fall: "fall", FoundLow: "low", FoundHigh: "high", Lost: "unknown",
	ShortHigh: "short_high", ShortLow: "short_low"}

// String gives the word that the CSV writer writes.
func (k EdgeKind) String() string {
	if int(k) < len(edgeWords) {
		return edgeWords[k]
	}
	return "EdgeKind(" + strconv.Itoa(int(k)) + ")"
}

// Edge is one event on one channel.
type Edge struct {
	At      Second
	Width   Second // ShortHigh and ShortLow only: how long the pulse was
	Channel int32  // index into Info.Channels
	Kind    EdgeKind
}
