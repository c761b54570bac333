package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"phasewright/book"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/suspects"
)

// suspectsRoutes: the ranking is read only and stands in the query; only the post keeps evidence on the record.
func (s *Server) suspectsRoutes() {
	s.handle("GET /job/{job}/suspects", Look, s.onJob(s.suspectsPage))
	s.handle("GET /job/{job}/suspects/part", Look, s.onJob(s.suspectsPart))
	s.handle("POST /job/{job}/suspects", Work, s.onJob(s.suspectsPost))
}

type suspectsBody struct {
	ID, Key   string
	NoCard    string
	CanWrite  bool
	Light     string // what of the light is taken from the job
	Groups    []evidenceGroup
	Wrong     string // evidence that belongs to no field
	Suspects  []suspectLine
	Next      []adviceLine
	Findings  []string
	Plot      *seenTable
	Chart     *plate // the light readings among them, against speed
	ChartSays string
}

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

type suspectLine struct {
	Name, Chance, Apart, Size, Cure string
	Because                         []string
	Width                           int // of the bar, per cent
}

type adviceLine struct{ Do, Cost, Hazard string }

type seenTable struct {
	Heads []string
	Rows  [][]string
}

// Names of fields that this page has beside those of an evidence file: lamps a little before and after the lead, flashes at two speeds.
const (
	lampOff      = 3.0 // crank degrees before and after the trigger lead
	flashesIdle  = "flashes at idle"
	flashesRange = "flashes at half speed"
)

var lampFields = []struct {
	name, label, key string
	off              float64
}{
	{"lamp crank before", "crank, before the lead", "crank", lampOff}, {"lamp crank after", "crank, after it", "crank", -lampOff},
	{"lamp cam before", "cam, before the lead", "cam", lampOff}, {"lamp cam after", "cam, after it", "cam", -lampOff},
}

// keptEvidence is the evidence last kept on the record.
func (j *job) keptEvidence() url.Values {
	out := url.Values{}
	for _, e := range j.Events {
		if e.Kind != book.KindEvidenceSaved {
			continue
		}
		var p struct{ Fields map[string][]string }
		if json.Unmarshal(e.Payload, &p) == nil && p.Fields != nil {
			out = url.Values(p.Fields)
		}
	}
	return out
}

// weigh makes the page's body from what was typed, or from what was kept where nothing was.
func (s *Server) weigh(v *visit, j *job, given url.Values) (*suspectsBody, int, error) {
	b := &suspectsBody{ID: j.ID, Key: s.newKey(), CanWrite: v.role >= Work}
	if j.Card == nil {
		b.NoCard = "Suspects are weighed against the engine of the job card, once that can be used."
		return b, 0, nil
	}
	if len(given) == 0 {
		given = j.keptEvidence()
	}
	e, err := suspects.New(j.Card, suspects.DefaultPriors())
	if err != nil {
		b.NoCard = "The card's engine cannot be put on the bench: " + err.Error()
		return b, 0, nil
	}
	lead := float64(j.Card.Signals.Crank.Lead)
	ev, readErr := suspects.ReadEvidence("evidence", []byte(evidenceText(given, lead, float64(j.Card.Engine.IdleSpeed), 0.55*float64(j.Card.Engine.Redline))))
	wrong := map[string]string{}
	var es suspects.Errors
	if errors.As(readErr, &es) {
		for _, x := range es {
			wrong[x.Path] = x.Problem + " – " + x.Remedy
		}
		ev = &suspects.Evidence{}
	}
	b.Groups = evidenceGroups(given, wrong)
	b.Light = s.fromJob(j, ev)
	if readErr != nil {
		b.Wrong = "Some evidence cannot be read; the ranking below goes without all that was typed."
	}
	res, err := e.Explain(ev, j.limits(s.Clock()))
	if err != nil {
		b.Wrong = whole(err.Error())
		return b, http.StatusUnprocessableEntity, nil
	}
	b.fill(res)
	status := 0
	if readErr != nil {
		status = http.StatusUnprocessableEntity
	}
	return b, status, nil
}

