package trial

import (
	"fmt"
	"math"
	"slices"

	"phasewright/bench"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/verdict"
)

// Where a clause ends, in truth. Beside the tolerance of the card these are all the limits that the score goes by.
const (
	ownCycle   = 60.0  // crank degrees from its own TDC of compression at which a spark no longer fires its charge
	mostAstray = 0.005 // share of sparks that may take another tower
	sameLead   = 0.25  // degrees that a lead is read back to
	sameDwell  = 0.1   // share within which the dwell in force is the dwell on the card
)

// truth is what the bench alone knows of a job.
type truth struct {
	broken []string        // clauses that are false, by identifier, in the order of the table
	worst  map[int]float64 // by cylinder: the largest |error| from idle to redline, crank degrees
}

func (t truth) is(id verdict.ID) bool { return slices.Contains(t.broken, string(id)) }

// truth judges a job by the bench's closed form, clause by clause.
//
//	zero mark       the damper's mark stands farther from TDC than the card's half-width
//	locked          the spark map commands
//	timing          cylinder 1's mean spark is beyond the tolerance somewhere from idle to redline, or single sparks
//	                scatter by more than half the tolerance (one standard deviation)
//	every cylinder  the same, any cylinder
//	right cylinder  a spark falls more than 60° from its own cylinder's TDC of compression, or more than one in two
//	                hundred takes another tower, anywhere in the advance range
//	first crank     on the starter a cylinder gets no spark, or its error lies farther from the foreseen one than
//	                the foreseen band and the tolerance together
//	signals         an edge is missing, extra, at the wrong input or of the wrong polarity, or the controller acts on
//	                the edge that the card does not state
//	spark           a spark is weak from the starter to the redline, or the dwell is not the card's within a tenth
//	held            the clamp slips; lead or allowance in force are not those believed
func (b *built) truth(f bench.Faults) truth {
	t := truth{worst: map[int]float64{}}
	bad := map[verdict.ID]bool{}
	card, c := b.card, b.c
	tolerance := float64(card.Tolerance)
	bad[verdict.ZeroMark] = math.Abs(float64(f.Damper)) > float64(card.Damper.ZeroMark)
	bad[verdict.Locked] = f.Unlocked
	bad[verdict.Signals] = f.Noise > 0 || f.Crossfire > 0 || f.NoCrank || f.NoCam || f.Leads || f.Polarity || f.Edge
	bad[verdict.Spark] = math.Abs(float64(f.Dwell)) > sameDwell*float64(c.Controller.Dwell)
	bad[verdict.Held] = f.Clamp != 0 || f.Unstored != 0 || math.Abs(float64(f.Lead)) > sameLead

	held := f
	held.Unlocked, held.Noise, held.Crossfire = false, 0, 0
	for _, n := range speedsOf(c) {
		for _, cyl := range c.Engine.FiringOrder {
			x := b.model.Expect(held, n, cyl)
			e := float64(x.Truth - c.Controller.Locked)
			switch {
			case !x.Flashes:
				bad[verdict.RightCylinder], bad[verdict.EveryCylinder] = true, true
				t.worst[cyl] = math.Inf(1)
			case math.Abs(float64(x.Truth)) > ownCycle:
				bad[verdict.RightCylinder], bad[verdict.EveryCylinder] = true, true
			}
			t.worst[cyl] = max(t.worst[cyl], math.Abs(e))
			if math.Abs(e) > tolerance || float64(x.FlashSD) > tolerance/2 {
				bad[verdict.EveryCylinder] = true
				bad[verdict.Timing] = bad[verdict.Timing] || cyl == 1
			}
			if x.Wild > mostAstray {
				bad[verdict.RightCylinder] = true
			}
		}
	}
	sparks := f // over the whole advance range too
	sparks.Noise, sparks.Crossfire, sparks.Unlocked = 0, 0, true
	for _, g := range []bench.Faults{held, sparks} {
		for _, n := range append(speedsOf(c), c.Engine.CrankingSpeed) {
			x := b.model.Expect(g, n, 1)
			switch x.Behaviour {
			case bench.NoSpark:
				bad[verdict.Signals] = true
			case bench.WeakSparks:
				bad[verdict.Spark] = true
			}
			if x.Wild > mostAstray {
				bad[verdict.RightCylinder] = true
			}
		}
	}
	want, band := b.foreseen()
	for _, cyl := range c.Engine.FiringOrder {
		x := b.model.Expect(held, c.Engine.CrankingSpeed, cyl)
		if !x.Flashes || math.Abs(float64(x.Truth)) > ownCycle ||
			cyl == 1 && math.Abs(float64(x.Truth)-want) > band+tolerance {
			bad[verdict.FirstCrank] = true
		}
	}
	for _, id := range verdict.IDs() {
		if bad[id] {
			t.broken = append(t.broken, string(id))
		}
	}
	return t
}

