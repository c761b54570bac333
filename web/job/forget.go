package job

import (
	"errors"
	"slices"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// personal tells on the front page what could be erased of a person, and where the name would stay.
func (r *Room) personal(j *shelf.Job, b *frontBody) {
	for _, v := range book.PersonalIn(j.Events) {
		if !slices.Contains(b.Personal, v.Value) {
			b.Personal = append(b.Personal, v.Value)
		}
	}
	b.CanForget = len(b.Personal) > 0
	told := r.Teller(j)
	for _, one := range book.RemainsIn(j.Events) {
		if i := slices.IndexFunc(j.Events, func(e book.Event) bool { return e.Version == one.Version }); i >= 0 {
			e := j.Events[i]
			b.Remains = append(b.Remains, page.Joined(", ", told(e), r.When(e.At)))
		}
	}
}

// forgetPost erases the personal values of the job for good.
func (r *Room) forgetPost(q *page.Request, j *shelf.Job) error {
	if q.PostForm.Get("sure") == "" {
		return page.Refuse("Nothing was erased.", "Tick that you know it cannot be undone, then erase.")
	}
	_, err := r.Book.Forget(q.Context(), q.By.Who, q.PostForm.Get("key"), j.ID)
	switch {
	case errors.Is(err, book.ErrLeft):
		return page.Refuse("It is erased, but another program still holds the book’s old pages.",
			"Close that program. The rest then goes by itself.")
	case errors.Is(err, book.ErrBadInput):
		return page.Refuse("The job holds nothing personal that could be erased.", "Look at the job again.")
	case err != nil:
		return err
	}
	return q.Done(j.Path(""))
}
