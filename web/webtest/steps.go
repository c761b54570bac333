package webtest

import (
	"net/http"
	"net/url"
	"strconv"

	"phasewright/procedure"
	"phasewright/verdict"
	"phasewright/web/page"
)

// Ordered is a job's order of work as the book has it now.
func (s *Shop) Ordered(job string) (*procedure.Procedure, procedure.State) {
	s.T.Helper()
	j, err := s.Shelf.Job(s.T.Context(), job)
	if err != nil {
		s.T.Fatal(err)
	}
	p, state, err := j.Order()
	if err != nil {
		s.T.Fatal(err)
	}
	return p, state
}

func mid(b procedure.Band) string { return strconv.FormatFloat((b.From+b.To)/2, 'f', 3, 64) }

// ProofForm is what somebody types who has it all right.
func ProofForm(d procedure.Demand) url.Values {
	v := url.Values{}
	for _, a := range d.Also {
		v.Add("seen", string(a.ID))
	}
	switch d.Kinds[0] {
	case procedure.Photo, procedure.Written:
		v.Set("text", "seen and right")
	case procedure.Number:
		if d.Right != "" {
			v.Set("text", d.Right)
		} else if d.Passes.Set() && d.Whole == 0 {
			v.Set("value", mid(d.Passes))
		} else {
			v.Set("value", "0")
		}
	case procedure.Reading:
		v.Set("value", strconv.FormatFloat((d.Passes.From+d.Passes.To)/2+0.1, 'f', 1, 64)) // to a tenth, as it is read
		v.Set("rpm", mid(d.Speed))
		if len(d.Wires) > 0 {
			v.Set("wire", strconv.Itoa(d.Wires[0]))
		}
	}
	return v
}

// Looks are all that a step asks to be looked at.
func (s *Shop) Looks(job string, id procedure.StepID) []string {
	p, _ := s.Ordered(job)
	st, _ := p.Step(id)
	return ProofForm(st.Demand)["seen"]
}

// Step does the next step through the page. Before the proof it reads what the judge wants shown beside the line.
func (s *Shop) Step(job string) {
	s.T.Helper()
	p, state := s.Ordered(job)
	id := p.Next(state).Step
	if id == procedure.StepProve {
		s.ShowAll(job)
		p, state = s.Ordered(job)
		id = p.Next(state).Step // an engine that was stopped for another wire is started again first
	}
	s.Did(job, id, nil)
}

// Filled is the form of a step as somebody fills it in who has it all right, with what is typed beside.
func (s *Shop) Filled(job string, id procedure.StepID, typed map[string]string) url.Values {
	s.T.Helper()
	p, state := s.Ordered(job)
	st, _ := p.Step(id)
	form := ProofForm(st.Demand)
	if st.Demand.Rungs != nil {
		form.Set("rpm", mid(p.Speed(state, st.ID)))
	}
	if st.Demand.AsSet && state.Allowance != nil {
		form.Set("value", strconv.FormatFloat(*state.Allowance, 'f', -1, 64))
	}
	for name, value := range typed {
		form.Set(name, value)
	}
	return form
}

// Did does a step through the page, with what is typed beside what it asks for.
func (s *Shop) Did(job string, id procedure.StepID, typed map[string]string) {
	s.T.Helper()
	_, state := s.Ordered(job)
	form := url.Values{"act": {"done"}, "step": {string(id)}, "who": {"Ada Reed"}, "key": {page.NewKey()},
		"version": {strconv.FormatInt(state.Version, 10)}}
	for name, values := range s.Filled(job, id, typed) {
		form[name] = values
	}
	w := s.Post("/job/"+job+"/steps", form)
	if w.Code != http.StatusSeeOther {
		s.T.Fatalf("«%s»: %d\n%s", id, w.Code, HTMLText(w.Body.String()))
	}
}

// ShowAll takes the readings that the judge wants before the whole is shown.
func (s *Shop) ShowAll(job string) {
	s.T.Helper()
	for range 16 {
		id, typed := s.Unshown(job)
		if id == "" {
			return
		}
		s.Did(job, id, typed)
	}
	s.T.Fatal("the whole is never shown")
}

// Unshown is the step that shows what the judge wants beside the order of work: more speeds, then another wire. It
// reads what is commanded, to a tenth. No step: all is shown.
func (s *Shop) Unshown(job string) (procedure.StepID, map[string]string) {
	s.T.Helper()
	j, err := s.Shelf.Job(s.T.Context(), job)
	if err != nil {
		s.T.Fatal(err)
	}
	says, err := j.Judge()
	if err != nil {
		s.T.Fatal(err)
	}
	p, state := s.Ordered(job)
	shown := strconv.FormatFloat(float64(j.Card.Controller.Advance.Locked.Or(0))+0.1, 'f', 1, 64)
	switch {
	case says.Clauses.Get(verdict.Timing).State != verdict.Shown:
		fit, err := j.Fit()
		if err != nil {
			s.T.Fatal(err)
		}
		rpm := strconv.FormatFloat(fit.Next, 'f', 0, 64)
		return procedure.StepRange, map[string]string{"rpm": rpm, "value": shown}
	case says.Clauses.Get(verdict.EveryCylinder).State == verdict.Shown:
		return "", nil
	case state.Plant.Get(procedure.Engine) != procedure.Stopped:
		return procedure.StepStop, nil
	}
	other, _ := p.Step(procedure.StepOther)
	return procedure.StepOther, map[string]string{"value": shown, "rpm": mid(other.Demand.Speed)}
}

// UpTo does steps until the named one is next.
func (s *Shop) UpTo(job string, id procedure.StepID) {
	s.T.Helper()
	for range 80 {
		p, state := s.Ordered(job)
		if p.Next(state).Step == id {
			return
		}
		s.Step(job)
	}
	s.T.Fatalf("«%s» is never next", id)
}
