package sheet

import (
	"fmt"
	"math"
	"slices"

	"phasewright/coil"
	"phasewright/jobcard"
	"phasewright/quantity"
)

func amps(i quantity.Current) string { return quantity.Number(float64(i), 2) + " A" }

func rpm(n quantity.Speed) string {
	if math.IsInf(float64(n), 1) {
		return "no speed"
	}
	return fmt.Sprint(quantity.Speed(round(float64(n), 0)))
}

// coilItems are charge, reach, cranking, driver and heat of a coil that a driver charges.
func coilItems(c *jobcard.Card, p coil.Plan, fit *coil.Fitted) []Item {
	items := []Item{chargeItem(c, p), needItem(c, p)}
	if len(c.Ignition.DwellTable) > 0 {
		items = append(items, heldItem(c, p))
	}
	items = append(items, crankingDwell(c, p), reachItem(c, p), driverItem(c, p), heatItem(c, p))
	if fit != nil {
		items = append(items, fitItem(c, p, fit))
	}
	return items
}

// theDwell names the dwell that a sentence speaks of, at a supply.
func theDwell(p coil.Plan, supply quantity.Voltage) string {
	switch {
	case p.Dwell > 0:
		return fmt.Sprintf("the %v set", p.Dwell)
	case p.Held != nil:
		return fmt.Sprintf("the %s ms of the controller's table", ms(p.DwellAt(supply)))
	}
	return "a dwell as long as the target needs would"
}

func chargeItem(c *jobcard.Card, p coil.Plan) Item {
	k := p.Primary
	hot, cold := k.Hot(p.Running), k.At(p.Running, 20)
	need := hot.TimeTo(k.Target)
	dwell := p.DwellAt(p.Running)
	set := hot.After(dwell)
	it := Item{
		ID: "coil_charge", Title: fmt.Sprintf("Dwell to %s", amps(k.Target)), Value: round(need.Milliseconds(), 4),
		Unit: "ms",
		Text: fmt.Sprintf("at %v it takes %s ms with the winding at %v, %s ms cold. Then %s reach %s and store %s "+
			"mJ (∫ i dλ). With the unsaturated L, ½·L·i² would say %s",
			p.Running, quantity.Number(need.Milliseconds(), 2), k.Temperature,
			quantity.Number(cold.TimeTo(k.Target).Milliseconds(), 2), theDwell(p, p.Running), amps(set.Current),
			quantity.Number(1e3*float64(set.Stored), 0),
			quantity.Number(500*float64(k.Iron.Inductance(0))*float64(set.Current)*float64(set.Current), 0)),
		Formula: "supply less driver drop less R × current = L(current) × rise of current. " + fmt.Sprint(k.Iron) +
			". Copper: + 0.393 % a kelvin (IEC 60028, from memory)",
		Inputs: append(dwellInputs(c), from(c, "ignition.supply", p.Running, "coil.resistance", k.Resistance,
			"coil.inductance", c.Coil.Inductance, "coil.wiring", k.Wiring, "coil.driver_drop", k.DriverDrop,
			"coil.temperature", k.Temperature, "coil.target", k.Target)...),
		Ignored: "a coil that is never charged misfires at the load or speed that needs it most",
	}
	known := c.Ignition.DwellAt(p.Running).Given()
	if !known {
		it.Because = "the dwell that the controller holds is not given. It is judged as if it were what the target " +
			"needs"
	}
	switch {
	case math.IsInf(float64(need), 1):
		it.Verdict, it.Because = Stop, fmt.Sprintf("never reached when hot. %s is all that flows. Lower "+
			"coil.target, or look for resistance in the wiring", amps(hot.Final()))
		it.Text = fmt.Sprintf("at %v with the winding at %v the current creeps up to %s", p.Running, k.Temperature,
			amps(hot.Final()))
	case set.Current < shortCharge*k.Target && allThatFits(p, dwell):
		it.Verdict, it.Because = Caution, fmt.Sprintf("the dwell set reaches %s of %s. No more fits at the "+
			"redline. More coils, or a faster coil, would reach it. The spark in hand says whether this is "+
			"enough", amps(set.Current), amps(k.Target))
	case set.Current < weakCharge*k.Target:
		it.Verdict, it.Because = Stop, fmt.Sprintf("the dwell set reaches only %s of %s. Set %s ms", amps(set.Current),
			amps(k.Target), quantity.Number(need.Milliseconds(), 2))
	case set.Current < shortCharge*k.Target:
		it.Verdict, it.Because = Caution, fmt.Sprintf("the dwell set falls short: %s of %s. Set %s ms to reach it",
			amps(set.Current), amps(k.Target), quantity.Number(need.Milliseconds(), 2))
	case !known:
		it.Verdict, it.Because = Caution, "the dwell that the controller holds is not given. Read it there. Set "+
			"what the target needs"
	default:
		it.Verdict, it.Because = Fine, "the dwell set reaches the target hot"
	}
	if set.Beyond && it.Verdict != Stop {
		it.Verdict = Caution
		it.Because += fmt.Sprintf(". Above %s the coil's data end, and the current is extrapolated",
			amps(k.Iron.Known()))
	}
	return it
}

