package jobcard_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/google/jsonschema-go/jsonschema"

	"phasewright/jobcard"
)

// examples are the invented cards that ship with the tool.
func examples(t testing.TB) map[string]string {
	t.Helper()
	names, _ := filepath.Glob("../examples/*.yaml")
	if len(names) < 6 {
		t.Fatalf("only %d example cards", len(names))
	}
	out := map[string]string{}
	for _, n := range names {
		data, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		out[filepath.Base(n)] = string(data)
	}
	return out
}

func TestExamplesParse(t *testing.T) {
	for name, text := range examples(t) {
		if _, err := jobcard.Parse(name, []byte(text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSandpiperInDetail(t *testing.T) {
	c, err := jobcard.Parse("sandpiper.yaml", []byte(examples(t)["sandpiper.yaml"]))
	if err != nil {
		t.Fatal(err)
	}
	if c.Engine.Bore != 94 || c.Signals.Crank.Lead != 60 || c.Coil.Resistance != 0.55 || c.Controller.DelayAllowance.Or(0) != 85 || c.Ignition.Dwell.Or(0) != 3200 || c.Tolerance != 1 {
		t.Errorf("values read wrongly: %+v", c)
	}
	if c.Spacing() != 120 || !c.EvenFire() || c.Signals.Cam.EdgeAt != 120 {
		t.Errorf("derived wrongly: spacing %v, cam edge %v", c.Spacing(), c.Signals.Cam.EdgeAt)
	}
	if !c.Assumed("controller.guard") || c.Assumed("engine.bore") {
		t.Error("what was assumed is not told from what was written")
	}
	if c.Distributor.RotorOffset != -21 { // by hand: −(60 − (2+34)/2)/2
		t.Errorf("rotor offset %v", c.Distributor.RotorOffset)
	}
}

func TestStarterParses(t *testing.T) {
	c, err := jobcard.Parse("starter", []byte(jobcard.Starter()))
	if err != nil || c.Coil.Stated {
		t.Fatalf("%v", err)
	}
	if k := c.Controller; k.Advance.Cranking.Given() || k.Advance.Locked.Given() || k.DelayAllowance.Given() || k.DelayStep.Given() || c.Ignition.Dwell.Given() {
		t.Errorf("a new card fills in what only the controller can tell: %+v, dwell %v", k, c.Ignition.Dwell)
	}
	// With every # taken away from keys, each example and default must parse as well; four keys exclude one another or
	// fit another engine only.
	keys := map[string]bool{"coil": true}
	for _, f := range jobcard.Fields() {
		keys[f.Path[strings.LastIndexByte(f.Path, '.')+1:]] = !f.Open // those have no value to try
	}
	var full strings.Builder
	for line := range strings.Lines(jobcard.Starter()) {
		bare := strings.TrimLeft(line, " ")
		key, isKey := strings.CutPrefix(bare, "# ")
		name, _, _ := strings.Cut(key, ":")
		switch {
		case !isKey || !keys[name]:
			full.WriteString(line)
		case name == "intervals" || name == "curve" || name == "charge" || name == "box_voltage":
		default:
			full.WriteString(line[:len(line)-len(bare)] + key)
		}
	}
	if c, err = jobcard.Parse("starter", []byte(full.String())); err != nil || !c.Coil.Stated {
		t.Fatal(err)
	}
}

// swap gives the sandpiper card with one text replaced by another.
func swap(t *testing.T, old, new string) string {
	t.Helper()
	text := examples(t)["sandpiper.yaml"]
	if strings.Count(text, old) < 1 {
		t.Fatalf("%q does not stand in the card", old)
	}
	return strings.Replace(text, old, new, 1)
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name, text string
		at         string // the text that stands at the place named; empty: not asked
		want       []string
	}{
		{"wrong unit", swap(t, "bore: 94 mm", "bore: 94 kg"), `94 kg`, []string{"engine.bore", `"94 kg"`, `unit "kg"`, "165 mm"}},
		{"no unit", swap(t, "bore: 94 mm", "bore: 94"), `94, stroke`, []string{"engine.bore", "has no unit"}},
		{"impossible", swap(t, "bore: 94 mm", "bore: 94 m"), `94 m,`, []string{"engine.bore", "impossible", "from 20"}},
		{"unknown key", swap(t, "bore: 94 mm", "boore: 94 mm"), `boore`, []string{"engine.boore", "did you mean bore?"}},
		{"unknown section", swap(t, "damper:     ", "dampr:      "), `dampr`, []string{"dampr", "did you mean damper?"}},
		{"duplicate", swap(t, "bore: 94 mm", "bore: 94 mm, bore: 95 mm"), `bore: 95`, []string{"engine.bore", "stands twice", "line 3"}},
		{"missing", swap(t, "bore: 94 mm, ", ""), `engine:`, []string{"engine.bore", "is missing", "bore, such as 94 mm"}},
		{"missing section", swap(t, "damper:      {diameter: 168 mm ± 0.3 mm, mark_placement: 0.5 mm, zero_mark: 0.3 deg}", ""), `# Inline`, []string{"damper.diameter", "is missing"}},
		{"no permutation", swap(t, "[1, 5, 3, 6, 2, 4]", "[1, 5, 3, 6, 2, 2]"), `firing_order`, []string{"engine.firing_order", "not a permutation"}},
		{"count", swap(t, "cylinders: 6", "cylinders: 8"), `firing_order`, []string{"engine.firing_order", "lists 6 cylinders"}},
		{"intervals", swap(t, "rotation: clockwise", "intervals: [120 deg, 120 deg, 120 deg, 120 deg, 120 deg, 100 deg], rotation: clockwise"), `intervals`, []string{"engine.intervals", "700°", "720"}},
		{"lead", swap(t, "lead: 60 deg", "lead: 130 deg"), `lead: 130`, []string{"signals.crank.lead", "120°"}},
		{"advance", swap(t, "max: 34 deg", "max: 62 deg"), `max: 62`, []string{"controller.advance.max", "trigger lead of 60°"}},
		{"vane", swap(t, "vane_width: 15 deg", "vane_width: 61 deg"), `vane_width: 61`, []string{"signals.crank.vane_width", "narrower than"}},
		{"choice", swap(t, "active_edge: falling", "active_edge: faling"), `faling`, []string{`"faling"`, `did you mean "falling"?`}},
		{"direction", swap(t, "rotation: clockwise", "rotation: right"), `right`, []string{`"right"`, "clockwise or counterclockwise"}},
		{"idle", swap(t, "idle_speed: 750 rpm", "idle_speed: 150 rpm"), ``, []string{"not below the idle speed"}},
		{"tower", swap(t, "tower_for_no1: 4", "tower_for_no1: 7"), ``, []string{"tower 7"}},
		{"two irons", swap(t, "saturates_at: 8 A", "saturates_at: 8 A, curve: [[0 A, 5 mH], [4 A, 4 mH]]"), ``, []string{"another description"}},
		{"box voltage beside a coil driver", swap(t, "plug_gap: 0.8 mm", "plug_gap: 0.8 mm, box_voltage: 38 kV ± 4 kV"), ``, []string{"ignition.box_voltage", "beside a coil driver", "spark box"}},
		{"box voltage in volts", swap(t, "output: coil driver", "box_voltage: 38 V, output: spark box"), `38 V`, []string{"ignition.box_voltage", "impossible", "from 1"}},
		{"box voltage far too wide", swap(t, "output: coil driver", "box_voltage: 38 kV ± 20 kV, output: spark box"), `38 kV`, []string{"ignition.box_voltage", "half-width"}},
		{"ceiling", swap(t, "saturates_at: 8 A", "saturates_at: 8 A, ceiling: 40 V"), `40 V`, []string{"coil.ceiling", "impossible"}},
		{"thousand", swap(t, "inertia: 0.32 kg.m2", `inertia: "1,200 kg.m2"`), ``, []string{"thousand or a decimal"}}, // both are possible
		{"alias", swap(t, "94 mm", "&b 94 mm"), ``, []string{"anchor or alias"}},
		{"tag", swap(t, "94 mm", "!!str 94 mm"), ``, []string{"YAML tag"}},
		{"list", swap(t, "94 mm", "[94 mm]"), ``, []string{"is a list"}},
		{"null", swap(t, "94 mm", ""), ``, []string{"has no value"}},
		{"not keys", "just words", ``, []string{"holds a single value where keys are wanted"}},
		{"a list of cards", "- a\n- b\n", ``, []string{"holds a list"}},
		{"empty", "", ``, []string{"the file is empty"}},
		{"blank", " \n\n", ``, []string{"the file is empty"}},
		{"comments", "# only\n", ``, []string{"only comments"}},
		{"utf-16", "\xff\xfej\x00", ``, []string{"UTF-16", "UTF-8"}},
		{"binary", "job:\x00\x01", ``, []string{"not text"}},
		{"latin-1", "job: {name: \"M\xfchle\"}\n", "\xfc", []string{"not UTF-8"}},
		{"two documents", "a: 1\n---\nb: 2\n", ``, []string{"2 documents"}},
		{"deep", strings.Repeat("[", 60000), ``, []string{"nested too deep"}},
		{"deep dashes", "job: " + strings.Repeat("- ", 30000), ``, []string{"nested too deep"}},
		{"huge", "job: " + strings.Repeat("x", 300000), ``, []string{"bytes"}},
		{"syntax", "job: {name: \n", ``, []string{"not YAML"}},
		{"long name", swap(t, `"Sandpiper, main engine"`, strings.Repeat("N", 600)), ``, []string{"600 characters"}},
		{"control", swap(t, `"Sandpiper, main engine"`, `"a\u0007b"`), ``, []string{"control character"}},
	} {
		_, err := jobcard.Parse("card.yaml", []byte(c.text))
		var es jobcard.Errors
		if !errors.As(err, &es) || len(es) == 0 {
			t.Errorf("%s: accepted, or not an Errors: %v", c.name, err)
			continue
		}
		message := es[0].Error()
		if c.at != "" {
			before, _, found := strings.Cut(c.text, c.at)
			line := strings.Count(before, "\n") + 1
			column := len([]rune(before[strings.LastIndexByte(before, '\n')+1:])) + 1
			if want := fmt.Sprintf("card.yaml:%d:%d: ", line, column); !found || !strings.HasPrefix(message, want) {
				t.Errorf("%s: %s; want it at %s", c.name, message, want)
			}
		}
		for _, w := range c.want {
			if !strings.Contains(message, w) {
				t.Errorf("%s: %q does not stand in: %s", c.name, w, message)
			}
		}
		if es[0].Remedy == "" {
			t.Errorf("%s: says what is wrong and not what to do: %s", c.name, message)
		}
	}
}

func TestBOMAndCRLF(t *testing.T) {
	text := "\xef\xbb\xbf" + strings.ReplaceAll(examples(t)["sandpiper.yaml"], "\n", "\r\n")
	if _, err := jobcard.Parse("card.yaml", []byte(text)); err != nil {
		t.Error(err)
	}
}

func TestExcerpt(t *testing.T) {
	_, err := jobcard.Parse("card.yaml", []byte(swap(t, "idle_speed: 750 rpm", "idle_speed: 750 mm")))
	var es jobcard.Errors
	errors.As(err, &es)
	lines := strings.Split(es[0].Excerpt(), "\n")
	if len(lines) != 2 {
		t.Fatalf("%q", es[0].Excerpt())
	}
	caret := len([]rune(lines[1])) - 1
	if !strings.HasPrefix(string([]rune(lines[0])[caret:]), "750 mm") {
		t.Errorf("the caret does not stand under the value:\n%s\n%s", lines[0], lines[1])
	}
}

func compiled(t *testing.T) *jsonschema.Resolved {
	t.Helper()
	var s jsonschema.Schema
	if err := json.Unmarshal(jobcard.SchemaJSON(), &s); err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// asJSON turns a card's text into the values that a JSON Schema validator sees.
func asJSON(t *testing.T, text string) any {
	t.Helper()
	js, err := yaml.YAMLToJSON([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(js, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// The schema and the parser must say the same, for every field: a general-purpose JSON Schema validator is the judge.
func TestSchemaAgreesWithParser(t *testing.T) {
	r := compiled(t)
	for name, text := range examples(t) {
		if err := r.Validate(asJSON(t, text)); err != nil {
			t.Errorf("%s: parses, and the schema refuses it: %v", name, err)
		}
	}
	base := examples(t)["sandpiper.yaml"]
	for _, f := range jobcard.Fields() {
		for _, bad := range []any{map[string]any{"x": 1}, []any{[]any{[]any{"1 deg"}}}, "3 parsecs", "12..5 mm", "", nil} {
			if _, free := bad.(string); free && strings.HasPrefix(f.Path, "job.") || f.Path == "distributor.gear_material" && free || f.Path == "distributor.cam_material" && free {
				continue // any text will do there
			}
			v := asJSON(t, base).(map[string]any)
			set(v, f.Path, bad)
			text, err := json.Marshal(v) // JSON is YAML
			if err != nil {
				t.Fatal(err)
			}
			_, parseErr := jobcard.Parse("x", text)
			schemaErr := r.Validate(v)
			if parseErr == nil || schemaErr == nil {
				t.Errorf("%s = %v: parser says %v, schema says %v; both must refuse", f.Path, bad, parseErr, schemaErr)
			}
		}
		for _, good := range []string{f.Example, f.Default} {
			if good == "" || f.Path == "engine.intervals" || f.Path == "coil.curve" || f.Path == "coil.charge" {
				continue
			}
			v := asJSON(t, base).(map[string]any)
			set(v, f.Path, asJSON(t, good))
			if err := r.Validate(v); err != nil {
				t.Errorf("%s = %s: the schema refuses it: %v", f.Path, good, err)
			}
		}
	}
}

// Every key that the schema knows the parser knows, and the other way round.
func TestSchemaKeys(t *testing.T) {
	var keys []string
	var walk func(path string, o map[string]any)
	walk = func(path string, o map[string]any) {
		properties, ok := o["properties"].(map[string]any)
		if !ok {
			keys = append(keys, strings.TrimPrefix(path, "."))
			return
		}
		for k, v := range properties {
			walk(path+"."+k, v.(map[string]any))
		}
	}
	walk("", jobcard.Schema())
	var want []string
	for _, f := range jobcard.Fields() {
		want = append(want, f.Path)
		if f.Doc == "" || f.Example == "" {
			t.Errorf("%s is not documented", f.Path)
		}
	}
	slices.Sort(keys)
	slices.Sort(want)
	if !slices.Equal(keys, want) {
		t.Errorf("schema knows %v\nparser knows %v", keys, want)
	}
}

func set(v map[string]any, path string, value any) {
	parts := strings.Split(path, ".")
	for _, p := range parts[:len(parts)-1] {
		next, ok := v[p].(map[string]any)
		if !ok {
			next = map[string]any{}
			v[p] = next
		}
		v = next
	}
	v[parts[len(parts)-1]] = value
}

func FuzzParse(f *testing.F) {
	for _, text := range examples(f) {
		f.Add([]byte(text))
	}
	f.Add([]byte(jobcard.Starter()))
	f.Add([]byte("job: &a {name: *a}"))
	f.Add([]byte("? ? ?\n- - -\n!!x"))
	f.Add([]byte("a: {<<: {b: 1}}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := jobcard.Parse("f", data)
		if (c == nil) == (err == nil) {
			t.Fatal("neither card nor error, or both")
		}
		var es jobcard.Errors
		if err != nil && (!errors.As(err, &es) || len(es) == 0 || len(es) > 20) {
			t.Fatalf("%T %v", err, err)
		}
		for _, e := range es {
			_ = fmt.Sprint(e.Error(), e.Excerpt())
			if e.Line < 1 || e.Column < 1 {
				t.Fatalf("no place: %v", e)
			}
		}
	})
}

// The cap is checked against the firings, and follows them where it is left out.
func TestCapFollowsTheFirings(t *testing.T) {
	const even = `job: {name: Test}
engine: {cylinders: 4, firing_order: [1, 3, 4, 2], rotation: clockwise, bore: 86 mm, stroke: 91 mm, rod: 150 mm, redline: 4500 rpm}
damper: {diameter: 150 mm}
distributor: {rotation: clockwise}
signals: {crank: {vane_width: 15 deg, active_edge: falling, lead: 60 deg}}
controller: {advance: {max: 31 deg}}
`
	odd := strings.Replace(even, "rotation: clockwise, bore", "intervals: [150 deg, 210 deg, 150 deg, 210 deg], rotation: clockwise, bore", 1)
	for _, c := range []struct {
		text, cap string
		want      jobcard.CapTowers
		refused   string
	}{
		{even, "", jobcard.EvenCap, ""}, {even, "cap: even, ", jobcard.EvenCap, ""}, {even, "cap: uneven, ", "", "distributor.cap"},
		{odd, "", jobcard.UnevenCap, ""}, {odd, "cap: even, ", jobcard.EvenCap, ""}, {odd, "cap: uneven, ", jobcard.UnevenCap, ""}, {odd, "cap: round, ", "", "distributor.cap"},
	} {
		card, err := jobcard.Parse("card.yaml", []byte(strings.Replace(c.text, "distributor: {", "distributor: {"+c.cap, 1)))
		if c.refused != "" {
			if err == nil || !strings.Contains(err.Error(), c.refused) || !strings.Contains(err.Error(), "write") {
				t.Errorf("%q: %v, want a refusal of %s that says what to write", c.cap, err, c.refused)
			}
			continue
		}
		if err != nil {
			t.Fatal(c.cap, err)
		}
		if card.Distributor.Cap != c.want || card.Assumed("distributor.cap") != (c.cap == "") {
			t.Errorf("%q gives %s, assumed %v", c.cap, card.Distributor.Cap, card.Assumed("distributor.cap"))
		}
	}
}
