package trigger

import (
	"phasewright/engine"
	"phasewright/quantity"
)

// Law is the timing law of a controller that sees one edge a firing: it measures the last interval T and fires
// T·(L−a)/spacing after the active edge, less its delay allowance.
type Law struct {
	Lead      quantity.Crank
	Spacing   quantity.Crank // the interval that T was measured over: 720/N on an even-fire engine
	Allowance quantity.Time  // c
}

// Wait is the time from the active edge to the spark that the controller aims at for the advance a, when the last
// interval took last; negative where the allowance is longer than the wait, which no controller can do.
func (l Law) Wait(a quantity.Crank, last quantity.Time) quantity.Time {
	return last*quantity.Time((l.Lead-a)/l.Spacing) - l.Allowance
}

// Error is the timing error at the steady speed n for a housing or mark error b and a signal delay τ:
// e(n) = b − 6·n·(τ − c)·10⁻⁶, early positive.
func (l Law) Error(b quantity.Crank, delay quantity.Time, n quantity.Speed) quantity.Crank {
	return b - n.Over(delay-l.Allowance)
}

// UnderAcceleration is how late the spark falls, in crank degrees (positive is late), at the acceleration α in rpm per
// second when the last interval was at mean speed n: 3·α·t_w·(T + t_w), with T the last interval and t_w =
// T·(L−a)/spacing, both in seconds. Exact for constant α.
func (l Law) UnderAcceleration(a quantity.Crank, n quantity.Speed, rpmPerSecond float64) quantity.Crank {
	last := n.TimeFor(l.Spacing).Seconds()
	wait := last * float64((l.Lead-a)/l.Spacing)
	return quantity.Crank(3 * rpmPerSecond * wait * (last + wait))
}

// Window is the range in which the trigger lead may lie, in crank degrees.
type Window struct {
	Least, Most quantity.Crank
	// AtLeast is what the lower limit is made of beyond the largest advance: the crank angle that passes in the delays
	// at the redline.
	Delays quantity.Crank
}

// LeadWindow gives the limits of the trigger lead: L ≥ a_max + 6·n_max·(τ + t_ctl)·10⁻⁶ + guard leaves the controller
// room, L < spacing + a_min − guard keeps clear of the previous firing. Spacing is the smallest firing interval. The
// window is empty where Least > Most.
func LeadWindow(amax, amin, spacing, guard quantity.Crank, redline quantity.Speed, delay,
	latency quantity.Time) Window {
	d := redline.Over(delay + latency)
	return Window{Least: amax + d + guard, Most: spacing + amin - guard, Delays: d}
}

// Holds says whether the lead lies in the window.
func (w Window) Holds(lead quantity.Crank) bool { return lead >= w.Least && lead < w.Most }

// Margin is the way to the nearer limit, negative outside.
func (w Window) Margin(lead quantity.Crank) quantity.Crank {
	return min(lead-w.Least, w.Most-lead)
}

// AllowanceStep is the change of the delay allowance that a slope of the timing error of s degrees per rpm asks for: Δc
// = −s/6·10⁶ µs. Timing that falls back as speed rises (s < 0) wants more allowance.
func AllowanceStep(slopePerRPM float64) quantity.Time { return quantity.Time(-slopePerRPM / 6 * 1e6) }

// HousingTurn is the shaft angle by which the housing must turn to take out a constant error b, and which way: with the
// rotor where the spark is early (b > 0), against it where it is late. The turn is half the crank degrees.
func HousingTurn(b quantity.Crank) (turn quantity.Shaft, withRotor bool) {
	return engine.CrankToShaft(quantity.Abs(b)), b > 0
}
