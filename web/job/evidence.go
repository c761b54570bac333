package job

import (
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/suspects"
	"phasewright/web/shelf"
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

// Names of fields that this page has beside those of an evidence file: lamps a little before and after the lead,
// flashes at two speeds.
const (
	lampOff      = 3.0 // crank degrees before and after the trigger lead
	flashesIdle  = "flashes at idle"
	flashesRange = "flashes at half speed"
	halfSpeed    = 0.55 // of the redline
)

var lampFields = []struct {
	name, label, key string
	off              float64
}{
	{"lamp crank before", "crank, before the lead", "crank", lampOff},
	{"lamp crank after", "crank, after it", "crank", -lampOff},
	{"lamp cam before", "cam, before the lead", "cam", lampOff},
	{"lamp cam after", "cam, after it", "cam", -lampOff},
}

// keptEvidence is the evidence last kept with the job.
func keptEvidence(j *shelf.Job) url.Values {
	out := url.Values{}
	for _, e := range j.Events {
		var p struct{ Fields url.Values }
		if e.Kind == book.KindEvidenceSaved && json.Unmarshal(e.Payload, &p) == nil && p.Fields != nil {
			out = p.Fields
		}
	}
	return out
}

// evidenceText writes what was typed as an evidence file, so that one reader judges both.
func evidenceText(given url.Values, card *jobcard.Card) string {
	sections := map[string][]string{}
	var order, out []string
	put := func(section, line string) {
		if sections[section] == nil {
			order = append(order, section)
		}
		sections[section] = append(sections[section], line)
	}
	quote := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	list := func(words []string) string {
		quoted := make([]string, len(words))
		for i, w := range words {
			quoted[i] = quote(w)
		}
		return "[" + strings.Join(quoted, ", ") + "]"
	}
	for _, f := range suspects.Fields() {
		value := strings.TrimSpace(given.Get(f.Path))
		if f.InList() || value == "" {
			continue
		}
		text := quote(value)
		switch {
		case f.Path == "worked_on":
			text = list(given[f.Path])
		case f.Many() && value == "none":
			text = "[]"
		case f.Many():
			text = list(strings.FieldsFunc(value, func(r rune) bool { return r == ',' || r == ' ' || r == ';' }))
		}
		if section, key, ok := strings.Cut(f.Path, "."); ok {
			put(section, "  "+key+": "+text)
		} else {
			out = append(out, f.Path+": "+text)
		}
	}
	lead := float64(card.Signals.Crank.Lead)
	for _, l := range lampFields {
		if w := given.Get(l.name); w != "" {
			put("lamps", fmt.Sprintf("  - {at: %.1f deg, %s: %s}", lead+l.off, l.key, quote(w)))
		}
	}
	flashes := func(name string, rpm float64) {
		if w := given.Get(name); w != "" {
			put("light", fmt.Sprintf("  - {speed: %.0f rpm, flashes: %s}", rpm, quote(w)))
		}
	}
	flashes(flashesIdle, float64(card.Engine.IdleSpeed))
	flashes(flashesRange, halfSpeed*float64(card.Engine.Redline))
	for _, section := range order {
		out = append(append(out, section+":"), sections[section]...)
	}
	if len(out) == 0 {
		return "worked_on: []\n"
	}
	return strings.Join(out, "\n") + "\n"
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
	for _, name := range []string{flashesIdle, flashesRange} {
		add("flashes of the light", evidenceField{Name: name, Label: strings.TrimPrefix(name, "flashes "),
			Value: given.Get(name), Choices: choices["light.flashes"]})
	}
	for _, l := range lampFields {
		add("lamps at rest, 3° each way of the lead", evidenceField{Name: l.name, Label: l.label,
			Value: given.Get(l.name), Choices: choices["lamps.crank"]})
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
