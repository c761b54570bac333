package phasewright_test

import (
	"bytes"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/coil"
	"phasewright/cranking"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/suspects"
	"phasewright/verdict"
)

var update = flag.Bool("update", false, "write the tables of docs/sums.md that are made from the code anew")

// declaredHere are the constants that each room declares.
func declaredHere() map[string][]quantity.Constant {
	return map[string][]quantity.Constant{"sheet": sheet.Constants(), "procedure": procedure.Constants(),
		"suspects": suspects.Constants(), "readings": readings.Constants(), "verdict": verdict.Constants(),
		"leads": leads.Constants(), "bench": bench.LiveConstants()}
}

// A constant has a name of its own, and a source or a range that holds its value.
func TestEveryConstantHasARangeOrASource(t *testing.T) {
	for room, list := range declaredHere() {
		if len(list) < 4 {
			t.Fatalf("%s declares %d constants", room, len(list))
		}
		for i, k := range list {
			if k.Assumed() && !(k.Low < k.High) {
				t.Errorf("%s: %s is assumed and has no range", room, k.Name)
			}
			if k.Range() != "" && !(k.Low <= k.Value && k.Value <= k.High) {
				t.Errorf("%s: %s lies outside its own range", room, k.Said())
			}
			if k.Name == "" || len(k.Where) == 0 {
				t.Errorf("%s: %+v shows nowhere", room, k)
			}
			if slices.ContainsFunc(list[:i], func(o quantity.Constant) bool { return o.Name == k.Name }) {
				t.Errorf("%s: two constants are called %s", room, k.Name)
			}
		}
	}
}

// variants are cards that between them bring up every item and every rule of the sheet: the examples, and what their
// owners might have left out.
func variants(t *testing.T) []*jobcard.Card {
	t.Helper()
	var out []*jobcard.Card
	for _, e := range examples.Cards() {
		for _, change := range [][2]string{{"", ""}, {"output: coil driver", "output: spark box, box_voltage: 38 kV"},
			{"compression_ratio: ", "cranking_pressure: 11 bar, compression_ratio: "}, {"inertia", "# inertia"}, {"± 0.3 mm", ""}, {"± 0.5 mm", ""}, {"pairs", ""}} {
			text := e.YAML
			switch change[0] {
			case "inertia":
				text = inertia(text)
			case "pairs":
				text = strings.Replace(text, "rotation: ", "use: signal only, rotation: ", 2)
				text = strings.Replace(text, "use: signal only, ", "", 1) // the first is the engine's
				text = strings.Replace(text, "output: ", "coils: companion pairs, output: ", 1)
			default:
				text = strings.ReplaceAll(text, change[0], change[1])
			}
			if c, err := jobcard.Parse(e.Name, []byte(text)); err == nil {
				out = append(out, c)
			} else if change[0] == "" {
				t.Fatal(err)
			}
		}
	}
	return out
}

// inertia takes the inertia out of a card's text.
func inertia(text string) string {
	before, after, found := strings.Cut(text, "inertia: ")
	if !found {
		return text
	}
	_, after, _ = strings.Cut(after, ", ")
	return before + after
}

// Every constant that an item of the sheet rests on stands among its inputs with its range or source, as assumed where
// it is; and what the text of the sheet says of it is that.
func TestEveryConstantOfTheSheetIsShown(t *testing.T) {
	shown := map[string]bool{}
	for _, c := range variants(t) {
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := s.WriteText(&text, 100); err != nil {
			t.Fatal(err)
		}
		words := strings.Join(strings.Fields(text.String()), "")
		for _, it := range s.Items {
			for _, in := range it.Inputs {
				for _, k := range sheet.Constants() {
					if k.Name != in.Path {
						continue
					}
					shown[k.Name] = true
					if in.Value != k.String() || in.Assumed != k.Assumed() || in.Assumed && !strings.Contains(in.Value, k.Range()) ||
						!in.Assumed && !strings.Contains(in.Value, k.Source) {
						t.Errorf("%s: %s shows %q with %s, want %q", c.Job.Name, it.ID, in.Value, in.Path, k.Said())
					}
					if said := strings.Join(strings.Fields(k.Name+k.String()), ""); in.Assumed && !strings.Contains(words, said) {
						t.Errorf("%s: the text of the sheet does not say %q", c.Job.Name, said)
					}
				}
			}
		}
	}
	for _, k := range sheet.Constants() {
		onCard := slices.ContainsFunc(k.Where, func(w string) bool { return strings.Contains(w, ".") })
		if !shown[k.Name] && !onCard {
			t.Errorf("no item of any sheet shows %q, which %v rest on", k.Name, k.Where)
		}
	}
}

