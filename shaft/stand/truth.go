package stand

import (
	"fmt"

	"phasewright/jobcard"
	"phasewright/waveform"
)

// Case is one recording with what is true of it.
type Case struct {
	Class, Name string
	Seed        uint64
	CardText    string
	Card        *jobcard.Card // nil where there is no engine

	Info  waveform.Info
	Edges []waveform.Edge
	End   waveform.Second

	File   []byte // where set, the recording is this file
	Format string // of the file, in words

	Truth Truth

	voltage func(t float64) float64 // of a reluctance pickup, in levels of the input
}

// Roles of a channel in a Truth.
const (
	RoleCrank   = "crank"
	RoleCam     = "cam"
	RoleSpark   = "spark"
	RoleMark    = "mark"
	RoleUnknown = "unknown"
)

// Sync says whether the place on the cycle can be told throughout.
type Sync string

// The states that a Truth can hold.
const (
	SyncAny  Sync = "" // not judged
	SyncHeld Sync = "held"
	SyncNone Sync = "none"
	SyncLost Sync = "lost"
)

// Truth is what the maker of a case knows of it.
type Truth struct {
	Engine     bool
	Roles      []string // by channel
	Cylinders  int
	ActiveEdge jobcard.Edge // the edge that the controller acts on

	Timed    bool      // crank, mark and all sparks were recorded, and the error follows the line below
	Offset   float64   // b, degrees at no speed, mean over the cylinders
	Delay    float64   // τ − c, µs
	Advance  float64   // commanded while running
	Cylinder []float64 // error of each firing at no speed, in firing order

	// ShownLow and ShownHigh are what a light would have shown less what was commanded, mean of the firings
	// within a tenth of the least and the greatest speed. They hold what the law leaves out: the lag of a
	// controller whose last interval was slower or faster, under ripple and acceleration. NaN where nothing
	// fired.
	ShownLow, ShownHigh float64

	Curve func(rpm float64) float64 // error where it follows no line; nil otherwise

	DwellMS   float64 // mean of the pulses in the recording; 0: none to be had
	RampDwell bool    // the pulse seen is shorter than the dwell
	Sync      Sync
	Fault     string  // a word for what is wrong; "" for a sound engine
	FaultAt   int     // firing that it sits at, in firing order from 0; -1: at none
	FaultSize float64 // degrees, pulses or a share, as the fault has it
	Missing   int     // crank pulses that did not come
	Extra     int     // pulses that belong to nothing, crank and cam
	Clean     bool    // no pulse is missing, extra or short on crank and cam
	LowRPM    float64 // least and greatest speed while turning, from one crank edge to the next
	HighRPM   float64
}

// Error is the true timing error at a speed, degrees, mean over the cylinders.
func (t Truth) Error(rpm float64) float64 {
	if t.Curve != nil {
		return t.Curve(rpm)
	}
	return t.Offset - 6*rpm*t.Delay*1e-6
}

// String is the truth in a few lines.
func (t Truth) String() string {
	if !t.Engine {
		return fmt.Sprintf("no engine; %d channels", len(t.Roles))
	}
	s := fmt.Sprintf("roles %v, %d cylinders, %s edge, %.0f to %.0f rpm, sync %q, dwell %.3f ms",
		t.Roles, t.Cylinders, t.ActiveEdge, t.LowRPM, t.HighRPM, t.Sync, t.DwellMS)
	if t.Fault != "" {
		s += fmt.Sprintf("\n%s at firing %d, size %.3g; %d missing, %d extra",
			t.Fault, t.FaultAt, t.FaultSize, t.Missing, t.Extra)
	}
	s += fmt.Sprintf("\noffset %.3f deg, delay %.2f us, commanded %g deg", t.Offset, t.Delay, t.Advance)
	if t.Curve != nil {
		s += "; follows no line"
	}
	s += fmt.Sprintf("\nby the law %.3f deg at %.0f rpm, %.3f at %.0f; a light shows %.3f and %.3f",
		t.Error(t.LowRPM), t.LowRPM, t.Error(t.HighRPM), t.HighRPM, t.ShownLow, t.ShownHigh)
	return s + fmt.Sprintf("\neach firing at no speed %.3f", t.Cylinder)
}

// MarkLimit is how far from TDC a mark may stand, degrees either way. Every card states it, and shaft is told it.
const MarkLimit = 0.5
