package book

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"flag"
	"io"
	"os"
	"reflect"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
)

var update = flag.Bool("update", false, "write golden files anew")

// documentSchema makes the schema of job.json from the Go types.
func documentSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	digits := &jsonschema.Schema{Type: "string", Pattern: "^[0-9a-f]{64}$"}
	s, err := jsonschema.For[document](&jsonschema.ForOptions{TypeSchemas: map[reflect.Type]*jsonschema.Schema{
		reflect.TypeFor[Hash]():            digits,
		reflect.TypeFor[Version]():         {Type: "integer", Minimum: jsonschema.Ptr(1.0)},
		reflect.TypeFor[Kind]():            {Type: "string", Pattern: "^[a-z][a-z0-9._-]{0,63}$"},
		reflect.TypeFor[json.RawMessage](): {Type: "object"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	s.Schema = "https://json-schema.org/draft/2020-12/schema"
	s.Title = "An exported job of the shop book: job.json"
	s.Properties["format"].Const = jsonschema.Ptr[any](exportFormat)
	s.Properties["format_version"].Const = jsonschema.Ptr[any](exportVersion)
	id := "^[a-z2-7]{16}$"
	s.Properties["job"].Pattern = id
	events := s.Properties["events"]
	events.Type, events.Types, events.MinItems = "array", nil, jsonschema.Ptr(1) // a nil slice would be null; there is always an event
	events.Items.Properties["job"].Pattern = id
	events.Items.Properties["at"].Pattern = `^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}Z$`
	return s
}

func TestExportSchemaIsWhatTheTypesSay(t *testing.T) {
	text, err := json.MarshalIndent(documentSchema(t), "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, '\n')
	if *update {
		if err := os.WriteFile("job.schema.json", text, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(text, ExportSchema()) {
		t.Errorf("job.schema.json is not what the types say; run go test -run ExportSchema -update and look at the difference:\n%s", text)
	}
}

func TestExportsFitTheSchema(t *testing.T) {
	var s jsonschema.Schema
	if err := json.Unmarshal(ExportSchema(), &s); err != nil {
		t.Fatal(err)
	}
	resolved, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	b := openNew(t)
	job := fullJob(t, b)
	text := entryOf(t, exportOf(t, b, job), documentName)
	var doc any
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	if err := resolved.Validate(doc); err != nil {
		t.Errorf("an export does not fit its schema: %v", err)
	}
	for _, spoil := range []struct{ from, to string }{ // the schema must be able to say no
		{`"format_version": 2`, `"format_version": 1`},
		{`"who":"Ada`, `"whom":"Ada`},
		{`"version":1`, `"version":0`},
		{`"payload":{`, `"payload":[{}],"x":{`},
		{`.000000Z`, `Z`},
	} {
		bad := bytes.Replace(text, []byte(spoil.from), []byte(spoil.to), 1)
		if bytes.Equal(bad, text) {
			t.Fatalf("%q is not in the export", spoil.from)
		}
		if err := json.Unmarshal(bad, &doc); err != nil {
			t.Fatal(err)
		}
		if resolved.Validate(doc) == nil {
			t.Errorf("the schema lets %q pass for %q", spoil.to, spoil.from)
		}
	}
}

func exportOf(t testing.TB, b *Book, job string) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := b.Export(t.Context(), job, &out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func entryOf(t testing.TB, file []byte, name string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// wholeDocumentSchema makes the schema of a whole book from the Go types.
func wholeDocumentSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	one := documentSchema(t)
	s, err := jsonschema.For[whole](&jsonschema.ForOptions{TypeSchemas: map[reflect.Type]*jsonschema.Schema{
		reflect.TypeFor[exported]():        one.Properties["events"].Items,
		reflect.TypeFor[Hash]():            {Type: "string", Pattern: "^[0-9a-f]{64}$"},
		reflect.TypeFor[Version]():         {Type: "integer", Minimum: jsonschema.Ptr(1.0)},
		reflect.TypeFor[json.RawMessage](): {Type: "object"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	s.Schema = one.Schema
	s.Title = "A whole shop book: phasewright book table --json"
	s.Properties["format"].Const = jsonschema.Ptr[any](wholeFormat)
	s.Properties["format_version"].Const = jsonschema.Ptr[any](wholeVersion)
	jobs := s.Properties["jobs"]
	jobs.Type, jobs.Types = "array", nil
	jobs.Items.Properties["id"].Pattern = "^[a-z2-7]{16}$"
	jobs.Items.Properties["events"].Type, jobs.Items.Properties["events"].Types = "array", nil
	for _, at := range []string{"made_at", "worked_at"} {
		jobs.Items.Properties[at].Pattern = one.Properties["events"].Items.Properties["at"].Pattern
	}
	return s
}

func TestWholeSchemaIsWhatTheTypesSay(t *testing.T) {
	text, err := json.MarshalIndent(wholeDocumentSchema(t), "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, '\n')
	if *update {
		if err := os.WriteFile("whole.schema.json", text, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(text, WholeSchema()) {
		t.Errorf("whole.schema.json is not what the types say; run go test -run WholeSchema -update and look at the difference")
	}
}
