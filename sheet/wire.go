package sheet

import (
	"encoding/json"
	"math"

	"phasewright/coil"
	"phasewright/jobcard"
)

// figure is a number on the wire; one that is not known, or has no end, is written as null.
type figure float64

// MarshalJSON writes at most six significant digits.
func (f figure) MarshalJSON() ([]byte, error) {
	v := float64(f)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	if v != 0 {
		v = round(v, max(0, 5-int(math.Floor(math.Log10(math.Abs(v))))))
	}
	return json.Marshal(v)
}

// Spark is the decision chart on the wire. Units stand in the keys; null is not known, or never.
type Spark struct {
	Marks  []SparkMark  `json:"marks"`
	Causes []SparkCause `json:"causes"`
	Lines  []SparkLine  `json:"lines"` // cranking supply, midway, running supply
}

// SparkMark is a speed that the chart names.
type SparkMark struct {
	Name string `json:"name"`
	RPM  figure `json:"rpm"`
}

// SparkCause is a Cause on the wire.
type SparkCause struct {
	From   figure `json:"from_rpm"`
	To     figure `json:"to_rpm"`
	Supply figure `json:"supply_v"`
	Fails  bool   `json:"fails"`
	Cause  string `json:"cause"`
	Hand   figure `json:"have_over_need"`
}

// SparkLine is the chart at one supply.
type SparkLine struct {
	Supply figure       `json:"supply_v"`
	Full   figure       `json:"target_up_to_rpm"` // null for a spark box
	Cooks  figure       `json:"cooks_from_rpm"`
	Points []SparkPoint `json:"points"`
}

// SparkPoint is one speed.
type SparkPoint struct {
	RPM          figure `json:"rpm"`
	Needed       figure `json:"dwell_needed_us"`
	Fits         figure `json:"dwell_fits_us"`
	Applied      figure `json:"dwell_us"`
	Current      figure `json:"current_a"`
	Stored       figure `json:"stored_mj"`
	Mean         figure `json:"mean_a"`
	Copper       figure `json:"copper_w"`
	AvailableLo  figure `json:"available_lo_kv"`
	AvailableHi  figure `json:"available_hi_kv"`
	DemandLo     figure `json:"demand_lo_kv"`
	DemandHi     figure `json:"demand_hi_kv"`
	MarginLo     figure `json:"margin_lo"`
	MarginHi     figure `json:"margin_hi"`
	Overlap      figure `json:"rotor_overlap_mm"`
	InHand       figure `json:"rotor_in_hand_deg"`
	Gap          figure `json:"rotor_gap_mm"`
	CrossfireLo  figure `json:"crossfire_lo"`
	CrossfireHi  figure `json:"crossfire_hi"`
	Limit        string `json:"limit"` // what fails first, or "nothing"
	Extrapolated bool   `json:"extrapolated"`
}

// SparkSeries is the decision chart of a card on the wire; nil where the card cannot be worked out, which the items
// then say.
func SparkSeries(c *jobcard.Card, speeds int) *Spark {
	s, err := CaseOf(c)
	if err != nil {
		return nil
	}
	p := s.Plan
	d := s.decide(speeds, p.CrankingSupply, (p.CrankingSupply+p.Running)/2, p.Running)
	out := &Spark{}
	for _, m := range d.Chart.Marks {
		out.Marks = append(out.Marks, SparkMark{m.Name, figure(m.Speed)})
	}
	for _, x := range d.Causes {
		out.Causes = append(out.Causes, SparkCause{figure(x.From), figure(x.To), figure(x.Supply), x.Fails, x.Name(),
			figure(x.Hand)})
	}
	for _, l := range d.Chart.Lines {
		line := SparkLine{Supply: figure(l.Supply), Full: figure(math.NaN()), Cooks: figure(math.NaN())}
		if p.Primary != nil {
			line.Full, line.Cooks = figure(l.Reach.Full), figure(l.Reach.Cooks)
		}
		for _, pt := range l.Points {
			line.Points = append(line.Points, s.wire(pt))
		}
		out.Lines = append(out.Lines, line)
	}
	return out
}

func (s *Case) wire(pt coil.Point) SparkPoint {
	unknown := figure(math.NaN())
	w := SparkPoint{RPM: figure(pt.Speed), Needed: unknown, Fits: unknown, Applied: unknown, Current: unknown,
		Stored: unknown, Mean: unknown, Copper: unknown,
		AvailableLo: unknown, AvailableHi: unknown, MarginLo: unknown, MarginHi: unknown, Overlap: unknown,
		InHand: unknown, Gap: unknown, CrossfireLo: unknown, CrossfireHi: unknown,
		DemandLo: figure(pt.Demand.Volts.Low / 1e3), DemandHi: figure(pt.Demand.Volts.High / 1e3),
		Limit: pt.Limit.String(), Extrapolated: pt.Beyond || pt.Demand.Outside != 0}
	if s.Known {
		w.Needed, w.Fits, w.Applied = figure(pt.Needed), figure(pt.Fits), figure(pt.Applied)
	}
	if s.Plan.Primary != nil {
		w.Current, w.Stored, w.Mean, w.Copper = figure(pt.Current), figure(1e3*float64(pt.Stored)), figure(pt.Mean),
			figure(pt.Copper)
	}
	if pt.Available.High > 0 {
		w.AvailableLo, w.AvailableHi = figure(pt.Available.Low/1e3), figure(pt.Available.High/1e3)
		w.MarginLo, w.MarginHi = figure(pt.Margin.Low), figure(pt.Margin.High)
	}
	if s.Plan.Rotor != nil {
		w.Overlap, w.InHand, w.Gap = figure(pt.Rotor.Overlap), figure(pt.Rotor.InHand), figure(pt.Rotor.Gap)
		if pt.Crossfire.High > 0 {
			w.CrossfireLo, w.CrossfireHi = figure(pt.Crossfire.Low), figure(pt.Crossfire.High)
		}
	}
	return w
}
