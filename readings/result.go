package readings

import (
	"encoding/json"
	"fmt"
	"math"

	"phasewright/estimate"
	"phasewright/quantity"
)

// Verdict is what the readings come to.
type Verdict string

// The verdicts.
const (
	// Pass: |e| + U stays within the tolerance over the whole speed range.
	Pass Verdict = "pass"
	// Adjust: |e| − U is beyond the tolerance somewhere; the corrections say what to do.
	Adjust Verdict = "adjust"
	// ReadMore: neither is certain yet.
	ReadMore Verdict = "read more"
	// NotALine: the error does not follow a line, so no correction would cure it.
	NotALine Verdict = "not a line"
	// LookElsewhere: the error is not one that housing or allowance make.
	LookElsewhere Verdict = "look elsewhere"
)

// Directions of a housing turn.
const (
	WithRotor    = "with the rotor"
	AgainstRotor = "against the rotor"
	Leave        = "leave"
)

// Interval is a value with its standard uncertainty and its 95 % interval. A value that is
// not known is NaN, an uncertainty that is not known +Inf; JSON writes both as null.
type Interval struct {
	Value, U, Lo, Hi float64
	// DOF is the effective number of degrees of freedom behind U.
	DOF float64
}

// Unknown is the interval of something nobody knows.
func Unknown() Interval {
	return Interval{Value: math.NaN(), U: math.Inf(1), Lo: math.Inf(-1), Hi: math.Inf(1)}
}

// Known says whether there is a value.
func (v Interval) Known() bool { return !math.IsNaN(v.Value) }

// Expanded is half the width of the interval.
func (v Interval) Expanded() float64 {
	if !v.Known() || math.IsInf(v.Hi, 1) {
		return math.Inf(1)
	}
	return (v.Hi - v.Lo) / 2
}

// Number is a figure that may be unknown (NaN) or unbounded (Inf): JSON writes both as null.
type Number float64

// MarshalJSON writes the figure, or null where it is not finite.
func (w Number) MarshalJSON() ([]byte, error) {
	if v := float64(w); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return json.Marshal(v)
	}
	return []byte("null"), nil
}

// UnmarshalJSON reads a figure; null becomes NaN.
func (w *Number) UnmarshalJSON(data []byte) error {
	var v *float64
	if err := json.Unmarshal(data, &v); err != nil {
		return err
	}
	*w = Number(math.NaN())
	if v != nil {
		*w = Number(*v)
	}
	return nil
}

// MarshalJSON writes {"value","u","lo","hi"}, null for what is not known.
func (v Interval) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Value Number `json:"value"`
		U     Number `json:"u"`
		Lo    Number `json:"lo"`
		Hi    Number `json:"hi"`
		DOF   Number `json:"dof"`
	}{Number(v.Value), Number(v.U), Number(v.Lo), Number(v.Hi), Number(v.DOF)})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (v *Interval) UnmarshalJSON(data []byte) error {
	var w struct{ Value, U, Lo, Hi, DOF *float64 }
	if err := json.Unmarshal(data, &w); err != nil {
		return err
	}
	or := func(p *float64, missing float64) float64 {
		if p == nil {
			return missing
		}
		return *p
	}
	*v = Interval{or(w.Value, math.NaN()), or(w.U, math.Inf(1)), or(w.Lo, math.Inf(-1)), or(w.Hi, math.Inf(1)), 0}
	v.DOF = or(w.DOF, math.Inf(1))
	if math.IsInf(v.U, 1) {
		v.DOF = or(w.DOF, 0)
	}
	return nil
}

// Allowance is the delay allowance now and as it should be set, in µs. Now and Set are NaN, null in JSON, where nobody
// stated what the controller allows; then Change alone says what to do.
type Allowance struct {
	Now    Number  `json:"now"`
	Set    Number  `json:"set"`
	Change float64 `json:"change"`
}

// Allow is the allowance changed by the whole steps nearest to what is wanted, µs, never to below nothing. The present
// one is a value that the controller can hold, so the steps count from there; now is NaN where it is not known.
func Allow(now, want, step float64) Allowance {
	a := Allowance{Now: Number(now), Change: math.Round(want/step) * step}
	if now+a.Change < 0 {
		a.Change = -math.Floor(now/step) * step
	}
	a.Set = Number(now + a.Change)
	return a
}

// Changes says whether there is anything to set.
func (a Allowance) Changes() bool { return a.Change != 0 }

// Do says what to set, of the setting called what: "set the allowance from 85 to 160 µs", or "raise the allowance by 75
// µs".
func (a Allowance) Do(what string) string {
	if !math.IsNaN(float64(a.Now)) {
		return fmt.Sprintf("set the %s from %s to %s µs", what, quantity.Number(float64(a.Now), -1),
			quantity.Number(float64(a.Set), -1))
	}
	word := "raise"
	if a.Change < 0 {
		word = "lower"
	}
	return fmt.Sprintf("%s the %s by %s µs", word, what, quantity.Number(math.Abs(a.Change), -1))
}

// String is "85 → 160 µs", or "+75 µs" where the present one is not known.
func (a Allowance) String() string {
	if !math.IsNaN(float64(a.Now)) {
		return quantity.Number(float64(a.Now), -1) + " → " + quantity.Number(float64(a.Set), -1) + " µs"
	}
	return quantity.Signed(a.Change, -1) + " µs"
}

// Housing is the turn of the housing that cures the offset.
type Housing struct {
	// TurnDeg is in shaft degrees, never negative; 0 with Leave.
	TurnDeg   float64 `json:"turn_deg"`
	Direction string  `json:"direction"`
}

// Half says where the turn comes from, to stand beside it: "half of 2.7°: the shaft turns at half crank speed".
func (h Housing) Half() string {
	return "That is half of " + quantity.Degrees(2*h.TurnDeg, 1) + ": the shaft turns at half crank speed"
}

