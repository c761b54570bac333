package shelf

import (
	"cmp"
	"errors"
	"net/http"
	"net/url"
	"slices"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/record"
	"phasewright/web/page"
)

// Lock is what stands against doing a step, with where it is settled.
type Lock struct{ What, Do, Go, Title string }

// Look is a look that a form asks for, ticked by itself.
type Look struct {
	ID, Ask string
	Ticked  bool
}

// StepPath is the address of a step of the order of work.
func (j *Job) StepPath(id procedure.StepID) string {
	return j.Path("/steps?step=" + url.QueryEscape(string(id)))
}

// Locks puts refusals into words, with where each is settled.
func (j *Job) Locks(p *procedure.Procedure, refused []procedure.Refusal) []Lock {
	var out []Lock
	for _, f := range refused {
		l := Lock{What: page.Whole(f.Says()), Do: page.Whole(f.Remedy)}
		if f.Go != "" && f.Go != f.Step {
			st, _ := p.Step(f.Go)
			l.Go, l.Title = j.StepPath(f.Go), st.Title
		}
		out = append(out, l)
	}
	return out
}

// AddLooks adds what a step asks to be looked at to a list, each once.
func AddLooks(list []Look, st procedure.Step, ticked []string) []Look {
	for _, a := range st.Demand.Also {
		id := string(a.ID)
		if !slices.ContainsFunc(list, func(l Look) bool { return l.ID == id }) {
			list = append(list, Look{id, a.Ask, slices.Contains(ticked, id)})
		}
	}
	return list
}

// Looked are the looks that were ticked in a form.
func Looked(seen []string) []procedure.Look {
	var out []procedure.Look
	for _, one := range seen {
		out = append(out, procedure.Look(one))
	}
	return out
}

// Entry is how the sender's form comes into the job. Where the order of work is not begun, or there is no card to have
// one by, it is brought from elsewhere, whatever the form says.
func (s *Shelf) Entry(q *page.Request, j *Job, key string, brought bool, stamp record.Stamp) record.Entry {
	_, state, err := j.Order()
	return record.Entry{Who: cmp.Or(q.Name(), q.By.Who), Device: q.By.Who, Key: key,
		Brought: brought || err != nil || !state.Begun(),
		Now:     s.Clock(), Looks: Looked(q.PostForm["seen"]), Stamp: stamp}
}

// Keep records what an entry came to. What the order of work decided holds for the job as it was looked at: where that
// moved on meanwhile, nothing is kept.
func (s *Shelf) Keep(q *page.Request, j *Job, e record.Entry, drafts []book.Draft) error {
	switch {
	case len(drafts) == 0:
		return nil
	case e.Brought:
		_, err := s.Book.Append(q.Context(), j.ID, book.AnyVersion, drafts[0])
		return err
	}
	_, err := s.Book.AppendAll(q.Context(), j.ID, j.Version, drafts)
	if moved := (*book.Conflict)(nil); errors.As(err, &moved) {
		return page.Say(http.StatusConflict, "The job moved on in this very moment. Nothing was recorded.",
			"Look at it, then send it again.")
	}
	return err
}
