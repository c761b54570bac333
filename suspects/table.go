package suspects

import (
	"fmt"
	"strings"

	"phasewright/quantity"
)

// Field is one row of the table that drives reader, schema and documentation of evidence files.
type Field struct {
	Path    string // section.key, or a key of its own
	Doc     string
	Example string
	kind    kind
	words   []string // accepted, for words; a measure may take some words beside its numbers
	low     float64
	high    float64
	set     func(e *Evidence, v read) // called with a value that has been checked
}

// kind of value.
type kind string

const (
	measure kind = "measure"
	word    kind = "word"
	words   kind = "words"
	number  kind = "number"
	counts  kind = "cylinders"
	text    kind = "text"
)

// read is a checked value.
type read struct {
	n    Number
	word string
	list []string
	ints []int
}

func (r read) num() *Number { n := r.n; return &n }

// parse reads a measure in its base unit with its standard uncertainty.
type parse func(text string) (Number, error)

func as[T quantity.Quantity](text string) (Number, error) {
	m, err := quantity.ParseMeasured[T](text)
	if err != nil {
		return Number{}, err
	}
	n := Number{Value: float64(m.Value)}
	if m.Stated {
		n.U = float64(m.Standard())
	}
	return n, nil
}

// unit is how a measure is read, said and put into the schema.
type unit struct {
	parse   parse
	accepts string
	pattern string
}

func unitOf[T quantity.Quantity]() unit {
	return unit{as[T], quantity.Accepts[T](), quantity.Pattern[T](quantity.WithLimits)}
}

// section is a group of keys. A list section holds any number of entries.
type section struct {
	key, doc string
	list     bool
	most     int // entries of a list; 0: any number
	begin    func(e *Evidence)
	need     []string // keys of an entry that must be there
}

func sections() []section {
	return []section{
		{"light", "Looks with the timing light, one entry each.", true, 0,
			func(e *Evidence) { e.Light = append(e.Light, Light{}) }, []string{"speed"}},
		{"lamps", "Test lamps or logic states with the crank at rest, cylinder 1 on its compression stroke.", true, 40,
			func(e *Evidence) { e.Lamps = append(e.Lamps, Lamp{}) }, nil},
		{"housing", "The distributor's housing.", false, 0, nil, nil},
		{"rotor", "The rotor with the crank at the trigger lead's mark on cylinder 1's compression stroke.", false, 0,
			nil, nil},
		{"piston_stop", "Where the damper stood at the two contacts of a piston stop.", false, 0, nil, nil},
		{"engine", "How the engine goes.", false, 0, nil, nil},
		{"battery", "Voltages.", false, 0, nil, nil},
		{"settings", "What the controller shows when it is read back.", false, 0, nil, nil},
		{"timing_light", "The light itself.", false, 0, nil, nil},
		{"cap", "The open cap and its wires.", false, 0, nil, nil},
		{"controller", "What the controller shows by itself.", false, 0, nil, nil},
		{"coil", "The coil.", false, 0, nil, nil},
		{"pickup", "The pickups and their cables.", false, 0, nil, nil},
		{"fuel", "Fuel and mixture.", false, 0, nil, nil},
		{"cylinders", "What was seen of single cylinders, one entry each.", true, 16,
			func(e *Evidence) { e.Cylinders = append(e.Cylinders, Cylinder{Seen: newSeen()}) }, []string{"cylinder"}},
		{"capture", "What a recording of the signals showed.", false, 0, nil, nil},
	}
}

// field is a row with the unit of its measure.
type field struct {
	Field
	unit unit
}

func num[T quantity.Quantity](path, doc, example string, low, high float64, set func(e *Evidence, v read)) field {
	return field{Field{Path: path, Doc: doc, Example: example, kind: measure, low: low, high: high, set: set},
		unitOf[T]()}
}

func oneOf(path, doc string, set func(e *Evidence, w string), accepted ...string) field {
	return field{Field{Path: path, Doc: doc, Example: accepted[0], kind: word, words: accepted,
		set: func(e *Evidence, v read) { set(e, v.word) }}, unit{}}
}

