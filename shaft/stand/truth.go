package stand

import (
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
	Twins      [][2]int // channels that nothing in the recording tells apart: their roles may be left open, not exchanged
	Cylinders  int
	ActiveEdge jobcard.Edge // the edge that the controller acts on

	Timed    bool      // crank, mark and all sparks were recorded, and the error follows the line below
	Offset   float64   // b, degrees at no speed, mean over the cylinders
	Delay    float64   // τ − c, µs
	Advance  float64   // commanded while running
	Cylinder []float64 // error of each firing at no speed, in firing order

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
