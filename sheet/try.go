package sheet

import (
	"math"
	"strconv"

	"phasewright/coil"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Knob is a value of the card that may be tried without writing it down, in the unit in which people set it.
type Knob struct {
	Name              string // short, for forms: dwell, supply, gap, lead
	Path              string // on the job card
	Words, Unit       string
	Card              float64 // as on the card
	Least, Most, Step float64
	Places            int // decimals of Step
}

// Knobs are the values that may be tried on a card. What the card holds always lies between the ends.
func Knobs(c *jobcard.Card) []Knob {
	dwell, most := "dwell", 8.0
	if c.Ignition.Output == jobcard.SparkBox {
		dwell, most = "trigger pulse", 4
	}
	a := c.Controller.Advance
	full := math.Min(float64(c.Spacing()+max(a.Min, 0)), 180)
	supply := float64(max(c.Ignition.Supply, c.Ignition.CrankingSupply))
	var knobs []Knob
	if set, given := c.Ignition.Dwell.Get(); given {
		knobs = append(knobs, Knob{"dwell", "ignition.dwell", dwell, "ms", set.Milliseconds(), 0.5, most, 0.05, 2})
	}
	knobs = append(knobs, []Knob{
		{"supply", "ignition.supply", "supply running", "V", float64(c.Ignition.Supply), math.Min(6, math.Floor(float64(c.Ignition.CrankingSupply))), math.Max(16, math.Ceil(1.2*supply)), 0.1, 1},
		{"gap", "ignition.plug_gap", "plug gap", "mm", float64(c.Ignition.PlugGap), 0.3, 2, 0.01, 2},
		{"lead", "signals.crank.lead", "trigger lead", "°", float64(c.Signals.Crank.Lead), math.Floor(float64(a.Max)) + 1, math.Ceil(full) - 1, 0.5, 1},
	}...)
	for i := range knobs {
		k := &knobs[i]
		k.Least, k.Most = math.Min(k.Least, k.Card), math.Max(k.Most, k.Card)
	}
	return knobs
}

// refuse gives `ignition.dwell – 45 ms is out of reach – write 0.5 ms to 8 ms`.
func (k Knob) refuse(found string) error {
	return &quantity.Invalid{Field: k.Path, Found: found, Remedy: "write " + k.With(k.Least) + " to " + k.With(k.Most)}
}

// With prints a value with the knob's unit.
func (k Knob) With(v float64) string {
	if k.Unit == "°" {
		return quantity.Number(v, -1) + k.Unit
	}
	return quantity.Number(v, -1) + " " + k.Unit
}

// Read reads a value as typed: a plain number in the knob's unit, or a number with its unit, decimal comma too.
func (k Knob) Read(text string) (float64, error) {
	plain := []rune(text)
	for i, r := range plain {
		switch r {
		case ',':
			plain[i] = '.'
		case '−':
			plain[i] = '-'
		}
	}
	v, err := strconv.ParseFloat(string(plain), 64)
	if err != nil {
		if v, err = k.parse(text); err != nil {
			return 0, k.refuse(strconv.Quote(short(text)) + " is not a number with this unit")
		}
	}
	if math.IsNaN(v) || v < k.Least || v > k.Most {
		return 0, k.refuse(k.With(v) + " is out of reach")
	}
	return v, nil
}

func short(text string) string {
	if r := []rune(text); len(r) > 20 {
		return string(r[:20]) + "…"
	}
	return text
}

func (k Knob) parse(text string) (float64, error) {
	switch k.Name {
	case "dwell":
		v, err := quantity.Parse[quantity.Time](text)
		return v.Milliseconds(), err
	case "supply":
		v, err := quantity.Parse[quantity.Voltage](text)
		return float64(v), err
	case "gap":
		v, err := quantity.Parse[quantity.Length](text)
		return float64(v), err
	}
	v, err := quantity.Parse[quantity.Crank](text)
	return float64(v), err
}

// Try gives the case with values tried, by the names of the knobs; what is not named stays as on the card. The coil's iron stays as it was measured at the card's
// supply, and the rotor stays where it stands at the card's lead. A value out of reach is a *quantity.Invalid; values that cannot be together are errors that name a field.
func (s *Case) Try(values map[string]float64) (*Case, error) {
	t := *s
	card := *s.Card
	t.Card = &card
	for _, k := range Knobs(s.Card) {
		v, ok := values[k.Name]
		if !ok || v == k.Card {
			continue
		}
		if !(v >= k.Least && v <= k.Most) {
			return nil, k.refuse(k.With(v) + " is out of reach")
		}
		t.set(k.Name, v)
	}
	if err := t.Plan.Check(); err != nil {
		return nil, err
	}
	return &t, nil
}

func (s *Case) set(name string, v float64) {
	switch p := &s.Plan; name {
	case "dwell":
		p.Dwell = quantity.Milliseconds(v)
		s.Card.Ignition.Dwell = jobcard.Set(p.Dwell)
		if p.Box != nil {
			b := *p.Box
			b.Width = p.Dwell
			p.Box = &b
		}
	case "supply":
		s.fit = nil // its finding names the supply at which the charge was measured
		s.Card.Ignition.Supply = quantity.Voltage(v)
		p.Running = s.Card.Ignition.Supply
		if p.Primary != nil {
			first := *p.Primary
			first.Supply = p.Running
			p.Primary = &first
		}
	case "gap":
		s.Card.Ignition.PlugGap = quantity.Length(v)
		p.Plug = s.Card.Ignition.PlugGap
	case "lead":
		s.Card.Signals.Crank.Lead = quantity.Crank(v)
		p.Sparks.Lead = s.Card.Signals.Crank.Lead
	}
}

// DwellTable is the dwell table of the card, 6 to 16 V; ok is false where no coil is charged by the controller, or none is on the card.
func (s *Case) DwellTable() (rows []coil.DwellRow, ok bool) {
	if s.Plan.Primary == nil {
		return nil, false
	}
	return s.Plan.Primary.DwellTable(coil.Supplies6To16()), true
}
