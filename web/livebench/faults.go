package livebench

import (
	"math"
	"net/url"
	"strings"

	"phasewright/bench"
	"phasewright/web/page"
)

// secrets adds what only instructors see, and everybody once it is revealed.
func (r *rig) secrets(b *benchBody, by *page.Session) {
	for _, f := range bench.FaultTable() {
		if f.Fits(r.config) && f.Name != "misread" { // misreading is the reader's, not the engine's
			b.Kinds = append(b.Kinds, benchFault{f.Name, f.Title, f.Shows, f.Accepts(), f.Default()})
		}
	}
	if b.CanHide {
		if r.offer == nil {
			r.offer = bench.Offer(r.config)
		}
		for _, f := range r.offer {
			b.Offered = append(b.Offered, benchFault{f.Name, f.Title, f.Shows, f.Accepts(), f.Default()})
		}
	}
	if r.verdict != nil {
		b.Outcome = outcome(&r.verdict.Outcome, r.verdict.By)
	}
	if r.released {
		r.tells(b)
	}
	if !r.released && by.Role < page.Instructor {
		return
	}
	for _, f := range bench.FaultTable() {
		if f.Size(r.faults) != 0 {
			b.Secret = append(b.Secret, benchHidden{f.Title, faultValue(r.faults, f)})
		}
	}
	for i := len(r.done) - 1; i >= 0; i-- {
		d := r.done[i]
		b.Done = append(b.Done, page.LogLine{At: benchTime(d.TS), Who: d.Who, What: d.What})
	}
}

// tells adds how the engine truly stands: as it was judged, or as it stands now.
func (r *rig) tells(b *benchBody) {
	if b.Outcome == nil {
		b.Outcome = &benchOutcome{Word: "as it stands", Lines: truthLines(r.session.Truth())}
		return
	}
	b.Outcome.Lines = truthLines(r.verdict.Truth)
}

// outcome puts the judge's word on the work into lines; how the engine truly stands is another matter.
func outcome(o *bench.Outcome, by string) *benchOutcome {
	b := &benchOutcome{Judged: true, Passed: o.Passed, Word: passedWord(o.Passed), By: by, Checks: o.Checks}
	for _, u := range o.Unsafe {
		b.Unsafe = append(b.Unsafe, page.Line{Name: benchTime(u.TimeS), Value: u.Act, U: u.Hazard})
	}
	return b
}

func truthLines(t bench.Truth) []page.Line {
	stroke := "on its own compression"
	switch {
	case t.Dark:
		stroke = "not at all"
	case t.Exhaust:
		stroke = "half a turn out: on the exhaust stroke"
	}
	rest := "its own"
	if !t.SparksRest {
		rest = "not all their own"
	}
	return []page.Line{
		{Name: "timing error at worst", Value: page.Figure(t.WorstDeg, 2) + "°",
			U: "at " + page.Figure(t.WorstRPM, 0) + " rpm"},
		{Name: "constant error", Value: page.Figure(math.Abs(t.OffsetDeg), 2) + "°",
			U: way(t.OffsetDeg, 0.005, "early, at every speed", "late, at every speed")},
		{Name: "delay left over", Value: page.Figure(math.Abs(t.DelayUS), 0) + " µs",
			U: way(-t.DelayUS, 0.5, "early, with speed", "late, with speed")},
		{Name: "housing off", Value: page.Figure(math.Abs(float64(t.Housing)), 2) + "°",
			U: way(float64(t.Housing), 0.005, "of the shaft, against the rotor", "of the shaft, with the rotor")},
		{Name: "cylinder 1 is fired", Value: stroke},
		{Name: "the engine", Value: string(t.Behaviour), U: "at idle"},
		{Name: "sparks reach", Value: rest, U: "cylinders"},
	}
}

// way says which way a value goes; a small one goes neither.
func way(v, least float64, above, below string) string {
	switch {
	case v > least:
		return above
	case v < -least:
		return below
	}
	return "none"
}

// faultValue is a hidden fault's size as it is written.
func faultValue(all bench.Faults, f bench.Fault) string {
	for _, one := range all.List() {
		size, is := strings.CutPrefix(one, f.Name+"=")
		switch {
		case !is:
			continue
		case f.Kind == bench.Word:
			return size
		}
		return strings.NewReplacer("deg", "°", "us", "\u202fµs", "-", "−", "V", "\u202fV").Replace(size)
	}
	return ""
}

// hidePost sets the engine up anew with faults that only instructors see.
func (o *Room) hidePost(q *page.Request, r *rig) error {
	seed, err := o.rigs.seed()
	if err != nil {
		return err
	}
	texts, err := hiddenTexts(r, q.PostForm, seed)
	if err != nil {
		return err
	}
	f, err := bench.ParseFaults(r.config, texts...)
	if err == nil {
		err = r.visible(f)
	}
	if err != nil {
		return page.Refuse(page.Sentence(err.Error()), "Correct it and hide it again.")
	}
	return r.hide(q.By, texts, seed)
}

// hiddenTexts is what the instructor chose, or one fault drawn at random.
func hiddenTexts(r *rig, form url.Values, seed uint64) ([]string, error) {
	if form.Get("draw") != "" {
		var fit []string
		for _, f := range bench.Offer(r.config) {
			fit = append(fit, f.Name)
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
		return nil, page.Refuse("No fault was chosen.",
			"Choose one, draw one at random, or set the engine up sound.")
	}
	return texts, nil
}

// releasePost tells everybody what was hidden.
func releasePost(q *page.Request, r *rig) error { return r.release(q.By) }

// againPost begins another attempt.
func (o *Room) againPost(q *page.Request, r *rig) error {
	seed, err := o.rigs.seed()
	if err != nil {
		return err
	}
	return r.again(q.By, tabOf(q), seed)
}

// visible says which of the faults nobody could see on this engine.
func (r *rig) visible(f bench.Faults) error {
	m, err := bench.NewModel(r.config)
	if err != nil {
		return err
	}
	return m.Seen(f)
}
