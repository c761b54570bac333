package sheet

import (
	"errors"
	"fmt"
	"math"

	"phasewright/coil"
	"phasewright/distributor"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/words"
)

// SparkPlan maps the card onto all that decides whether there is a spark. The fit is the one to measured charge points,
// nil without any. Where the card has a coil driver but no coil, ok is false: nothing can be said of its charge.
func SparkPlan(c *jobcard.Card) (p coil.Plan, fit *coil.Fitted, ok bool, err error) {
	if p, err = wayPlan(c); err != nil {
		return p, nil, false, err
	}
	if c.Ignition.Output == jobcard.SparkBox {
		pulse := c.Ignition.BoxPulse
		p.Box = &coil.Box{Width: c.Ignition.Dwell.Or(0), Shortest: pulse.Least.Or(0), Longest: pulse.Most.Or(0),
			Rest: pulse.Rest.Or(0)}
		p.BoxVolts = boxVolts(c.Ignition.BoxVoltage)
		return p, nil, true, p.Check()
	}
	if !c.Coil.Stated {
		return p, nil, false, p.Check()
	}
	first, fit, err := primaryOf(c)
	if err != nil {
		return p, nil, false, err
	}
	p.Primary = &first
	return p, fit, true, p.Check()
}

// boxVolts is what a spark box delivers, by its maker, within the limits stated or assumed; zero where the card does
// not say.
func boxVolts(m quantity.Measured[quantity.Voltage]) coil.Band[quantity.Voltage] {
	switch {
	case m.Value <= 0:
		return coil.Band[quantity.Voltage]{}
	case m.Stated:
		return coil.Band[quantity.Voltage]{Low: m.Value - m.Limit, High: m.Value + m.Limit}
	}
	return coil.Around(m.Value, assumedBox)
}

// wayPlan is the plan without coil or box: what the spark meets.
func wayPlan(c *jobcard.Card) (p coil.Plan, err error) {
	k := c.Controller
	p = coil.Plan{
		Dwell: c.Ignition.Dwell.Or(0), // not given: by the controller's table, or what the target needs
		Cylinder: coil.Cylinder{Crank: c.SliderCrank(), Ratio: c.Engine.CompressionRatio, Inlet: c.Engine.InletPressure,
			Charge: c.Engine.ChargeTemperature, Polytropic: coil.UsualExponent},
		Plug: c.Ignition.PlugGap,
		Sparks: distributor.Sparks{Lead: c.Signals.Crank.Lead, Latest: k.Advance.Min, Earliest: k.Advance.Max,
			NetDelay: netDelay(c)},
		Cranking: commandedOnStarter(k.Advance), CrankingSpeed: c.Engine.CrankingSpeed,
		CrankingSupply: c.Ignition.CrankingSupply, Running: c.Ignition.Supply,
		Idle: c.Engine.IdleSpeed, Redline: c.Engine.Redline,
	}
	if g := c.Ignition; len(g.DwellTable) > 0 {
		p.Held = func(v quantity.Voltage) quantity.Time { return g.DwellAt(v).Or(0) }
	}
	switch c.Ignition.Coils {
	case jobcard.CompanionPairs:
		if p.Share, err = coil.CompanionPairs(c.Firings()); err != nil {
			return p, err
		}
	case jobcard.CoilPerCylinder:
		p.Share = coil.PerCylinder(c.Firings())
	default:
		p.Share = coil.OneCoil(c.Firings())
	}
	if c.Distributor.Use == jobcard.SparkAndSignal {
		r := rotorOf(c)
		p.Rotor = &r
	}
	return p, nil
}

// commandedOnStarter is the advance while cranking, or the whole range where it is not given.
func commandedOnStarter(a jobcard.Advance) coil.Band[quantity.Crank] {
	if v, given := a.Cranking.Get(); given {
		return coil.Exactly(v)
	}
	return coil.Band[quantity.Crank]{Low: a.Min, High: a.Max}
}

func primaryOf(c *jobcard.Card) (coil.Primary, *coil.Fitted, error) {
	k := c.Coil
	p := coil.Primary{
		Resistance: k.Resistance, Temperature: k.Temperature, Wiring: k.Wiring, DriverDrop: k.DriverDrop,
		Target: k.Target, Supply: c.Ignition.Supply,
		DriverLimit: k.DriverLimit, HeatLimit: k.HeatLimit, OffTime: k.OffTime,
		Kept: coil.Band[float64]{Low: max(k.Efficiency-assumedKept, k.Efficiency/2),
			High: min(k.Efficiency+assumedKept, 1)},
		Secondary: coil.Around(k.SecondaryCapacitance, assumedStray), Ceiling: k.Ceiling,
	}
	var err error
	switch {
	case len(k.Charge) > 0:
		points := make([]coil.ChargePoint, len(k.Charge))
		for i, v := range k.Charge {
			points[i] = coil.ChargePoint{Time: v.Time, Current: v.Current}
		}
		f, err := coil.Fit(points, c.Ignition.Supply-k.DriverDrop, k.Resistance+k.Wiring)
		if err != nil {
			return p, nil, err
		}
		p.Iron = f.Iron
		return p, &f, nil
	case len(k.Curve) > 0:
		points := make([]coil.CurvePoint, len(k.Curve))
		for i, v := range k.Curve {
			points[i] = coil.CurvePoint{Current: v.Current, Inductance: v.Inductance}
		}
		p.Iron, err = coil.NewCurve(points)
	case k.SaturatesAt > 0:
		p.Iron, err = coil.NewSaturating(k.Inductance, k.SaturatesAt)
	default:
		p.Iron, err = coil.Linear(k.Inductance)
	}
	return p, nil, err
}

