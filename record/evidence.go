package record

import (
	"encoding/json"
	"fmt"
	"net/url"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/suspects"
)

// Names of fields that this page has beside those of an evidence file: lamps a little before and after the lead,
// flashes at two speeds.
const (
	lampOff      = 3.0 // crank degrees before and after the trigger lead
	FlashesIdle  = "flashes at idle"
	FlashesRange = "flashes at half speed"
	halfSpeed    = 0.55 // of the redline
)

var LampFields = []struct {
	Name, Label, key string
	off              float64
}{
	{"lamp crank before", "crank, before the lead", "crank", lampOff},
	{"lamp crank after", "crank, after it", "crank", -lampOff},
	{"lamp cam before", "cam, before the lead", "cam", lampOff},
	{"lamp cam after", "cam, after it", "cam", -lampOff},
}

// KeptEvidence is what was seen, as last kept with the job, with the event that kept it.
func (j *Job) KeptEvidence() (url.Values, book.Version) {
	out, at := url.Values{}, book.Version(0)
	for _, e := range j.Events {
		var p struct{ Fields url.Values }
		if e.Kind == book.KindEvidenceSaved && json.Unmarshal(e.Payload, &p) == nil && p.Fields != nil {
			out, at = p.Fields, e.Version
		}
	}
	return out, at
}

// EvidenceText writes what was typed as an evidence file, so that one reader judges both.
func EvidenceText(given url.Values, card *jobcard.Card) string {
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
	for _, l := range LampFields {
		if w := given.Get(l.Name); w != "" {
			put("lamps", fmt.Sprintf("  - {at: %.1f deg, %s: %s}", lead+l.off, l.key, quote(w)))
		}
	}
	flashes := func(name string, rpm float64) {
		if w := given.Get(name); w != "" {
			put("light", fmt.Sprintf("  - {speed: %.0f rpm, flashes: %s}", rpm, quote(w)))
		}
	}
	flashes(FlashesIdle, float64(card.Engine.IdleSpeed))
	flashes(FlashesRange, halfSpeed*float64(card.Engine.Redline))
	for _, section := range order {
		out = append(append(out, section+":"), sections[section]...)
	}
	if len(out) == 0 {
		return "worked_on: []\n"
	}
	return strings.Join(out, "\n") + "\n"
}
