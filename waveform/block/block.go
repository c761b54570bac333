// Package block holds the words that the rooms of waveform share: times, channels, edges, stretches of samples, faults
// with their place. It reads nothing and finds nothing.
package block

import (
	"fmt"
	"math"
)

// Second is an instant, or a span, in seconds on the recording's own clock.
type Second float64

// Kind says what sort of wire a channel is.
type Kind uint8

// Kinds of channel.
const (
	Analog  Kind = iota // sampled voltage or current
	Digital             // one bit; x and z are "unknown"
	Bus                 // several bits, an integer, an event: changes are counted, no edges are given
)

// Method is the way edges are found on a channel.
type Method uint8

// Methods. MethodAuto lets the survey choose.
const (
	MethodAuto     Method = iota
	ByState               // logic states: an edge stands at the time of the change
	ByLevels              // 50 % crossing between two state levels, with hysteresis
	ByChanges             // AC-coupled or drifting: a step, timed half-way between the values before and after it
	ByZeroCrossing        // variable reluctance: armed by a large swing, timed where the signal comes back through zero
	MethodNone            // no usable signal: constant, or noise only
)

// Channel is one wire of the recording. Fields up to Active are known when Sink.Begin is called (unless revised);
// counts are complete in the Result.
type Channel struct {
	Name     string   // VCD: with its scopes, "top.crank"
	Aliases  []string // VCD: other names declared for the same wire
	Unit     string   // "V", "A", ... or "" for logic and for relative levels
	Kind     Kind
	Method   Method
	Relative bool    // levels are on a sound card's own scale, full scale = 1
	Held     bool    // a value holds until the next row (one row a change); else samples are joined by straight lines
	Low      float64 // low state level; NaN when there is none
	High     float64 // high state level
	Noise    float64 // standard deviation of the noise about the levels
	// Ramp: a saw-tooth, as a coil's current, which climbs slowly and ends sharply. The first edge of its pulse stands
	// well after the pulse's beginning.
	Ramp   bool
	Active EdgeKind // ByZeroCrossing: the steeper polarity (Rise or Fall), the one worth timing; else Rise

	Rises, Falls   int64
	Shorts         int64   // pulses dropped as shorter than the glitch width
	Slow           int64   // edges whose transition lasted more than 65,536 samples: timed at its end
	Changes        int64   // Bus: changes of value
	Lost           int64   // times that the state became unknown
	Missing        int64   // samples without a value
	Over, Under    int64   // samples beyond the recorder's range
	Least, Largest float64 // extreme finite values seen; NaN when none
}

// NewChannel is a channel of which nothing is known yet.
func NewChannel(name, unit string, kind Kind) Channel {
	nan := math.NaN()
	return Channel{Name: name, Unit: unit, Kind: kind, Low: nan, High: nan, Noise: nan, Least: nan, Largest: nan}
}

// Saw widens the extremes of the channel.
func (c *Channel) Saw(least, largest float64) {
	if !(c.Least <= least) {
		c.Least = least
	}
	if !(c.Largest >= largest) {
		c.Largest = largest
	}
}

// Warning is a doubt about the recording that did not stop the reading.
type Warning struct {
	Line    int64 // from 1; 0 when it does not apply
	Byte    int64 // from 0 in the decompressed data; -1 when it does not apply
	Channel int   // -1: the whole recording
	Text    string
}

// Distinct is a name that no channel has yet, noted among those taken: roles are stated by name.
func Distinct(taken map[string]int, name string) string {
	own, n := name, max(1, taken[name])
	for ; taken[own] > 0; own = fmt.Sprintf("%s (%d)", name, n) {
		n++
	}
	taken[name], taken[own] = n, max(1, taken[own])
	return own
}
