package job

import (
	"phasewright/suspects"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// learntBody is what an earlier job showed, beside the card that began with its card.
type learntBody struct {
	ID, Name, Last string
	Words          []string
}

// learnt is what is known from the job whose card this one began with; nil where there is none, or nothing is.
func (r *Room) learnt(q *page.Request, j *shelf.Job) *learntBody {
	if j.From == "" {
		return nil
	}
	from, err := r.Job(q.Context(), j.From)
	if err != nil { // it may lie in the book that this job was taken over from
		return nil
	}
	b := &learntBody{ID: from.ID, Name: from.Name, Last: r.When(from.WorkedAt), Words: from.Learnt().Words()}
	if fault := faultOf(from); fault != "" {
		b.Words = append(b.Words, "Fault found: "+fault+".")
	}
	if len(b.Words) == 0 {
		return nil
	}
	return b
}

// faultOf is what the looks kept with a job settled on; "" where they settled on nothing.
func faultOf(j *shelf.Job) string {
	given, at := j.KeptEvidence()
	if at == 0 || j.Card == nil {
		return ""
	}
	e, err := suspects.New(j.Card, suspects.DefaultPriors())
	if err != nil {
		return ""
	}
	ev, _ := readSeen(said(given), j)
	res, err := e.Explain(ev, suspects.Limits{})
	if err != nil || !res.Settled || len(res.Suspects[0].Faults) == 0 {
		return ""
	}
	return res.Suspects[0].Name
}
