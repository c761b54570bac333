package recording

import (
	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// throwAwayPost throws the content of a file away to make room: its hash and what was read of it stay.
func (r *Room) throwAwayPost(q *page.Request, j *shelf.Job, f book.Attachment) error {
	reason := page.CleanName(q.Field("reason"))
	if reason == "" {
		return page.Refuse("There is no reason yet.", "Write why the file may go. It stays on the record.")
	}
	if _, err := r.Book.Discard(q.Context(), j.ID, f.SHA256, q.By.Who, reason, q.Key()); err != nil {
		return err
	}
	return q.Done(j.Path("/captures"))
}