// fromJob takes the job's own readings, and what its last recording showed, into the evidence.
func (s *Server) fromJob(j *job, ev *suspects.Evidence) string {
	var rows []readings.Row
	for _, r := range j.Counting() {
		rows = append(rows, r.Row())
	}
	ev.FromReadings(rows)
	said := fmt.Sprintf("%d readings of this job are taken as they stand.", len(rows))
	if len(rows) == 0 {
		said = "This job has no readings yet."
	}
	for i := len(j.Events) - 1; i >= 0; i-- {
		var p struct {
			SHA256 book.Hash `json:"sha256"`
		}
		if j.Events[i].Kind == book.KindCaptureRead && json.Unmarshal(j.Events[i].Payload, &p) == nil && j.Captures[p.SHA256] != nil {
			ev.FromCapture(j.Captures[p.SHA256])
			return said + " So is its last recording."
		}
	}
	return said
}

// evidenceText writes what was typed as an evidence file, so that one reader judges both.
func evidenceText(given url.Values, lead, idle, half float64) string {
	sections := map[string][]string{}
	var order, out []string
	put := func(sec, line string) {
		if sections[sec] == nil {
			order = append(order, sec)
		}
		sections[sec] = append(sections[sec], line)
	}
	quote := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	for _, f := range suspects.Fields() {
		value := strings.TrimSpace(given.Get(f.Path))
		if f.InList() || value == "" {
			continue
		}
		text := quote(value)
		switch {
		case f.Path == "worked_on":
			var list []string
			for _, w := range given[f.Path] {
				list = append(list, quote(w))
			}
			text = "[" + strings.Join(list, ", ") + "]"
		case f.Many():
			var list []string
			if value != "none" {
				for _, w := range strings.FieldsFunc(value, func(r rune) bool { return r == ',' || r == ' ' || r == ';' }) {
					list = append(list, quote(w))
				}
			}
			text = "[" + strings.Join(list, ", ") + "]"
		}
		sec, key, ok := strings.Cut(f.Path, ".")
		if !ok {
			out = append(out, f.Path+": "+text)
			continue
		}
		put(sec, "  "+key+": "+text)
	}
	for _, l := range lampFields {
		if w := given.Get(l.name); w != "" {
			put("lamps", fmt.Sprintf("  - {at: %.1f deg, %s: %s}", lead+l.off, l.key, quote(w)))
		}
	}
	for _, l := range []struct {
		name string
		rpm  float64
	}{{flashesIdle, idle}, {flashesRange, half}} {
		if w := given.Get(l.name); w != "" {
			put("light", fmt.Sprintf("  - {speed: %.0f rpm, flashes: %s}", l.rpm, quote(w)))
		}
	}
	for _, sec := range order {
		out = append(out, sec+":")
		out = append(out, sections[sec]...)
	}
	if len(out) == 0 {
		return "worked_on: []\n"
	}
	return strings.Join(out, "\n") + "\n"
}

// evidenceGroups lays the fields out with what was typed.
func evidenceGroups(given url.Values, wrong map[string]string) []evidenceGroup {
	var out []evidenceGroup
	group := func(legend string) *evidenceGroup {
		for i := range out {
			if out[i].Legend == legend {
				return &out[i]
			}
		}
		out = append(out, evidenceGroup{Legend: legend})
		return &out[len(out)-1]
	}
	add := func(legend string, f evidenceField) {
		g := group(legend)
		g.Fields = append(g.Fields, f)
		g.Given = g.Given || f.Value != "" || f.Wrong != ""
		for _, t := range f.Many {
			g.Given = g.Given || t.Ticked
		}
	}
	words := func(s string) string { return strings.ReplaceAll(s, "_", " ") }
	var levels, flashes []string
	for _, f := range suspects.Fields() {
		switch f.Path {
		case "lamps.crank":
			levels = f.Choices()
		case "light.flashes":
			flashes = f.Choices()
		}
	}
	for _, name := range []string{flashesIdle, flashesRange} {
		add("flashes of the light", evidenceField{Name: name, Label: strings.TrimPrefix(name, "flashes "), Value: given.Get(name), Choices: flashes})
	}
	for _, l := range lampFields {
		add("lamps at rest, 3° each way of the lead", evidenceField{Name: l.name, Label: l.label, Value: given.Get(l.name), Choices: levels})
	}
	for _, f := range suspects.Fields() {
		if f.InList() {
			continue
		}
		sec, key, ok := strings.Cut(f.Path, ".")
		if !ok {
			sec, key = "at the engine", f.Path
		}
		field := evidenceField{Name: f.Path, Label: words(key), Doc: f.Doc, Hold: f.Example, Value: given.Get(f.Path), Wrong: wrong[f.Path], Choices: f.Choices()}
		if f.Path == "worked_on" {
			field.Value, field.Choices, sec = "", nil, "just worked on"
			for _, w := range f.Choices() {
				field.Many = append(field.Many, tickedWord{w, slices.Contains(given[f.Path], w)})
			}
		} else if f.Many() {
			field.Hold = "3, 5 or none"
		}
		add(words(sec), field)
	}
	return out
}

