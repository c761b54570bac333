package jobcard

import (
	"fmt"
	"slices"
	"strings"

	"phasewright/quantity"
	"phasewright/yamltext"
)

// Doubt is a value that was read and may stand, but is likelier a slip: of the unit, of the pen, or of what nobody
// looked at. It is asked about until the card says that it was looked at (job.confirmed).
type Doubt struct {
	Path         string // of the field
	Line, Column int    // where its value stands; the field's section where it is left out
	Found        string // what stands there, and why it is unlikely
	Ask          string // what may be meant, and what to write
}

// String is "engine.stroke: 40 mm is … ; …".
func (d Doubt) String() string { return d.Path + ": " + d.Found + "; " + d.Ask }

// Doubts are the values to be looked at, in the order of the card's fields.
func (c *Card) Doubts() []Doubt { return slices.Clone(c.doubts) }

// usual is the range in which a field lies on the engines that this tool is made for.
type usual struct {
	path      string
	low, high float64 // in the base unit of the measure
	whose     string  // what has such values
	source    string
}

const (
	commonPractice = "common practice"
	assumed        = "assumed"
)

// distributors are the engines that these ranges are for.
const distributors = "engines with a distributor"

// usuals are wide enough that hardly an engine lies outside, and narrow enough that a length with its decimal point or
// its unit wrong does: the unit's factor is at least 2.54 (in and cm).
var usuals = []usual{
	{"engine.bore", 45, 160, distributors, commonPractice},
	{"engine.stroke", 45, 180, distributors, commonPractice},
	{"engine.rod", 80, 350, distributors, commonPractice},
	{"engine.inertia", 0.01, 10, distributors, assumed},
	{"engine.reciprocating_mass", 0.15, 4, distributors, assumed},
	{"engine.inlet_pressure", 0.7e5, 3.5e5, distributors, assumed},
	{"engine.cranking_speed", 60, 400, "starters", commonPractice},
	{"engine.idle_speed", 300, 1800, distributors, commonPractice},
	{"engine.redline", 1200, 12000, distributors, commonPractice},
	{"damper.diameter", 95, 450, "dampers and pulleys with marks", commonPractice},
	{"damper.mark_placement", 0.05, 2, "marks laid out by hand", assumed},
	{"distributor.gear_diameter", 15, 80, "distributor gears", assumed},
	{"distributor.drop_travel", 3, 40, "distributor gears", assumed},
	{"distributor.seat_gap", 0.1, 8, "dry fits", assumed},
	{"distributor.end_play", 0.1, 1.5, "distributor shafts", assumed},
	{"distributor.shim_thickness", 0.05, 3, "shims and gaskets", assumed},
	{"distributor.gear_engagement", 0.5, 15, "distributor gears", assumed},
	{"distributor.rotor_tip", 3, 25, "rotors", assumed},
	{"distributor.terminal", 2, 20, "caps", assumed},
	{"distributor.radius", 15, 60, "caps", assumed},
	{"distributor.air_gap", 0.2, 3, "caps", commonPractice},
	{"signals.crank.vane_width", 2, 120, "vanes", assumed},
	{"controller.advance.max", 10, 60, distributors, commonPractice},
	{"ignition.plug_gap", 0.3, 1.8, "plugs", commonPractice},
	{"ignition.dwell", 200, 10000, "coils and trigger pulses", commonPractice},
	{"ignition.supply", 5, 30, "6, 12 and 24 V systems", commonPractice},
	{"ignition.cranking_supply", 3.5, 28, "6, 12 and 24 V systems", commonPractice},
	{"coil.resistance", 0.15, 6, "primary windings", commonPractice},
	{"coil.inductance", 0.0005, 0.02, "primary windings", commonPractice},
	{"coil.target", 2, 30, "coils", assumed},
	{"engine.chamber.volume", 5, 250, "combustion chambers", assumed},
	{"engine.chamber.gasket_bore", 45, 165, "head gaskets", commonPractice},
	{"engine.chamber.gasket_thickness", 0.2, 4, "compressed head gaskets", commonPractice},
	{"engine.chamber.deck", -3, 6, "pistons at the top", assumed},
	{"engine.cranking_pressure", 4e5, 22e5, "compression tests", commonPractice},
}

// notMeasured are the fields where nought says that nobody measured.
var notMeasured = []string{"distributor.gear_diameter", "distributor.drop_travel", "distributor.seat_gap",
	"distributor.gear_engagement", "distributor.end_play"}

func usualFor(path string) (usual, bool) {
	i := slices.IndexFunc(usuals, func(u usual) bool { return u.path == path })
	if i < 0 {
		return usual{}, false
	}
	return usuals[i], true
}

