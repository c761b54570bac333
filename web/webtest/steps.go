package webtest

import (
	"net/http"
	"net/url"
	"strconv"

	"phasewright/procedure"
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
		v.Set("value", mid(d.Passes))
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

// Step does the next step through the page.
func (s *Shop) Step(job string) {
	s.T.Helper()
	p, state := s.Ordered(job)
	now := p.Next(state)
	st, _ := p.Step(now.Step)
	form := ProofForm(st.Demand)
	if st.Demand.Rungs != nil {
		form.Set("rpm", mid(p.Speed(state, st.ID)))
	}
	if st.Demand.AsSet && state.Allowance != nil {
		form.Set("value", strconv.FormatFloat(*state.Allowance, 'f', -1, 64))
	}
	form.Set("act", "done")
	form.Set("step", string(st.ID))
	form.Set("who", "Ada Reed")
	form.Set("version", strconv.FormatInt(state.Version, 10))
	form.Set("key", page.NewKey())
	w := s.Post("/job/"+job+"/steps", form)
	if w.Code != http.StatusSeeOther {
		s.T.Fatalf("«%s»: %d\n%s", st.ID, w.Code, HTMLText(w.Body.String()))
	}
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