// Words of the trade that an evidence file takes.
var (
	flashWords = []string{"steady", "spread", "two groups", "some elsewhere", "jumps by whole spacings",
		"comes and goes", "none"}
	markWords     = []string{"in sight", "out of sight"}
	levelWords    = []string{"high", "low", "no signal"}
	startWords    = []string{"starts", "nothing", "kicks back", "spits through the intake", "bangs in the exhaust"}
	runWords      = []string{"fine", "runs rough", "will not rev", "hot and sluggish", "does not run", "cuts out"}
	traceWords    = []string{"centred", "off centre", "tracks between towers", "track to ground"}
	sparkWords    = []string{"strong", "weak", "none"}
	syncWords     = []string{"held", "lost", "none"}
	extraWords    = []string{"any time", "at sparks"}
	yesNo         = []string{"yes", "no"}
	rightWrong    = []string{"right", "wrong"}
	clampWords    = []string{"tight", "slips"}
	travelWords   = []string{"inside", "at its end"}
	vaneWords     = []string{"even", "one off"}
	feltWords     = []string{"felt", "not felt"}
	edgeWords     = []string{"rising", "falling"}
	lockWords     = []string{"on", "off"}
	polarityWords = []string{"right", "reversed"}
)

func last[T any](s []T) *T { return &s[len(s)-1] }

