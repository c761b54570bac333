package sheet

import (
	"encoding/json"
	"math"
	"slices"
	"strings"

	"phasewright/cranking"
	"phasewright/distributor"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/words"
)

// Verdict is how an item stands.
type Verdict string

// The verdicts.
const (
	Fine    Verdict = "fine"
	Caution Verdict = "caution"
	Stop    Verdict = "stop"
)

// Input is a value that an item was computed from.
type Input struct {
	Path    string `json:"path"`  // of the field on the job card, or what a number of ours is
	Value   string `json:"value"` // with unit
	Assumed bool   `json:"assumed"`
}

// Halt says that nobody may work by the sheet yet, and which items stop it; "" where none does.
func (s *Sheet) Halt() string {
	var titles []string
	for _, it := range s.Items {
		if it.Verdict == Stop {
			titles = append(titles, it.Title)
		}
	}
	if titles == nil {
		return ""
	}
	return "Do not work by this sheet yet: " + strings.Join(titles, "; ")
}

// Item is one line of the sheet.
type Item struct {
	ID      string  `json:"id"`
	Area    string  `json:"area"`
	Title   string  `json:"title"`
	Value   float64 `json:"value"` // in Unit; NaN where the item has no number, written as null
	Unit    string  `json:"unit"`
	Text    string  `json:"text"` // the value in words, with view and uncertainty
	Verdict Verdict `json:"verdict"`
	Because string  `json:"because"` // why this verdict
	Formula string  `json:"formula"` // the rule in words
	Inputs  []Input `json:"inputs"`
	Ignored string  `json:"ignored"` // what happens if it is ignored
	// Cure are the lines of the card that a stop or a caution can be cleared by, the likeliest first; none where it
	// stays true of the engine.
	Cure []string `json:"cure"`
}

// MarshalJSON writes a missing value as null.
func (it Item) MarshalJSON() ([]byte, error) {
	type plain Item
	var value any = it.Value
	if math.IsNaN(it.Value) || math.IsInf(it.Value, 0) {
		value = nil
	}
	if it.Inputs == nil {
		it.Inputs = []Input{}
	}
	if it.Cure == nil {
		it.Cure = []string{}
	}
	it.Value = 0
	return json.Marshal(struct {
		plain
		Value any `json:"value"`
	}{plain(it), value})
}

// Mark is one mark to lay out on the damper.
type Mark struct {
	Name      string  `json:"name"`
	AngleDeg  float64 `json:"angle_deg"` // BTDC of cylinder 1
	ArcMM     float64 `json:"arc_mm"`    // along the rim from the zero mark
	ChordMM   float64 `json:"chord_mm"`  // straight, with dividers
	Direction string  `json:"direction"` // from the zero mark, with the view
	UDeg      float64 `json:"u_deg"`     // standard uncertainty of laying it out
}

// Tower is one row of the cylinder–tower map.
type Tower struct {
	Tower     int     `json:"tower"` // counted clockwise from above
	Cylinder  int     `json:"cylinder"`
	AngleDeg  float64 `json:"angle_deg"` // shaft degrees clockwise from tower 1, from above
	FiresDeg  float64 `json:"fires_deg"` // TDC firing on the cycle
	Companion int     `json:"companion"` // 0: none
}

// Expect is what the light must show if all is right.
type Expect struct {
	RPM   float64 `json:"rpm"`
	Shown float64 `json:"shown_deg"` // the middle of the band
	Band  float64 `json:"band_deg"`  // half-width; 0 where nothing but reading scatter is expected
	Best  float64 `json:"best_deg"`  // the likeliest, which need not be the middle
	Why   string  `json:"why"`
}

// Sheet is the whole set-up sheet.
type Sheet struct {
	Job         string   `json:"job"`
	Rotation    string   `json:"rotation"`
	Rotor       string   `json:"rotor"`
	Kind        string   `json:"kind"`   // what engine this is, of those that are served
	Served      string   `json:"served"` // what this tool is made for, and what not
	Items       []Item   `json:"items"`
	Marks       []Mark   `json:"marks"`
	CylinderMap []Tower  `json:"cylinder_map"`
	Expect      []Expect `json:"expect"`
	Dwell       []Dwell  `json:"dwell"`
	Cautions    []string `json:"cautions"`

	units    quantity.LengthUnit
	cranking *cranking.Bias // nil where it cannot be predicted
}

// area is a group of items; every one is a function of the card alone.
type area struct {
	name string
	make func(*jobcard.Card, *Sheet) []Item
}

