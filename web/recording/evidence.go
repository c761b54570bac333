package recording

import (
	"net/http"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// evidence is how a recording stands to the order of work, in words.
type evidence struct {
	Mark, Said string // taken, brought or free; "" where it could be taken now
	Go, Title  string // the step that this is about
	Shows      string // the figures that count
	Refused    []shelf.Lock
	Sent       bool // Refused answers a form that was sent
	Looks      []shelf.Look
	Takes      bool // it can be taken now, be it as a check that failed
	Brings     bool // it can be entered as brought
	Begun      bool // the job is worked by the order of work here
	Key        string
}

// evidenceOf says how a recording stands; ticked are the looks of a form that was sent.
func (r *Room) evidenceOf(j *shelf.Job, f book.Attachment, ticked []string) (*evidence, error) {
	p, state, err := j.Order()
	if err != nil {
		return nil, err
	}
	rec, err := j.Recording(f.SHA256, r.Clock())
	if err != nil {
		return nil, err
	}
	e := &evidence{Begun: state.Begun(), Key: page.NewKey()}
	if rec.Timed {
		e.Shows = page.Degrees(rec.Shown.Value) + " " + page.PlusMinus(rec.Shown.U, 1, "°") + " BTDC at " +
			page.Figure(rec.Shown.RPM, 0) + " rpm, " + page.Degrees(rec.Shown.Locked) + " commanded"
	}
	at := func(id procedure.StepID, said string) {
		st, _ := p.Step(id)
		e.Said, e.Go, e.Title = said, j.StepPath(id), st.Title
	}
	switch {
	case rec.Taken != nil && rec.Taken.Act == procedure.Tried:
		e.Mark = "caution"
		at(rec.Taken.Step, "kept as a check that failed, by "+rec.Taken.Who+", "+r.When(rec.Taken.At))
	case rec.Taken != nil:
		e.Mark = "fine"
		at(rec.Taken.Step, "taken as evidence, by "+rec.Taken.Who+", "+r.When(rec.Taken.At))
	case rec.Brought:
		e.Mark, e.Said = "caution", "brought from elsewhere: among the readings, and no proof of this order of work"
	case !e.Begun:
		e.Brings = rec.Timed
		e.Said, e.Mark = "the order of work is not begun here", "caution"
		if !rec.Timed {
			e.Refused = j.Locks(p, rec.Refused)
		}
	default:
		e.Takes, e.Brings, e.Refused = rec.Takes, rec.Timed, j.Locks(p, rec.Refused)
		e.Looks = shelf.AddLooks(nil, rec.Step, ticked)
		if rec.Timed && rec.Step.ID != "" {
			at(rec.Step.ID, "belongs to")
			e.Mark = "caution"
		}
	}
	return e, nil
}

// evidencePost takes a recording as evidence of the step that it belongs to, or enters it as brought.
func (r *Room) evidencePost(q *page.Request, j *shelf.Job, f book.Attachment) error {
	if j.Captures[f.SHA256] == nil {
		return page.Say(http.StatusConflict, "This recording has not been read yet, so it shows nothing.",
			"Go to the captures of the job and read it first.")
	}
	stamp, err := j.StampOf(q.Field)
	if err != nil {
		return err
	}
	there := j.Path("/captures/" + f.SHA256.String())
	in := r.Entry(q, j, q.Key(), q.Field("brought") != "", stamp)
	if j.Recorded(in.Key) {
		return q.Done(there)
	}
	taken, err := j.TakeRecording(f.SHA256, in)
	if err != nil {
		return err
	}
	if err := r.Keep(q, j, in, taken.Drafts); err != nil {
		return err
	}
	if len(taken.Refused) == 0 {
		return q.Done(there)
	}
	if j, err = r.Job(q.Context(), j.ID); err != nil {
		return err
	}
	p, _, err := j.Order()
	if err != nil {
		return err
	}
	e, err := r.evidenceOf(j, f, q.PostForm["seen"])
	if err != nil {
		return err
	}
	e.Refused, e.Sent = j.Locks(p, taken.Refused), true
	return r.showRecording(q, j, f, http.StatusUnprocessableEntity, e)
}