// fill puts the ranking into words.
func (b *suspectsBody) fill(res *suspects.Result) {
	for i, x := range res.Suspects {
		if i >= 4 && x.Probability < 0.03 {
			continue
		}
		l := suspectLine{Name: whole(x.Name), Chance: quantity.Chance(x.Probability), Apart: x.Apart, Size: x.Size, Cure: whole(x.Cure), Because: x.Because, Width: int(100 * x.Probability)}
		b.Suspects = append(b.Suspects, l)
	}
	for i, o := range res.Observations {
		if i < 4 {
			b.Next = append(b.Next, adviceLine{whole(o.Observation), figure(o.Bits, 2) + " bit, " + figure(o.Minutes, 1) + " min", o.Hazard})
		}
	}
	for _, f := range res.Findings {
		b.Findings = append(b.Findings, whole(f))
	}
	if len(res.Plot) > 0 {
		b.Chart, b.ChartSays = foreseenChart(res), foreseenSays(res)
		b.Plot = &seenTable{Heads: append([]string{"looked at", "seen"}, res.Plotted...)}
		for _, p := range res.Plot {
			row := []string{p.Name, figure(p.Seen, 1) + " " + p.Unit}
			for _, q := range p.Predicted {
				text := figure(float64(q), 1)
				if float64(q) != float64(q) {
					text = "none"
				}
				row = append(row, text)
			}
			b.Plot.Rows = append(b.Plot.Rows, row)
		}
	}
}

// suspectsPage is the whole page; without script its form asks for it again.
func (s *Server) suspectsPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	b, status, err := s.weigh(v, j, r.URL.Query())
	if err != nil {
		return err
	}
	return s.render(w, r, v, page{View: "suspects", Title: j.Name + ", suspects", Where: "Suspects", Job: j.head(), Next: suspectsNext(b), Live: true, Version: j.Version, Status: status, Body: b})
}

// suspectsPart is the ranking alone, as evidence is entered.
func (s *Server) suspectsPart(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	given := r.URL.Query()
	given.Set("part", "1") // an emptied form is evidence too: nothing was seen
	b, status, err := s.weigh(v, j, given)
	if err != nil {
		return err
	}
	buf := bufferPool.Get().(*bytes.Buffer)
	defer bufferPool.Put(buf)
	buf.Reset()
	if err := s.views["suspects"].t.ExecuteTemplate(buf, "suspects-part", b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	return send(w, r, status, buf.Bytes())
}

// suspectsPost keeps the evidence on the record.
func (s *Server) suspectsPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	fields := url.Values{}
	for k, list := range r.PostForm {
		for _, x := range list {
			if k != "key" && strings.TrimSpace(x) != "" && len(x) < 200 && len(fields) < 100 {
				fields[k] = append(fields[k], strings.TrimSpace(x))
			}
		}
	}
	b, status, err := s.weigh(v, j, fields)
	if err != nil {
		return err
	}
	if status != 0 {
		return s.render(w, r, v, page{View: "suspects", Title: j.Name + ", suspects", Where: "Suspects", Job: j.head(), Next: suspectsNext(b), Version: j.Version, Status: status, Body: b})
	}
	key := r.PostForm.Get("key")
	if key == "" {
		key = s.newKey()
	}
	payload, err := json.Marshal(map[string]any{"fields": fields})
	if err != nil {
		return err
	}
	if _, err := s.Book.Append(r.Context(), j.ID, book.AnyVersion, book.Draft{Who: v.who, Kind: book.KindEvidenceSaved, Payload: payload, Key: key}); err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID+"/suspects")
}
