package jobcard

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/yamltext"
)

// writtenRatio is a compression ratio as people write it: 9.4, 9,4, 9.4:1, 9.4 to 1, each with a ± or not.
var writtenRatio = regexp.MustCompile(
	`^\s*([0-9]+(?:[.,][0-9]*)?)\s*(?:(?::|/|to)\s*1(?:[.,]0*)?)?\s*(?:(?:±|\+/-|\+-)\s*([0-9]*[.,]?[0-9]+))?\s*$`)

// The limits of a compression ratio, and the half-width of limits that a ± beside it may have.
const (
	leastRatio, mostRatio = 3, 25
	widestRatio           = 3
)

// compressionRatio is the ratio as the maker states it.
func compressionRatio(f Field) Field {
	f.Kind = Ratio
	wanted := fmt.Sprintf("write a ratio from %d to %d such as 8.6, 8.6:1 or 8.6 ± 0.2", leastRatio, mostRatio)
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		s, ft := scalar(v, "a ratio such as 8.6")
		if ft != nil {
			return ft
		}
		parts := writtenRatio.FindStringSubmatch(s)
		if parts == nil {
			return yamltext.Wrong(fmt.Sprintf("%q is not a compression ratio", s), wanted)
		}
		number := func(text string) float64 { // the pattern lets nothing else through; an empty text gives 0
			x, _ := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
			return x
		}
		ratio, limit := number(parts[1]), number(parts[2])
		if !(ratio >= leastRatio && ratio <= mostRatio) || limit > widestRatio {
			return yamltext.Wrong(fmt.Sprintf("%q is impossible here", s), wanted)
		}
		c.Engine.CompressionRatio, c.Engine.RatioLimit = ratio, limit
		return nil
	}
	f.schema = func() map[string]any {
		return map[string]any{"anyOf": []any{
			map[string]any{"type": "number", "minimum": leastRatio, "maximum": mostRatio},
			map[string]any{"type": "string", "pattern": writtenRatio.String()}}}
	}
	return f
}

// chamberFields are the parts of the room above the piston, from which the ratio is worked out.
func chamberFields() []Field {
	volume := func(at func(*Chamber) *quantity.Measured[quantity.Volume]) func(
		*Card) *quantity.Measured[quantity.Volume] {
		return func(c *Card) *quantity.Measured[quantity.Volume] { return at(&c.Engine.Chamber) }
	}
	length := func(at func(*Chamber) *quantity.Measured[quantity.Length]) func(
		*Card) *quantity.Measured[quantity.Length] {
		return func(c *Card) *quantity.Measured[quantity.Length] { return at(&c.Engine.Chamber) }
	}
	return []Field{
		spread(Field{Path: "engine.chamber.volume",
			Doc: "Volume of the chamber in the head with the plug in. With gasket_thickness and deck the ratio is " +
				"worked out.", Example: "68 cm3 ± 1 cm3"},
			volume(func(k *Chamber) *quantity.Measured[quantity.Volume] { return &k.Volume }), 1, 3000),
		spread(Field{Path: "engine.chamber.gasket_bore",
			Doc:     "Bore of the head gasket. Left out: 1 mm more than the cylinder's is assumed, known to ± 1 mm.",
			Example: "95 mm ± 0.5 mm"},
			length(func(k *Chamber) *quantity.Measured[quantity.Length] { return &k.GasketBore }), 20, 1000),
		spread(Field{Path: "engine.chamber.gasket_thickness", Doc: "Thickness of the head gasket, compressed.",
			Example: "1.2 mm ± 0.1 mm"},
			length(func(k *Chamber) *quantity.Measured[quantity.Length] { return &k.GasketThickness }), 0, 20),
		spread(Field{Path: "engine.chamber.deck",
			Doc:     "How far the crown stands below the deck at the top; above it negative.",
			Example: "0.5 mm ± 0.05 mm"},
			length(func(k *Chamber) *quantity.Measured[quantity.Length] { return &k.Deck }), -20, 30),
		spread(Field{Path: "engine.chamber.dish",
			Doc:     "Hollow of the piston's crown, valve pockets with it. Left out: a flat crown.",
			Example: "6 cm3 ± 0.5 cm3"},
			volume(func(k *Chamber) *quantity.Measured[quantity.Volume] { return &k.Dish }), 0, 2000),
		spread(Field{Path: "engine.chamber.dome", Doc: "Raised part of the piston's crown. Left out: a flat crown.",
			Example: "0 cm3"},
			volume(func(k *Chamber) *quantity.Measured[quantity.Volume] { return &k.Dome }), 0, 2000),
		open(measured(Field{Path: "engine.cranking_pressure",
			Doc: "What a compression test shows, warm, throttle wide open, above the outside pressure: a check of " +
				"the ratio.", Example: "11 bar ± 0.5 bar"},
			func(c *Card) *quantity.Measured[quantity.Gauge] { return &c.Engine.CrankingPressure }, 1e5, 60e5)),
	}
}

// spread is a measure whose ± may be as wide as the value itself, or wider: a deck of 0 mm ± 0.1 mm.
func spread[T quantity.Quantity](f Field, at func(*Card) *quantity.Measured[T], least, most T) Field {
	return open(limited(f, func(c *Card, q quantity.Measured[T]) *yamltext.Fault {
		*at(c) = q
		return nil
	}, least, most))
}

