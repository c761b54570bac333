package job

import (
	"net/url"
	"slices"
	"strings"

	"phasewright/record"
	"phasewright/suspects"
)

type evidenceGroup struct {
	Legend string
	Fields []evidenceField
	Given  bool
}

type evidenceField struct {
	Name, Label, Doc, Value, Hold, Wrong string
	Choices                              []string
	Many                                 []tickedWord
}

type tickedWord struct {
	Word   string
	Ticked bool
}

// evidenceGroups lays the fields out with what was typed.
func evidenceGroups(given url.Values, wrong map[string]string) []evidenceGroup {
	var out []evidenceGroup
	add := func(legend string, f evidenceField) {
		i := slices.IndexFunc(out, func(g evidenceGroup) bool { return g.Legend == legend })
		if i < 0 {
			i, out = len(out), append(out, evidenceGroup{Legend: legend})
		}
		g := &out[i]
		g.Fields = append(g.Fields, f)
		g.Given = g.Given || f.Value != "" || f.Wrong != "" ||
			slices.ContainsFunc(f.Many, func(t tickedWord) bool { return t.Ticked })
	}
	words := func(s string) string { return strings.ReplaceAll(s, "_", " ") }
	choices := map[string][]string{}
	for _, f := range suspects.Fields() {
		choices[f.Path] = f.Choices()
	}
	for _, name := range []string{record.FlashesIdle, record.FlashesRange} {
		add("flashes of the light", evidenceField{Name: name, Label: strings.TrimPrefix(name, "flashes "),
			Value: given.Get(name), Choices: choices["light.flashes"]})
	}
	for _, l := range record.LampFields {
		add("lamps at rest, 3° each way of the lead", evidenceField{Name: l.Name, Label: l.Label,
			Value: given.Get(l.Name), Choices: choices["lamps.crank"]})
	}
	for _, f := range suspects.Fields() {
		if f.InList() {
			continue
		}
		section, key, ok := strings.Cut(f.Path, ".")
		if !ok {
			section, key = "at the engine", f.Path
		}
		field := evidenceField{Name: f.Path, Label: words(key), Doc: f.Doc, Hold: f.Example, Value: given.Get(f.Path),
			Wrong: wrong[f.Path], Choices: f.Choices()}
		if f.Path == "worked_on" {
			field.Value, field.Choices, section = "", nil, "just worked on"
			for _, w := range f.Choices() {
				field.Many = append(field.Many, tickedWord{w, slices.Contains(given[f.Path], w)})
			}
		} else if f.Many() {
			field.Hold = "3, 5 or none"
		}
		add(words(section), field)
	}
	return out
}