// fields is the whole table.
func fields() []field {
	type ev = Evidence
	const lots = 1e6
	shown := num[quantity.Crank]("light.shown", "What the light showed, degrees BTDC, with its ± where known "+
		"(half-width of limits). None where it did not flash. Out of sight where it flashes and "+
		"no mark is to be seen.", "12.5 deg ± 0.5 deg", -180, 180,
		func(e *ev, v read) {
			if v.word != "" {
				if v.word == "none" {
					last(e.Light).Flashes = "none"
				} else {
					last(e.Light).OutOfSight = true
				}
				return
			}
			last(e.Light).Shown = v.num()
		})
	shown.words = []string{"none", "out of sight"}
	turn := num[quantity.Shaft]("housing.turn_to_edge", "With the crank at the lead mark: how far the "+
		"housing was turned until the lamp showed the active edge, "+
		"against the rotor positive.", "-1.5 deg", -60, 60, func(e *ev, v read) { e.HousingTurn = v.num() })
	did := field{Field{Path: "worked_on", Doc: "What was just worked on.",
		Example: "[unit, settings]", kind: words, words: workWords(), set: func(e *ev, v read) { e.WorkedOn = v.list }},
		unit{}}
	mis := field{Field{Path: "engine.misfire", Doc: "Cylinders that misfire, [] where none does.",
		Example: "[3, 5]", kind: counts, low: 1, high: 16, set: func(e *ev, v read) {
			e.Engine.Misfire, e.Engine.NoMisfire = v.ints, len(v.ints) == 0
		}}, unit{}}
	wire := field{Field{Path: "light.wire", Doc: "Cylinder on whose wire the light was clamped; 1 if left out.",
		Example: "1", kind: number, low: 1, high: 16, set: func(e *ev, v read) { last(e.Light).Wire = int(v.n.Value) }},
		unit{}}
	points := field{Field{Path: "rotor.points_to",
		Doc:     "Cylinder whose wire hangs on the tower that the tip stands at.",
		Example: "1", kind: number, low: 1, high: 16, words: []string{"between"}, set: func(e *ev, v read) {
			e.Rotor.PointsTo = v.word
			if v.word == "" {
				e.Rotor.PointsTo = fmt.Sprint(int(v.n.Value))
			}
		}}, unit{}}
	edges := field{Field{Path: "capture.crank_edges", Doc: "Active crank edges in a cycle of two turns.",
		Example: "6", kind: number, low: 0, high: 64, set: func(e *ev, v read) { e.Capture.Edges = v.num() }}, unit{}}
	extra := field{Field{Path: "capture.extra_edges", Doc: "Extra crank edges for each firing, a share of 0 to 1.",
		Example: "0.04", kind: number, low: 0, high: 4, set: func(e *ev, v read) { e.Capture.Extra = v.num() }}, unit{}}
	list := []field{
		did,
		num[quantity.Speed]("light.speed", "Steady crank speed by a tachometer other than the light's.", "750 rpm", 20,
			30000, func(e *ev, v read) { last(e.Light).Speed = v.n.Value }),
		wire, shown,
		num[quantity.Crank]("light.locked", "Advance that the controller was told, where it is not the card's.",
			"10 deg", -90, 90, func(e *ev, v read) { last(e.Light).Locked = v.num() }),
		num[quantity.Time]("light.allowance", "Delay allowance believed in force, where it is not the card's.",
			"140 us", 0, 20000, func(e *ev, v read) { last(e.Light).Allowance = v.num() }),
		oneOf("light.flashes", "How the flashes fall: on one place, spread, in two groups, some "+
			"elsewhere, jumping by whole spacings, coming and going, or none at all.",
			func(e *ev, w string) { last(e.Light).Flashes = w }, flashWords...),
		num[quantity.Time]("light.after", "Time since the first reading.", "300 s", 0, 1e11,
			func(e *ev, v read) { last(e.Light).After = v.n.Value }),
		num[quantity.Speed]("light.tacho", "Speed on the light's own tachometer.", "750 rpm", 20, 60000,
			func(e *ev, v read) { last(e.Light).Tacho = v.num() }),
		oneOf("light.which", "Which light: the usual one, or another that is known to be sound.",
			func(e *ev, w string) { last(e.Light).Which = w }, "usual", "other"),
		oneOf("light.engine", "How the engine was.", func(e *ev, w string) { last(e.Light).Engine = w }, "cold", "hot",
			"under load"),
		num[quantity.Crank]("lamps.at", "Where the crank stood by the damper's mark, BTDC of cylinder 1; the "+
			"trigger lead if left out.", "62 deg", -360, 360, func(e *ev, v read) { last(e.Lamps).At = v.num() }),
		oneOf("lamps.crank", "Level of the crank pickup.", func(e *ev, w string) { last(e.Lamps).Crank = w },
			levelWords...),
		oneOf("lamps.cam", "Level of the cam pickup.", func(e *ev, w string) { last(e.Lamps).Cam = w }, levelWords...),
		turn,
		oneOf("housing.clamp", "Whether the housing can be moved by hand with its clamp done up.",
			func(e *ev, w string) { e.Clamp = w }, clampWords...),
		oneOf("housing.travel", "Where the housing stands in its travel.", func(e *ev, w string) { e.Travel = w },
			travelWords...),
		points,
		num[quantity.Shaft]("rotor.off", "How far the tip stands ahead of its place, in rotor direction positive.",
			"3 deg", -180, 180, func(e *ev, v read) { e.Rotor.Off = v.num() }),
		num[quantity.Shaft]("rotor.play", "Play of the rotor, flank to flank.", "0.4 deg", 0, 30,
			func(e *ev, v read) { e.Rotor.Play = v.num() }),
		oneOf("compression", "Compression in cylinder 1 as the rotor comes to No. 1 and the mark to the trigger lead.",
			func(e *ev, w string) { e.Compression = w }, feltWords...),
		num[quantity.Crank]("piston_stop.before", "Damper reading at the contact before the zero mark, degrees BTDC.",
			"64 deg", 0, 180, func(e *ev, v read) { e.PistonStop.Before = v.num() }),
		num[quantity.Crank]("piston_stop.after", "Damper reading at the contact after the zero mark, degrees ATDC.",
			"61 deg", 0, 180, func(e *ev, v read) { e.PistonStop.After = v.num() }),
		oneOf("engine.starting", "What the engine does on the starter.",
			func(e *ev, w string) { e.Engine.Starting = w },
			startWords...),
		oneOf("engine.running", "How it runs.", func(e *ev, w string) { e.Engine.Running = w }, runWords...),
		mis,
		num[quantity.Voltage]("battery.rest", "Battery at rest.", "12.5 V", 0, 60,
			func(e *ev, v read) { e.Battery.Rest = v.num() }),
		num[quantity.Voltage]("battery.cranking", "Supply while the starter turns.", "9.8 V", 0, 60,
			func(e *ev, v read) { e.Battery.Cranking = v.num() }),
		num[quantity.Voltage]("battery.running", "Supply with the engine running.", "13.8 V", 0, 60,
			func(e *ev, v read) { e.Battery.Running = v.num() }),
		num[quantity.Voltage]("battery.crank_pickup", "Supply at the crank pickup, key on.", "12.3 V", 0, 60,
			func(e *ev, v read) { e.Battery.CrankPickup = v.num() }),
		num[quantity.Voltage]("battery.cam_pickup", "Supply at the cam pickup, key on.", "12.3 V", 0, 60,
			func(e *ev, v read) { e.Battery.CamPickup = v.num() }),
		num[quantity.Time]("settings.allowance", "Delay allowance read back.", "100 us", 0, 20000,
			func(e *ev, v read) { e.Settings.Allowance = v.num() }),
		num[quantity.Crank]("settings.lead", "Trigger lead read back.", "60 deg", 0, 360,
			func(e *ev, v read) { e.Settings.Lead = v.num() }),
		num[quantity.Time]("settings.dwell", "Dwell read back.", "3.2 ms", 0, lots,
			func(e *ev, v read) { e.Settings.Dwell = v.num() }),
		oneOf("settings.edge", "Active edge read back.", func(e *ev, w string) { e.Settings.Edge = w }, edgeWords...),
		oneOf("settings.lock", "Whether the timing is locked.", func(e *ev, w string) { e.Settings.Lock = w },
			lockWords...),
		num[quantity.Crank]("timing_light.dial", "Where the light's own dial stands.", "0 deg", -90, 90,
			func(e *ev, v read) { e.Dial = v.num() }),
		oneOf("cap.traces", "Marks of the spark on the cap's terminals.", func(e *ev, w string) { e.Cap.Traces = w },
			traceWords...),
		oneOf("cap.wires", "Wires followed from tower to plug, against firing order and rotor direction.",
			func(e *ev, w string) { e.Cap.Wires = w }, rightWrong...),
		oneOf("spark", "Spark at a tester on the starter.", func(e *ev, w string) { e.Spark = w }, sparkWords...),
		edges, extra,
		oneOf("capture.extra_at", "When the extra edges come.", func(e *ev, w string) { e.Capture.ExtraAt = w },
			extraWords...),
		num[quantity.Crank]("capture.scatter", "Scatter of single crank edges, standard deviation.", "0.1 deg", 0, 60,
			func(e *ev, v read) { e.Capture.Scatter = v.num() }),
		num[quantity.Crank]("capture.swing", "Swing of the crank edges once a shaft turn, amplitude.", "0.1 deg", 0, 60,
			func(e *ev, v read) { e.Capture.Swing = v.num() }),
		oneOf("capture.vane", "Whether one vane stands off its place.", func(e *ev, w string) { e.Capture.Vane = w },
			vaneWords...),
		oneOf("capture.sync", "Whether crank and cam gave sync.", func(e *ev, w string) { e.Capture.Sync = w },
			syncWords...),
		num[quantity.Crank]("capture.offset", "Constant timing error through a mark channel, early positive.",
			"2 deg ± 0.3 deg", -180, 180, func(e *ev, v read) { e.Capture.Offset = v.num() }),
		num[quantity.Time]("capture.delay", "Delay left over through a mark channel, late with speed positive.",
			"40 us ± 10 us", -20000, 20000, func(e *ev, v read) { e.Capture.Delay = v.num() }),
		num[quantity.Time]("capture.dwell", "Dwell as driven.", "3.2 ms", 0, lots,
			func(e *ev, v read) { e.Capture.Dwell = v.num() }),
		oneOf("capture.wrong_edge", "Whether the sparks follow the other edge than the card says.",
			func(e *ev, w string) { e.Capture.WrongEdge = w }, yesNo...),
		oneOf("capture.leads_swapped", "Whether crank and cam stand on each other's channel.",
			func(e *ev, w string) { e.Capture.LeadsSwapped = w }, yesNo...),
		oneOf("capture.polarity", "Polarity of a variable-reluctance signal.",
			func(e *ev, w string) { e.Capture.Polarity = w }, polarityWords...),
	}
	notes := field{Field{Path: "notes", Doc: "Anything else, in words: kept, not weighed.", Example: "new cap in May",
		kind: text, set: func(e *ev, v read) { e.Notes = v.word }}, unit{}}
	number := field{Field{Path: "cylinders.cylinder", Doc: "Which cylinder.", Example: "3", kind: number, low: 1,
		high: 16, set: func(e *ev, v read) { last(e.Cylinders).Cylinder = int(v.n.Value) }}, unit{}}
	list = append(list, notes, number)
	for _, o := range observations() {
		if !o.listed {
			list = append(list, o.field(func(e *ev) *Seen { return e.seen() }))
		}
	}
	for _, o := range cylinderObservations() {
		list = append(list, o.field(func(e *ev) *Seen { return &last(e.Cylinders).Seen }))
	}
	return list
}

