package job

import (
	"errors"
	"net/http"
	"slices"
	"strconv"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// stepForm is what was typed, as it was typed.
type stepForm struct {
	Key, Who, Value, RPM, Wire, Text, SHA, File string
	Reason, OverWho, Second, BackReason         string
	Seen                                        []string     // the looks that were ticked
	Refused                                     []shelf.Lock // why it was refused
	At                                          string       // which form was refused: done, override, back
}

// stepsPost does a step, takes one back, or overrides a lock. What is refused is shown with the step as it is now.
func (r *Room) stepsPost(q *page.Request, j *shelf.Job) error {
	form := stepForm{Key: q.Key(), Who: page.CleanName(q.Field("who")), Value: q.Field("value"), RPM: q.Field("rpm"),
		Wire: q.Field("wire"), Text: q.Field("text"), SHA: q.Field("file"), At: q.Field("act"),
		Second: page.CleanName(q.Field("second")), Seen: q.PostForm["seen"]}
	ask := procedure.Request{Step: procedure.StepID(q.Field("step")), Who: form.Who, Second: form.Second,
		Paired: q.By.Paired, Reason: q.Field("reason")}
	var err error
	if ask.Seen, err = strconv.ParseInt(q.Field("version"), 10, 64); err != nil {
		ask.Seen = -1 // out of date, and that is shown
	}
	switch form.At {
	case "done":
		ask.Act = procedure.Do
	case "override":
		ask.Act, form.OverWho, form.Reason = procedure.Override, form.Who, ask.Reason
	case "back":
		ask.Act, form.BackReason = procedure.TakeBack, ask.Reason
	}
	q.RememberName(form.Who)
	for range 5 { // a note or a reading may come between; a step that does makes the request out of date
		if j.Card == nil {
			return record.ErrNoCard
		}
		if j.Recorded(form.Key) {
			return q.Done(j.Path("/steps"))
		}
		taken, err := r.decide(form, q, j, ask)
		if err != nil {
			return err
		}
		if len(taken.Drafts) == 0 {
			return r.refuseStep(q, j, taken.Refused, form)
		}
		_, err = r.Book.AppendAll(q.Context(), j.ID, j.Version, taken.Drafts)
		moved := (*book.Conflict)(nil)
		if errors.As(err, &moved) {
			err = nil
		} else if err == nil && len(taken.Refused) == 0 {
			return q.Done(j.Path("/steps"))
		}
		if err == nil {
			j, err = r.Job(q.Context(), j.ID)
		}
		if err != nil {
			return err
		}
		if moved == nil { // a check that failed: it was tried, and that stands
			return r.refuseStep(q, j, taken.Refused, form)
		}
	}
	return page.Say(http.StatusConflict, "The job changes too fast for this step to be recorded.",
		"Look at the step again, then send it again.")
}

// decide asks the order of work, and gives the step's event together with the one for what it means: alone it would be
// lost to the fit. A check that failed gives events and refusal.
func (r *Room) decide(f stepForm, q *page.Request, j *shelf.Job, ask procedure.Request) (record.Taken, error) {
	p, _, err := j.Order()
	if err != nil {
		return record.Taken{}, err
	}
	if st, known := p.Step(ask.Step); known && ask.Act != procedure.TakeBack {
		var wrong *procedure.Refusal
		if ask.Proof, wrong = f.proof(st); wrong != nil {
			return record.Taken{Refused: []procedure.Refusal{*wrong}}, nil
		}
	}
	stamp, err := j.StampOf(q.Field)
	if err != nil {
		return record.Taken{}, err
	}
	taken, err := j.DoStep(ask, record.Entry{Device: q.By.Who, Key: f.Key, Now: r.Clock(), Stamp: stamp})
	if err != nil {
		return taken, page.Refuse("This cannot be: "+err.Error()+".", "Look again, then write what is there.")
	}
	return taken, nil
}

// proof makes the proof of what was typed. Nil where nothing was: the order of work says what it wants.
func (f stepForm) proof(st procedure.Step) (*procedure.Proof, *procedure.Refusal) {
	d := st.Demand
	out := &procedure.Proof{Kind: d.Kinds[0], Text: f.Text, Seen: shelf.Looked(f.Seen)}
	number := func(text, remedy string) (*float64, *procedure.Refusal) {
		if v, ok := page.Number(text); ok {
			return &v, nil
		}
		have := "nothing"
		if text != "" {
			have = "“" + text + "”"
		}
		return nil, &procedure.Refusal{Kind: procedure.Input, Step: st.ID, Want: "a number", Have: have, Remedy: remedy}
	}
	var wrong *procedure.Refusal
	switch {
	case f.SHA != "" && slices.Contains(d.Kinds, procedure.Photo):
		out.Kind, out.SHA256 = procedure.Photo, f.SHA
	case f.SHA != "" && slices.Contains(d.Kinds, procedure.Capture):
		out.Kind, out.SHA256 = procedure.Capture, f.SHA // its figures are read from it
	case out.Kind == procedure.Photo || out.Kind == procedure.Written:
		if out.Kind = procedure.Written; f.Text == "" {
			return nil, nil
		}
	case out.Kind == procedure.Number && len(d.Options) > 0:
		if f.Text == "" {
			return nil, nil
		}
	case out.Kind == procedure.Number:
		out.Value, wrong = number(f.Value, "write it in "+d.Unit+": "+d.Ask)
	case out.Kind == procedure.Reading:
		if out.Value, wrong = number(f.Value, "write degrees BTDC such as 12.5"); wrong == nil {
			out.RPM, wrong = number(f.RPM, "write the speed in rpm such as 800")
		}
		if len(d.Wires) > 0 {
			out.Wire, _ = strconv.Atoi(f.Wire) // what is no number is no wire: the order of work says which there are
		}
	}
	return out, wrong
}

// refuseStep shows the step again with what stands against it.
func (r *Room) refuseStep(q *page.Request, j *shelf.Job, refused []procedure.Refusal, form stepForm) error {
	first, status := refused[0], http.StatusUnprocessableEntity
	if first.Kind == procedure.Stale {
		status = http.StatusConflict
	}
	if q.WantsJSON() {
		q.JSON(status, page.Reply{Say: first.Says(), Do: first.Remedy})
		return nil
	}
	o, err := orderOf(j)
	if err != nil {
		return err
	}
	if _, known := o.Step(first.Step); !known {
		return errNoStep
	}
	form.Refused = o.job.Locks(o.Procedure, refused)
	form.Key = "" // another try is another deed
	return r.showStep(q, j, status, first.Step, form)
}
