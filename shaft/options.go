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

// ParseRole reads a role as a person writes it.
func ParseRole(text string) (Role, error) { return terms.ParseRole(text) }

// Options are what is stated with a recording. With the zero value everything is found from the recording.
type Options struct {
	Roles map[string]Role // channel name to role; overrules what would be found
	// Card is the job card, where there is one: cylinders, order, intervals, edges, lead, locked advance, tolerance.
	Card *jobcard.Card

	Cylinders  int          // firings in a cycle; 0: from the card, else counted between cam edges
	ActiveEdge jobcard.Edge // edge of the crank pickup that the controller acts on; "": from the card, else found
	// Commanded is the commanded advance in order of speed; nil: the card's locked advance. Without both no timing
	// error can be given.
	Commanded []Command
	// MarkLimit is the half-width of the limits of the mark's place at TDC (rectangular); 0: the card's zero mark, else
	// not stated and not in the uncertainty.
	MarkLimit quantity.Crank
	Tolerance quantity.Crank // largest timing error allowed; 0: from the card, else the verdict is always "read more"

	MostAnomalies int           // so many are listed, the first ones, though all are counted; 0: 1000
	Tee           waveform.Sink // is also given every edge, to write them out; nil: none
}

// facts checks the options and puts them together with the card.
func (o *Options) facts() (*terms.Facts, error) {
	f := &terms.Facts{Roles: o.Roles, Cylinders: o.Cylinders, Lead: terms.NotStated, ActiveEdge: o.ActiveEdge,
		Commanded: o.Commanded, Tolerance: o.Tolerance, MarkLimit: o.MarkLimit,
		Allowance: math.NaN(), Dwell: math.NaN()}
	switch {
	case o.Cylinders < 0 || o.Cylinders > terms.MostVanes:
		return nil, fmt.Errorf("options – %d cylinders – write 1 to %d, or 0 to have them counted", o.Cylinders,
			terms.MostVanes)
	case !(o.MarkLimit >= 0) || !(o.Tolerance >= 0) || o.MostAnomalies < 0:
		return nil, fmt.Errorf("options – a limit, tolerance or count below nought – write nought for " +
			"\"not stated\"")
	case !slices.IsSortedFunc(o.Commanded, func(a, b Command) int { return cmp.Compare(a.Speed, b.Speed) }):
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
	f.FitFrom = max(500, 0.8*f.Idle)
	return f, nil
}