// DecisionChart is the chart over speed that decides whether there is a spark, at the cranking supply, midway and the
// running supply; ok is false where the card has no coil to say it of.
func DecisionChart(c *jobcard.Card, speeds int) (chart coil.Chart, ok bool, err error) {
	p, _, ok, err := SparkPlan(c)
	if err != nil || !ok {
		return chart, false, err
	}
	low, high := p.CrankingSupply, p.Running
	return p.Chart([]quantity.Voltage{low, (low + high) / 2, high}, speeds), true, nil
}

// unusable turns a value that the spark's rooms refuse into a stop.
func unusable(id, title string, err error) Item {
	it := Item{ID: id, Title: title, Value: math.NaN(), Verdict: Stop, Text: "not worked out", Because: err.Error(),
		Formula: "none: the card has to be corrected first", Ignored: "nothing is known of the spark"}
	var wrong *quantity.Invalid
	if errors.As(err, &wrong) {
		it.Inputs = []Input{{Path: wrong.Field, Value: wrong.Found}}
	}
	return it
}

func kv(v quantity.Voltage) string { return quantity.Number(float64(v)/1e3, 1) }

func kvBand(b coil.Band[quantity.Voltage]) string { return kv(b.Low) + " to " + kv(b.High) + " kV" }

func times(b coil.Band[float64]) string {
	return quantity.Number(b.Low, 2) + " to " + quantity.Number(b.High, 2) + " times"
}

// mark adds what is not known to a text.
func mark(text string, o coil.Outside) string {
	if o == 0 {
		return text
	}
	return text + ". This is extrapolated: a gap " + o.String() + " is past the published tables"
}

// sparkItems are charge, heat, demand and margin. Crossfire and the rotor stand with the cap.
func sparkItems(c *jobcard.Card, _ *Sheet) []Item {
	p, fit, ok, err := SparkPlan(c)
	if err != nil {
		return []Item{unusable("coil_charge", "Coil and spark", err)}
	}
	return planItems(c, p, fit, ok)
}

func planItems(c *jobcard.Card, p coil.Plan, fit *coil.Fitted, ok bool) []Item {
	if !ok {
		missing := Item{
			ID: "coil_charge", Title: "Coil not on the card", Value: math.NaN(), Verdict: Caution,
			Text: "nobody can tell whether the dwell charges the coil, and whether the spark jumps",
			Because: "the controller drives a coil, and the card says nothing of it. Write the coil section: " +
				"resistance and inductance, or a measured charge",
			Formula: "none without a coil", Inputs: from(c, "ignition.output", c.Ignition.Output),
			Ignored: "a coil that never charges, or cooks, is found on the road",
		}
		return append([]Item{missing}, demandItems(c, p)...)
	}
	var items []Item
	if p.Primary != nil {
		items = coilItems(c, p, fit)
	} else {
		items = boxItems(c, p)
	}
	return append(items, demandItems(c, p)...)
}

