package readings

import (
	"errors"
	"fmt"
	"math"

	"phasewright/estimate"
	"phasewright/quantity"
)

// ErrSettings says that the readings cannot be judged by the settings given.
var ErrSettings = errors.New("settings cannot be used")

// Effect says what an error that all readings share does to them.
type Effect string

const (
	// Constant moves every reading by the same angle: a mark out of place.
	Constant Effect = "constant"
	// SpeedScale stretches the speed axis: a tachometer that reads a share high. It changes
	// the slope, so the delay, and leaves the offset alone.
	SpeedScale Effect = "speed scale"
	// LateFlash makes every spark look later by the same time: a light with a delay of its own. It goes into the
	// delay where several speeds were read.
	LateFlash Effect = "late flash"
)

// Misreads says what to do with readings that do not belong to the line through the others.
type Misreads string

const (
	// SetAside names them and leaves them out of the line. The usual way; the zero value means it.
	SetAside Misreads = "set aside"
	// KeepAll names nobody. With it the intervals hold whatever the scatter, as long as nothing was misread.
	KeepAll Misreads = "keep all"
)

// Common is an uncertainty that all readings share (Type B): averaging does not shrink it.
type Common struct {
	Name   string
	Effect Effect
	// Limit is the half-width within which the error lies: crank degrees for Constant, a
	// share of the speed for SpeedScale (0.01 is 1 %), µs for LateFlash. +Inf: not known, and
	// then nothing passes until it is.
	Limit float64
	// Shape turns the limit into a standard uncertainty; empty means rectangular.
	Shape estimate.Shape
	// Assumed marks a figure that nobody stated; it is shown as assumed.
	Assumed bool
	// Source says where the limit comes from, such as an instrument's name and how well it is known; empty for what the
	// card states, or for our own figure.
	Source string
	// EachMark: every mark on the damper is out by an amount of its own, so that two cylinders read on two marks do not
	// share it.
	EachMark bool
}

// standard is the standard uncertainty of the common error.
func (c Common) standard() float64 { return c.shape().FromLimit(c.Limit) }

func (c Common) shape() estimate.Shape {
	if c.Shape == "" {
		return estimate.Rectangular
	}
	return c.Shape
}

// LeastU is the expanded uncertainty in crank degrees that marks, zero mark and pointer leave however many readings are
// taken: the constant errors alone (JCGM 100, eq. 10), since what a tachometer adds vanishes with the delay that is
// left over.
func (s Settings) LeastU() float64 {
	var b estimate.Budget
	for _, c := range s.Common {
		if c.Effect == Constant {
			b = append(b, estimate.BudgetLine{Name: c.Name, Kind: estimate.TypeB, Shape: c.shape(), U: c.standard(),
				Sensitivity: 1, DOF: math.Inf(1), Assumed: c.Assumed})
		}
	}
	return b.Combine(s.confidence()).Expanded
}

// UsualCommon is what to assume of marks, eye and tachometer where nobody stated anything:
// limits from common practice, all marked assumed.
func UsualCommon() []Common {
	return []Common{
		{Name: markPlacement, Effect: Constant, Limit: markLimit, Assumed: true, EachMark: true},
		{Name: zeroMark, Effect: Constant, Limit: zeroLimit, Assumed: true},
		{Name: parallax, Effect: Constant, Limit: parallaxLimit, Assumed: true},
		{Name: tachometer, Effect: SpeedScale, Limit: tachometerLimit, Assumed: true},
	}
}

