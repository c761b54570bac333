package job

import (
	"fmt"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/sheet"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type frontBody struct {
	Judged   *judgedBody // nil without a card that can be used
	Lines    []standing
	Record   []page.LogLine // newest first
	Older    []page.LogLine // what is folded away
	Key      string
	CanWrite bool
	Closed   string // when it was signed or put away, where that is so long ago that it is taken up again to go on

	Name, Owner, Contact, Engine, Bay, Person string
	Waiting, WaitingSince                     string
	Waits                                     []string // that it may wait for

	CanForget bool     // the sender may erase personal values, and there are some
	Personal  []string // those values, each once
	Remains   []string // where they stand and cannot be erased
}

// unfolded is how many events of a job are shown at once.
const unfolded = 8

// standing is one view of the job with how it stands.
type standing struct{ Path, Word, State, Mark string }

// frontPage is the front of a job: where it stands, what is next, and what was done.
func (r *Room) frontPage(q *page.Request, j *shelf.Job) error {
	b := frontBody{Key: page.NewKey(), CanWrite: q.By.CanWork(), Lines: r.standings(j),
		Name: j.Name, Owner: j.Owner, Contact: j.Contact, Engine: j.Job.Engine, Bay: j.Bay, Person: j.Person,
		Waiting: j.Waiting, WaitingSince: r.When(j.WaitingAt), Waits: waits}
	if since, over := j.Closed(r.Clock()); over {
		b.Closed = r.When(since)
	}
	told := r.Teller(j)
	for i := len(j.Events) - 1; i >= 0; i-- {
		e := j.Events[i]
		b.Record = append(b.Record, page.LogLine{At: r.When(e.At), Who: e.Who, What: told(e)})
	}
	b.Record, b.Older = fold(b.Record)
	var err error
	if b.Judged, err = judged(j); err != nil {
		return err
	}
	if q.By.Role >= page.Instructor {
		r.personal(j, &b)
	}
	p := j.Page("job", "", "Where it stands", b)
	p.Title, p.Next, p.Leads = j.Name, j.Standing(), true
	return q.Render(p)
}

// fold splits a log into what is shown at once and what is folded away.
func fold(log []page.LogLine) (shown, older []page.LogLine) {
	n := min(len(log), unfolded)
	return log[:n], log[n:]
}

// notePost adds a note to the job.
func (r *Room) notePost(q *page.Request, j *shelf.Job) error {
	text := q.Field("text")
	if text == "" {
		return page.Refuse("The note is empty.", "Write what is worth knowing next time, then add it.")
	}
	stamp, err := j.StampOf(q.PostForm.Get)
	if err != nil {
		return err
	}
	payload, err := stamp.On(map[string]string{"text": text})
	if err != nil {
		return err
	}
	if err := r.Append(q, j.ID, book.KindNoteAdded, q.PostForm.Get("key"), payload); err != nil {
		return err
	}
	return q.Done(j.Path(""))
}

// standings is how each view of the job stands, for its front.
func (r *Room) standings(j *shelf.Job) []standing {
	card := standing{"/card", "Job card", "not written yet", ""}
	plan := standing{"/sheet", "Set-up sheet", "follows from the card", ""}
	steps := standing{"/steps", "Order of work", "follows from the sheet", ""}
	taken := standing{"/readings", "Readings", "none yet", ""}
	with := standing{"/instruments", "Measured with", "no instrument picked", ""}
	recorded := standing{"/captures", "Captures", "none yet", ""}
	proof := standing{"/proof", "Proof", "not signed yet", ""}
	switch {
	case j.Card != nil:
		card.State, card.Mark = "saved by "+j.CardBy+", "+r.When(j.CardAt), "fine"
		plan.sheet(j)
		steps.steps(j)
		if res, err := j.Fit(); len(j.Readings) > 0 && err == nil {
			taken.State = page.Count(len(j.Counting()), "reading") + ": " + string(res.Verdict)
			taken.Mark = string(res.Verdict)
		}
	case j.CardVersion > 0:
		card.State, card.Mark = page.Count(len(j.Mistakes), "mistake")+" to correct", "stop"
	}
	if j.Signed != nil {
		proof.State = "signed by " + j.Signed.Name + ", " + r.When(j.Signed.At) + ": " + j.Signed.Verdict
		proof.Mark = j.Signed.Verdict
	}
	if j.Attachments > 0 {
		recorded.State = fmt.Sprintf("%s, %d read", page.Count(j.Attachments, "file"), len(j.Captures))
		recorded.Mark = "fine"
	}
	if names := calledOf(j); names != "" {
		with.State, with.Mark = names, "fine"
	}
	return []standing{card, plan, steps, with, taken, recorded, proof}
}

func (l *standing) sheet(j *shelf.Job) {
	sh, err := j.Sheet()
	if err != nil {
		return
	}
	l.State = ""
	for _, v := range []sheet.Verdict{sheet.Fine, sheet.Caution, sheet.Stop} {
		n := sh.Count(v)
		l.State = page.Joined(", ", l.State, fmt.Sprintf("%d %s", n, v))
		if n > 0 || v == sheet.Fine {
			l.Mark = string(v)
		}
	}
}

func (l *standing) steps(j *shelf.Job) {
	p, state, err := j.Order()
	if err != nil {
		return
	}
	done, of, steps := 0, 0, p.Steps()
	for i, one := range p.Standing(state) {
		if steps[i].OnDemand {
			continue // done only where it is asked for
		}
		if of++; one.Mark == procedure.Done {
			done++
		}
	}
	l.State = fmt.Sprintf("%d of %d steps done", done, of)
	switch {
	case len(state.Overrides) > 0:
		l.State, l.Mark = l.State+", "+page.Count(len(state.Overrides), "rule")+" passed", "caution"
	case done > 0:
		l.Mark = "fine"
	}
}
