package shaft

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// The words that the rooms below share.
type (
	// Role is what a channel carries.
	Role = terms.Role
	// Instant says which end of a pulse counts.
	Instant = terms.Instant
	// Command is one point of what the controller was told: straight lines between points, flat outside.
	Command = terms.Command
	// Finding is something wrong with the set-up that the recording shows, such as leads swapped.
	Finding = terms.Finding
)

// The roles.
const (
	Crank   = terms.Crank
	Cam     = terms.Cam
	Spark   = terms.Spark
	Mark    = terms.Mark
	Unknown = terms.Unknown
)

// The ends of a pulse. The zero value lets the recording decide.
const (
	Found    = terms.Found
	PulseOn  = terms.PulseOn
	PulseOff = terms.PulseOff
)

// ParseRole reads a role as a person writes it.
func ParseRole(text string) (Role, error) { return terms.ParseRole(text) }

// Options steer Run. The zero value is ready: everything is found from the recording.
type Options struct {
	Roles map[string]Role // channel name to role; takes the place of what would be found
	// the job card, where there is one: cylinders, order, intervals, edges, lead, locked advance, tolerance
	Card *jobcard.Card

	Cylinders  int          // firings a cycle; 0: from the card, else counted between cam edges
	ActiveEdge jobcard.Edge // electrical edge of the crank pickup that the controller acts on; "": from the card, else found
	// ascending speed; nil: the card's locked advance; without both no timing error can be given
	Commanded []Command
	// FitFrom is the lowest speed that enters the timing line; 0: 500 rpm, or 0.8 of the card's idle where that is
	// more, or all where the engine never ran faster.
	FitFrom quantity.Speed
	SparkAt Instant // which end of the spark pulse is the spark; Found: what the recording bears out
	MarkAt  Instant // which end of the mark's pulse stands at TDC; Found: its start
	// MarkLimit is the half-width of the limits of the mark's place at TDC (rectangular); 0: the card's zero mark, else
	// not stated and not in the uncertainty.
	MarkLimit quantity.Crank
	Tolerance quantity.Crank // largest timing error allowed; 0: from the card, else no verdict but "read more"

	MostAnomalies int           // kept in the list, the first ones; all are counted; 0: 1000
	Tee           waveform.Sink // also given every edge, for writing them out; nil: none
}

// facts puts options and card together.
func (o *Options) facts() (*terms.Facts, error) {
	f := &terms.Facts{Roles: o.Roles, Cylinders: o.Cylinders, Lead: terms.NotStated, ActiveEdge: o.ActiveEdge,
		Commanded: o.Commanded,
		Tolerance: o.Tolerance, FitFrom: o.FitFrom, SparkAt: o.SparkAt, MarkAt: o.MarkAt, MarkLimit: o.MarkLimit,
		Allowance: math.NaN(), Dwell: math.NaN()}
	switch {
	case o.Cylinders < 0 || o.Cylinders > terms.MostVanes:
		return nil, fmt.Errorf("options – %d cylinders – write 1 to %d, or 0 to have them counted", o.Cylinders,
			terms.MostVanes)
	case !(o.MarkLimit >= 0) || !(o.Tolerance >= 0) || !(o.FitFrom >= 0) || o.MostAnomalies < 0:
		return nil, fmt.Errorf("options – a limit, tolerance, speed or count below nought – write nought for " +
			"\"not stated\"")
	case !slices.IsSortedFunc(o.Commanded, func(a, b Command) int {
		return cmp.Compare(a.Speed, b.Speed)
	}):
		return nil, fmt.Errorf("options – commanded advance is not in order of speed – write the lowest speed first")
	}
	if err := f.CheckRoles(); err != nil {
		return nil, err
	}
	if o.Card != nil {
		if err := f.FromCard(o.Card); err != nil {
			return nil, err
		}
	}
	if f.FitFrom == 0 {
		f.FitFrom = max(500, 0.8*f.Idle)
	}
	return f, nil
}