func demandItems(c *jobcard.Card, p coil.Plan) []Item {
	late, early := p.Cylinder.At(p.Sparks.Latest), p.Cylinder.At(p.Sparks.Earliest)
	bar := func(b coil.Band[quantity.Pressure]) string {
		return quantity.Number(float64(b.Low)/1e5, 1) + " to " + quantity.Number(float64(b.High)/1e5, 1) + " bar"
	}
	in := from(c, "engine.compression_ratio", c.Engine.Ratio(), "engine.inlet_pressure",
		c.Engine.InletPressure, "engine.charge_temperature", c.Engine.ChargeTemperature, "controller.advance.min",
		p.Sparks.Latest,
		"controller.advance.max", p.Sparks.Earliest, "ignition.plug_gap", p.Plug)
	red := p.PointAt(p.Redline, p.Running)
	idle := p.PointAt(p.Idle, p.Running)
	items := []Item{{
		ID: "spark_pressure", Title: "Pressure at the spark", Value: round(float64(late.Pressure.High)/1e5, 2),
		Unit: "bar", Verdict: Fine,
		Text: fmt.Sprintf("%s at %s BTDC, %s at %s, full load. To the plug gap that is as dense as %s bar and %s "+
			"bar at 20 °C",
			bar(late.Pressure), deg(p.Sparks.Latest), bar(early.Pressure), deg(p.Sparks.Earliest),
			quantity.Number(float64(late.Reduced)/1e5, 1), quantity.Number(float64(early.Reduced)/1e5, 1)),
		Because: fmt.Sprintf("worked from piston position. An exponent of %g to %g is assumed. The charge begins "+
			"at %v",
			p.Cylinder.Polytropic.Low, p.Cylinder.Polytropic.High, p.Cylinder.Charge),
		Formula: "inlet pressure × (volume at bottom ÷ volume at the spark) to the power n; density, which the gap " +
			"feels, without the power",
		Inputs: in, Ignored: "the later the spark, the denser the charge. A dense charge asks more of the coil",
	}, demandItem(c.Job.Units, p, idle, in)}
	if off := c.Engine.RatioLimit; off > 0 {
		more := p.Cylinder
		more.Ratio += off
		items[0].Text += fmt.Sprintf(". The ratio's ± %s moves that by ± %s bar at %s", quantity.Number(off, 2),
			quantity.Number(float64(more.At(p.Sparks.Latest).Pressure.High-late.Pressure.High)/1e5, 1),
			deg(p.Sparks.Latest))
	}
	if red.Available.High > 0 {
		worst, where := red, "the redline"
		if idle.Margin.Low < red.Margin.Low {
			worst, where = idle, "idle"
		}
		if p.Box != nil {
			said := c.Ignition.BoxVoltage.String()
			if !c.Ignition.BoxVoltage.Stated {
				said += fmt.Sprintf(" (± %g %% assumed)", 100*assumedBox)
			}
			in = append(from(c, "ignition.box_voltage", said), in...)
		}
		in = append(in, secondaryInputs(c)...)
		margin := marginItem(c, p, "spark_margin", "Spark in hand", worst, where, in)
		path := coil.Path{Plug: p.Plug, Rotor: worst.Rotor.Gap, Wasted: p.Share.Wasted}
		d, found := coil.LargestPlugGap(path, late.Reduced, worst.Available, enoughMargin)
		switch {
		case worst.Demand.Outside != 0: // no gap is advised from an estimate outside its sources
		case found && d >= leastGap:
			margin.Text += fmt.Sprintf(". Plug gaps up to %s leave %g times the need at the worst end",
				c.Job.Units.Tool(quantity.Length(math.Floor(float64(d)*100)/100), 2), enoughMargin)
		default:
			margin.Text += fmt.Sprintf(". The bands are too wide to set a plug gap by. Wanted are %g times the "+
				"need at the worst end", enoughMargin)
		}
		items = append(items, margin, crankingMargin(c, p, in))
	}
	return items
}

// crankingMargin is the spark on a weak battery, and what a dwell that follows the dwell table would make of it.
func crankingMargin(c *jobcard.Card, p coil.Plan, in []Input) Item {
	row := p.CrankingRow()
	it := marginItem(c, p, "spark_cranking", fmt.Sprintf("Spark at cranking on %v", p.CrankingSupply), row, "cranking",
		append(from(c, "ignition.cranking_supply", p.CrankingSupply, "controller.advance.cranking",
			c.Controller.Advance.Cranking), in...))
	if p.Primary == nil {
		it.Because += ". It is assumed that the box gives its full voltage on a weak battery. Ask its maker"
		if it.Verdict == Fine {
			it.Verdict = Caution
		}
		return it
	}
	p.Dwell, p.Held = 0, nil
	if full := p.CrankingRow(); full.Applied > row.Applied && it.Verdict != Fine {
		it.Because = fmt.Sprintf("at cranking the spark may be too weak. Set %s ms: that gives %s. %s",
			quantity.Number(full.Applied.Milliseconds(), 2), times(full.Margin), words.Capital(it.Because))
	}
	return it
}

