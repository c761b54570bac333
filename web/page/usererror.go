package page

import (
	"errors"
	"net/http"

	"phasewright/book"
	"phasewright/record"
)

// UserError is an error in words for whoever sees the page: what is the matter, and what to do.
type UserError struct {
	Status   int
	What, Do string
}

func (e *UserError) Error() string { return e.What + " " + e.Do }

// Say makes a UserError.
func Say(status int, what, do string) error { return &UserError{status, what, do} }

// Refuse makes a UserError about what was entered.
func Refuse(what, do string) error { return Say(http.StatusUnprocessableEntity, what, do) }

// known puts the errors of the book, and of a job without a card, into words. The first that fits counts.
var known = []struct {
	err  error
	says UserError
}{
	{record.ErrNoCard, UserError{http.StatusConflict, "There is no job card that can be used.",
		"Correct the job card first; sheet, readings and proof follow from it."}},
	{book.ErrNoJob, UserError{http.StatusNotFound, "There is no such job in this shop book.",
		"Go to the shop book and look for it by name."}},
	{book.ErrDiscarded, UserError{http.StatusGone, "The content of this file was thrown away.",
		"What was read of it is still there. Bring the file again to look into it."}},
	{book.ErrNoAttachment, UserError{http.StatusNotFound, "There is no such file with this job.",
		"Open the job's captures and choose one from the list."}},
	{book.ErrKeyReused, UserError{http.StatusConflict, "This form was sent before with other contents.",
		"Load the page again and enter what is new."}},
	{book.ErrFull, UserError{http.StatusInsufficientStorage,
		"The disk of the host computer is full. Nothing was recorded; what was recorded before is safe.",
		"Make room on the host computer, then send again."}},
	{book.ErrQuota, UserError{http.StatusInsufficientStorage,
		"The shop book's space for files is used up. Nothing was recorded.",
		"Remove old captures or raise the limit, then send again."}},
	{book.ErrClosed, UserError{http.StatusServiceUnavailable, "The shop book is closed. Nothing was recorded.",
		"Start the program on the host computer again, then send again."}},
	{book.ErrDamaged, UserError{http.StatusServiceUnavailable,
		"The shop book's file is damaged. What can still be read is shown; nothing more is recorded.",
		"Stop the program on the host computer and keep the file as it is. “phasewright book check FILE” says what " +
			"is hurt. “phasewright book restore FILE NEW” takes everything over to a new book where every event can " +
			"still be read. Where it refuses, restore the last backup the same way."}},
	{book.ErrDisk, notAsWritten},
	{book.ErrNotBook, notAsWritten},
	{book.ErrReadOnly, UserError{http.StatusServiceUnavailable,
		"The shop book can be read but not written. Nothing was recorded.",
		"Free the book's file on the host computer for writing, then send again."}},
	{book.ErrInUse, UserError{http.StatusServiceUnavailable,
		"Another program holds the shop book. Nothing was recorded.",
		"Close the other program on the host computer, then send again."}},
	{book.ErrAway, UserError{http.StatusServiceUnavailable,
		"The database of the shop book cannot be reached. What was recorded before is safe.",
		"See that PostgreSQL runs and the line to it holds. This page looks again by itself. " +
			"Send again what you entered."}},
	{book.ErrTooLarge, tooLarge},
}

var (
	notAsWritten = UserError{http.StatusServiceUnavailable,
		"The host computer's disk does not give the shop book as it was written. Nothing was recorded.",
		"Stop the program on the host computer and check the disk; then “phasewright book check FILE” says whether " +
			"the book is sound."}
	tooLarge = UserError{http.StatusRequestEntityTooLarge,
		"That is more than can be recorded at once. Nothing was recorded.", "Send less, or a smaller file."}
)

// words puts an error into words.
func words(err error) *UserError {
	var said *UserError
	var conflict *book.Conflict
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &said):
		return said
	case errors.As(err, &conflict):
		return &UserError{http.StatusConflict, "Somebody else changed this job meanwhile.",
			"Look at what changed, then send yours again."}
	case errors.As(err, &tooBig):
		return &tooLarge
	}
	for i := range known {
		if errors.Is(err, known[i].err) {
			return &known[i].says
		}
	}
	if errors.Is(err, book.ErrBadInput) {
		return &UserError{http.StatusUnprocessableEntity, err.Error(), "Correct it and send again."}
	}
	return &UserError{http.StatusInternalServerError,
		"Something went wrong inside the program. What was recorded before is safe.",
		"Send again. If it goes wrong again, start the program again and note what you did."}
}

// InWords says an error as a page says it; one that has no words of its own says itself.
func InWords(err error) string {
	if HasWords(err) {
		return words(err).Error()
	}
	return err.Error()
}

// HasWords says whether an error is one that a page can explain.
func HasWords(err error) bool { return words(err).Status != http.StatusInternalServerError }
