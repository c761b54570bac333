package timing

import (
	"math"

	"phasewright/readings"
)

// Number is a figure that may be unknown: JSON writes NaN and infinity as null.
type Number = readings.Number

// Timing is the timing error as a mark at TDC shows it, from every firing. It has the JSON keys of a fit of light
// readings.
type Timing struct {
	Offset     readings.Interval  `json:"offset_deg"` // b
	Delay      readings.Interval  `json:"delay_us"`   // τ − c
	Allowance  readings.Allowance `json:"allowance_us"`
	Housing    readings.Housing   `json:"housing"`
	Outliers   []int              `json:"outliers"` // empty: firings have no rows; Spark.Adrift counts them
	ResidualSD Number             `json:"residual_sd_deg"`
	Verdict    readings.Verdict   `json:"verdict"`
	Next       float64            `json:"next_reading_rpm"`
	ErrorAt    []readings.ErrorAt `json:"error_at"` // within the speeds recorded

	Lead      readings.Interval `json:"lead_deg"` // of the active edge as it stands in metal, at speed nought
	Firings   int64             `json:"firings"`
	Marks     int64             `json:"marks"`
	Groups    int               `json:"groups"` // stretches that the uncertainty was found from, each left out once
	FromRPM   float64           `json:"from_rpm"`
	ToRPM     float64           `json:"to_rpm"`                     // recorded, as FromRPM
	ClaimFrom Number            `json:"claimed_from_rpm,omitempty"` // what the card claims: idle
	ClaimTo   Number            `json:"claimed_to_rpm,omitempty"`   // and redline
	Commanded bool              `json:"commanded"`                  // false: offset_deg is the advance itself, none being commanded
	Law       string            `json:"law"`                        // that describes the firings better: "last interval" or "shaft angle"
	BendDeg   Number            `json:"bend_deg"`                   // largest distance of a parabola from the line
	BendP     Number            `json:"bend_p"`                     // chance of such a bend by luck
	Tolerance float64           `json:"tolerance_deg"`              // 0: none
	Cylinders []CylinderError   `json:"cylinders"`
	NotInU    []string          `json:"not_in_u"`           // what the uncertainty leaves out
	Withheld  string            `json:"withheld,omitempty"` // why no correction is given
	// CrankingBias is, at the mean speed CrankingRPM below the timing line, how much more advance a timing light shows
	// than the controller means.
	CrankingBias Number `json:"cranking_bias_deg"`
	CrankingRPM  Number `json:"cranking_rpm"`

	slow         bool // recorded only below the speeds of the timing line
	lead0, lead1 float64
}

// CylinderError is the mean timing error of one cylinder over the speeds of the timing line.
type CylinderError struct {
	Cylinder int     `json:"cylinder"`
	Value    float64 `json:"error_deg"`
	U        Number  `json:"U_deg"` // 95 %
}

// LeadAt is the lead that the recording shows at n rpm, degrees: a crank pickup with a delay gives its edge nearer to
// TDC as speed rises.
func (t *Timing) LeadAt(n float64) float64 { return t.lead0 + t.lead1*n }

// Slow says that the recording holds no firing at the speeds of the timing line: cranking only.
func (t *Timing) Slow() bool { return t.slow }

// ErrorAround gives the straight line of the timing error at n rpm, and its expanded uncertainty U (95 %), interpolated
// between the speeds of ErrorAt; NaN where no line is known.
func (t *Timing) ErrorAround(n float64) (line, u float64) {
	e := t.ErrorAt
	switch {
	case len(e) == 1:
		return e[0].Value, e[0].U
	case !t.Offset.Known() || len(e) == 0:
		return nan, nan
	}
	line = t.Offset.Value + slopePerMicrosecond*t.Delay.Value*n
	for i := 1; i < len(e); i++ {
		if n <= e[i].RPM || i == len(e)-1 {
			f := (n - e[i-1].RPM) / (e[i].RPM - e[i-1].RPM)
			return line, math.Max(0, e[i-1].U+f*(e[i].U-e[i-1].U))
		}
	}
	return line, math.Inf(1)
}
