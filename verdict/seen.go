package verdict

import (
	"fmt"
	"math"

	"phasewright/quantity"
	"phasewright/sheet"
)

// cardClauses are the clauses that card and set-up sheet speak for. The stops of the sheet are not here: no other
// evidence makes up for them, see spoilSpark.
func (e *Evidence) cardClauses() Set {
	s := open()
	if z := e.Card.Damper.ZeroMark; z > 0 && !e.Card.Assumed("damper.zero_mark") {
		s.settle(ZeroMark, Shown, fmt.Sprintf("the card states it proven within ± %s", quantity.Degrees(z, 2))).
			figure(0, float64(z), math.NaN())
	}
	return s
}

// spoilSpark breaks the spark where the set-up sheet has a stop on coil, spark or rotor.
func (e *Evidence) spoilSpark(s Set) {
	if e.Sheet == nil {
		return
	}
	for _, it := range e.Sheet.Items {
		if it.Verdict == sheet.Stop && (it.Area == "coil and spark" || it.Area == "rotor") {
			s.settle(Spark, Broken, it.Title+": "+it.Because).By = BySheet
			return
		}
	}
}

// seenClauses are the clauses that observations speak for.
func (e *Evidence) seenClauses() Set {
	s := open()
	if e.Seen == nil || e.Seen.Evidence == nil {
		return s
	}
	e.seenStop(s)
	e.seenLock(s)
	e.seenCylinders(s)
	e.seenSignals(s)
	e.seenHeld(s)
	if set, given := e.Card.Ignition.Dwell.Get(); given && e.Seen.Settings.Dwell != nil {
		if back := e.Seen.Settings.Dwell.Value; math.Abs(back-float64(set)) > sameDwell*float64(set) {
			s.settle(Spark, Broken, fmt.Sprintf("the dwell read back is %s ms, the card says %s ms",
				quantity.Number(back/1e3, 2), quantity.Number(float64(set)/1e3, 2)))
		}
	}
	switch e.Seen.Spark {
	case "none":
		s.settle(Spark, Broken, "no spark comes at a tester")
	case "weak":
		s.settle(Spark, Broken, "the spark at a tester is weak")
	}
	e.keep(s, e.Seen.After, "what was seen")
	return s
}

// seenStop halves the two contacts of the piston stop: the mark is right where it stands in the middle.
func (e *Evidence) seenStop(s Set) {
	stop := e.Seen.PistonStop
	if stop.Before == nil || stop.After == nil {
		return
	}
	off := (stop.Before.Value - stop.After.Value) / 2 // mark early positive, crank degrees
	u := func(v float64) float64 {
		if v > 0 {
			return v
		}
		return stopContact
	}
	limit := math.Max(float64(e.Card.Damper.ZeroMark), provenMark)
	U := math.Hypot(u(stop.Before.U), u(stop.After.U)) // twice the standard uncertainty of half the difference
	text := fmt.Sprintf("the piston stop puts the zero mark %s° from true TDC", quantity.Signed(off, 2))
	text += fmt.Sprintf(" ± %s", quantity.Degrees(U, 2))
	switch {
	case math.Abs(off)-U > limit:
		s.settle(ZeroMark, Broken, text).figure(off, U, limit)
	case math.Abs(off)+U <= limit:
		s.settle(ZeroMark, Shown, text).figure(off, U, limit)
	default:
		s.leave(ZeroMark, text+fmt.Sprintf(", where ± %s are allowed", quantity.Degrees(limit, 2)),
			"make each contact of the piston stop three times, and write the mean with its ±")
		s.Get(ZeroMark).figure(off, U, limit)
	}
}

func (e *Evidence) seenLock(s Set) {
	switch e.Seen.Settings.Lock {
	case "on":
		s.settle(Locked, Shown, "the controller shows the timing as locked")
	case "off":
		s.settle(Locked, Broken, "the controller shows the timing as not locked")
	}
}

