package shelf

import (
	"context"
	"io"
	"time"

	"phasewright/book"
)

// Book is what the pages need of a shop book; *book.Book is one. Errors are those of package book.
type Book interface {
	CreateJob(ctx context.Context, j book.NewJob) (book.Event, error)
	Append(ctx context.Context, job string, expected book.Version, d book.Draft) (book.Event, error)
	AppendAll(ctx context.Context, job string, expected book.Version, drafts []book.Draft) ([]book.Event, error)
	AppendShop(ctx context.Context, d book.Draft) (book.Event, error)
	Events(ctx context.Context, job string, after book.Version) ([]book.Event, error)
	Job(ctx context.Context, id string) (book.Job, error)
	Jobs(ctx context.Context, q book.Query) (book.Page, error)
	Done(ctx context.Context, q book.Query) (all []book.Done, more bool, err error)
	Hands(ctx context.Context) (bays, persons []string, err error)
	PutAttachment(ctx context.Context, job string, a book.NewAttachment, r io.Reader) (book.Event, error)
	Attachments(ctx context.Context, job string) ([]book.Attachment, error)
	OpenAttachment(ctx context.Context, sha book.Hash) (io.ReadSeekCloser, int64, error)
	Discard(ctx context.Context, job string, sha book.Hash, who, reason, key string) (book.Event, error)
	Forget(ctx context.Context, who, key string, jobs ...string) ([]book.Event, error)
	Export(ctx context.Context, job string, w io.Writer) error
	Path() string  // where it lies, by which it is told from another
	Damage() error // nil while everything read so far was sound
	// Several servers on one book claim the work that one of them is to do.
	Several() bool
	Claim(ctx context.Context, work string, life time.Duration) (bool, error)
	Claims(ctx context.Context, begin string) ([]book.Claimed, error)
	Unclaim(ctx context.Context, work string) error
	Subscribe(job string) (*book.Subscription, error)
}
