package main

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/google/jsonschema-go/jsonschema"

	"phasewright/book"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/sheet"
	"phasewright/suspects"
	"phasewright/verdict"
)

var update = flag.Bool("update", false, "write docs/schema anew")

const schemaFolder = "../../docs/schema"

// printedSchemas are of what commands print with --json, each by the type that is printed.
var printedSchemas = []struct {
	name, title string
	is          reflect.Type
}{
	{"sheet", "What phasewright sheet --json prints", reflect.TypeFor[sheetData]()},
	{"leads", "What phasewright leads --json prints", reflect.TypeFor[leadsReport]()},
	{"fit", "What phasewright fit --json prints", reflect.TypeFor[fitted]()},
	{"proof", "What phasewright fit --before --json prints, and what a proof printed as PDF carries",
		reflect.TypeFor[record.Proved]()},
	{"capture", "What phasewright capture --json prints", reflect.TypeFor[judged]()},
	{"bench", "What phasewright bench CARD --json prints", reflect.TypeFor[benchReport]()},
	{"bench-trial", "What phasewright bench trial --json prints", reflect.TypeFor[trialReport]()},
	{"bench-judge", "What phasewright bench judge --json prints", reflect.TypeFor[judgeReport]()},
	{"suspects", "What phasewright suspects --json prints", reflect.TypeFor[ranked]()},
	{"merged", "A line of what phasewright book merge --json prints", reflect.TypeFor[mergedJob]()},
}