// Settings is what the readings are judged by.
type Settings struct {
	// Steps are the sizes of error that no turn of the housing is advised for; the zero value knows none.
	Steps Steps
	// Limits are what a reading may be expected to show; the zero value asks nothing.
	Limits Limits
	// Places is how far each cylinder's top dead centre of firing lies after that of cylinder 1, from cylinder 1 on;
	// empty where no card told.
	Places []quantity.Crank
	// AllowanceNow is the present delay allowance: results are for it, and rows that name
	// none were taken under it. Where AllowanceOpen is set nobody stated it: the fit counts
	// from whatever it is and gives the change alone. AllowanceStep is its smallest step; 0
	// where not known, and then changes are given to the microsecond.
	AllowanceNow, AllowanceStep quantity.Time
	AllowanceOpen               bool
	// HousingNow is where the housing stands now, counted as in Row.Housing, where
	// HousingNowStated; else it stands as at the last reading.
	HousingNow       quantity.Shaft
	HousingNowStated bool
	// Idle and Redline bound the range that must be proven.
	Idle, Redline quantity.Speed
	// Cranking is the speed on the starter; 0 where not known.
	Cranking quantity.Speed
	// HighestReading is as fast as one may be asked to run the engine for a reading; 0 means
	// nine tenths of the redline.
	HighestReading quantity.Speed
	// Tolerance is the largest timing error allowed, either way.
	Tolerance quantity.Crank
	// ReadingU is the standard uncertainty of one reading for rows that give none; 0 means
	// not known. Where every reading has one, it is a claim that the scatter is tested against.
	ReadingU quantity.Crank
	// Resolution is the step of the light's dial or scale; 0 takes it from the digits written.
	// The scatter is never believed to be below that of rounding to it (Resolution/√12).
	Resolution quantity.Crank
	// Misreads says what to do with a misread; empty means SetAside.
	Misreads Misreads
	// Common are the uncertainties that all readings share.
	Common []Common
	// Confidence of the intervals; 0 means 0.95.
	Confidence float64
	// RotorTurns is how the rotor turns, with the view, for the words of the advice:
	// "clockwise, seen from above the cap". Empty where not known.
	RotorTurns string
	// HousingTravel is how far the housing may turn either way; 0 where not known.
	HousingTravel quantity.Shaft
}

// Check reports what is missing or contradicts itself.
func (s Settings) Check() error {
	bad := func(what, remedy string) error { return fmt.Errorf("%s: %w; %s", what, ErrSettings, remedy) }
	finite := func(vs ...float64) bool {
		for _, v := range vs {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				return false
			}
		}
		return true
	}
	switch {
	case !(s.Tolerance > 0) || math.IsInf(float64(s.Tolerance), 1):
		return bad("tolerance not stated", "give the largest timing error allowed in crank degrees, such as 1")
	case !(s.Idle > 0) || !(s.Redline > s.Idle) || s.Redline > FastestReading:
		return bad(fmt.Sprintf("speed range %g to %g rpm", float64(s.Idle), float64(s.Redline)),
			"give an idle speed and a redline above it")
	case !finite(float64(s.AllowanceNow), float64(s.AllowanceStep), float64(s.Cranking), float64(s.HighestReading),
		float64(s.ReadingU), float64(s.Resolution), float64(s.HousingTravel)):
		return bad("a setting is negative or not a number", "give figures of zero or more")
	case s.Misreads != "" && s.Misreads != SetAside && s.Misreads != KeepAll:
		return bad(fmt.Sprintf("misreads %q", s.Misreads), "use set aside or keep all")
	case math.IsNaN(float64(s.HousingNow)) || quantity.Abs(s.HousingNow) > WidestHousing:
		return bad(fmt.Sprintf("housing at %g°", float64(s.HousingNow)),
			"give shaft degrees turned so far, with the rotor positive")
	case s.Confidence != 0 && !(s.Confidence >= 0.5 && s.Confidence < 1):
		return bad(fmt.Sprintf("confidence %g", s.Confidence), "give a share such as 0.95")
	}
	for _, c := range s.Common {
		if math.IsNaN(c.Limit) || c.Limit < 0 {
			return bad(fmt.Sprintf("limit of %s", c.Name),
				"give a half-width of zero or more, or leave it infinite where it is not known")
		}
		if c.Effect != Constant && c.Effect != SpeedScale && c.Effect != LateFlash {
			return bad(fmt.Sprintf("effect %q of %s", c.Effect, c.Name), "use constant, speed scale or late flash")
		}
	}
	return nil
}

func (s Settings) confidence() float64 {
	if s.Confidence == 0 {
		return 0.95
	}
	return s.Confidence
}

// allowanceNow is the present allowance in µs, or NaN where nobody stated it.
func (s Settings) allowanceNow() float64 {
	if s.AllowanceOpen {
		return math.NaN()
	}
	return float64(s.AllowanceNow)
}

func (s Settings) step() quantity.Time {
	if s.AllowanceStep == 0 {
		return 1
	}
	return s.AllowanceStep
}

// crankingBelow is the speed under which a reading counts as taken on the starter: six tenths
// of idle, or half as fast again as the starter turns, whichever is more, but always under idle.
func (s Settings) crankingBelow() quantity.Speed {
	return max(0.6*s.Idle, min(1.5*s.Cranking, 0.9*s.Idle))
}

// fastest is as fast as one may be asked to read.
func (s Settings) fastest() quantity.Speed {
	top := 0.9 * s.Redline
	if s.HighestReading > 0 {
		top = min(s.HighestReading, s.Redline)
	}
	return max(top, s.Idle)
}