// What stands in for a field of the card is shown with its range wherever an item rests on it.
func TestEveryDefaultIsShownWithItsRange(t *testing.T) {
	none := map[string]string{ // stand-ins without a range
		"tolerance":               "a demand, no estimate",
		"controller.signal_delay": "its ± is its range", "controller.latency": "its ± is its range",
		"distributor.tower_for_no1": "a choice", "ignition.plugs": "a choice",
		"distributor.gear_teeth": "none: no gear", "distributor.helix_angle": "nought: straight or not measured",
		"distributor.gear_diameter": "nought: not measured", "distributor.drop_travel": "nought: not measured",
		"distributor.seat_gap": "nought: not measured", "distributor.gear_engagement": "nought: not measured",
	}
	for _, f := range jobcard.Fields() {
		numeric := strings.ContainsAny(f.Default, "0123456789")
		if limits := jobcard.Within(f.Path); numeric == (limits == "") && none[f.Path] == "" && (numeric || f.Default != "") {
			t.Errorf("%s: default %q, range %q", f.Path, f.Default, limits)
		}
	}
	for _, c := range variants(t) {
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatal(err)
		}
		for _, it := range s.Items {
			for _, in := range it.Inputs {
				if c.Assumed(in.Path) && !strings.Contains(in.Value, jobcard.Within(in.Path)) && !strings.Contains(in.Value, "±") {
					t.Errorf("%s: %s shows %s %s without %s", c.Job.Name, it.ID, in.Path, in.Value, jobcard.Within(in.Path))
				}
			}
		}
	}
}