// Fields is the table for documentation: every key with its sentence and an example.
func Fields() []Field {
	var out []Field
	for _, f := range fields() {
		out = append(out, f.Field)
	}
	return out
}

// Accepts says what may be written as the value.
func (f field) Accepts() string {
	with := ""
	if len(f.words) > 0 && f.kind != word && f.kind != words {
		with = ", or " + strings.Join(f.words, ", ")
	}
	switch f.kind {
	case measure:
		return f.unit.accepts + with
	case number:
		return fmt.Sprintf("a number from %g to %g", f.low, f.high) + with
	case counts:
		return "a list of cylinder numbers such as " + f.Example
	case words:
		return "a list of " + strings.Join(f.words, ", ")
	}
	return "one of: " + strings.Join(f.words, ", ")
}

// Choices are the words that the field takes; for a list of words, all that may stand in it.
func (f Field) Choices() []string {
	if f.kind == word || f.kind == words {
		return f.words
	}
	return nil
}

// Many says whether the field takes a list.
func (f Field) Many() bool { return f.kind == words || f.kind == counts }

// InList says whether the field stands in an entry of a list, such as one look with the light.
func (f Field) InList() bool {
	for _, s := range sections() {
		if s.list && strings.HasPrefix(f.Path, s.key+".") {
			return true
		}
	}
	return false
}
