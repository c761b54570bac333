package coil

import (
	"math"

	"phasewright/quantity"
)

// Circuit is a primary being charged from rest: what drives it, what resists and what stores.
type Circuit struct {
	Drive      quantity.Voltage    // supply less the driver's drop
	Resistance quantity.Resistance // winding at its temperature plus leads and connectors
	Iron       Iron
}

// Final is the current that the charge creeps up to and never reaches: Drive/Resistance, 0 where the drive is not above
// zero.
func (c Circuit) Final() quantity.Current {
	return quantity.Current(max(float64(c.Drive), 0) / float64(c.Resistance))
}

// TimeTo is the dwell that reaches the current i from rest; +Inf where i is not below Final.
func (c Circuit) TimeTo(i quantity.Current) quantity.Time {
	switch {
	case i <= 0:
		return 0
	case i >= c.Final():
		return quantity.Time(math.Inf(1))
	}
	return quantity.Time(1e6 * c.Iron.seconds(0, float64(i), float64(c.Drive), float64(c.Resistance)))
}

// CurrentAt is the current after charging from rest for t.
//
// It inverts t(i) in u = −ln(1−R·i/V), where dt/du = L(i)/R falls with u: Newton's step from below never passes the
// root on such a curve, and a bracket catches tables whose L rises within their scatter.
func (c Circuit) CurrentAt(t quantity.Time) quantity.Current {
	v, r, want := float64(c.Drive), float64(c.Resistance), t.Seconds()
	if !(want > 0) || !(v > 0) {
		return 0
	}
	end := v / r
	if math.IsInf(want, 1) {
		return quantity.Current(end)
	}
	const top = 34 // e^−34: all but the last bits of the final current
	lo, hi := 0.0, float64(top)
	u, i, at := 0.0, 0.0, 0.0
	step := want * r / float64(c.Iron.Inductance(0))
	if step >= top { // L falls, so the root lies higher still
		return quantity.Current(end)
	}
	for range 100 {
		next := u + step
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		was := i
		u = next
		i = -end * math.Expm1(-u)
		if i >= was {
			at += c.Iron.seconds(was, i, v, r)
		} else {
			at -= c.Iron.seconds(i, was, v, r)
		}
		if at < want {
			lo = u
		} else {
			hi = u
		}
		step = (want - at) * r / float64(c.Iron.Inductance(quantity.Current(i)))
		if math.Abs(step) <= 1e-9*u || hi-lo <= 1e-12 {
			break
		}
	}
	// The last step is taken without asking again: what it leaves is of the order of its square.
	return quantity.Current(i - (end-i)*math.Expm1(-clamp(step, -1, 1)))
}

func clamp(v, lo, hi float64) float64 { return min(max(v, lo), hi) }

// State is where a charge stands after a dwell.
type State struct {
	Dwell   quantity.Time
	Current quantity.Current
	Flux    float64         // λ in Wb
	Stored  quantity.Energy // ∫ i dλ
	Heat    quantity.Energy // ∫ R·i² dt, in winding and leads
	Drawn   quantity.Energy // out of the drive: Drive·∫ i dt = Stored + Heat
	Passed  float64         // charge ∫ i dt in coulomb
	Beyond  bool            // the current lies above what the iron's data reach
}

// After is the state after charging from rest for t. ∫ i dt follows exactly from V·t = λ + R·∫ i dt, and the heat from
// V·∫ i dt = W + heat.
func (c Circuit) After(t quantity.Time) State { return c.state(t, c.CurrentAt(t)) }

// To is the state on reaching i; ok is false where the drive never reaches it.
func (c Circuit) To(i quantity.Current) (s State, ok bool) {
	t := c.TimeTo(i)
	if math.IsInf(float64(t), 1) {
		return State{}, false
	}
	return c.state(t, i), true
}

func (c Circuit) state(t quantity.Time, i quantity.Current) State {
	v, r := float64(c.Drive), float64(c.Resistance)
	s := State{Dwell: t, Current: i, Flux: c.Iron.Flux(i), Stored: c.Iron.Stored(i), Beyond: i > c.Iron.Known()}
	if v > 0 {
		s.Passed = max((v*t.Seconds()-s.Flux)/r, 0)
	}
	s.Drawn = quantity.Energy(v * s.Passed)
	s.Heat = max(s.Drawn-s.Stored, 0)
	return s
}

// Trace is the charge at n+1 evenly spaced times from 0 to t, to be drawn.
func (c Circuit) Trace(t quantity.Time, n int) []State {
	n = max(n, 1)
	out := make([]State, n+1)
	for k := range out {
		out[k] = c.After(t * quantity.Time(k) / quantity.Time(n))
	}
	return out
}
