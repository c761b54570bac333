package readings

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Row is one reading.
type Row struct {
	// Speed is the steady crank speed.
	Speed quantity.Speed
	// Shown is what the light showed, Locked what the controller was told: degrees BTDC, early positive.
	Shown, Locked quantity.Crank
	// U is the standard uncertainty of Shown; 0 means not given.
	U quantity.Crank
	// Allowance is the delay allowance in force, where AllowanceStated; else that of the settings.
	Allowance       quantity.Time
	AllowanceStated bool
	// Housing is how far the housing had been turned when the reading was taken, counted from
	// any one place for the whole table: with the rotor positive, against it negative.
	Housing quantity.Shaft
	// Wire is the cylinder on whose wire the light hung; 0 means cylinder 1. Shown counts from that cylinder's own top
	// dead centre: its own mark on the damper, or the zero mark where it reaches that together with cylinder 1.
	Wire int
	// Confirmed: the reader was asked about an unlikely figure and says that it was shown.
	Confirmed bool
	Note      string
	// Extra holds the fields of columns that this package does not know, in the order of Table.Extra.
	Extra []string
}

// Cylinder is the one on whose wire the light hung.
func (r Row) Cylinder() int { return max(r.Wire, 1) }

// TimingError is shown − locked: above zero early, below zero late.
func (r Row) TimingError() quantity.Crank { return r.Shown - r.Locked }

// SameSettings says whether two readings were taken with the housing in one place and under one allowance.
func (r Row) SameSettings(q Row) bool {
	return r.Housing == q.Housing && r.AllowanceStated == q.AllowanceStated && r.Allowance == q.Allowance
}

// The limits outside which a figure is no reading.
const (
	// SlowestReading and FastestReading bound the speed.
	SlowestReading quantity.Speed = 20
	FastestReading quantity.Speed = 30000
	// WidestAngle bounds shown and locked: further from top dead centre there is no before and after.
	WidestAngle quantity.Crank = 180
	// LargestU bounds a stated uncertainty.
	LargestU quantity.Crank = 90
	// LongestAllowance bounds the delay allowance.
	LongestAllowance quantity.Time = 20000
	// WidestHousing bounds the housing turn either way.
	WidestHousing quantity.Shaft = 180
	// MostWires bounds the number of the cylinder on whose wire the light hung, as package engine does.
	MostWires = 24
)

// fault says what is wrong with a value and what to write instead; empty problem means nothing is.
type fault struct{ problem, remedy string }

func speedFault(v float64) fault {
	switch {
	case v <= 0:
		return fault{fmt.Sprintf("is not a running speed: %g rpm", v),
			"write the speed of the reading in rpm such as 800"}
	case v < float64(SlowestReading):
		return fault{fmt.Sprintf("is too slow for a reading: %g rpm", v),
			"write whole rpm such as 3200, without a thousands mark"}
	case v > float64(FastestReading):
		return fault{fmt.Sprintf("is impossible: %g rpm", v),
			fmt.Sprintf("write rpm from %g to %g", float64(SlowestReading), float64(FastestReading))}
	}
	return fault{}
}

func angleFault(v float64) fault {
	if math.Abs(v) > float64(WidestAngle) {
		return fault{fmt.Sprintf("is impossible: %g°", v),
			fmt.Sprintf("write degrees BTDC from -%[1]g to %[1]g", float64(WidestAngle))}
	}
	return fault{}
}

func uncertaintyFault(v float64) fault {
	switch {
	case v <= 0:
		return fault{fmt.Sprintf("is not an uncertainty: %g°", v),
			"write one standard uncertainty in degrees above zero such as 0.3, or leave it empty where it is not known"}
	case v > float64(LargestU):
		return fault{fmt.Sprintf("is impossible: %g°", v), "write one standard uncertainty in degrees such as 0.3"}
	}
	return fault{}
}

func allowanceFault(v float64) fault {
	if v < 0 || v > float64(LongestAllowance) {
		return fault{fmt.Sprintf("is impossible: %g µs", v),
			fmt.Sprintf("write the delay allowance in microseconds from 0 to %g", float64(LongestAllowance))}
	}
	return fault{}
}

func housingFault(v float64) fault {
	if math.Abs(v) > float64(WidestHousing) {
		return fault{fmt.Sprintf("is impossible: %g°", v),
			"write shaft degrees turned so far, with the rotor positive, such as 0.9"}
	}
	return fault{}
}

func wireFault(v float64) fault {
	if v != math.Trunc(v) || v < 1 || v > MostWires {
		return fault{fmt.Sprintf("is no cylinder: %g", v), wireRemedy}
	}
	return fault{}
}

const wireRemedy = "write the number of the cylinder on whose wire the light hung, such as 4. Leave it empty " +
	"for 1. shown_deg then counts from that cylinder's own top dead centre"

// Check reports the first figure of the row that cannot be one.
func (r Row) Check() error {
	for _, c := range []struct {
		column string
		v      float64
		fault  func(float64) fault
		skip   bool
	}{
		{"rpm", float64(r.Speed), speedFault, false},
		{"shown_deg", float64(r.Shown), angleFault, false},
		{"locked_deg", float64(r.Locked), angleFault, false},
		{"u_deg", float64(r.U), uncertaintyFault, r.U == 0},
		{"allowance_us", float64(r.Allowance), allowanceFault, !r.AllowanceStated},
		{"housing_deg", float64(r.Housing), housingFault, false},
		{"wire", float64(r.Wire), wireFault, r.Wire == 0},
	} {
		if c.skip {
			continue
		}
		if math.IsNaN(c.v) || math.IsInf(c.v, 0) {
			return fmt.Errorf("%s is not a finite number; write a plain figure", c.column)
		}
		if f := c.fault(c.v); f.problem != "" {
			return fmt.Errorf("%s %s; %s", c.column, f.problem, f.remedy)
		}
	}
	return nil
}

// Table is a file of readings.
type Table struct {
	// Extra names the columns that are kept and otherwise ignored, in file order.
	Extra []string
	Rows  []Row
	// Dark are looks at which the light did not flash. Their Shown and U say nothing and no sum takes them; that
	// there was no flash is evidence all the same.
	Dark []Row
}