// Chamber is what the card says of the room above the piston. What it leaves out of a part's ± is assumed.
type Chamber struct {
	Volume, Dish, Dome                quantity.Measured[quantity.Volume]
	GasketBore, GasketThickness, Deck quantity.Measured[quantity.Length]
}

// half-widths where a part of the chamber is written without ±; all assumed, with the range they may lie in
const (
	volumeLimit quantity.Volume = 1    // 0.5 to 2 cm³: a burette and a plate
	crownLimit  quantity.Volume = 0.5  // 0.2 to 1 cm³
	boreLimit   quantity.Length = 1    // 0.5 to 2 mm: a gasket's edge is not round
	gasketLimit quantity.Length = 0.1  // 0.05 to 0.2 mm: what bolts make of it
	deckLimit   quantity.Length = 0.05 // 0.02 to 0.1 mm: a depth gauge across the crown
)

// ChamberLimits says in words what is assumed where a part of the chamber is written without ±.
const ChamberLimits = "parts written without ±: chamber ± 1 (0.5 to 2) cm³, dish and dome ± 0.5 (0.2 to 1) cm³, " +
	"gasket bore ± 1 (0.5 to 2) mm and thickness ± 0.1 (0.05 to 0.2) mm, deck ± 0.05 (0.02 to 0.1) mm, assumed"

// Parts is the chamber as the sum takes it, and whether the card gives enough for it.
func (e *Engine) Parts() (engine.Chamber, bool) {
	k := e.Chamber
	if k.Volume.Value == 0 {
		return engine.Chamber{}, false
	}
	if k.GasketBore.Value == 0 {
		k.GasketBore.Value = e.Bore + 1
	}
	none := quantity.Measured[quantity.Volume]{Stated: true}
	crown := func(m quantity.Measured[quantity.Volume]) quantity.Measured[quantity.Volume] {
		if m.Value == 0 && !m.Stated {
			return none
		}
		return m.Or(crownLimit)
	}
	return engine.Chamber{Bore: e.Bore, Stroke: e.Stroke, Volume: k.Volume.Or(volumeLimit),
		GasketBore: k.GasketBore.Or(boreLimit), GasketThickness: k.GasketThickness.Or(gasketLimit),
		Deck: k.Deck.Or(deckLimit), Dish: crown(k.Dish), Dome: crown(k.Dome)}, true
}

// Ratio prints the compression ratio with its ± where one is known.
func (e *Engine) Ratio() string {
	text := quantity.Number(e.CompressionRatio, -1)
	if e.RatioLimit > 0 {
		text = quantity.Number(math.Round(e.CompressionRatio*100)/100, -1) + " ± " + quantity.Number(e.RatioLimit, 2)
	}
	return text
}

// deriveRatio works the compression ratio out of the chamber where the card states none.
func (p *reader) deriveRatio(c *Card) {
	var missing []string
	given := false
	for _, f := range chamberFields() {
		key, part := strings.CutPrefix(f.Path, "engine.chamber.")
		_, written := p.Places[f.Path]
		given = given || part && written
		if !written && (key == "volume" || key == "gasket_thickness" || key == "deck") {
			missing = append(missing, key)
		}
	}
	if !given {
		return
	}
	if len(missing) > 0 {
		p.at("engine.chamber", "lacks "+strings.Join(missing, " and "),
			"write volume, gasket_thickness and deck together, or leave the chamber out")
		return
	}
	k, _ := c.Engine.Parts()
	ratio, u := k.Ratio(), k.RatioU()
	if v := k.Clearance(); !(v > 0) || ratio < leastRatio || ratio > mostRatio {
		p.at("engine.chamber.volume",
			fmt.Sprintf("with gasket, deck and crown leaves %v above the piston, beside %v swept", v, k.Swept()),
			fmt.Sprintf("look at units and signs: a ratio from %d to %d is possible", leastRatio, mostRatio))
		return
	}
	if _, written := p.Places["engine.compression_ratio"]; written {
		return
	}
	c.Engine.CompressionRatio, c.Engine.RatioLimit = ratio, 2*u
	c.Engine.RatioWorkedOut = true
	c.assumed["engine.compression_ratio"] = false
}

// RatioDisagrees says whether the stated ratio is not that of the chamber.
func (e *Engine) RatioDisagrees() bool {
	k, ok := e.Parts()
	return ok && !e.RatioWorkedOut &&
		math.Abs(k.Ratio()-e.CompressionRatio) > 2*k.RatioU()+math.Max(e.RatioLimit, statedRatio)
}

// doubtRatio asks where the stated ratio is not that of the chamber.
func doubtRatio(c *Card) (Doubt, bool) {
	e := &c.Engine
	if !e.RatioDisagrees() {
		return Doubt{}, false
	}
	k, _ := e.Parts()
	return Doubt{Found: fmt.Sprintf("says %s, and chamber, gasket, deck and crown give %s ± %s", e.Ratio(),
		quantity.Number(k.Ratio(), 2), quantity.Number(2*k.RatioU(), 2)),
		Ask: "leave the ratio out where the parts were measured, or look at the parts"}, true
}

// statedRatio is how far a maker's ratio is off on an engine as it was built; assumed, 0.05 to 0.3.
const statedRatio = 0.1
