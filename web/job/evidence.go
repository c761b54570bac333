package job

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"phasewright/jobcard"
	"phasewright/record"
	"phasewright/suspects"
	"phasewright/verdict"
	"phasewright/web/page"
)

// question is one thing that is asked, with the answers to tap or the number to type. Its fields are those of an
// evidence file, of record.Spots or of an entry in a list.
type question struct {
	ID, Name  string
	Ask       string
	Tells     string // of a look that is advised: what it would say
	Mind      string // and its hazard
	Value     string
	Unit      string // of a number
	Hold      string
	Wrong     string
	Answers   []answer // to tap; none: something is typed
	Several   bool     // any number of the answers
	Long      bool     // free words
	Ways      []answer // which way a number counts, in the field Name + " way"
	Beside    []answer // what goes along unseen: Word is the field's name
	Go, There string   // it is seen on another page
}

type answer struct {
	Value, Word string
	On          bool
}

func (q *question) answered() bool {
	return q.Value != "" || slices.ContainsFunc(q.Answers, func(a answer) bool { return a.On && a.Value != "" })
}

// part is several questions under one heading.
type part struct {
	Title     string
	Questions []question
	Given     bool
}

// asker lays questions out with what was typed.
type asker struct {
	card   *jobcard.Card
	job    string // path
	given  url.Values
	wrong  map[string]string
	fields map[string]suspects.Field
	spots  map[string]record.Spot
	asked  map[string]bool // fields that stand on the page already
}

func newAsker(card *jobcard.Card, job string, given url.Values, wrong map[string]string) *asker {
	a := &asker{card: card, job: job, given: given, wrong: wrong, fields: map[string]suspects.Field{},
		spots: map[string]record.Spot{}, asked: map[string]bool{}}
	for _, f := range suspects.Fields() {
		a.fields[f.Path] = f
	}
	for _, s := range record.Spots() {
		a.spots[s.Name] = s
	}
	return a
}

// fits says whether the engine has what a key speaks of.
func (a *asker) fits(name string) bool {
	steers := a.card.Distributor.Use == jobcard.SparkAndSignal
	switch {
	case strings.HasPrefix(name, "lamp cam"), name == "battery.cam_pickup", strings.HasPrefix(name, "pickup.cam"),
		name == "controller.sync_losses", strings.Contains(name, "_cam"), strings.Contains(name, "cam_"):
		return a.card.Signals.Cam.Fitted
	case strings.HasPrefix(name, "cap."), strings.HasPrefix(name, "rotor."), strings.HasSuffix(name, ".wire") &&
		strings.HasPrefix(name, "cylinders "):
		return steers
	}
	return true
}

// of is the question of a field.
func (a *asker) of(name string) question {
	key, spot := name, a.spots[name]
	entry, inside, ok := strings.Cut(name, ".")
	section, _, inList := strings.Cut(entry, " ")
	switch {
	case spot.Name != "":
		key = spot.Key
	case ok && inList:
		key = section + "." + inside
	}
	f := a.fields[key]
	a.asked[name] = true
	doc, _, _ := strings.Cut(f.Doc, ", []") // the page has a word for an empty list
	q := question{ID: fieldID(name), Name: name, Ask: strings.TrimSuffix(doc, "."), Value: a.given.Get(name),
		Wrong: a.wrong[name], Long: key == "notes"}
	if spot.Name != "" {
		q.Ask = a.spotAsk(name)
	}
	words := f.Choices()
	switch {
	case name == "mark at idle":
		words = []string{record.InSight, "out of sight"}
	case key == "engine.misfire", key == "rotor.points_to":
		for n := range a.card.Engine.Cylinders {
			words = append(words, fmt.Sprint(n+1))
		}
		if key == "rotor.points_to" {
			words = append(words, "between")
		}
	}
	if len(words) == 0 {
		q.Unit, q.Hold = unitSign(record.UnitOf(f)), hold(f)
		if ways := record.Ways(key); len(ways) > 0 && q.Unit != "" {
			a.asked[record.Way(name)] = true
			for i, w := range ways {
				on := a.given.Get(record.Way(name))
				q.Ways = append(q.Ways, answer{w, w, on == w || on == "" && i == 0})
			}
		}
		return q
	}
	q.Several = f.Many()
	said := a.given[name]
	if q.Several {
		words = append(slices.Clone(words), record.None)
		if key == "engine.misfire" {
			said = record.Cylinders(said)
		}
	}
	q.Value = ""
	for _, w := range words {
		on := slices.Contains(said, w)
		q.Answers = append(q.Answers, answer{w, w, on})
	}
	if !q.Several {
		q.Answers = append(q.Answers, answer{"", "not looked at", !slices.ContainsFunc(q.Answers, func(x answer) bool {
			return x.On
		})})
	}
	return q
}

