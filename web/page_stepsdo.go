package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"phasewright/book"
	"phasewright/procedure"
)

// stepsPost does a step, takes one back, or overrides a lock. What is refused is shown with the step as it is now.
func (s *Server) stepsPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	get := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	form := stepForm{Key: get("key"), Who: cleanName(get("who")), Value: get("value"), RPM: get("rpm"), Text: get("text"), SHA: get("file"), At: get("act")}
	if form.Key == "" {
		form.Key = s.newKey()
	}
	req := procedure.Request{Step: procedure.StepID(get("step")), Who: form.Who, Reason: get("reason"),
		Seen: versionOf(get("version"))}
	switch form.At {
	case "done":
		req.Act = procedure.Do
	case "override":
		req.Act, form.OverWho, form.Reason = procedure.Override, form.Who, req.Reason
	case "back":
		req.Act, form.BackReason = procedure.TakeBack, req.Reason
	}
	for range 5 { // a note or a reading may come between; a step that does makes the request stale
		if j.Card == nil {
			return say(http.StatusConflict, "There is no card that can be used.", "Correct the job card first.")
		}
		if j.Recorded(form.Key) {
			return done(w, r, "/job/"+j.ID+"/steps")
		}
		p, state, err := j.Order(s.Clock())
		if err != nil {
			return err
		}
		st, known := p.Step(req.Step)
		if req.Act == procedure.Do && known {
			var wrong *procedure.Refusal
			if req.Proof, wrong = form.proof(st); wrong != nil {
				return s.refuseStep(w, r, v, j, p, []procedure.Refusal{*wrong}, form)
			}
		}
		out := p.Decide(state, req)
		if len(out.Refused) > 0 {
			return s.refuseStep(w, r, v, j, p, out.Refused, form)
		}
		stamp, err := stampOf(get, j)
		if err != nil {
			return err
		}
		draft := book.Draft{Who: v.who, Kind: book.Kind(out.Events[0].Kind), Key: form.Key}
		if draft.Payload, err = stamp.On(out.Events[0].Payload); err != nil {
			return err
		}
		drafts := []book.Draft{draft}
		if meant, ok, err := j.Meaning(draft, stamp); err != nil {
			return say(http.StatusUnprocessableEntity, "This cannot be: "+err.Error()+".",
				"Look again, then write what is there.")
		} else if ok {
			drafts = append(drafts, meant)
		}
		_, err = s.Book.AppendAll(r.Context(), j.ID, j.Version,
			drafts) // a step without what it means would be lost to the fit
		var conflict *book.Conflict
		if errors.As(err, &conflict) {
			if j, err = s.jobs.get(r.Context(), j.ID); err != nil {
				return err
			}
			continue
		}
		if err != nil {
			return err
		}
		return done(w, r, "/job/"+j.ID+"/steps")
	}
	return say(http.StatusConflict, "The job changes too fast for this step to be recorded.",
		"Look at the step again, then send it again.")
}

// proof makes the proof of what was typed.
func (f stepForm) proof(st procedure.Step) (*procedure.Proof, *procedure.Refusal) {
	kind := st.Demand.Kinds[0]
	out := &procedure.Proof{Kind: kind, Text: f.Text}
	number := func(text, remedy string) (*float64, *procedure.Refusal) {
		v, ok := plainNumber(text)
		if ok {
			return &v, nil
		}
		have := "nothing"
		if text != "" {
			have = "“" + text + "”"
		}
		return nil, &procedure.Refusal{Kind: procedure.Input, Step: st.ID, Want: "a number", Have: have, Remedy: remedy}
	}
	var wrong *procedure.Refusal
	has := func(k procedure.ProofKind) bool {
		for _, one := range st.Demand.Kinds {
			if one == k {
				return true
			}
		}
		return false
	}
	switch {
	case f.SHA != "" && has(procedure.Photo):
		out.Kind, out.SHA256 = procedure.Photo, f.SHA
	case f.SHA != "" && has(procedure.Capture):
		out.Kind, out.SHA256 = procedure.Capture, f.SHA
	case kind == procedure.Photo || kind == procedure.Written:
		if f.Text == "" {
			return nil, nil // no proof: the procedure says what it wants
		}
		out.Kind = procedure.Written
	case kind == procedure.Number && len(st.Demand.Options) > 0:
		if out.Text == "" {
			return nil, nil
		}
	case kind == procedure.Number:
		out.Value, wrong = number(f.Value, "write it in "+st.Demand.Unit+": "+st.Demand.Ask)
	case kind == procedure.Reading:
		if out.Value, wrong = number(f.Value, "write degrees BTDC such as 12.5"); wrong == nil {
			out.RPM, wrong = number(f.RPM, "write the speed in rpm such as 800")
		}
	}
	return out, wrong
}

// refuseStep shows the step again with what stands against it.
func (s *Server) refuseStep(w http.ResponseWriter, r *http.Request, v *visit, j *job, p *procedure.Procedure, refused []procedure.Refusal, form stepForm) error {
	to := func(id procedure.StepID) string { return "/job/" + j.ID + "/steps?step=" + url.QueryEscape(string(id)) }
	title := func(id procedure.StepID) string { st, _ := p.Step(id); return st.Title }
	form.Refused = lockLines(refused, to, title)
	status := http.StatusUnprocessableEntity
	if refused[0].Kind == procedure.Stale {
		status = http.StatusConflict
	}
	if wantsJSON(r) {
		answerJSON(w, status, reply{Say: refused[0].Want + "; there is " + refused[0].Have + ".", Do: refused[0].Remedy})
		return nil
	}
	if _, known := p.Step(refused[0].Step); !known {
		return say(http.StatusNotFound, "This engine has no such step.", "Open the order of work and choose one from the list.")
	}
	form.Key = "" // another try is another deed
	return s.showStep(w, r, v, j, status, refused[0].Step, form)
}