// areas lists the sheet from front to back.
func areas() []area {
	return []area{
		{"card", cardItems},
		{"damper", damperItems},
		{"true TDC", tdcItems},
		{"gear and seat", gearItems},
		{"compression", compressionItems},
		{"signals", signalItems},
		{"timing", timingItems},
		{"cranking", crankingItems},
		{"coil and spark", sparkItems},
		{"cap and wires", capItems},
		{"rotor", rotorItems},
	}
}

// Make works out the sheet that follows from a card that jobcard.Parse gave out.
func Make(c *jobcard.Card) (*Sheet, error) {
	s := &Sheet{Job: c.Job.Name, Rotation: c.Engine.Rotation.FromFront(), Rotor: c.Distributor.Rotation.FromAbove(),
		Kind: c.Kind(), Served: jobcard.Served, Cautions: Cautions(),
		units: c.Job.Units}
	if c.Distributor.Use == jobcard.SparkAndSignal {
		towers, err := distributor.CapMap(c.Firings(), c.Distributor.Rotation, c.Distributor.TowerForNo1)
		if err != nil {
			return nil, err
		}
		for _, t := range towers {
			if c.Distributor.Cap == jobcard.EvenCap {
				t.Angle = quantity.Shaft(360 * float64(t.Number-1) / float64(len(towers)))
			}
			s.CylinderMap = append(s.CylinderMap, Tower{Tower: t.Number, Cylinder: t.Cylinder,
				AngleDeg: round(float64(t.Angle), 6), FiresDeg: round(float64(t.Fires), 6), Companion: t.Companion})
		}
	}
	s.Marks = marks(c)
	own := constantsFor(c)
	for _, a := range areas() {
		for _, it := range a.make(c, s) {
			it.Area, it.Cure = a.name, cures(c, &it)
			it.speak()
			ownNumbers(&it, own)
			s.Items = append(s.Items, it)
		}
	}
	s.Expect = expect(c, s.cranking)
	return s, nil
}

// speak makes sentences of an item's words; the last one has its full stop where it is printed.
func (it *Item) speak() {
	it.Text, it.Because, it.Ignored = words.Capital(it.Text), words.Capital(it.Because), words.Capital(it.Ignored)
}

// Count is how many items have the verdict.
func (s *Sheet) Count(v Verdict) int {
	n := 0
	for _, it := range s.Items {
		if it.Verdict == v {
			n++
		}
	}
	return n
}

// Item finds an item by its ID; nil where the sheet has none.
func (s *Sheet) Item(id string) *Item {
	for i := range s.Items {
		if s.Items[i].ID == id {
			return &s.Items[i]
		}
	}
	return nil
}

// Assumed are the inputs of all items that nobody stated, each once.
func (s *Sheet) Assumed() []Input { return assumedOf(s.Items) }

func assumedOf(items []Item) []Input {
	var out []Input
	for _, it := range items {
		for _, in := range it.Inputs {
			if in.Assumed && !slices.Contains(out, in) {
				out = append(out, in)
			}
		}
	}
	return out
}

// Cautions are the usual ones, on every sheet and report.
func Cautions() []string {
	return []string{
		"The maker's instructions and local law come first. Road and emission rules may forbid changing the " +
			"ignition of a registered vehicle.",
		"Work on ignition and fuel is for trained people. This tool calculates, it does not certify.",
		"Plug wires carry tens of kilovolts and can shock you. A spark box stores a lethal shock after the key is " +
			"off.",
		"Coil and injector power off before anyone turns the engine by hand. Tools off the crankshaft and plugs in " +
			"before the starter turns.",
		"Fuel vapour can catch fire. No cranking with live injectors, fuel in the bowl or an open gas line until " +
			"base timing is proven.",
		"Clamp tight before any timing check. Stop the engine before settings change. Power-cycle and read back " +
			"after.",
		"Chock the wheels. Neutral or park. Extinguisher at hand. Eye protection. No loose sleeves. Exhaust " +
			"outside by a hose.",
	}
}

// from lists inputs by their path on the card.
func from(c *jobcard.Card, pairs ...any) []Input {
	var out []Input
	for i := 0; i+1 < len(pairs); i += 2 {
		path := pairs[i].(string)
		in := Input{Path: path, Value: spell(c.Job.Units, pairs[i+1]), Assumed: c.Assumed(path)}
		if limits := jobcard.WithinIn(c.Job.Units, path); in.Assumed && limits != "" {
			in.Value += " (" + limits + ")"
		}
		out = append(out, in)
	}
	return out
}

func round(v float64, decimals int) float64 {
	p := math.Pow(10, float64(decimals))
	return math.Round(v*p) / p
}

// deg prints degrees with one decimal.
func deg[T ~float64](a T) string { return quantity.Degrees(a, 1) }