// The order of work, the ranking of suspects and the proof say their own numbers where they are used.
func TestEveryOtherConstantIsShown(t *testing.T) {
	card, err := jobcard.Parse("sandpiper.yaml", []byte(examples.Cards()[0].YAML))
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(card)
	if err != nil {
		t.Fatal(err)
	}
	p, err := procedure.New(card, s)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range procedure.Constants() {
		for _, where := range k.Where {
			id, isStep := strings.CutPrefix(where, "step ")
			if !isStep { // a break is recorded with its time: room procedure tests it
				continue
			}
			st, found := p.Step(procedure.StepID(id))
			if !found || !strings.Contains(strings.Join(st.Notes, " "), k.Said()) {
				t.Errorf("the step %s does not say %q", id, k.Said())
			}
		}
	}
	e, err := suspects.New(card, suspects.DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	// all that can be worked on, and every look that is measured against a limit, at invented values
	seen, err := suspects.ReadEvidence("all.yaml", []byte(`worked_on: [unit, housing, wires, settings, light, pickups,
  damper, cap, coil, drive, plugs, wiring, fuel, chain, battery]
battery: {feed_drop: 0.2 V, ground_drop: 0.1 V, coil: 12.4 V, coil_running: 13.8 V}
pickup: {crank_pulse: 1.2 V, cam_pulse: 1.2 V, crank_gap: 0.8 mm, cam_gap: 0.8 mm}
rotor: {resistance: 5 kohm, from_crank: 2 deg}
coil: {secondary: 8 kohm}
capture: {cam_margin: 12 deg}
cylinders: [{cylinder: 1, cut_drop: 60 rpm, jump: 8 mm, wire: 6 kohm}]
`))
	if err != nil {
		t.Fatal(err)
	}
	r, err := e.Explain(seen, suspects.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	reluctor := bench.Default() // a pulse is measured of reluctance pickups alone
	reluctor.Crank.Kind = jobcard.Reluctor
	if e, err = suspects.NewFor(reluctor, suspects.DefaultPriors()); err != nil {
		t.Fatal(err)
	}
	pulse, err := e.Explain(seen, suspects.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	r.RestsOn = append(r.RestsOn, pulse.RestsOn...)
	leading := map[string]bool{}
	for _, x := range r.Suspects[:4] {
		for _, f := range x.Faults {
			leading[f] = true
		}
	}
	for _, k := range suspects.Constants() {
		fault, odds := strings.CutPrefix(k.Name, "odds of ")
		if odds && !leading[fault] {
			continue
		}
		if !slices.Contains(r.RestsOn, k.Said()) {
			t.Errorf("the ranking does not say %q", k.Said())
		}
	}
	proof, err := readings.Prove(nil, []readings.Row{{Speed: 800, Locked: 10, Shown: 10.1}, {Speed: 2000, Locked: 10, Shown: 10.2},
		{Speed: 3500, Locked: 10, Shown: 9.9}}, readings.FromCard(card), readings.FromCard(card), readings.Simulation{})
	if err != nil {
		t.Fatal(err)
	}
	says := verdict.Judge(verdict.Evidence{Card: card})
	for _, k := range verdict.Constants() {
		if !slices.Contains(says.RestsOn, k.Said()) {
			t.Errorf("the judgement does not say %q", k.Said())
		}
	}
	for _, k := range readings.Constants() {
		if k.Where[0] == "the proof" && !strings.Contains(strings.Join(proof.Warnings, "\n"), k.String()) {
			t.Errorf("the proof does not say %q: %q", k.String(), proof.Warnings)
		}
	}
}

// noJudgement are numbers in the rooms below that no verdict rests on as a judgement of ours, by room and function.
var noJudgement = map[string]string{
	"verdict.clauses": "minutes that a look takes, said with about",
	"sheet.expect":    "what is worth a word", "sheet.place": "what is worth a word", "sheet.centreItem": "printing", "sheet.tdcItems": "printing: a tenth of a millimetre", "sheet.crankingBand": "printing: a tenth of a degree", "coil.kelvin": "unit", "coil.atmosphere": "unit", "coil.room": "unit",
	"coil.gaussNode": "quadrature", "coil.gaussWeight": "quadrature",
	"coil.Check": "bounds of what can be", "coil.CheckGap": "bounds of what can be", "coil.LargestPlugGap": "ends of a search",
	"coil.Supplies6To16": "ends of a table", "coil.speeds": "ends of an axis",
	"coil.TooShort": "bits", "coil.chargeAt": "rounding", "coil.FieldKnown": "unit", "cranking.Validate": "bounds of what can be",
	"cranking.Assumed": "the inlet pressure of the bench's own engine; FromCard sets another",
	"cranking.nozzle":  "worked out from the ratio of heat capacities, which has a name",
}

// plainSums are files of numerical method, whose numbers are steps, starts and tolerances.
var plainSums = []string{"coil/fit.go", "coil/charge.go", "coil/floored.go", "coil/table.go", "cranking/turning.go",
	"cranking/torque.go", "cranking/bias.go", "sheet/decide.go", "sheet/try.go", "sheet/wire.go"}

// In the rooms that judge by numbers of their own every such number has a name and stands in that room's list; numbers
// elsewhere in the code are listed above with the reason why they are none.
func TestNoConstantIsHidden(t *testing.T) {
	used := map[string]bool{}
	for _, room := range []string{"sheet", "coil", "cranking", "verdict"} {
		list, err := os.ReadFile(filepath.Join(room, "constants.go"))
		if err != nil {
			t.Fatal(err)
		}
		_, rows, _ := strings.Cut(string(list), "func ") // behind the declarations
		files, err := filepath.Glob(filepath.Join(room, "*.go"))
		if err != nil || len(files) < 5 {
			t.Fatal(err, len(files))
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			positions := token.NewFileSet()
			tree, err := parser.ParseFile(positions, name, nil, parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range tree.Decls {
				switch d := d.(type) {
				case *ast.GenDecl:
					for _, spec := range d.Specs {
						v, isValue := spec.(*ast.ValueSpec)
						if !isValue || (d.Tok != token.CONST && d.Tok != token.VAR) {
							continue
						}
						for i, id := range v.Names {
							if i >= len(v.Values) || !hasNumber(v.Values[i]) {
								continue
							}
							key := room + "." + id.Name
							switch {
							case noJudgement[key] != "":
								used[key] = true
							case slices.Contains(plainSums, filepath.ToSlash(name)) && !strings.Contains(rows, id.Name):
							case !strings.Contains(rows, id.Name):
								t.Errorf("%v: %s is declared and not in the room's list: put it into Constants with a range or a source",
									positions.Position(id.Pos()), id.Name)
							}
						}
					}
				case *ast.FuncDecl:
					if filepath.Base(name) == "constants.go" || slices.Contains(plainSums, filepath.ToSlash(name)) {
						continue
					}
					key := room + "." + d.Name.Name
					ast.Inspect(d, func(n ast.Node) bool {
						x, ok := n.(*ast.BasicLit)
						if !ok || x.Kind != token.FLOAT || slices.Contains([]string{"0.0", "1.0", "0.5", "1e3", "1e5", "1e6", "1e-3", "1e-6", "1e12"}, x.Value) {
							return true
						}
						if noJudgement[key] == "" {
							t.Errorf("%v: %s stands in %s without a name: declare it, with a range or a source",
								positions.Position(x.Pos()), x.Value, d.Name.Name)
						}
						used[key] = true
						return true
					})
				}
			}
		}
	}
	for key := range noJudgement {
		if !used[key] {
			t.Errorf("%s holds no number any more: take it out of the table", key)
		}
	}
}

func hasNumber(e ast.Expr) bool {
	found := false
	ast.Inspect(e, func(n ast.Node) bool {
		x, ok := n.(*ast.BasicLit)
		found = found || ok && (x.Kind == token.FLOAT || x.Kind == token.INT)
		return true
	})
	return found
}

// ourNumbers begins the part of docs/sums.md that is made from the code.
const ourNumbers = "## Our own numbers"

// tables is that part.
func tables() string {
	var b strings.Builder
	b.WriteString(ourNumbers + `

Numbers that a verdict rests on and that no card holds. *Assumed*: no source, and the range is what it may as well be. An input of a sheet
shows them with their range or source; so do the notes of a step, the ranking of suspects and the proof. The table is made from the rooms'
own lists; ` + "`go test . -run OwnNumbers -update`" + ` writes it anew.

| number | value | range | unit | source | shows at |
| --- | --- | --- | --- | --- | --- |
`)
	row := func(k quantity.Constant) {
		source := k.Source
		if k.Assumed() {
			source = "*assumed*"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s |\n", k.Name, quantity.Number(k.Value, -1), k.Range(), k.Unit, source,
			strings.Join(k.Where, ", "))
	}
	for _, room := range []struct {
		name string
		list []quantity.Constant
	}{{"set-up sheet", ofSheetAlone()}, {"cranking", cranking.Constants()}, {"coil and spark", slices.Concat(coil.Constants(),
		coil.CapConstants(), coil.PairConstants())}, {"order of work", procedure.Constants()}, {"readings and proof", readings.Constants()},
		{"bench, and the suspects weighed by it", bench.Constants()}, {"live bench", bench.LiveConstants()}, {"suspects", ofSuspectsAlone()}, {"verdict", verdict.Constants()}, {"leads for a recorder", leads.Constants()}} {
		fmt.Fprintf(&b, "| **%s** | | | | | |\n", room.name)
		for _, k := range room.list {
			row(k)
		}
	}
	b.WriteString(`
What stands in for a field of the job card that is left out, *assumed* everywhere, shown with its range by every item that rests on it:

| field | stands in | range |
| --- | --- | --- |
`)
	for _, f := range jobcard.Fields() {
		if limits := jobcard.Within(f.Path); limits != "" {
			value := f.Default
			if value == "" {
				value = "worked out from other fields"
			}
			fmt.Fprintf(&b, "| `%s` | %s | %s |\n", f.Path, value, limits)
		}
	}
	return b.String()
}

func without(list []quantity.Constant, others ...quantity.Constant) []quantity.Constant {
	return slices.DeleteFunc(list, func(k quantity.Constant) bool {
		return slices.ContainsFunc(others, func(o quantity.Constant) bool { return o.Name == k.Name })
	})
}

func ofSheetAlone() []quantity.Constant {
	return without(sheet.Constants(), slices.Concat(cranking.Constants(), coil.Constants(), coil.CapConstants(),
		coil.PairConstants())...)
}

func ofSuspectsAlone() []quantity.Constant {
	return without(suspects.Constants(), bench.Constants()...)
}

// The tables of our own numbers in docs/sums.md are those of the code.
func TestOwnNumbersAreInTheBook(t *testing.T) {
	text, err := os.ReadFile("docs/sums.md")
	if err != nil {
		t.Fatal(err)
	}
	before, after, _ := strings.Cut(string(text), ourNumbers)
	want := tables()
	if *update {
		if err := os.WriteFile("docs/sums.md", []byte(before+want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if ourNumbers+after != want {
		t.Error("docs/sums.md does not have the code's own numbers: run go test . -run OwnNumbers -update and look at the difference")
	}
}