func demandItem(u quantity.LengthUnit, p coil.Plan, at coil.Point, in []Input) Item {
	text := fmt.Sprintf("%s for the plug gap of %s", kvBand(at.Demand.Volts), u.Tool(p.Plug, -1))
	if p.Rotor != nil {
		text += " and a rotor gap of up to " + u.Of(quantity.Length(round(float64(at.Rotor.Gap), 2)))
	}
	if p.Share.Wasted {
		text += " and the companion cylinder's plug"
	}
	it := Item{
		ID: "spark_demand", Title: "Voltage the spark needs", Value: round(float64(at.Demand.Volts.High)/1e3, 2),
		Unit: "kV", Verdict: Fine,
		Text: mark(text+", full load, over the advance range", at.Demand.Outside),
		Because: "an estimate, so a band. It comes from Paschen's law and three uniform-field formulas. Sharp " +
			"electrodes may need as little as 0.7 of the lowest (assumed)",
		Formula: "Paschen: B·p·d ÷ (ln(A·p·d) − ln(ln(1 + 1/γ))), A 112.5 and B 2737.5 V per kPa·cm, γ 0.01, p as " +
			"dense at 20 °C. Gaps in series add",
		Inputs: in, Ignored: "a wide or worn plug gap asks for more than coil, wires and cap can stand",
	}
	if p.Box != nil && at.Available.High == 0 {
		it.Verdict, it.Because = Caution, it.Because+". The card does not say what the spark box and its coil can "+
			"give. Compare with its maker's figure"
	}
	if at.Demand.Outside != 0 && it.Verdict == Fine {
		it.Verdict = Caution
	}
	return it
}

// secondaryInputs are what the secondary's voltage follows from. Their ± is ours even where the card gives the middle.
func secondaryInputs(c *jobcard.Card) []Input {
	if !coilStated(c) {
		return nil
	}
	kept := fmt.Sprintf("%s ± %s", quantity.Number(c.Coil.Efficiency, -1), quantity.Number(assumedKept, -1))
	stray := fmt.Sprintf("%v ± %s %%", c.Coil.SecondaryCapacitance, quantity.Number(100*assumedStray, -1))
	in := []Input{{Path: "coil.efficiency", Value: kept, Assumed: true},
		{Path: "coil.secondary_capacitance", Value: stray, Assumed: true}}
	if c.Coil.Ceiling > 0 {
		in = append(in, from(c, "coil.ceiling", c.Coil.Ceiling)...)
	}
	return in
}

// poorMargin is the margin of a coil of which nobody measured the efficiency or the capacitance, if it is a poor one;
// what the card gives stands. poor is false where both are given.
func poorMargin(c *jobcard.Card, p coil.Plan, at coil.Point) (margin float64, poor bool) {
	if p.Primary == nil || !coilUnmeasured(c) {
		return 0, false
	}
	k := *p.Primary
	if c.Assumed("coil.efficiency") {
		k.Kept.Low = poorKept - assumedKept
	}
	if c.Assumed("coil.secondary_capacitance") {
		k.Secondary.High = poorStray * (1 + assumedStray)
	}
	return k.Available(at.Stored).Over(at.Demand.Volts).Low, true
}

func marginItem(c *jobcard.Card, p coil.Plan, id, title string, at coil.Point, where string, in []Input) Item {
	giver := "coil"
	if p.Box != nil {
		giver = "spark box"
	}
	it := Item{
		ID: id, Title: title, Value: round(at.Margin.Low, 3), Unit: "times the need, at worst",
		Text: mark(fmt.Sprintf("at %s the %s can give %s. The spark needs %s. That is %s the need", where, giver,
			kvBand(at.Available), kvBand(at.Demand.Volts), times(at.Margin)), at.Demand.Outside),
		Formula: "√(2 × share kept × stored energy ÷ secondary capacitance), over the voltage the " +
			"spark needs; both are bands",
		Inputs: in, Ignored: "the engine misfires under load or does not start, with every timing number right",
	}
	if p.Box != nil {
		it.Formula = "what the maker says that box and coil deliver, over the voltage the spark needs; both are bands"
	}
	const settles = "A spark tester under load and on the starter settles it"
	switch {
	case at.Margin.High < 1 && at.Demand.Outside != 0:
		it.Verdict, it.Because = Caution, "the need is not covered, but its estimate lies outside its sources ("+
			at.Demand.Outside.String()+"). "+settles
	case at.Margin.High < 1:
		it.Verdict, it.Because = Stop, "even the best end of both bands does not cover the need. Take less plug "+
			"gap, more current in a coil, or a stronger "+giver
	case at.Margin.Low < 1:
		it.Verdict, it.Because = Caution, "the bands overlap, so this estimate cannot tell. "+settles
	case at.Margin.Low < enoughMargin:
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"covered, but by less than %g times at the worst end. Plug gaps grow with wear", enoughMargin)
	default:
		it.Verdict, it.Because = Fine, "covered at the worst end of both bands"
	}
	if margin, poor := poorMargin(c, p, at); poor && margin < 1 && it.Verdict != Stop {
		it.Verdict = Caution
		it.Because += fmt.Sprintf(". Efficiency and capacitance are unmeasured. A poor coil (%s, %s pF) leaves %s "+
			"times", quantity.Number(poorKept, -1), quantity.Number(1e12*float64(poorStray), -1),
			quantity.Number(margin, 2))
	}
	if p.Primary != nil && p.Dwell == 0 && p.Held == nil {
		it.Because += ". It is judged with the dwell that the target needs, since the one set is not given"
	}
	return it
}