// speedsOf are the speeds at which the truth is asked for, from idle to redline.
func speedsOf(c bench.Config) []quantity.Speed {
	const points = 6
	var out []quantity.Speed
	for i := range points + 1 {
		out = append(out, c.Engine.Idle+(c.Engine.Redline-c.Engine.Idle)*quantity.Speed(i)/points)
	}
	return out
}

// foreseen is what the set-up sheet has the light show on the starter, and the half-width of its band; a band without
// end where it foresees nothing.
func (b *built) foreseen() (shown, band float64) {
	for _, x := range b.sheet.Expect {
		if x.Band > 0 {
			return x.Shown, x.Band
		}
	}
	return 0, math.Inf(1)
}

// cured is the job after what a cure advises was done: the housing turned by exactly that, the allowance set to that
// and stored.
func (b *built) cured(f bench.Faults, cure *verdict.Cure) bench.Faults {
	by := quantity.Shaft(cure.Housing.TurnDeg)
	switch cure.Housing.Direction {
	case readings.WithRotor:
		f.Housing -= by
	case readings.AgainstRotor:
		f.Housing += by
	}
	switch set := float64(cure.Allowance.Set); {
	case !cure.Allowance.Changes():
	case math.IsNaN(set): // only by how much was said: from what the controller holds
		f.Allowance += quantity.Time(cure.Allowance.Change)
		f.Unstored = 0
	default:
		f.Allowance, f.Unstored = quantity.Time(set)-b.c.Controller.Allowance, 0
	}
	return f
}

// curable are the faults that a turn of the housing or another allowance takes away.
var curable = []string{"housing", "lead", "allowance", "delay"}

// wrong says why a cure is the wrong one; "" for a right one. It is wrong where
//
//   - on any cylinder the largest true error from idle to redline is not smaller after it than before; or
//   - it hides another fault: one that neither housing nor allowance takes away moves what the light shows on wire 1
//     by more than half the tolerance, at any speed from idle to redline. The light's own faults are among them.
func (b *built) wrong(f bench.Faults, cure *verdict.Cure) string {
	return b.wrongChange(f, b.cured(f, cure))
}

// wrongChange says the same of any change of housing and allowance.
func (b *built) wrongChange(was, now bench.Faults) string {
	before, after := b.truth(was), b.truth(now)
	for _, cyl := range b.c.Engine.FiringOrder {
		if !(after.worst[cyl] < before.worst[cyl]) {
			return fmt.Sprintf("cylinder %d: %.2f° before, %.2f° after", cyl, before.worst[cyl], after.worst[cyl])
		}
	}
	return b.hides(was)
}

// hides says which fault that neither housing nor allowance takes away moves the light on wire 1; "" for none.
func (b *built) hides(f bench.Faults) string {
	for _, r := range bench.FaultTable() {
		if r.Size(f) == 0 || slices.Contains(curable, r.Name) {
			continue
		}
		without := f
		r.Set(&without, 0)
		for _, n := range speedsOf(b.c) {
			x, y := b.model.Expect(f, n, 1), b.model.Expect(without, n, 1)
			by := math.Abs(math.Remainder(float64(x.Shown-y.Shown), 360))
			if x.Flashes != y.Flashes || by > float64(b.card.Tolerance)/2 {
				return fmt.Sprintf("hides %s, which moves the light by %.1f°", r.Name, by)
			}
		}
	}
	return ""
}

// most is the largest error of any cylinder.
func (t truth) most() float64 {
	most := 0.0
	for _, e := range t.worst {
		most = max(most, e)
	}
	return most
}
