package yamltext_test

import (
	"fmt"
	"strings"
	"testing"

	"phasewright/yamltext"
)

// rows is an invented kind of file: a name, a box with two sizes, and visits that each need a day.
func rows(got *[]string) yamltext.Table {
	note := func(path string) yamltext.Field {
		return yamltext.Field{Path: path, Set: func(v yamltext.Value) *yamltext.Fault {
			if v.Text == "bad" {
				return yamltext.Wrong("is bad", "write good")
			}
			for _, item := range v.Items {
				if item.Text == "bad" {
					return &yamltext.Fault{Problem: "has a bad entry", Remedy: "write good", At: item.At}
				}
			}
			*got = append(*got, fmt.Sprintf("%s=%s,%d,%t", path, v.Text, len(v.Items), v.Null))
			return nil
		}}
	}
	return yamltext.Table{
		Fields: []yamltext.Field{note("name"), note("box.width"), note("box.lid.height"), note("visits.day"), note("visits.who")},
		Lists: map[string]yamltext.List{
			"visits": {Most: 3, Begin: func() { *got = append(*got, "begin") }, Need: []string{"day"}},
		},
	}
}

func TestTableGivesEachValueToItsField(t *testing.T) {
	var got []string
	text := "name: on\nbox:\n  # only a comment\nvisits:\n  - day: 1\n    who: [a, b]\n  - {day: 2, who: }\n"
	r := yamltext.ReadTable("n.yaml", []byte(text), large, rows(&got))
	if err := r.Err(); err != nil {
		t.Fatal(err)
	}
	want := "name=on,0,false begin visits.day=1,0,false visits.who=,2,false begin visits.day=2,0,false visits.who=,0,true"
	// The places are counted by hand.
	if s := strings.Join(got, " "); s != want || r.Places["visits 2.who"] != (yamltext.Place{Line: 7, Column: 14}) {
		t.Errorf("%s\nwant %s; %v", s, want, r.Places)
	}
}

// Commas between braces end a value in YAML; a figure that they have cut is put together again, and nothing else is.
func TestCommasBetweenBraces(t *testing.T) {
	for text, want := range map[string]string{
		"{name: 1,5,3, box: {width: 94,5 mm, lid: {height: 2}}}": "name=1,5,3,0,false box.width=94,5 mm,0,false box.lid.height=2,0,false",
		"{box: {width: 4,200 rpm}, name: x}":                     "box.width=4,200 rpm,0,false name=x,0,false",
		"name: [1,5]":                                            "name=,2,false",
	} {
		var got []string
		r := yamltext.ReadTable("n.yaml", []byte(text), large, rows(&got))
		if s := strings.Join(got, " "); r.Err() != nil || s != want {
			t.Errorf("%q: %s %v, want %s", text, s, r.Err(), want)
		}
	}
	for _, text := range []string{"{name: x, nmae}", "name: 1\n5:\n", "{name: [1], 5}", "{name: 1, 5: 3}", "{5, name: 1}"} {
		var got []string
		if r := yamltext.ReadTable("n.yaml", []byte(text), large, rows(&got)); r.Err() == nil {
			t.Errorf("%q is read as %s", text, got)
		}
	}
}

// The places are counted by hand.
func TestTableRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"nmae: 1":                       "n.yaml:1:1: nmae: is not a key of a note; did you mean name? accepted here: name, box, visits",
		"name: 1\nname: 2":              "n.yaml:2:1: name: stands twice (first in line 1); keep one of the two",
		"box.width: 1":                  "n.yaml:1:1: box.width: is not a key of a note; accepted here: ",
		"visits.day: 1":                 "visits.day: is not a key",
		"'': {name: 1}":                 "is not a key of a note",
		"box: {lid: {hieght: 1}}":       "n.yaml:1:13: box.lid.hieght: is not a key of a note; did you mean height?",
		"box: 3":                        "n.yaml:1:6: box: holds a single value where keys are wanted; write its keys below it, indented: width, lid",
		"- 1":                           "holds a list where keys are wanted; a note begins with keys such as name:, box:, visits:",
		"name: bad":                     "n.yaml:1:7: name: is bad; write good",
		"name: [a, bad]":                "n.yaml:1:11: name: has a bad entry; write good",
		"name: {a: 1}":                  "name: has no plain value but keys; write the value itself",
		"name: [&a b]":                  "name: has no plain value but a YAML anchor or alias",
		"visits: {day: 1}":              "visits: is not a list; write its entries below it, each behind a dash",
		"visits: [{}, {}, {}, {}]":      "visits: has 4 entries; give at most 3",
		"visits: [{day: 1}, {}]":        "visits 2: has no day; write day, one of day, who",
		"visits: [{day: 1, dya: }]":     "n.yaml:1:19: visits 1.dya: is not a key of a note; did you mean day?",
		strings.Repeat("n", 61):         "holds a single value",
		strings.Repeat("é", 61) + ": 1": "n.yaml:1:1: " + strings.Repeat("é", 60) + "…: is not a key",
	} {
		var got []string
		r := yamltext.ReadTable("n.yaml", []byte(text), large, rows(&got))
		if err := r.Err(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v\nwant %q", text, err, want)
		}
	}
	if r := yamltext.ReadTable("n.yaml", nil, large, yamltext.Table{}); r.Places != nil || r.Err() == nil {
		t.Error("an empty file has places")
	}
}
