package web

import (
	"math"
	"net/http"
	"net/url"
	"strings"

	"phasewright/bench"
)

// secrets adds what only instructors see, and everybody once it is revealed.
func (r *room) secrets(b *benchBody, v *visit, s *Server) {
	for _, f := range bench.FaultTable() {
		if f.Fits(r.config) {
			b.Kinds = append(b.Kinds, benchFault{f.Name, f.Title, f.Shows, f.Accepts(), f.Default()})
		}
	}
	if !r.revealed && v.role < Instructor {
		return
	}
	for _, f := range bench.FaultTable() {
		if size := f.Size(r.faults); size != 0 {
			b.Secret = append(b.Secret, benchHidden{f.Title, faultValue(r.faults, f)})
		}
	}
	for i := len(r.done) - 1; i >= 0; i-- {
		d := r.done[i]
		b.Done = append(b.Done, recordLine{At: benchTime(d.TS), Who: d.Who, What: d.What})
	}
	if r.outcome != nil {
		b.Outcome = outcome(r.outcome, r.judgedBy)
	} else if r.revealed {
		t := r.session.Truth()
		b.Outcome = &benchOutcome{Word: "as it stands", Lines: truthLines(t)}
	}
}

// outcome puts the judge's word into lines: the error in degrees first.
func outcome(o *bench.Outcome, by string) *benchOutcome {
	return &benchOutcome{Passed: o.Passed, Word: passedWord(o.Passed), Debrief: afterFacts(o), By: by, Lines: truthLines(o.Truth)}
}

// afterFacts is what the judge adds to the facts, which stand in the table and in the list of what was hidden.
func afterFacts(o *bench.Outcome) string {
	_, said, _ := strings.Cut(o.Debrief, "the engine "+string(o.Truth.Behaviour)+".")
	return whole(strings.TrimSpace(said))
}

func truthLines(t bench.Truth) []figureLine {
	rest := "its own"
	if !t.SparksRest {
		rest = "not all their own"
	}
	return []figureLine{
		{"timing error at worst", figure(t.WorstDeg, 2) + "°", "at " + figure(t.WorstRPM, 0) + " rpm"},
		{"constant error", figure(math.Abs(t.OffsetDeg), 2) + "°", early("at every speed", t.OffsetDeg, 0.005)},
		{"delay left over", figure(math.Abs(t.DelayUS), 0) + " µs", early("with speed", -t.DelayUS, 0.5)},
		{"housing off", figure(math.Abs(float64(t.Housing)), 2) + "°", offWhich(float64(t.Housing))},
		{"the engine", string(t.Behaviour), "at idle"},
		{"sparks reach", rest, "cylinders"},
	}
}

// early says which way an error goes and when; small ones go nowhere.
func early(when string, v, least float64) string {
	switch {
	case v > least:
		return "early, " + when
	case v < -least:
		return "late, " + when
	}
	return "none"
}

// offWhich says which way a housing stands off.
func offWhich(v float64) string {
	switch {
	case v > 0.005:
		return "of the shaft, against the rotor"
	case v < -0.005:
		return "of the shaft, with the rotor"
	}
	return "none"
}

// faultValue is a hidden fault's size as it is written.
func faultValue(all bench.Faults, f bench.Fault) string {
	for _, one := range all.List() {
		if len(one) > len(f.Name) && one[:len(f.Name)+1] == f.Name+"=" {
			return strings.NewReplacer("deg", "°", "us", " µs", "-", "−", "V", " V").Replace(one[len(f.Name)+1:])
		}
	}
	return ""
}

// benchHide sets the engine up anew with faults that only instructors see.
func (s *Server) benchHide(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	seed, err := s.rooms.seed()
	if err != nil {
		return err
	}
	texts, err := hiddenTexts(room, r.PostForm, seed)
	if err != nil {
		return err
	}
	f, err := bench.ParseFaults(room.config, texts...)
	if err != nil {
		return say(http.StatusUnprocessableEntity, sentence(err.Error()), "Correct it and hide it again.")
	}
	if err := room.hide(v, f, seed); err != nil {
		return say(http.StatusUnprocessableEntity, sentence(err.Error()), "Choose another fault or another size.")
	}
	return benchDone(w, r, room)
}

// hiddenTexts is what the instructor chose, or one fault drawn at random.
func hiddenTexts(room *room, form url.Values, seed uint64) ([]string, error) {
	if form.Get("draw") != "" {
		var fit []string
		for _, f := range bench.FaultTable() {
			if f.Fits(room.config) && f.Name != "misread" { // misreading is the reader's, not the engine's
				fit = append(fit, f.Name)
			}
		}
		return []string{fit[seed%uint64(len(fit))]}, nil
	}
	var texts []string
	for i, name := range form["fault"] {
		if name == "" {
			continue
		}
		if i < len(form["size"]) && form["size"][i] != "" {
			name += "=" + form["size"][i]
		}
		texts = append(texts, name)
	}
	if len(texts) == 0 && form.Get("none") == "" {
		return nil, say(http.StatusUnprocessableEntity, "No fault was chosen.", "Choose one, draw one at random, or set the engine up sound.")
	}
	return texts, nil
}

// benchReveal shows everybody what was hidden.
func (s *Server) benchReveal(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	room.reveal(v)
	return benchDone(w, r, room)
}
