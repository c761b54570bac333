package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/coil"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// allThatFits says whether a dwell with the engine running is all that fits beside the off time at the redline.
func allThatFits(p coil.Plan, dwell quantity.Time) bool {
	return dwell > p.Share.Fits(p.Redline, p.Primary.OffTime)-dwellStep
}

// rowsOf writes a table as it stands on a card.
func rowsOf(t []jobcard.DwellPoint) string {
	rows := make([]string, len(t))
	for i, r := range t {
		rows[i] = fmt.Sprintf("[%s V, %s ms]", quantity.Number(float64(r.Supply), -1),
			quantity.Number(r.Dwell.Milliseconds(), -1))
	}
	return "[" + strings.Join(rows, ", ") + "]"
}

// ProposeDwell is a table for the controller, over 6 to 16 V in steps of 2 V and at the card's own supplies: what the
// coil needs with its winding hot, in steps of 0.05 ms, rising as supply falls. From the running supply up it is kept
// to what fits at the redline, and everywhere to what a cold coil may draw through the driver.
func ProposeDwell(p coil.Plan) []jobcard.DwellPoint {
	k := p.Primary
	supplies := []quantity.Voltage{p.CrankingSupply, p.Running}
	for v := quantity.Voltage(6); v <= 16; v += 2 {
		supplies = append(supplies, v)
	}
	slices.Sort(supplies)
	var out []jobcard.DwellPoint
	for _, v := range slices.Backward(slices.Compact(supplies)) {
		if v <= k.DriverDrop {
			break
		}
		_, need := k.GoalAt(v)
		d := dwellStep * quantity.Time(math.Ceil(float64(need/dwellStep)))
		keep := func(most quantity.Time) {
			d = min(d, dwellStep*quantity.Time(math.Floor(float64(most/dwellStep))))
		}
		if v >= p.Running {
			keep(p.Share.Fits(p.Redline, k.OffTime))
		}
		if k.DriverLimit > 0 {
			keep(k.At(v, 20).TimeTo(k.DriverLimit)) // +Inf where it is never reached
		}
		if len(out) > 0 { // the same time at a lower supply draws less, so this keeps the driver's limit too
			d = max(d, out[len(out)-1].Dwell)
		}
		out = append(out, jobcard.DwellPoint{Supply: v, Dwell: min(max(d, dwellStep), jobcard.LongestDwell)})
	}
	slices.Reverse(out)
	return out
}

// needItem is the dwell that the target needs at each supply, and the table that follows from it.
func needItem(c *jobcard.Card, p coil.Plan) Item {
	var short []string
	reached := quantity.Voltage(0)
	for _, r := range p.Primary.DwellTable(coil.Supplies6To16()) {
		if r.Target && reached == 0 {
			reached = r.Supply
		}
		if whole := float64(r.Supply) == math.Trunc(float64(r.Supply)); whole && !r.Target {
			short = append(short, fmt.Sprintf("at %v (%s at the most)", r.Supply, amps(r.Final)))
		}
	}
	it := Item{
		ID: "dwell_table", Title: "Dwell against supply", Value: round(float64(reached), 1),
		Unit: "V, lowest that reaches the target", Verdict: Fine,
		Text: "for a controller that holds a table, ignition.dwell_table: " + rowsOf(ProposeDwell(p)),
		Because: fmt.Sprintf("the aim is %s hot, or nine tenths of what can flow where that is less. From the "+
			"running supply up it is kept to what fits at the redline. Everywhere it is kept to what the driver "+
			"may carry",
			amps(p.Primary.Target)),
		Formula: "as for the dwell to the target, at each supply; the table in steps of 0.05 ms",
		Inputs: append(from(c, "coil.target", p.Primary.Target, "coil.temperature", p.Primary.Temperature,
			"coil.driver_limit", p.Primary.DriverLimit), offInput(c)...),
		Ignored: "one dwell for every supply starves the coil while cranking. It cooks the coil on a full charge",
	}
	if len(short) > 0 {
		it.Text += fmt.Sprintf(". %s is not reached %s", amps(p.Primary.Target), strings.Join(short, ", "))
	}
	if reached == 0 {
		it.Value, it.Verdict, it.Because = math.NaN(), Caution, "no supply up to 16 V reaches the target hot"
	}
	return it
}