func crankingDwell(c *jobcard.Card, p coil.Plan) Item {
	k := p.Primary
	hot := k.Hot(p.CrankingSupply)
	need, got := hot.TimeTo(k.Target), p.CrankingRow()
	it := Item{
		ID: "dwell_cranking", Title: fmt.Sprintf("Coil current at cranking on %v", p.CrankingSupply),
		Value: round(float64(got.Current), 3), Unit: "A",
		Text: fmt.Sprintf("%s reach %s. The target needs %s ms there", theDwell(p, p.CrankingSupply),
			amps(got.Current), quantity.Number(need.Milliseconds(), 2)),
		Formula: "as for the dwell to the target, at the cranking supply",
		Inputs: append(dwellInputs(c), from(c, "ignition.cranking_supply", p.CrankingSupply, "coil.target",
			k.Target)...),
		Verdict: Fine,
		Because: "a start needs less than full load does. The spark at cranking is judged on its own line",
		Ignored: "the engine starts well on the bench supply, and not on a cold morning",
	}
	if math.IsInf(float64(need), 1) {
		it.Text = fmt.Sprintf("%s reach %s. No dwell reaches the target there: %s is all that flows",
			theDwell(p, p.CrankingSupply), amps(got.Current), amps(hot.Final()))
	}
	if got.Current < weakCharge*k.Target {
		it.Verdict, it.Because = Caution, "less than seven tenths of the target. Let the controller lengthen the "+
			"dwell as supply falls (dwell table)"
	}
	return it
}

func reachItem(c *jobcard.Card, p coil.Plan) Item {
	r := p.Primary.ReachAt(p.Primary.Hot(p.Running), p.Share, p.Dwell)
	at := p.PointAt(p.Redline, p.Running)
	it := Item{
		ID: "coil_reach", Title: "Target current up to " + rpm(r.Full), Value: round(float64(r.Full), 0), Unit: "rpm",
		Text: fmt.Sprintf("above it dwell and an off time of %v no longer fit between sparks. At the redline %s "+
			"flow after %s ms", p.Primary.OffTime, amps(at.Current),
			quantity.Number(at.Applied.Milliseconds(), 2)),
		Formula: "shortest interval of one coil ÷ (6 × (needed dwell + off time))",
		Inputs: append(from(c, "engine.redline", p.Redline, "ignition.coils", c.Ignition.Coils, "ignition.supply",
			p.Running), offInput(c)...),
		Verdict: Fine, Because: "that is above the redline",
		Ignored: "the spark weakens with speed just where the engine works hardest",
	}
	switch {
	case r.Full == 0:
		it.Verdict, it.Because = Stop, "the running supply never reaches the target with the winding hot"
	case r.Full < p.Idle:
		it.Verdict, it.Because = Stop, "that is below idle. Fit more coils, or a coil that charges faster"
	case r.Full < p.Redline:
		it.Verdict, it.Because = Caution, "that is below the redline. More coils, a faster coil or a shorter off "+
			"time would help. The spark in hand says whether what is left is enough"
	}
	return it
}

func driverItem(c *jobcard.Card, p coil.Plan) Item {
	k := p.Primary
	supply := max(p.Running, fullSupply)
	i := k.At(supply, 20).CurrentAt(min(p.DwellAt(supply), p.Share.Fits(p.Idle, k.OffTime)))
	it := Item{
		ID: "driver_current", Title: "Most the driver sees", Value: round(float64(i), 3), Unit: "A",
		Text: fmt.Sprintf("%s at idle with the coil cold and %v. The driver may carry %s", amps(i), supply,
			amps(k.DriverLimit)),
		Formula: "charge at the highest supply (14.8 V, common practice, or the running supply) " +
			"with the winding at 20 °C",
		Inputs:  append(from(c, "coil.driver_limit", k.DriverLimit), dwellInputs(c)...),
		Verdict: Fine, Because: "below the driver's limit",
		Ignored: "a driver that is overrun fails shorted. Then the coil stays on",
	}
	if k.DriverLimit > 0 && i > k.DriverLimit {
		it.Verdict, it.Because = Stop, fmt.Sprintf(
			"above the driver's limit. Shorten the dwell to %s ms at this supply. Or fit a driver that limits "+
				"current",
			quantity.Number(k.At(supply, 20).TimeTo(k.DriverLimit).Milliseconds(), 2))
		if c.Assumed("coil.driver_limit") {
			it.Verdict, it.Because = Caution, it.Because+". The limit itself is only assumed. Find the driver's own"
		}
	}
	return it
}