// seenCylinders asks for all three signs: compression, wires, and that it runs on all.
func (e *Evidence) seenCylinders(s Set) {
	o := e.Seen
	wrong := ""
	switch {
	case o.Compression == "not felt":
		wrong = "no compression was felt on No. 1 as the mark came up. The unit stands half a turn out"
	case o.Cap.Traces == "off centre" || o.Cap.Traces == "tracks between towers":
		wrong = "the traces in the cap are " + o.Cap.Traces + ". The rotor misses its tower at one end of the " +
			"advance"
		if o.Cap.Traces == "tracks between towers" {
			wrong = "sparks track between the towers of the cap"
		}
	case o.Cap.Wires == "wrong":
		wrong = "the wires do not follow the map"
	case o.Engine.Starting == "spits through the intake" || o.Engine.Starting == "bangs in the exhaust" ||
		o.Engine.Starting == "kicks back":
		wrong = "on the starter it " + o.Engine.Starting
	case len(o.Engine.Misfire) > 0:
		wrong = fmt.Sprintf("cylinder %d misfires", o.Engine.Misfire[0])
	}
	runs := o.Engine.Running == "fine" || o.Engine.NoMisfire
	switch {
	case wrong != "":
		s.settle(RightCylinder, Broken, wrong)
	case o.Compression == "felt" && o.Cap.Wires == "right" && runs:
		s.settle(RightCylinder, Shown, "compression was felt as the mark came up. The wires follow the map. It "+
			"runs on all cylinders")
	case o.Compression == "felt" || o.Cap.Wires == "right" || runs:
		s.leave(RightCylinder, "some signs were seen. Compression, wires and an even run belong together", "")
	}
}

func (e *Evidence) seenSignals(s Set) {
	o := e.Seen
	switch {
	case o.Capture.Sync == "none" || o.Capture.Sync == "lost":
		s.settle(Signals, Broken, "the controller's sync: "+o.Capture.Sync)
	case o.Engine.Starting == "nothing" && o.Spark == "none":
		s.settle(Signals, Broken, "no spark comes on the starter")
	case o.Engine.Running == "will not rev":
		s.settle(Signals, Broken, "it will not rev")
	case o.Engine.Starting == "starts" && o.Engine.Running == "fine":
		s.settle(Signals, Shown, "it starts and revs clean, as observed")
	}
}

// seenHeld compares the settings read back with those that ought to be in force.
func (e *Evidence) seenHeld(s Set) {
	o := e.Seen
	if o.Clamp == "slips" {
		s.settle(Held, Broken, "the clamp slips")
		return
	}
	set, given := e.Card.Controller.DelayAllowance.Get()
	if e.Light != nil && e.Light.Fit != nil && !math.IsNaN(float64(e.Light.Fit.Allowance.Now)) {
		set, given = quantity.Time(e.Light.Fit.Allowance.Now), true
	}
	differs := func(what string, got, want, step float64, unit string) bool {
		if math.Abs(got-want) <= step {
			return false
		}
		s.settle(Held, Broken, fmt.Sprintf("%s read back is %s %s, set were %s", what, quantity.Number(got, -1), unit,
			quantity.Number(want, -1)))
		return true
	}
	back := o.Settings
	if back.Allowance != nil && given && differs("the allowance", back.Allowance.Value, float64(set),
		math.Max(1, float64(e.Card.Controller.DelayStep.Or(0))/2), "µs") {
		return
	}
	if back.Lead != nil && differs("the lead", back.Lead.Value, float64(e.Card.Signals.Crank.Lead), sameLead, "°") {
		return
	}
	if back.Edge != "" && back.Edge != string(e.Card.Signals.Crank.ActiveEdge) {
		s.settle(Held, Broken, "the active edge read back is "+back.Edge+", the card says "+
			string(e.Card.Signals.Crank.ActiveEdge))
		return
	}
	if o.Clamp == "tight" && back.Allowance != nil && given {
		s.settle(Held, Shown, "the clamp is tight. The settings read back are those that were set")
	}
}