// spotAsk is how the page asks for one of record.Spots.
func (a *asker) spotAsk(name string) string {
	lead := float64(a.card.Signals.Crank.Lead)
	at := func(off float64) string { return page.Figure(lead+off, 1) + "° BTDC" }
	idle := page.Figure(float64(a.card.Engine.IdleSpeed), 0) + " rpm"
	switch name {
	case "lamp crank before":
		return "Crank pickup’s lamp at " + at(record.LampOff) + ", before the lead"
	case "lamp crank after":
		return "Crank pickup’s lamp at " + at(-record.LampOff) + ", after the lead"
	case "lamp cam at":
		return "Cam pickup’s lamp at " + at(0)
	case "lamp cam before":
		return "Cam pickup’s lamp at " + at(record.LampOff)
	case "lamp cam after":
		return "Cam pickup’s lamp at " + at(-record.LampOff)
	case "flashes on the starter":
		return "How the light on wire 1 flashes on the starter"
	case "flashes at idle":
		return "How the light on wire 1 flashes at idle, " + idle
	case "mark at idle":
		return "The mark under the light at idle"
	case "tacho at idle":
		return "The light’s own tachometer at " + idle
	}
	return "How the light flashes at half the redline"
}

// fieldID makes an id of a field's name.
func fieldID(name string) string {
	return "e-" + strings.Map(func(r rune) rune {
		if strings.ContainsRune(" ._", r) {
			return '-'
		}
		return r
	}, name)
}

// unitSign is a unit as the page writes it.
func unitSign(unit string) string {
	switch unit {
	case "deg":
		return "°"
	case "us":
		return "µs"
	case "ohm":
		return "Ω"
	case "kohm":
		return "kΩ"
	}
	return unit
}

// hold is an example of a number without its unit and its ±.
func hold(f suspects.Field) string {
	number, _, _ := strings.Cut(f.Example, " ")
	if strings.Trim(number, "0123456789.-") != "" {
		return ""
	}
	return strings.TrimPrefix(number, "-")
}

// all are the questions of some fields that the engine has and that do not stand on the page yet.
func (a *asker) all(names ...string) (out []question) {
	for _, n := range names {
		if !a.asked[n] && a.fits(n) {
			out = append(out, a.of(n))
		}
	}
	return out
}

// marked are the questions whose answers cannot be read: they come first.
func (a *asker) marked() (out []question) {
	for _, name := range sortedKeys(a.wrong) {
		if _, ok := a.fields[name]; ok || a.spots[name].Name != "" || strings.Contains(name, " ") {
			out = append(out, a.of(name))
		}
	}
	return out
}

