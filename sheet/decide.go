package sheet

import (
	"math"

	"phasewright/coil"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Case is all that decides whether there is a spark, as the card has it or as somebody tries it (Try).
type Case struct {
	Card  *jobcard.Card
	Plan  coil.Plan
	fit   *coil.Fitted // nil without measured charge points, and where another supply is tried
	Known bool         // the card says what makes the spark; false: demand and rotor only
}

// CaseOf maps the card onto the spark. An error names a field of the card (*quantity.Invalid).
func CaseOf(c *jobcard.Card) (*Case, error) {
	p, fit, ok, err := SparkPlan(c)
	if err != nil {
		return nil, err
	}
	return &Case{Card: c, Plan: p, fit: fit, Known: ok}, nil
}

// Items are the findings that the case decides: coil, spark, rotor and trigger lead.
func (s *Case) Items() []Item {
	items := planItems(s.Card, s.Plan, s.fit, s.Known)
	items = append(items, rotorItems(s.Card, nil)...)
	items = append(items, lead(s.Card))
	for i := range items {
		items[i].speak()
	}
	return items
}

// Cause is a stretch of speeds over which one thing limits the spark.
type Cause struct {
	From, To quantity.Speed
	Supply   quantity.Voltage // cranking supply below idle, running supply from idle on
	Limit    coil.Limit       // what fails first, or, where nothing fails, what has least in hand
	Fails    bool
	Hand     float64 // least have-over-need of it over the stretch; below 1 it fails
}

// Name is the cause in few words.
func (c Cause) Name() string {
	switch {
	case c.Limit == coil.Nothing:
		return inHand[c.Limit]
	case !c.Fails:
		return "least in hand: " + inHand[c.Limit]
	}
	return c.Limit.String()
}

// Short is the cause in a word or two, for a strip; whether it fails is not said.
func (c Cause) Short() string { return inHand[c.Limit] }

// inHand names a limit that holds nothing back yet.
var inHand = map[coil.Limit]string{coil.Nothing: "not known, the coil is not on the card", coil.NeverTarget: "supply",
	coil.NoTime: "time to charge", coil.DwellShort: "dwell", coil.DriverOver: "driver current", coil.Cooks: "coil heat",
	coil.TriggerPulse: "time between trigger pulses", coil.WeakSpark: "spark voltage", coil.RotorClear: "rotor overlap",
	coil.Crossfire: "distance to the next tower"}

// Decision is the chart that decides, ready to be drawn, tabled or written.
type Decision struct {
	Units  quantity.LengthUnit // of the shop
	Plan   coil.Plan
	Chart  coil.Chart
	Causes []Cause
}

// Decide works the chart out at about as many speeds as asked for. Supplies stand from low to high; the first is the
// cranking supply, the last the running one.
func (s *Case) Decide(speeds int) Decision {
	return s.decide(speeds, s.Plan.CrankingSupply, s.Plan.Running)
}

func (s *Case) decide(speeds int, supplies ...quantity.Voltage) Decision {
	d := Decision{Units: s.Card.Job.Units, Plan: s.Plan, Chart: s.Plan.Chart(supplies, speeds)}
	d.Causes = d.causes()
	return d
}

// Cranking is the chart's line at the cranking supply, Running that at the running supply.
func (d Decision) Cranking() coil.Line { return d.Chart.Lines[0] }

// Running is the chart's line at the running supply.
func (d Decision) Running() coil.Line { return d.Chart.Lines[len(d.Chart.Lines)-1] }

// At is the point that holds at a speed of the chart: on the cranking supply below idle, on the running supply from
// idle on.
func (d Decision) At(n quantity.Speed) (coil.Point, bool) {
	if n < d.Plan.Idle {
		return d.Cranking().At(n)
	}
	return d.Running().At(n)
}

// Rows are the points of the table beside the chart: cranking, idle, round speeds and redline, in rising order, each at
// the supply that holds there.
func (d Decision) Rows() []coil.Point {
	p := d.Plan
	step := quantity.Speed(250)
	for (p.Redline-p.Idle)/step > 9 {
		step *= 2
	}
	speeds := []quantity.Speed{p.CrankingSpeed, p.Idle}
	for n := step * quantity.Speed(math.Ceil(float64(p.Idle/step)+0.2)); n < p.Redline-step/5; n += step {
		speeds = append(speeds, n)
	}
	speeds = append(speeds, p.Redline)
	out := make([]coil.Point, len(speeds))
	for i, n := range speeds {
		supply := p.Running
		if n < p.Idle {
			supply = p.CrankingSupply
		}
		out[i] = p.PointAt(n, supply)
	}
	return out
}

// CauseOf is what limits at a point of the decision.
func (d Decision) CauseOf(pt coil.Point) Cause {
	if pt.Speed < d.Plan.Idle {
		return causeAt(pt, d.Plan.CrankingSupply)
	}
	return causeAt(pt, d.Plan.Running)
}

// causes walks up in speed and joins what has the same cause; where it changes, the speed is found to 1 rpm.
func (d Decision) causes() []Cause {
	var out []Cause
	low, high := d.Cranking(), d.Running()
	for k, pt := range high.Points {
		supply := high.Supply
		if pt.Speed < d.Plan.Idle {
			pt, supply = low.Points[k], low.Supply
		}
		next := causeAt(pt, supply)
		if len(out) == 0 {
			out = append(out, next)
			continue
		}
		last := &out[len(out)-1]
		if last.Limit == next.Limit && last.Fails == next.Fails && last.Supply == next.Supply {
			last.To, last.Hand = next.To, min(last.Hand, next.Hand)
			continue
		}
		turn := d.Plan.Idle
		if last.Supply == next.Supply {
			turn = d.turn(last.To, next.From, supply)
		}
		last.To, next.From = turn, turn
		out = append(out, next)
	}
	return out
}

// turn is the speed between two at which the cause is no longer that at the first.
func (d Decision) turn(from, to quantity.Speed, supply quantity.Voltage) quantity.Speed {
	was := causeAt(d.Plan.PointAt(from, supply), supply)
	for to-from > 1 {
		mid := (from + to) / 2
		if now := causeAt(d.Plan.PointAt(mid, supply), supply); now.Limit == was.Limit && now.Fails == was.Fails {
			from = mid
		} else {
			to = mid
		}
	}
	return to
}

func causeAt(pt coil.Point, supply quantity.Voltage) Cause {
	c := Cause{From: pt.Speed, To: pt.Speed, Supply: supply, Limit: pt.Limit, Fails: pt.Limit != coil.Nothing,
		Hand: pt.Hand}
	if !c.Fails {
		c.Limit = pt.Least
	}
	return c
}
