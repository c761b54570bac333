package suspects

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/google/jsonschema-go/jsonschema"

	"phasewright/yamltext"
)

// Every key of the table with its own example is read, and the schema takes it.
func TestEveryKeyReadsItsExample(t *testing.T) {
	schema := compiled(t)
	for _, f := range fields() {
		text := f.Path + ": " + f.Example + "\n"
		if sec, key, ok := strings.Cut(f.Path, "."); ok {
			text = sec + ":\n  " + key + ": " + quoted(f) + "\n"
			for _, s := range sections() {
				if s.key == sec && s.list {
					need := ""
					if sec == "light" && key != "speed" {
						need = "    speed: 750 rpm\n"
					}
					if sec == "cylinders" && key != "cylinder" {
						need = "    cylinder: 3\n"
					}
					text = sec + ":\n  - " + key + ": " + quoted(f) + "\n" + need
				}
			}
		}
		if _, err := ReadEvidence("e.yaml", []byte(text)); err != nil {
			t.Errorf("%s: %v", f.Path, err)
		}
		holds(t, schema, f.Path, text)
		if f.Doc == "" || !strings.HasSuffix(f.Doc, ".") {
			t.Errorf("%s has no sentence of its own", f.Path)
		}
	}
}

func quoted(f field) string {
	if f.kind == word {
		return `"` + f.Example + `"`
	}
	return f.Example
}

func compiled(t *testing.T) *jsonschema.Resolved {
	t.Helper()
	var s jsonschema.Schema
	if err := json.Unmarshal(SchemaJSON(), &s); err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func holds(t *testing.T, s *jsonschema.Resolved, name, text string) {
	t.Helper()
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var plain any
	if err := json.Unmarshal(data, &plain); err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(plain); err != nil {
		t.Errorf("%s: the schema refuses %q: %v", name, text, err)
	}
}

func TestExamplesReadAndFitTheSchema(t *testing.T) {
	names, _ := filepath.Glob("../examples/evidence/*.evidence.yaml")
	if len(names) < 3 {
		t.Fatalf("only %d examples found", len(names))
	}
	schema := compiled(t)
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ReadEvidence(name, data); err != nil {
			t.Errorf("%v", err)
		}
		holds(t, schema, name, string(data))
	}
}

// What is wrong is named with its place and with what is accepted.
func TestBadEvidenceIsNamed(t *testing.T) {
	for _, tc := range []struct {
		text, want string
	}{
		{"", "e.yaml:1:1: the file is empty; "},
		{"lights: []", "e.yaml:1:1: lights: is not a key of evidence; did you mean light?"},
		{"light:\n  - {speed: 750 rpm, shwon: 3 deg}", "e.yaml:2:22: light 1.shwon: is not a key of evidence; did you mean shown?"},
		{"light:\n  - {shown: 3 deg}", "e.yaml:2:6: light 1: has no speed; write speed"},
		{"cylinders:\n  - {spark: weak}", "e.yaml:2:6: cylinders 1: has no cylinder; write cylinder"},
		{"light:\n  - {speed: 750}", `light.speed: "750" has no unit; write a speed such as 750 rpm`},
		{"light:\n  - {speed: 750 rpm, shown: 12..5 deg}", `e.yaml:2:29: light.shown: "12..5 deg"`},
		{"light:\n  - {speed: -750 rpm}", "light.speed: -750 rpm is impossible here; write a value from 20 to 30000"},
		{"light:\n  - {speed: 750 rpm, shown: 700 deg}", "is impossible here"},
		{"light: 3", "light: is not a list"},
		{"compression: flt", `"flt" is not known here; did you mean "felt"?`},
		{"compression: [felt]", "compression: is a list"},
		{"engine: {misfire: 3}", "engine.misfire: is not a list"},
		{"engine: {misfire: [3, 3]}", "stands twice"},
		{"engine: {misfire: [0]}", "is not a cylinder"},
		{"worked_on: [unit, horn]", `"horn" is not known here`},
		{"spark: weak\nspark: strong", "spark: stands twice (first in line 1)"},
		{"spark: weak\n---\nspark: strong", "holds 2 documents"},
		{"spark: {a", "this is not YAML"},
		{"spark: \x00", "not text"},
		{strings.Repeat("[", 50), "nested too deep"},
		{"capture: {crank_edges: 5.5}", "is not a whole number"},
		{"spark: &x weak", "has no plain value"},
		{"rotor: {play: 0.2 mm}", "rotor.play"},
	} {
		ev, err := ReadEvidence("e.yaml", []byte(tc.text))
		var es Errors
		if err == nil || ev != nil || !errors.As(err, &es) {
			t.Errorf("%q was taken: %v", tc.text, err)
			continue
		}
		if !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%q: %v\nwanted %q", tc.text, err, tc.want)
		}
	}
}

