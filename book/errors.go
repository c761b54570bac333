package book

import (
	"errors"
	"fmt"
)

// Sentinel errors: test with errors.Is. Each returned error says where, what and what to do about it.
var (
	ErrNoJob        = errors.New("no such job")
	ErrNoAttachment = errors.New("no such attachment")
	ErrDiscarded    = errors.New("attachment was thrown away")
	ErrClosed       = errors.New("book is closed")
	ErrReadOnly     = errors.New("book cannot be written")
	ErrInUse        = errors.New("book is open in another program")
	ErrOtherName    = errors.New("book's file has another name too")
	ErrNotBook      = errors.New("not a shop book")
	ErrNewer        = errors.New("book was written by a newer release")
	ErrOlder        = errors.New("book was written by an older release")
	ErrDamaged      = errors.New("book is damaged")
	ErrFull         = errors.New("disk is full")
	ErrDisk         = errors.New("disk failed")
	ErrQuota        = errors.New("attachment space is used up")
	ErrTooLarge     = errors.New("too large")
	ErrBadInput     = errors.New("cannot be recorded")
	ErrBadImport    = errors.New("cannot be imported")
	ErrKeyReused    = errors.New("key was used for something else")
	ErrIncomplete   = errors.New("copied without some")
	ErrExists       = errors.New("already there")
	ErrCopied       = errors.New("a copy of the file of a book in use")
	ErrAway         = errors.New("the database cannot be reached")
)

// Conflict is returned (as *Conflict, find it with errors.As) when an event was written against an old version of
// the job. Nothing was recorded. Since says what changed meanwhile, so that the caller can offer to merge.
type Conflict struct {
	Job   string  `json:"job"`
	Have  Version `json:"have"`  // version the job is at now
	Want  Version `json:"want"`  // version the caller thought it was at
	Since []Event `json:"since"` // events after Want, oldest first, at most MaxSince of them
}

// MaxSince is the most events a Conflict carries.
const MaxSince = 1000

func (c *Conflict) Error() string {
	if c.Want > c.Have {
		return fmt.Sprintf("job %s – is at version %d, %d was expected – load the job again", c.Job, c.Have, c.Want)
	}
	return fmt.Sprintf("job %s – someone recorded %d more since version %d – look at what changed, then "+
		"record again at version %d",
		c.Job, c.Have-c.Want, c.Want, c.Have)
}

// Diverged is returned (as *Diverged) by Import when the book and the file hold the same job with different events
// from some version on: one of them was continued from an old copy. Nothing was imported.
type Diverged struct {
	Job     string
	Version Version // first version at which the two differ
}

func (d *Diverged) Error() string {
	return fmt.Sprintf("job %s – the file and the book differ from version %d on – keep the file beside the book; "+
		"the two cannot be made one", d.Job, d.Version)
}

func (d *Diverged) Unwrap() error { return ErrBadImport }
