package engine

import (
	"fmt"
	"strings"
)

// Direction is a sense of rotation. It means nothing without the view, so it is printed by FromFront or FromAbove.
type Direction int8

// The senses of rotation. The zero value is not stated.
const (
	Clockwise        Direction = 1
	CounterClockwise Direction = -1
)

// ParseDirection reads "clockwise" or "counterclockwise" and the short forms cw and ccw, in any case and with or
// without hyphen, blank or points: "CW", "Anti-clockwise", "c.c.w.".
func ParseDirection(text string) (Direction, error) {
	switch strings.NewReplacer("-", "", " ", "", ".", "", "_", "").Replace(strings.ToLower(text)) {
	case "clockwise", "cw":
		return Clockwise, nil
	case "counterclockwise", "anticlockwise", "ccw", "acw":
		return CounterClockwise, nil
	}
	return 0, fmt.Errorf("%q is not a sense of rotation; write clockwise or counterclockwise", text)
}

// String is the bare word; say FromFront or FromAbove where a person reads it.
func (d Direction) String() string {
	switch d {
	case Clockwise:
		return "clockwise"
	case CounterClockwise:
		return "counterclockwise"
	}
	return "direction not stated"
}

// FromFront names crank rotation with its view: the damper end.
func (d Direction) FromFront() string { return d.String() + ", seen from the front (damper end)" }

// FromAbove names rotor rotation with its view: looking down on the cap.
func (d Direction) FromAbove() string { return d.String() + ", seen from above the cap" }

// Opposite is the other sense.
func (d Direction) Opposite() Direction { return -d }