func TestPriorsOfAShop(t *testing.T) {
	p, err := ReadPriors("p.yaml", []byte("nothing: 0.1\nweight: {damper: 40, delay: 0}\n"))
	if err != nil || p.Nothing != 0.1 || p.Weight[damper] != 40 || p.Weight[delay] != 0 || p.Weight[housing] != DefaultPriors().Weight[housing] {
		t.Errorf("%+v, %v", p, err)
	}
	for text, want := range map[string]string{
		"nothing: 2":            "p.yaml:1:10: nothing",
		"weight: {dampr: 3}":    "did you mean damper?",
		"weight: {damper: -3}":  "write a number from 0",
		"nothing: 1\nnone: 0.5": "below 1",
		"none: 0":               "none above 0",
		"odds: 3":               "is not a key",
	} {
		if _, err := ReadPriors("p.yaml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, wanted %q", text, err, want)
		}
	}
}

// Any text is read or refused with places, never with a panic.
func FuzzReadEvidence(f *testing.F) {
	for _, x := range fields() {
		f.Add(x.Path + ": " + x.Example)
	}
	f.Add("light:\n  - {speed: 750 rpm, shown: none}\n")
	f.Add("worked_on: [unit]\nengine: {misfire: []}\n")
	e, err := NewFor(testEngine(), DefaultPriors())
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		ev, err := ReadEvidence("e.yaml", []byte(text))
		if err != nil {
			var es Errors
			if !errors.As(err, &es) || len(es) == 0 || len(es) > yamltext.Most {
				t.Fatalf("%v", err)
			}
			for _, x := range es {
				if x.Line < 1 || x.Column < 1 || x.Problem == "" || x.Remedy == "" {
					t.Fatalf("%+v has no place or remedy", x)
				}
			}
			return
		}
		items, err := e.items(ev, mostLooks)
		if err != nil {
			return
		}
		var p point
		p.e = e
		for i := range items {
			it := &items[i]
			if it.numeric() {
				if it.v <= 0 || it.v != it.v {
					t.Fatalf("%s has the variance %g", it.id, it.v)
				}
			} else if c := it.chance(&p, make([]float64, 24)); !(c > 0 && c <= 1) {
				t.Fatalf("%s has the chance %g", it.id, c)
			}
		}
	})
}

// Any file of priors gives shares that add up to less than one, or is refused with places.
func FuzzReadPriors(f *testing.F) {
	for _, text := range []string{
		"nothing: 0.1\nweight: {damper: 40, delay: 0}\n", "none: 0.2\npair: 0.1\n", "weight: {dampr: 3}", "weight: [1]",
		"nothing: 1\nnone: 0.5", "pair: 1e999",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ReadPriors("p.yaml", []byte(text))
		if err == nil {
			if err := p.check(); err != nil {
				t.Fatalf("taken, and impossible: %v", err)
			}
			return
		}
		var es Errors
		if errors.As(err, &es) &&
			(len(es) == 0 || len(es) > yamltext.Most || es[0].Line < 1 || es[0].Column < 1 || es[0].Remedy == "") {
			t.Fatalf("no place or no remedy: %v", err)
		}
	})
}
