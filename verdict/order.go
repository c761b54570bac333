package verdict

import (
	"fmt"
	"slices"

	"phasewright/procedure"
	"phasewright/quantity"
)

// orderClauses are the clauses that the order of work shows. What a later change, a break or a step taken back puts in
// doubt has fallen there already; what was done against a lock shows nothing.
func (e *Evidence) orderClauses() Set {
	s := open()
	if e.Order == nil {
		return s
	}
	o := e.Order
	has := func(part procedure.Part) bool { return o.State.Plant.Get(part) == procedure.Yes }
	step := func(id procedure.StepID) *procedure.Record {
		if r := o.RecordOf(o.State, id); r.Done && !r.Overridden {
			return &r
		}
		return nil
	}
	looked := func(id procedure.StepID, look procedure.Look) bool {
		r := step(id)
		return r != nil && r.Proof != nil && slices.Contains(r.Proof.Seen, look)
	}
	if has(procedure.Zero) && step(procedure.StepZero) != nil {
		s.settle(ZeroMark, Shown, "the piston stop was done, both ways")
	}
	if has(procedure.Idle) && looked(procedure.StepIdle, procedure.LookHeld) {
		s.settle(Locked, Shown, "locked: it stayed at one advance while the throttle moved")
	}
	if has(procedure.Idle) && looked(procedure.StepIdle, procedure.LookEven) &&
		o.State.Plant.Get(procedure.Wires) == procedure.On && has(procedure.Phased) {
		s.settle(RightCylinder, Shown, "compression and a second sign were seen at the lead mark. The wires follow "+
			"the map. It runs on all cylinders")
	}
	if r := step(procedure.StepBase); has(procedure.Base) && r != nil {
		c := s.settle(FirstCrank, Shown, "the reading on the starter lies in the foreseen band")
		if r.Proof != nil && r.Proof.Value != nil {
			c.Value = Number(*r.Proof.Value)
			c.Because += fmt.Sprintf(": %s", quantity.Degrees(*r.Proof.Value, 1))
		}
	}
	if g := o.State.Gate; g != nil && g.At == procedure.StepBase {
		s.settle(FirstCrank, Broken, g.Why)
	}
	if has(procedure.Range) && looked(procedure.StepRange, procedure.LookClean) {
		s.settle(Signals, Shown, "it starts and revs clean, as observed")
	}
	if has(procedure.Settings) && step(procedure.StepSettings) != nil &&
		e.Card.Ignition.DwellAt(e.Card.Ignition.Supply).Given() {
		s.settle(Spark, Shown, "the dwell read back is the one set. The sheet has no stop on coil or gap")
	}
	if has(procedure.Settings) && o.State.Plant.Get(procedure.Clamp) == procedure.Tight && has(procedure.Phased) &&
		looked(procedure.StepSettings, procedure.LookCycled) {
		s.settle(Held, Shown, "the clamp is tight, and the settings were read back after a power cycle")
	}
	return s
}
