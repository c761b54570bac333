package suspects

import (
	"math"

	"phasewright/shaft"
)

// FromCapture puts what a recording showed into evidence. What the recording could not give stays "not looked at"; what
// was written down already stands.
func (ev *Evidence) FromCapture(r *shaft.Result) {
	written := ev.Capture
	ev.Capture = Capture{}
	ev.Capture.take(r)
	ev.Capture.prefer(written)
}

// prefer puts what b holds over what c holds.
func (c *Capture) prefer(b Capture) {
	for _, x := range []struct{ to, from **Number }{{&c.Edges, &b.Edges}, {&c.Extra, &b.Extra},
		{&c.Scatter, &b.Scatter}, {&c.Swing, &b.Swing}, {&c.Offset, &b.Offset}, {&c.Delay, &b.Delay},
		{&c.Dwell, &b.Dwell}} {
		if *x.from != nil {
			*x.to = *x.from
		}
	}
	for _, x := range []struct{ to, from *string }{{&c.ExtraAt, &b.ExtraAt}, {&c.Vane, &b.Vane}, {&c.Sync, &b.Sync},
		{&c.WrongEdge, &b.WrongEdge}, {&c.LeadsSwapped, &b.LeadsSwapped}, {&c.Polarity, &b.Polarity}} {
		if *x.from != "" {
			*x.to = *x.from
		}
	}
}

func (c *Capture) take(r *shaft.Result) {
	known := func(n shaft.Number) bool { x := float64(n); return !math.IsNaN(x) && !math.IsInf(x, 0) }
	c.Sync = string(r.Sync)
	if r.Crank != nil {
		c.Edges = &Number{Value: float64(r.Crank.EdgesPerCycle)}
		if known(r.Crank.ScatterDeg) {
			c.Scatter = &Number{Value: float64(r.Crank.ScatterDeg)}
		}
		c.Swing, c.Vane = pattern(r.Crank.SpacingErrorDeg)
	} else if r.Found(shaft.FoundNoCrank) || r.Found(shaft.FoundNoEdges) {
		for _, ch := range r.Channels {
			// a lead that never moves is a dead pickup; one that could not be made out is not
			if ch.Edges == 0 {
				c.Edges = &Number{}
			}
		}
	}
	if r.Spark != nil {
		if known(r.Spark.DwellMS) {
			c.Dwell = &Number{Value: float64(r.Spark.DwellMS) * 1e3}
		}
		if r.Spark.Count > 0 {
			c.Extra = &Number{Value: float64(r.AnomalyCount[string(shaft.ExtraPulse)]) / float64(r.Spark.Count)}
		}
	}
	if t := r.Timing; t != nil && t.Commanded && t.Offset.Known() && t.Delay.Known() && !math.IsInf(t.Offset.U, 0) &&
		!math.IsInf(t.Delay.U, 0) {
		c.Offset, c.Delay = &Number{t.Offset.Value, t.Offset.U}, &Number{t.Delay.Value, t.Delay.U}
	}
	// The decoder puts swapped leads right and holds sync through extra edges; the controller does neither.
	switch {
	case r.Found(shaft.FoundSwapped):
		c.Sync, c.Edges = "none", &Number{Value: 1}
	case c.Sync == "held" && c.Extra != nil && extraOutcome(c.Extra.Value) > 0:
		c.Sync = ""
	}
	// rpm: a recording through a start is full of slow edges, which scatter without any wear
	const slow = 300
	// what the extra edges do to the spacing is no wear
	if c.Extra != nil && extraOutcome(c.Extra.Value) > 0 || r.Speed != nil && float64(r.Speed.Min) < slow {
		c.Scatter, c.Swing, c.Vane = nil, nil, ""
	}
	word := func(id string) string {
		if r.Found(id) {
			return "yes"
		}
		return "no"
	}
	c.WrongEdge, c.LeadsSwapped = word(shaft.FoundWrongEdge), word(shaft.FoundSwapped)
	if r.Found(shaft.FoundPolarity) {
		c.Polarity = "reversed"
	}
}

// pattern splits the spacing errors of the vanes into a swing once a shaft turn (first harmonic, amplitude) and a
// single vane that stands off.
func pattern(errors []float64) (*Number, string) {
	n := len(errors)
	if n < 4 { // three vanes hold a swing of any size and phase: nothing is left to tell a bent one by
		return nil, ""
	}
	var a, b, mean float64
	for _, e := range errors {
		mean += e / float64(n)
	}
	for k, e := range errors {
		at := 2 * math.Pi * float64(k) / float64(n)
		a += 2 / float64(n) * (e - mean) * math.Cos(at)
		b += 2 / float64(n) * (e - mean) * math.Sin(at)
	}
	largest := 0.0
	for k, e := range errors {
		at := 2 * math.Pi * float64(k) / float64(n)
		largest = math.Max(largest, math.Abs(e-mean-a*math.Cos(at)-b*math.Sin(at)))
	}
	swing := math.Hypot(a, b)
	if largest > 0.35 && largest > 0.4*swing {
		return &Number{Value: math.Max(swing-largest, 0)}, "one off"
	}
	return &Number{Value: swing}, "even"
}