// ErrorAt is the timing error at one speed, crank degrees, with its expanded uncertainty.
type ErrorAt struct {
	RPM, Value, U float64
}

// MarshalJSON writes {"rpm","value","U"}, null for an unknown U.
func (e ErrorAt) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		RPM   float64 `json:"rpm"`
		Value Number  `json:"value"`
		U     Number  `json:"U"`
	}{e.RPM, Number(e.Value), Number(e.U)})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (e *ErrorAt) UnmarshalJSON(data []byte) error {
	var w struct {
		RPM   float64  `json:"rpm"`
		Value *float64 `json:"value"`
		U     *float64 `json:"U"`
	}
	if err := json.Unmarshal(data, &w); err != nil {
		return err
	}
	*e = ErrorAt{RPM: w.RPM, Value: math.NaN(), U: math.Inf(1)}
	if w.Value != nil {
		e.Value = *w.Value
	}
	if w.U != nil {
		e.U = *w.U
	}
	return nil
}

// Line is one line of the budget of the timing error at the worst speed.
type Line struct {
	Name  string         `json:"name"`
	Kind  estimate.Kind  `json:"kind"`
	Shape estimate.Shape `json:"shape"`
	// U is the line's share of the standard uncertainty, crank degrees.
	U Number `json:"u_deg"`
	// DOF is null where the figure is taken as certain.
	DOF     Number `json:"dof"`
	Assumed bool   `json:"assumed"`
	// Source is where the figure comes from, as Common has it.
	Source string `json:"source,omitempty"`
}

// LackOfFit is the test whether the error follows a line.
type LackOfFit struct {
	// Test names what the scatter was compared with; empty where there was too little to test with.
	Test string `json:"test"`
	// P is the chance of so bad a fit by luck; null where it could not be tested.
	P Number `json:"p"`
	// Deg is how far the true error strays from the line, root mean square over the readings,
	// crank degrees; 0 where scatter explains all.
	Deg Number `json:"deg"`
}

// Point is a reading carried to the present housing and allowance: what the line goes through.
type Point struct {
	Row int     `json:"row"` // from 1, the header not counted
	RPM float64 `json:"rpm"`
	// Error is shown − locked, less what allowance and housing have moved since, crank degrees.
	Error float64 `json:"error_deg"`
	// U is the standard uncertainty given or set for it; null where it is not known.
	U Number `json:"u_deg"`
	// Wire is the cylinder it was read on; 0, left out in JSON, for cylinder 1.
	Wire int `json:"wire,omitempty"`
	// Carried: allowance or housing were moved since it was read, so it stands elsewhere than it was read.
	Carried bool `json:"carried"`
}

// Result is what Fit found. Angles are crank degrees unless they say otherwise.
type Result struct {
	// Offset is b at the present housing, Delay τ − c at the present allowance (above zero:
	// late with speed).
	Offset    Interval  `json:"offset_deg"`
	Delay     Interval  `json:"delay_us"`
	Allowance Allowance `json:"allowance_us"`
	Housing   Housing   `json:"housing"`
	// Outliers are the rows set aside as misread; CrankingRows those taken on the starter.
	// Rows count from 1, the header not counted.
	Outliers     []int `json:"outliers"`
	CrankingRows []int `json:"cranking_rows"`
	// Asked are the readings that were asked back, with what was asked; those not confirmed do not count.
	Asked []Doubt `json:"asked"`
	// Cylinders are those read, the one that the line belongs to first, Wires how far off each one is.
	Cylinders []Cylinder  `json:"cylinders"`
	Wires     []WireError `json:"wires"`
	// Points are all readings as they would be at the present housing and allowance, those set aside and those on the
	// starter too.
	Points []Point `json:"points"`
	// Used is the number of readings that the line goes through.
	Used       int       `json:"used"`
	ResidualSD Number    `json:"residual_sd_deg"`
	Verdict    Verdict   `json:"verdict"`
	Next       float64   `json:"next_reading_rpm"`
	ErrorAt    []ErrorAt `json:"error_at"`
	// Worst is where |e| + U is largest; After the same once the corrections are made.
	Worst ErrorAt `json:"worst"`
	After ErrorAt `json:"expected_after"`
	// RoundingDeg is the error at redline that whole steps of the allowance leave over.
	RoundingDeg Number `json:"residual_from_rounding_deg"`
	// Scale says what the uncertainty rests on: "scatter", "stated" or "none".
	Scale string `json:"scale"`
	// CrankingError is the mean error of the cranking rows; it never turns the housing.
	CrankingError Interval  `json:"cranking_error_deg"`
	LackOfFit     LackOfFit `json:"lack_of_fit"`
	Budget        []Line    `json:"budget"`
	Tolerance     float64   `json:"tolerance_deg"`
	Confidence    float64   `json:"confidence"`
	// Brief is what to do next in one or two short sentences, for the head of a page.
	Brief string `json:"brief"`
	// Advice says in words what to do, in order; Warnings what to be careful about.
	Advice   []string `json:"advice"`
	Warnings []string `json:"warnings"`

	line model

	pattern *Pattern // of LookElsewhere
}

// Pattern is what the readings show that neither housing nor allowance make; nil where they show none, and for a result
// that was read from JSON.
func (res *Result) Pattern() *Pattern { return res.pattern }

// UnmarshalJSON reads a verdict, also of results that were kept before "correct", which read like "fine", became
// "adjust".
func (v *Verdict) UnmarshalJSON(data []byte) error {
	var text string
	if err := json.Unmarshal(data, &text); err != nil {
		return err
	}
	if *v = Verdict(text); text == "correct" {
		*v = Adjust
	}
	return nil
}