func sortedKeys(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// look are the questions of a look that is advised: answering it is one tap.
func (a *asker) look(o *suspects.Advice) []question {
	var names []string
	var beside []answer
	goes, there := "", ""
	rpm, wire, at, which := 0.0, 0, 0.0, ""
	other := strings.HasPrefix(o.ID, "other ")
	_, err := fmt.Sscanf(strings.TrimPrefix(o.ID, "other "), "light %f wire %d", &rpm, &wire)
	_, notFlashes := fmt.Sscanf(o.ID, "flashes %f wire %d", &rpm, &wire)
	_, notLamp := fmt.Sscanf(o.ID, "lamp %s %f", &which, &at)
	next := record.Entries(a.given, "light") + 1
	entry := func(key string) string { return record.EntryField("light", next, key) }
	switch {
	case err == nil && other, notFlashes == nil:
		key := "shown"
		if !other {
			key = "flashes"
		}
		names = []string{entry(key)}
		beside = []answer{{fmt.Sprintf("%.0f rpm", rpm), entry("speed"), true}, {fmt.Sprint(wire), entry("wire"), true}}
		if other {
			beside = append(beside, answer{"other", entry("which"), true})
		}
		for _, b := range beside {
			a.asked[b.Word] = true
		}
	case strings.HasPrefix(o.Key, "light.") && o.Key != "light.tacho":
		goes, there = "/readings", "Read it under Readings"
	case notLamp == nil:
		off := at - float64(a.card.Signals.Crank.Lead)
		place := "at"
		if off > record.LampOff/2 {
			place = "before"
		} else if off < -record.LampOff/2 {
			place = "after"
		}
		names = []string{"lamp " + which + " " + place}
	case o.Key == "light.tacho":
		names = []string{"tacho at idle"}
	case o.Key == "misfires":
		names = []string{"engine.misfire"}
	case o.Key == "piston_stop.before":
		names = []string{o.Key, "piston_stop.after"}
	case o.Cylinder > 0 && strings.HasPrefix(o.Key, "cylinders."):
		names = []string{record.EntryField("cylinders", o.Cylinder, strings.TrimPrefix(o.Key, "cylinders."))}
	case o.Key == "cylinders.cut_drop", strings.HasPrefix(o.Key, "cylinders."):
		for n := range a.card.Engine.Cylinders {
			names = append(names, record.EntryField("cylinders", n+1, strings.TrimPrefix(o.Key, "cylinders.")))
		}
	case strings.HasPrefix(o.Key, "capture.") && len(a.fields[o.Key].Choices()) == 0:
		goes, there = "/captures", "Record it under Captures"
	default:
		names = []string{o.Key}
	}
	ask := page.Sentence(page.Whole(o.Observation)) + " " + page.Figure(o.Minutes, 1) + " min."
	if goes != "" {
		return []question{{Ask: ask, Tells: verdict.Tells(o), Mind: o.Hazard, Go: a.job + goes, There: there}}
	}
	var out []question
	for _, n := range names {
		if a.asked[n] {
			continue
		}
		q := a.of(n)
		if len(names) > 1 && len(out) > 0 {
			ask = ""
		}
		q.Ask = cmp.Or(ask, q.Ask)
		if len(out) == 0 {
			q.Tells, q.Mind, q.Beside = verdict.Tells(o), o.Hazard, beside
		}
		out = append(out, q)
	}
	return out
}

// cylinder are the questions of one cylinder.
func (a *asker) cylinder(n int) []question {
	var names []string
	for _, f := range suspects.Fields() {
		if key, ok := strings.CutPrefix(f.Path, "cylinders."); ok && key != "cylinder" {
			names = append(names, record.EntryField("cylinders", n, key))
		}
	}
	return a.all(names...)
}

// more are the keys that no round asks, by part of the engine, and one further look with light and lamp.
func (a *asker) more() []part {
	later := map[string]bool{}
	for _, r := range rounds() {
		for _, k := range r.keys {
			later[k] = true
		}
	}
	var out []part
	add := func(title string, q question) {
		i := slices.IndexFunc(out, func(p part) bool { return p.Title == title })
		if i < 0 {
			i, out = len(out), append(out, part{Title: title})
		}
		out[i].Questions = append(out[i].Questions, q)
		out[i].Given = out[i].Given || q.answered()
	}
	for _, f := range suspects.Fields() {
		if f.InList() || later[f.Path] || a.asked[f.Path] || !a.fits(f.Path) {
			continue
		}
		section, _, _ := strings.Cut(f.Path, ".")
		add(page.Sentence(strings.ReplaceAll(section, "_", " ")), a.of(f.Path))
	}
	for _, q := range a.all("lamp cam before", "lamp cam after") {
		add("Lamps", q)
	}
	for _, list := range [][2]string{{"light", "Look with the light"}, {"lamps", "Look at the lamps"}} {
		for n := 1; n <= record.Entries(a.given, list[0])+1; n++ {
			for _, f := range suspects.Fields() {
				section, key, _ := strings.Cut(f.Path, ".")
				if name := record.EntryField(list[0], n, key); section == list[0] && !a.asked[name] {
					add(fmt.Sprintf("%s %d", list[1], n), a.of(name))
				}
			}
		}
	}
	for i := range out {
		out[i].Title = strings.TrimSuffix(out[i].Title, ".")
	}
	return out
}

// unseen are the answers that stand in no question of the page and go along with it.
func (a *asker) unseen() (out []answer) {
	for name, values := range a.given {
		if a.asked[name] || name == "key" || name == "at" || name == "cyl" || name == "part" {
			continue
		}
		for _, v := range values {
			if strings.TrimSpace(v) != "" {
				out = append(out, answer{Value: v, Word: name})
			}
		}
	}
	slices.SortFunc(out, func(x, y answer) int {
		return cmp.Or(cmp.Compare(x.Word, y.Word), cmp.Compare(x.Value, y.Value))
	})
	return out
}