func heatItem(c *jobcard.Card, p coil.Plan) Item {
	k := p.Primary
	hot := k.Hot(p.Running)
	dwell := p.DwellAt(p.Running)
	// heat grows up to where the dwell no longer fits, then falls
	peak := min(p.Share.SpeedFor(dwell, k.OffTime), p.Redline)
	worst := k.LoadAt(hot, p.Share, peak, dwell)
	r := k.ReachAt(hot, p.Share, p.Dwell)
	all := worst.Heat()
	it := Item{
		ID: "coil_heat", Title: "Coil heat", Value: round(float64(worst.Copper), 2), Unit: "W",
		Text: fmt.Sprintf("the winding takes %s W at %s, where it is hottest. With what the spark does not take it "+
			"is %s to %s W, at a duty of %s %%. Each coil draws %s on average. Its driver takes %s W. The coil "+
			"stands %v",
			quantity.Number(float64(worst.Copper), 1), rpm(peak), quantity.Number(float64(all.Low), 1),
			quantity.Number(float64(all.High), 1), quantity.Number(100*worst.Duty, 0), amps(worst.Mean),
			quantity.Number(float64(worst.Driver), 1), k.HeatLimit),
		Formula: "winding resistance × ∫ i² dt over a charge × sparks a second",
		Inputs: slices.Concat(from(c, "coil.heat_limit", k.HeatLimit, "coil.temperature", k.Temperature),
			dwellInputs(c), offInput(c), secondaryInputs(c)[:1]),
		Verdict: Fine, Because: "below what the coil stands",
		Ignored: "a coil that cooks leaks oil or resin. It loses spark when hot and fails far from home",
	}
	switch {
	case worst.Copper > k.HeatLimit:
		it.Verdict, it.Because = Stop, fmt.Sprintf(
			"from %s on the coil cooks. Shorten the dwell, or share the sparks among more coils", rpm(r.Cooks))
		if c.Assumed("coil.heat_limit") {
			it.Verdict, it.Because = Caution, it.Because+". The limit is only assumed. Find the maker's"
		}
	case all.High > k.HeatLimit:
		it.Verdict, it.Because = Caution, "with the energy that the spark does not take it may pass what the coil "+
			"stands. Feel it with care after a long run, or measure it"
	}
	return it
}

func fitItem(c *jobcard.Card, p coil.Plan, f *coil.Fitted) Item {
	it := Item{
		ID: "coil_fit", Title: "Coil from the measured charge", Value: round(float64(f.RMS), 4), Unit: "A rms",
		Text: fmt.Sprintf("%v. The largest difference is %s at %s ms. It is known up to %s", f.Iron, amps(f.Worst),
			quantity.Number(f.At.Milliseconds(), 2), amps(f.Iron.Known())),
		Formula: "least squares of current over the measured points",
		Inputs:  from(c, "coil.charge", fmt.Sprintf("%d points", len(c.Coil.Charge)), "ignition.supply", p.Running),
		Verdict: Fine, Because: "the curve runs through the points",
		Ignored: "a coil judged by points that do not belong together",
	}
	if f.Worst > fitOff*f.Iron.Known() {
		it.Verdict, it.Because = Caution, "a point lies off the curve by more than a twentieth of the highest "+
			"current. Measure again, from rest, at a steady supply"
	}
	return it
}

// boxItems say what dwell means for a spark box.
func boxItems(c *jobcard.Card, p coil.Plan) []Item {
	pulse := c.Ignition.BoxPulse
	it := Item{
		ID: "box_trigger", Title: "Trigger pulse of the spark box", Value: math.NaN(), Unit: "rpm",
		Text: fmt.Sprintf("a spark box charges itself. Dwell is only the width of its trigger pulse: %v. Its maker "+
			"states least %v, most %v, pause %v", c.Ignition.Dwell, pulse.Least, pulse.Most, pulse.Rest),
		Formula: "shortest interval ÷ (6 × trigger width)", Verdict: Fine,
		Inputs: from(c, "ignition.dwell", c.Ignition.Dwell, "ignition.box_pulse_least", pulse.Least,
			"ignition.box_pulse_most", pulse.Most, "ignition.box_pulse_rest", pulse.Rest, "engine.redline", p.Redline),
		Because: "it keeps what the box's maker states, up to the redline",
		Ignored: "a pulse too narrow is not seen. Pulses that run together are one: the box fires no more",
	}
	if p.Box.Width == 0 {
		it.Verdict, it.Because = Caution, "its width is not given. Read it in the controller. Set what the box's "+
			"maker asks for"
		return []Item{it}
	}
	full := p.Box.Full(p.Share)
	at := p.Box.At(p.Share, p.Redline)
	it.Title, it.Value = fmt.Sprintf("Trigger pulse fills the interval at %s", rpm(full)), round(float64(full), 0)
	it.Text += fmt.Sprintf(". At the redline it %v", at)
	switch {
	case at == coil.TriggerMerges, at == coil.TriggerCrowded:
		it.Verdict, it.Because = Stop, fmt.Sprintf(
			"it %v at the redline. Shorten the pulse as far as the box's maker allows", at)
	case at == coil.TriggerNarrow, at == coil.TriggerWide:
		it.Verdict, it.Because = Caution, "it does not keep what the box's maker states. Set a width within that"
	case !pulse.Least.Given() || !pulse.Most.Given():
		it.Verdict, it.Because = Caution, "what the box's maker asks for is not given. Look it up. Write it on the "+
			"card"
	}
	return []Item{it}
}