// heldItem judges the controller's own table point by point.
func heldItem(c *jobcard.Card, p coil.Plan) Item {
	t := c.Ignition.DwellTable
	it := Item{
		ID: "dwell_held", Title: fmt.Sprintf("The controller's dwell table, %d points", len(t)),
		Value: float64(len(t)), Unit: "points", Verdict: Fine,
		Formula: "at each point: current after the dwell, winding hot, against the target or nine tenths of what can " +
			"flow. Winding at 20 °C against the driver's limit. Dwell and off time against the interval",
		Inputs: slices.Concat(dwellInputs(c), from(c, "coil.target", p.Primary.Target, "coil.driver_limit",
			p.Primary.DriverLimit, "ignition.cranking_supply", p.CrankingSupply, "engine.redline", p.Redline),
			offInput(c)),
		Ignored: "a table that is right at one supply starves or overruns the coil at another",
	}
	var parts, faults []string
	for _, at := range t {
		got := p.Primary.Hot(at.Supply).CurrentAt(at.Dwell)
		parts = append(parts, fmt.Sprintf("%v %s ms reach %s", at.Supply, ms(at.Dwell), amps(got)))
		v, fault := heldPoint(c, p, at, got)
		if fault != "" {
			faults = append(faults, fmt.Sprintf("at %v %s", at.Supply, fault))
		}
		it.Verdict = worse(it.Verdict, v)
	}
	for _, x := range []struct {
		outside  bool
		end, own quantity.Voltage
		name     string
	}{{p.CrankingSupply < t[0].Supply, t[0].Supply, p.CrankingSupply, "cranking"},
		{p.Running > t[len(t)-1].Supply, t[len(t)-1].Supply, p.Running, "running"}} {
		if x.outside {
			it.Verdict = worse(it.Verdict, Caution)
			faults = append(faults, fmt.Sprintf("the table ends at %v and the %s supply is %v. Look up what the "+
				"controller does there", x.end, x.name, x.own))
		}
	}
	it.Text = strings.Join(parts, ", ") + ", winding hot"
	it.Because = "every point reaches what its supply allows, spares the driver and fits"
	if len(faults) > 0 {
		it.Because = strings.Join(faults, "; ")
	}
	return it
}

// heldPoint is what is wrong with one point, worst first; "" where nothing is. got is the current that it reaches hot.
func heldPoint(c *jobcard.Card, p coil.Plan, at jobcard.DwellPoint, got quantity.Current) (Verdict, string) {
	k := p.Primary
	if i := k.At(at.Supply, 20).CurrentAt(at.Dwell); k.DriverLimit > 0 && i > k.DriverLimit {
		v, end := Stop, ""
		if c.Assumed("coil.driver_limit") {
			v, end = Caution, ", which is only assumed"
		}
		return v, fmt.Sprintf("a cold coil draws %s. The driver may carry %s%s", amps(i), amps(k.DriverLimit), end)
	}
	running := at.Supply >= p.Running
	speed, where := p.CrankingSpeed, "even on the starter"
	if running {
		speed, where = p.Redline, "at the redline"
	}
	goal, need := k.GoalAt(at.Supply)
	switch fits := p.Share.Fits(speed, k.OffTime); {
	case at.Dwell >= p.Share.Interval(speed):
		return Stop, fmt.Sprintf("%s ms fill the interval %s", ms(at.Dwell), where)
	case at.Dwell > fits:
		return Caution, fmt.Sprintf("%s ms leave less than the off time %s. Set %s ms, which "+
			"fit", ms(at.Dwell), where, ms(fits))
	case got < shortCharge*goal && !(running && allThatFits(p, at.Dwell)):
		return Caution, fmt.Sprintf("only %s of %s flow. Set %s ms", amps(got), amps(goal), ms(need))
	}
	return Fine, ""
}

func ms(t quantity.Time) string { return quantity.Number(t.Milliseconds(), 2) }

func worse(a, b Verdict) Verdict {
	for _, v := range []Verdict{Stop, Caution} {
		if a == v || b == v {
			return v
		}
	}
	return Fine
}