// doubtMeasure asks about a measure outside the usual range of its field.
func doubtMeasure[T quantity.Quantity](v yamltext.Value, u usual) (Doubt, bool) {
	m, err := quantity.ParseMeasured[T](v.Text)
	low, high := T(u.low), T(u.high)
	if err != nil || u.path == "" || m.Value >= low && m.Value <= high ||
		m.Value == 0 && slices.Contains(notMeasured, u.path) {
		return Doubt{}, false
	}
	d := Doubt{Found: fmt.Sprintf("%v is unlikely, %s have %v to %v (%s)", m.Value, u.whose, low, high, u.source),
		Ask: "look at figure and unit"}
	if list := quantity.Meant(v.Text, low, high); len(list) > 0 {
		d.Ask = "did you mean " + oneOf(list) + "?"
	}
	return d, true
}

// proportion is a pair of lengths of which one has the wrong unit where their quotient is odd.
type proportion struct {
	over, under string
	of          func(e *Engine) float64
	low, high   float64
	source      string
}

var proportions = []proportion{
	{"engine.rod", "engine.stroke", func(e *Engine) float64 { return float64(e.Rod / e.Stroke) },
		1.25, 2.8, commonPractice},
	{"engine.stroke", "engine.bore", func(e *Engine) float64 { return float64(e.Stroke / e.Bore) },
		0.5, 2, commonPractice},
}

// doubt asks about what was written and is unlikely, and about what nobody wrote and cannot be taken for granted.
func (p *reader) doubt(c *Card, table []Field) {
	add := func(path string, d Doubt) {
		at, ok := p.Places[path]
		if !ok {
			at, _ = p.nearestPlace(path)
		}
		d.Path, d.Line, d.Column = path, at.Line, at.Column
		if !slices.Contains(c.Job.Confirmed, path) {
			c.doubts = append(c.doubts, d)
		}
	}
	for i := range table {
		f := &table[i]
		v, written := p.values[f.Path]
		if !written || f.doubt == nil {
			continue
		}
		u, _ := usualFor(f.Path)
		if d, odd := f.doubt(v, u); odd {
			add(f.Path, d)
		}
	}
	for _, x := range proportions {
		q := x.of(&c.Engine)
		already := slices.ContainsFunc(c.doubts, func(d Doubt) bool { return d.Path == x.over || d.Path == x.under })
		if (q < x.low || q > x.high) && !already {
			add(x.over, Doubt{Ask: "look at the units of both",
				Found: fmt.Sprintf("is %s times %s, usual is %s to %s (%s)", quantity.Number(q, 2), x.under,
					quantity.Number(x.low, 2), quantity.Number(x.high, 2), x.source)})
		}
	}
	if d, odd := doubtRatio(c); odd {
		add("engine.compression_ratio", d)
	}
	if d := c.Distributor; d.Use == SparkAndSignal && !c.EvenFire() && c.Assumed("distributor.cap") {
		add("distributor.cap", Doubt{Found: "is left out, and the engine fires unevenly: taken as " + string(d.Cap),
			Ask: "look at the cap and write even or uneven"})
	}
	if what := twoStroke(c); what != "" {
		add(what, Doubt{Found: "speaks of a two-stroke engine, and " + onlyFourStroke,
			Ask: "do not work by this card where the engine is one"})
	}
}

// confirmed is a field that names fields which were looked at and stand.
func confirmed(f Field) Field {
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		parts := strings.Split(v.Text, ",")
		if v.List {
			parts = nil
			for _, item := range v.Items {
				parts = append(parts, item.Text)
			}
		}
		for _, path := range parts {
			path = strings.TrimSpace(path)
			if !slices.ContainsFunc(Fields(), func(f Field) bool { return f.Path == path }) {
				return yamltext.Wrong(fmt.Sprintf("%q is no field of a card", path),
					"write the fields as card check names them, such as damper.diameter, with commas between them")
			}
			c.Job.Confirmed = append(c.Job.Confirmed, path)
		}
		return nil
	}
	f.schema = func() map[string]any {
		var paths []string
		for _, other := range Fields() {
			paths = append(paths, strings.ReplaceAll(other.Path, ".", `\.`))
		}
		one := `\s*(?:` + strings.Join(paths, "|") + `)\s*`
		return map[string]any{"anyOf": []any{
			map[string]any{"type": "string", "pattern": "^" + one + "(?:," + one + ")*$"},
			map[string]any{"type": "array", "minItems": 1,
				"items": map[string]any{"type": "string", "pattern": "^" + one + "$"}}}}
	}
	return f
}