// schemas are all that stand in docs/schema but events, which is written by hand.
func schemas(t *testing.T) map[string][]byte {
	t.Helper()
	out := map[string][]byte{"card": jobcard.SchemaJSON(), "evidence": suspects.SchemaJSON(),
		"priors": suspects.PriorsSchemaJSON(), "job": book.ExportSchema(), "book": book.WholeSchema()}
	comments := fieldComments(t)
	for _, p := range printedSchemas {
		s, err := jsonschema.ForType(p.is, &jsonschema.ForOptions{TypeSchemas: wire(t)})
		if err != nil {
			t.Fatalf("%s: %v", p.name, err)
		}
		s.Schema, s.Title = "https://json-schema.org/draft/2020-12/schema", p.title
		describe(s, p.is, comments)
		text, err := json.MarshalIndent(s, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		out[p.name] = append(text, '\n')
	}
	return out
}

// wire are the types that are not printed as their fields stand.
func wire(t *testing.T) map[reflect.Type]*jsonschema.Schema {
	t.Helper()
	maybe := func(kind string) *jsonschema.Schema { return &jsonschema.Schema{Types: []string{kind, "null"}} }
	inside := func(of any, field string) reflect.Type {
		f, ok := reflect.TypeOf(of).FieldByName(field)
		if !ok {
			t.Fatalf("%T has no %s", of, field)
		}
		return f.Type
	}
	object := func(keys ...string) *jsonschema.Schema {
		s := &jsonschema.Schema{Type: "object", Properties: map[string]*jsonschema.Schema{}, Required: keys,
			AdditionalProperties: &jsonschema.Schema{Not: &jsonschema.Schema{}}, PropertyOrder: keys}
		for _, k := range keys {
			s.Properties[k] = maybe("number")
		}
		return s
	}
	words := func(words ...any) *jsonschema.Schema { return &jsonschema.Schema{Type: "string", Enum: words} }
	cylinder := object("cylinder", "offset_deg", "U_deg", "readings")
	for _, k := range []string{"cylinder", "readings"} {
		cylinder.Properties[k] = &jsonschema.Schema{Type: "integer"}
	}
	errorAt := object("rpm", "value", "U")
	errorAt.Properties["rpm"] = &jsonschema.Schema{Type: "number"}
	out := map[reflect.Type]*jsonschema.Schema{
		reflect.TypeFor[readings.Number]():               maybe("number"),
		inside(sheet.SparkMark{}, "RPM"):                 maybe("number"),
		inside(suspects.PlotPoint{}, "Predicted").Elem(): maybe("number"),
		reflect.TypeFor[readings.Interval]():             object("value", "u", "lo", "hi", "dof"),
		reflect.TypeFor[readings.ErrorAt]():              errorAt,
		reflect.TypeFor[readings.Cylinder]():             cylinder,
		reflect.TypeFor[book.Hash]():                     {Type: "string", Pattern: "^[0-9a-f]{64}$"},
		reflect.TypeFor[verdict.State]():                 words("shown", "broken", "open", "at odds", "not claimed"),
		reflect.TypeFor[verdict.Word]():                  words("pass", "fails", "not shown yet"),
	}
	item, err := jsonschema.For[sheet.Item](&jsonschema.ForOptions{TypeSchemas: out})
	if err != nil {
		t.Fatal(err)
	}
	item.Properties["value"] = maybe("number")
	out[reflect.TypeFor[sheet.Item]()] = item
	return out
}

// fieldComments are what our sources say of fields that are printed, by package, type and field.
func fieldComments(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	plain := func(groups ...*ast.CommentGroup) string {
		for _, g := range groups {
			if text := strings.Join(strings.Fields(g.Text()), " "); text != "" {
				return text
			}
		}
		return ""
	}
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.Name() == "node_modules" {
			return fs.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		folder, err := filepath.Rel("../..", filepath.Dir(path))
		ast.Inspect(file, func(n ast.Node) bool {
			spec, is := n.(*ast.TypeSpec)
			if !is {
				return true
			}
			fields, is := spec.Type.(*ast.StructType)
			if !is {
				return true
			}
			for _, f := range fields.Fields.List {
				for _, name := range f.Names {
					if text := plain(f.Comment, f.Doc); text != "" {
						out[filepath.ToSlash(folder)+"."+spec.Name.Name+"."+name.Name] = text
					}
				}
			}
			return true
		})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// describe puts the comments of the fields into a schema made from their type.
func describe(s *jsonschema.Schema, of reflect.Type, comments map[string]string) {
	for of.Kind() == reflect.Pointer {
		of = of.Elem()
	}
	switch of.Kind() {
	case reflect.Slice, reflect.Array:
		if s.Items != nil {
			describe(s.Items, of.Elem(), comments)
		}
	case reflect.Map:
		if s.AdditionalProperties != nil {
			describe(s.AdditionalProperties, of.Elem(), comments)
		}
	case reflect.Struct:
		place := strings.TrimPrefix(of.PkgPath(), "phasewright/")
		if place == "main" || strings.HasSuffix(place, ".test") {
			place = "cmd/phasewright"
		}
		for i := range of.NumField() {
			f := of.Field(i)
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if f.Anonymous && name == "" {
				describe(s, f.Type, comments)
				continue
			}
			field := s.Properties[name]
			if field == nil {
				continue
			}
			if field.Description == "" {
				field.Description = comments[place+"."+of.Name()+"."+f.Name]
			}
			describe(field, f.Type, comments)
		}
	}
}

// The schemas in docs/schema are what types and sources say: those of what is read and kept come from their rooms,
// those of what is printed from the printed types.
func TestSchemasAreWhatTheTypesSay(t *testing.T) {
	all := schemas(t)
	for name, text := range all {
		path := filepath.Join(schemaFolder, name+".schema.json")
		if *update {
			if err := os.MkdirAll(schemaFolder, 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if have, err := os.ReadFile(path); err != nil || !bytes.Equal(have, text) {
			t.Errorf("%s is not what the types say; run go test ./cmd/phasewright -run Schemas -update and look "+
				"at the difference (%v)", path, err)
		}
	}
	readme, err := os.ReadFile(filepath.Join(schemaFolder, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	found, err := filepath.Glob(filepath.Join(schemaFolder, "*.json"))
	if err != nil || len(found) != len(all)+1 { // and events, which is written by hand
		t.Errorf("%d files in docs/schema, for %d schemas: %v", len(found), len(all)+1, err)
	}
	for _, path := range found {
		if name := filepath.Base(path); !bytes.Contains(readme, []byte("| "+name+" ")) {
			t.Errorf("docs/schema/README.md says nothing of %s", name)
		}
	}
}

var resolved = map[string]*jsonschema.Resolved{} // those that were used

// judgeOf reads a schema of docs/schema for use.
func judgeOf(t *testing.T, name string) *jsonschema.Resolved {
	t.Helper()
	if have := resolved[name]; have != nil {
		return have
	}
	text, err := os.ReadFile(filepath.Join(schemaFolder, name+".schema.json"))
	if err != nil {
		t.Fatal(err)
	}
	var s jsonschema.Schema
	if err := json.Unmarshal(text, &s); err != nil {
		t.Fatal(err)
	}
	if resolved[name], err = s.Resolve(nil); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return resolved[name]
}

func fitsSchema(t *testing.T, name, of string, text []byte) {
	t.Helper()
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatalf("%s: %v\n%.300s", of, err, text)
	}
	s := judgeOf(t, name)
	if err := s.Validate(v); err != nil {
		t.Errorf("%s does not fit %s.schema.json: %v", of, name, err)
	}
	top, is := v.(map[string]any)
	if !is {
		t.Fatalf("%s is no object", of)
	}
	for key := range top { // the schema must be able to say no
		if err := s.Validate(map[string]any{key: top[key], "more": 1}); err == nil {
			t.Errorf("%s.schema.json takes an object with a key that nobody prints", name)
		}
		break
	}
}

// printing runs a command that prints JSON.
func printing(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if status := run(t.Context(), args, strings.NewReader(""), &out, &errs); status > statusFails {
		t.Fatalf("%v: %d %s", args, status, errs.String())
	}
	return out.Bytes()
}

// What the commands print for every example and card of the tests fits their schemas.
func TestWhatIsPrintedFitsItsSchema(t *testing.T) {
	dir := t.TempDir()
	cards, err := filepath.Glob("testdata/cards/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range examples.Cards() {
		cards = append(cards, filepath.Join("../../examples", c.Name+".yaml"))
	}
	if len(cards) < 10 {
		t.Fatalf("%d cards", len(cards))
	}
	for i, card := range cards {
		of := func(command string) string { return command + " of " + filepath.Base(card) }
		text, err := os.ReadFile(card)
		if err != nil {
			t.Fatal(err)
		}
		inJSON, err := yaml.YAMLToJSON(text)
		if err != nil {
			t.Fatal(err)
		}
		fitsSchema(t, "card", card, inJSON)
		fitsSchema(t, "sheet", of("sheet"), printing(t, "sheet", card, "--json"))
		fitsSchema(t, "leads", of("leads"), printing(t, "leads", card, "--json"))
		fitsSchema(t, "bench", of("bench"), printing(t, "bench", card, "--json", "--speed", "hold 1500 rpm for 1 s"))
		if i%4 != 0 { // a recording of each takes a second; the types are the same
			continue
		}
		run, light := filepath.Join(dir, "run.csv"), filepath.Join(dir, "light.csv")
		printing(t, "bench", card, "--capture", run, "--readings", light, "--fault", "housing=+3deg", "--speed",
			"steps 900, 2500 rpm for 1 s each")
		fitsSchema(t, "fit", of("fit"), printing(t, "fit", card, light, "--json"))
		fitsSchema(t, "capture", of("capture"), printing(t, "capture", run, "--card", card, "--json"))
		fitsSchema(t, "suspects", of("suspects"), printing(t, "suspects", card, "--readings", light, "--capture", run, "--json"))
	}
	priors, err := yaml.YAMLToJSON([]byte("nothing: 0.1\nweight: {housing: 20, lock: 0}\n"))
	if err != nil {
		t.Fatal(err)
	}
	fitsSchema(t, "priors", "priors", priors)
	demo := func(name string) string { return filepath.Join("../../examples", name) }
	fitsSchema(t, "proof", "a proof", printing(t, "fit", demo("sandpiper.yaml"), demo("sandpiper-after.csv"), "--before",
		demo("sandpiper.csv"), "--json"))
	fitsSchema(t, "bench-trial", "a trial", printing(t, "bench", "trial", "--engines", "3", "--json"))
	fitsSchema(t, "bench-judge", "judgements", printing(t, "bench", "judge", "--engines", "3", "--json"))

	shop, other := mustMakeBook(t, filepath.Join(dir, "shop.book")), filepath.Join(dir, "other.book")
	fitsSchema(t, "book", "book show", printing(t, "book", "show", "Sandpiper", "--json", "--book", shop))
	fitsSchema(t, "book", "book table", printing(t, "book", "table", "--json", "-", "--book", shop))
	for _, line := range bytes.Split(bytes.TrimSpace(printing(t, "book", "merge", shop, "--book", other, "--json")),
		[]byte("\n")) {
		fitsSchema(t, "merged", "book merge", line)
	}
}

// Every kind of event that the book knows has its payload in events.schema.json and its line in docs/eventlog.md.
func TestEveryKindOfEventIsExplained(t *testing.T) {
	read := func(path string) string {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	schema, spec := read(filepath.Join(schemaFolder, "events.schema.json")), read("../../docs/eventlog.md")
	kinds := regexp.MustCompile(`(?m)^\s*Kind\w+\s+Kind = "([a-z._]+)"`).FindAllStringSubmatch(read("../../book/event.go"), -1)
	if len(kinds) < 20 {
		t.Fatalf("%d kinds found", len(kinds))
	}
	for _, kind := range kinds {
		if !strings.Contains(schema, "\n    \""+kind[1]+"\": {") {
			t.Errorf("events.schema.json says nothing of %s", kind[1])
		}
		if !strings.Contains(spec, "`"+kind[1]+"`") {
			t.Errorf("docs/eventlog.md says nothing of %s", kind[1])
		}
	}
}

// The event that docs/eventlog.md works through has the hash that stands there, and is in the canonical form.
func TestTheEventWorkedThroughIsSound(t *testing.T) {
	text, err := os.ReadFile("../../docs/eventlog.md")
	if err != nil {
		t.Fatal(err)
	}
	worked := regexp.MustCompile("(?s)```json\n(.*?)\n```.*?`([0-9a-f]{64})`").FindSubmatch(text)
	if worked == nil {
		t.Fatal("docs/eventlog.md works no event through")
	}
	if got := fmt.Sprintf("%x", sha256.Sum256(worked[1])); got != string(worked[2]) {
		t.Errorf("the event hashes to %s, the text says %s", got, worked[2])
	}
	if form, err := book.Canonical(worked[1], 10); err != nil || !bytes.Equal(form, worked[1]) {
		t.Errorf("its canonical form is %s (%v)", form, err)
	}
}

// What docs/eventlog.md says is enough to write a reader: the verifier does so in another language, with nothing of
// ours, for a job that the program exported; and finds what was changed.
func TestVerifierReadsAnExport(t *testing.T) {
	python := tool(t, "/usr/bin/python3")
	dir := t.TempDir()
	shop, export := mustMakeBook(t, filepath.Join(dir, "shop.book")), filepath.Join(dir, "job.zip")
	printing(t, "book", "export", "Sandpiper", export, "--book", shop)
	verify := func(path string) (string, error) {
		out, err := exec.Command(python, "../../book/testdata/verify.py", path).CombinedOutput()
		return string(out), err
	}
	if out, err := verify(export); err != nil || !strings.Contains(out, "are sound") {
		t.Errorf("the verifier says %s (%v)", out, err)
	}
	z, err := zip.OpenReader(export)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	in, err := z.Open("job.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	fitsSchema(t, "job", "an exported job", doc)
	changed := bytes.Replace(doc, []byte(`"rpm":180`), []byte(`"rpm":181`), 1)
	if bytes.Equal(changed, doc) {
		t.Fatal("the demo's job has no reading at 180 rpm any more")
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	f, err := w.Create("job.json")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(changed); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(export, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := verify(export); err == nil || !strings.Contains(out, "does not fit its hash") {
		t.Errorf("a changed reading: the verifier says %s (%v)", out, err)
	}
}
