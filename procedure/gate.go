package procedure

import (
	"fmt"
	"math"
	"slices"

	"phasewright/quantity"
)

// The gates grow: what may be read next depends on what the slower reading showed.
const (
	// idleBound is how far the light may stand from the locked command, degrees of the crank, at idle and at each speed
	// above it, before anything faster is allowed. Assumed (3° to 8°): it lies above what the phasing method and the
	// light leave, and far below what burns pistons or exhausts unloaded.
	idleBound = 5.0
	// phasingLeaves is what phasing by lamp or eye can leave, degrees of the crank: common practice.
	phasingLeaves = 2.0
	// starterUsual is how far the light usually stands off on the starter, either way.
	starterUsual = 8.0
	// rungAbove and rungBelow are how far a speed may lie beside the one that the step names.
	rungAbove, rungBelow = 1.03, 0.93
	// calmSpeed, or calmShare of the redline where that is less, is how fast the light is read at first: common
	// practice.
	calmSpeed, calmShare = 4000, 0.5
	// heldSeconds is how long a speed is held unloaded at most, coolSeconds how long it idles after: assumed.
	heldSeconds, coolSeconds = 20, 60
)

// Rung is a speed of the ladder from idle to the top.
type Rung struct{ RPM float64 }

// band is the speeds that count as the rung.
func (r Rung) band() Band { return Band{r.RPM * rungBelow, r.RPM * rungAbove} }

// Read is a reading that the ladder rests on.
type Read struct{ RPM, Error float64 }

// Gate says why the line does not go on where it stands: a check that failed, or a reading that foretells too much at
// the next speed.
type Gate struct {
	At  StepID // the step that is shut
	Why string
	Go  StepID // what opens it
}

// calmTop is the fastest of the speeds that are read first, rpm.
func calmTop(redline float64) float64 {
	return min(calmSpeed, math.Floor(redline*calmShare/50+1e-9)*50)
}

// ladder is the speeds above idle, from the sheet, and the fastest calm one among them, so that what lies above it is
// foretold before it is read; none lies above the redline.
func (b *builder) ladder() []Rung {
	idle, redline := float64(b.c.Engine.IdleSpeed), float64(b.c.Engine.Redline)
	calm := calmTop(redline)
	var out []Rung
	for _, e := range b.s.Expect {
		if e.Band == 0 && e.RPM > idle*1.2 && e.RPM <= redline {
			out = append(out, Rung{e.RPM})
		}
	}
	if len(out) == 0 {
		for _, share := range []float64{0.25, 0.5, 0.75} {
			out = append(out, Rung{math.Round((idle+(redline-idle)*share)/50) * 50})
		}
	}
	above := slices.IndexFunc(out, func(r Rung) bool { return r.RPM > calm*rungAbove })
	if above >= 0 && calm > idle*1.2 && (above == 0 || out[above-1].RPM < calm*rungBelow) {
		out = slices.Insert(out, above, Rung{calm})
	}
	return out
}

// idleTop is the fastest that still counts as idle, rpm: a fifth above it, common practice.
func idleTop(idle float64) float64 { return math.Round(idle*1.2/10) * 10 }

// foretold is the error at a speed on the line through the last two readings; the last one's where there is one alone.
func foretold(ladder []Read, rpm float64) float64 {
	n := len(ladder)
	if n == 0 {
		return 0
	}
	last := ladder[n-1]
	if n == 1 || last.RPM <= ladder[n-2].RPM {
		return last.Error
	}
	slope := (last.Error - ladder[n-2].Error) / (last.RPM - ladder[n-2].RPM)
	return last.Error + slope*(rpm-last.RPM)
}

// nextRung is the speed to read next; ok is false where all were read.
func (s *Step) nextRung(ladder []Read) (Rung, bool) {
	read := max(len(ladder)-1, 0) // the first is idle
	if read >= len(s.Demand.Rungs) {
		return Rung{}, false
	}
	return s.Demand.Rungs[read], true
}

// shut says why the next speed must not be read: what the slower readings foretell lies outside the bound.
func (p *Procedure) shut(s State, st *Step) *Gate {
	rung, more := st.nextRung(s.Ladder)
	if len(s.Ladder) == 0 || !more {
		return nil
	}
	if e := foretold(s.Ladder, rung.RPM); math.Abs(e) > p.bound {
		first := s.Ladder[0].Error
		g := &Gate{At: st.ID, Go: StepAllowance,
			Why: fmt.Sprintf("the readings foretell %s at %s, outside ± %s. Change the delay allowance: "+
				"the error grows with "+
				"speed", deg(quantity.Crank(e)), quantity.RPM(rung.RPM), deg(quantity.Crank(p.bound)))}
		if math.Abs(first) > p.bound/2 {
			g.Go, g.Why = StepHousing,
				fmt.Sprintf("the readings foretell %s at %s, outside ± %s. First turn the housing. Then change the "+
					"delay allowance", deg(quantity.Crank(e)), quantity.RPM(rung.RPM), deg(quantity.Crank(p.bound)))
		}
		return g
	}
	return nil
}

// StepOf names the step that a light reading belongs to, by its speed; ok is false where none of the line takes it.
func (p *Procedure) StepOf(rpm float64) (StepID, bool) {
	for _, id := range []StepID{StepBase, StepIdle} {
		if st := &p.steps[p.at[id]]; st.Demand.Speed.Has(rpm) {
			return id, true
		}
	}
	return StepRange, rpm > p.steps[p.at[StepIdle]].Demand.Speed.To // which says how fast it may be
}
