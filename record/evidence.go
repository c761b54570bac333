package record

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/suspects"
)

// LampOff is how far before and after the trigger lead the lamps are looked at, crank degrees.
const LampOff = 3.0

// Spot is a field that the page has beside those of an evidence file: one key of an entry in a list, the rest of which
// follows from the card.
type Spot struct {
	Name string // of the field
	Key  string // in the evidence file: its choices are those of this
	// what the entry holds beside; "": the card does not say where
	beside func(card *jobcard.Card) string
}

// Spots are the lamps a little before and after the lead, and looks with the light at the usual speeds.
func Spots() []Spot {
	lamp := func(off float64) func(*jobcard.Card) string {
		return func(c *jobcard.Card) string { return fmt.Sprintf("at: %.1f deg", float64(c.Signals.Crank.Lead)+off) }
	}
	light := func(speed func(*jobcard.Card) float64) func(*jobcard.Card) string {
		return func(c *jobcard.Card) string { return fmt.Sprintf("speed: %.0f rpm", speed(c)) }
	}
	starter := light(func(c *jobcard.Card) float64 { return float64(c.Engine.CrankingSpeed) })
	idle := light(func(c *jobcard.Card) float64 { return float64(c.Engine.IdleSpeed) })
	const half = 0.55 // of the redline
	return []Spot{
		{"lamp crank before", "lamps.crank", lamp(LampOff)}, {"lamp crank after", "lamps.crank", lamp(-LampOff)},
		{"lamp cam at", "lamps.cam", lamp(0)},
		{"lamp cam before", "lamps.cam", lamp(LampOff)}, {"lamp cam after", "lamps.cam", lamp(-LampOff)},
		{"flashes on the starter", "light.flashes", starter}, {"flashes at idle", "light.flashes", idle},
		{"mark at idle", "light.shown", idle}, {"tacho at idle", "light.tacho", idle},
		{"flashes at half speed", "light.flashes", light(func(c *jobcard.Card) float64 {
			return half * float64(c.Engine.Redline)
		})},
	}
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

// Way is the field that says which way a number counts, beside the number's own: what is typed without a sign is
// negative where the second of its words was chosen.
func Way(name string) string { return name + " way" }

// Ways are the words for a number's direction, the positive one first; nil where it has none.
func Ways(key string) []string {
	switch key {
	case "housing.turn_to_edge":
		return []string{"against the rotor", "with the rotor"}
	case "rotor.off":
		return []string{"ahead", "behind"}
	case "timing_light.dial", "light.shown", "light.locked", "lamps.at":
		return []string{"BTDC", "ATDC"}
	case "capture.offset":
		return []string{"early", "late"}
	case "capture.delay":
		return []string{"later with speed", "earlier with speed"}
	}
	return nil
}

// UnitOf is the unit that a field's number is typed in where none is typed with it.
func UnitOf(f suspects.Field) string {
	unit := regexp.MustCompile(`^-?[0-9.]+ ([A-Za-z]+)`).FindStringSubmatch(f.Example)
	if unit == nil || len(f.Choices()) > 0 {
		return ""
	}
	return unit[1]
}

// None is said of a list of which nothing applies.
const None = "none"

// Written is what was typed as an evidence file, so that one reader judges both.
type Written struct {
	Text    string
	entries map[int]map[string]string // the page's field by line of the file, from 1, and key of the entry there
}

// Field is the page's field behind a line and path of the file, as the reader's errors have them.
func (w *Written) Field(line int, path string) string {
	entry, ok := w.entries[line]
	if !ok {
		return path
	}
	_, key, ok := strings.Cut(path, ".")
	if !ok {
		key = "speed" // the one key that an entry must have and that people type
	}
	return entry[key]
}

// EvidenceText writes what was typed as an evidence file. Beside the file's own keys and Spots it takes entries of
// lists as "light 1.shown", and "cylinders 3.plug" of cylinder 3.
func EvidenceText(given url.Values, card *jobcard.Card) Written {
	out := Written{entries: map[int]map[string]string{}}
	fields := map[string]suspects.Field{}
	var lines []string
	sections := map[string][]string{}
	var order []string
	put := func(section, line string) {
		if sections[section] == nil {
			order = append(order, section)
		}
		sections[section] = append(sections[section], line)
	}
	named := map[string]map[string]string{}
	entry := func(section, text string, names map[string]string) {
		line := "  - {" + text + "}"
		named[line] = names
		put(section, line)
	}
	for _, f := range suspects.Fields() {
		fields[f.Path] = f
		text := valueText(f, given[f.Path], given.Get(Way(f.Path)))
		if f.InList() || text == "" {
			continue
		}
		if section, key, ok := strings.Cut(f.Path, "."); ok {
			put(section, "  "+key+": "+text)
		} else {
			lines = append(lines, f.Path+": "+text)
		}
	}
	for _, s := range Spots() {
		text := valueText(fields[s.Key], given[s.Name], "")
		if section, key, _ := strings.Cut(s.Key, "."); text != "" && given.Get(s.Name) != InSight {
			entry(section, s.beside(card)+", "+key+": "+text, map[string]string{key: s.Name})
		}
	}
	for _, e := range entriesOf(given) {
		var texts []string
		names := map[string]string{}
		told := false
		if e.section == "cylinders" {
			texts = append(texts, "cylinder: "+strconv.Itoa(e.at))
		}
		for _, f := range suspects.Fields() {
			section, key, _ := strings.Cut(f.Path, ".")
			if section != e.section || f.Path == "cylinders.cylinder" {
				continue
			}
			name := EntryField(e.section, e.at, key)
			if text := valueText(f, given[name], given.Get(Way(name))); text != "" {
				texts = append(texts, key+": "+text)
				names[key] = name
				told = told || e.section == "cylinders" || slices.Contains(telling, f.Path)
			}
		}
		names["speed"] = EntryField(e.section, e.at, "speed")
		if told {
			entry(e.section, strings.Join(texts, ", "), names)
		}
	}
	for _, section := range order {
		lines = append(append(lines, section+":"), sections[section]...)
	}
	if len(lines) == 0 {
		lines = []string{"worked_on: []"}
	}
	for i, line := range lines {
		if names := named[line]; names != nil {
			out.entries[i+1] = names
		}
	}
	out.Text = strings.Join(lines, "\n") + "\n"
	return out
}

// InSight is said of the light's mark where it is seen; an evidence file says only that it is not.
const InSight = "in sight"

// telling are the keys without which an entry of lamps or light says nothing that was seen.
var telling = []string{"lamps.crank", "lamps.cam", "light.shown", "light.flashes", "light.tacho"}

// EntryField names the page's field for one key of an entry in a list.
func EntryField(section string, at int, key string) string {
	return fmt.Sprintf("%s %d.%s", section, at, key)
}

type listEntry struct {
	section string
	at      int
}

// entriesOf are the entries of lists that were typed, in order.
func entriesOf(given url.Values) []listEntry {
	entryName := regexp.MustCompile(`^(light|lamps|cylinders) ([0-9]{1,2})\.`)
	found := map[listEntry]bool{}
	for name := range given {
		if m := entryName.FindStringSubmatch(name); m != nil {
			at, _ := strconv.Atoi(m[2])
			found[listEntry{m[1], at}] = true
		}
	}
	return slices.SortedFunc(maps.Keys(found), func(a, b listEntry) int {
		if a.section != b.section {
			return strings.Compare(a.section, b.section)
		}
		return a.at - b.at
	})
}

// Entries is how many entries of a list were typed: the largest number of one.
func Entries(given url.Values, section string) int {
	most := 0
	for _, e := range entriesOf(given) {
		if e.section == section {
			most = max(most, e.at)
		}
	}
	return most
}

// Cylinders are the numbers that were typed or tapped.
func Cylinders(said []string) []string {
	return strings.FieldsFunc(strings.Join(said, " "), func(r rune) bool { return strings.ContainsRune(", ;", r) })
}

// valueText is what was typed into a field as the value of its key; "" where nothing was.
func valueText(f suspects.Field, typed []string, way string) string {
	var said []string
	for _, t := range typed {
		if t = strings.TrimSpace(t); t != "" {
			said = append(said, t)
		}
	}
	quote := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	switch {
	case len(said) == 0:
		return ""
	case f.Many():
		if len(f.Choices()) == 0 { // numbers of cylinders
			said = Cylinders(said)
		}
		if len(said) == 1 && said[0] == None {
			return "[]"
		}
		for i, w := range said {
			said[i] = quote(w)
		}
		return "[" + strings.Join(said, ", ") + "]"
	}
	value := said[0]
	if unit := UnitOf(f); unit != "" && strings.Trim(value, "0123456789.,+-− ±") == "" {
		if before, after, ok := strings.Cut(value, "±"); ok {
			value = strings.TrimSpace(before) + " " + unit + " ± " + strings.TrimSpace(after)
		}
		value += " " + unit
	}
	if ways := Ways(f.Path); len(ways) > 0 && way == ways[1] && strings.ContainsAny(value[:1], "0123456789.,") {
		value = "-" + value
	}
	return quote(value)
}
