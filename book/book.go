package book

import (
	"context"
	"errors"
	"io"
	"time"
)

// Access says what a program wants of a book.
type Access int

const (
	// ReadWrite makes the book if it is missing, brings an old one up to date, and keeps every other writer out until Close.
	ReadWrite Access = iota
	// ReadOnly reads beside a writer in another program and changes nothing.
	ReadOnly
)

// Sizes in bytes.
const (
	DefaultQuota   = 20 << 30 // attachments of a whole book
	DefaultMaxFile = 2 << 30  // one attachment
	MaxPayload     = 1 << 20  // payload of one event, canonical form
	MaxDepth       = 64       // nesting of a payload
	MaxDocument    = 64 << 20 // event document inside an exported job
)

// Options tune Open. The zero value is usable.
type Options struct {
	Clock   func() time.Time // nil: the computer's clock
	Random  io.Reader        // for job ids; nil: the computer's secure source
	Quota   int64            // bytes of all attachments together; 0: DefaultQuota
	MaxFile int64            // bytes of one attachment; 0: DefaultMaxFile
	Access  Access
}

// Book is an open shop book. Its methods may be called from many goroutines.
type Book struct{}

var errNotYet = errors.New("book – not written yet – wait for the next commit")

// Open opens the book at path, a single file; attachments lie beside it in path.files. With ReadWrite a missing book
// is made and one of an earlier schema is brought up to date, each step in one transaction.
//
// Errors: ErrInUse, ErrReadOnly, ErrNotBook, ErrNewer, ErrOlder (ReadOnly), ErrDamaged, ErrFull.
func Open(ctx context.Context, path string, opt Options) (*Book, error) { return nil, errNotYet }

// Close ends all subscriptions, waits for what is being written, and lets the file go. A second Close does nothing.
func (b *Book) Close() error { return errNotYet }

// NewJob describes a job at its start.
type NewJob struct {
	Who                       string
	Name, Owner, Engine, Shop string // Name is required
	Key                       string // as in Draft: a repeated CreateJob with the same key gives the first job
	At                        time.Time
}

// CreateJob starts a job with a random id and records job.created as version 1 of it. The returned event carries the id in Event.Job.
// It is on disk when CreateJob returns.
func (b *Book) CreateJob(ctx context.Context, j NewJob) (Event, error) { return Event{}, errNotYet }

// Append records one event. It is on disk when Append returns without error.
//
// expected is the version the caller last saw, or AnyVersion. When the job has moved on, nothing is recorded and the
// error is a *Conflict. A draft whose Key was recorded before gives that event back, with Repeated set, whatever
// the version; if kind or payload differ from what was recorded, the error is ErrKeyReused.
//
// When ctx ends while the event is on its way, the error is that of ctx and the event may or may not be recorded: send it again with the same Key.
//
// Errors: *Conflict, ErrNoJob, ErrBadInput, ErrTooLarge, ErrKeyReused, ErrFull, ErrReadOnly, ErrDamaged, ErrClosed.
func (b *Book) Append(ctx context.Context, job string, expected Version, d Draft) (Event, error) {
	return Event{}, errNotYet
}

// AppendAll records several events of one job, all or none. Errors are those of Append.
func (b *Book) AppendAll(ctx context.Context, job string, expected Version, drafts []Draft) ([]Event, error) {
	return nil, errNotYet
}

// Events returns the events of a job with a version above after, oldest first; after 0 gives all of them.
func (b *Book) Events(ctx context.Context, job string, after Version) ([]Event, error) {
	return nil, errNotYet
}

// Job is a line of the job list: derived from the events and rebuilt from them at will.
type Job struct {
	ID          string    `json:"id"`
	Version     Version   `json:"version"`
	Name        string    `json:"name"`
	Owner       string    `json:"owner"`
	Engine      string    `json:"engine"`
	Shop        string    `json:"shop"`
	Status      string    `json:"status"`      // in plain words: "started", "readings taken", "proof signed: pass" ...
	Archived    bool      `json:"archived"`    //
	Readings    int       `json:"readings"`    // added less withdrawn
	Corrections int       `json:"corrections"` //
	StepsDone   int       `json:"steps_done"`  // done or overridden, less undone
	Attachments int       `json:"attachments"` //
	Notes       int       `json:"notes"`       //
	CreatedAt   time.Time `json:"created_at"`  //
	LastAt      time.Time `json:"last_at"`     // time of the last event, by its own clock
	LastKind    Kind      `json:"last_kind"`   //
	LastWho     string    `json:"last_who"`    //
	LastSeq     int64     `json:"last_seq"`    // Event.Seq of the last event: the list's order
	Head        Hash      `json:"head"`        // hash of the last event
}

// Job returns the list line of one job, or ErrNoJob.
func (b *Book) Job(ctx context.Context, id string) (Job, error) { return Job{}, errNotYet }

// Shelf chooses jobs by whether they are archived.
type Shelf int

const (
	Active   Shelf = iota // jobs not archived
	Archived              // archived jobs only
	Both
)

// Query asks for a page of the job list.
type Query struct {
	Text  string // words or beginnings of words, all of which must be found; accents and case do not matter; "" lists
	Shelf Shelf
	Limit int    // 1 to 500; 0 means 50
	After string // Page.Next of the page before; "" begins
}

// Page is a part of the job list. Without a Text, jobs touched last come first; with one, jobs made last come first.
type Page struct {
	Jobs []Job  `json:"jobs"`
	Next string `json:"next,omitempty"` // "" when there is no more
}

// Jobs lists or searches jobs by name, owner, engine, shop, and the words of notes, faults and findings.
func (b *Book) Jobs(ctx context.Context, q Query) (Page, error) { return Page{}, errNotYet }

// Attachment describes one file of a job.
type Attachment struct {
	SHA256    Hash      `json:"sha256"`
	Name      string    `json:"name"` // as given; never used as a path
	MediaType string    `json:"media_type"`
	Size      int64     `json:"size"` // bytes
	Job       string    `json:"job"`
	Version   Version   `json:"version"` // of the event that added it
	At        time.Time `json:"at"`
	Who       string    `json:"who"`
}

// NewAttachment describes a file about to be stored.
type NewAttachment struct {
	Who       string
	Name      string // bare file name, no folders
	MediaType string // such as image/jpeg; "" means application/octet-stream
	Key       string // as in Draft
	At        time.Time
}

// PutAttachment streams r into the store and records attachment.added at any version. The same content is stored once.
// File and event are on disk when it returns. After an error nothing is recorded and no part of the file is left.
//
// Errors: ErrQuota, ErrTooLarge, ErrFull, and those of Append.
func (b *Book) PutAttachment(ctx context.Context, job string, a NewAttachment, r io.Reader) (Event, error) {
	return Event{}, errNotYet
}

// Attachments lists the files of a job, oldest first.
func (b *Book) Attachments(ctx context.Context, job string) ([]Attachment, error) {
	return nil, errNotYet
}

// OpenAttachment opens a stored file for reading (and seeking, for http.ServeContent) and tells its size in bytes. The
// caller closes it. Error: ErrNoAttachment.
func (b *Book) OpenAttachment(ctx context.Context, sha Hash) (io.ReadSeekCloser, int64, error) {
	return nil, 0, errNotYet
}

// Change says that a job has reached a version. It is sent after the event is on disk.
type Change struct {
	Job     string  `json:"job"`
	Version Version `json:"version"`
	// Missed is true when earlier changes were dropped because the receiver was slow: load everything again.
	Missed bool `json:"missed,omitzero"`
}

// Subscription delivers changes on C until Close, which closes C.
type Subscription struct {
	C <-chan Change
}

// Close ends the subscription. A second Close does nothing.
func (s *Subscription) Close() {}

// Subscribe delivers the changes of one job, or of all with job "". The channel is bounded and never holds up the writer: a
// slow receiver loses the oldest changes and is told so by Change.Missed.
func (b *Book) Subscribe(job string) (*Subscription, error) { return nil, errNotYet }

// Backup copies the book, while in use, to a new file at path, and the attachments it knows to path.files. The copy is a book
// itself. Error: ErrExists when path is there already.
func (b *Book) Backup(ctx context.Context, path string) error { return errNotYet }

// Restore copies the backup at from to a new book at to, after checking it whole. It never writes over a book: ErrExists.
func Restore(ctx context.Context, from, to string) error { return errNotYet }

// Export writes one job with its attachments as a single zip file that can be verified by itself: job.json, as described by
// job.schema.json, and files/SHA256. The same job at the same version gives the same bytes.
func (b *Book) Export(ctx context.Context, job string, w io.Writer) error { return errNotYet }

// Imported tells what Import did.
type Imported struct {
	Job     string  `json:"job"`
	Before  Version `json:"before"`  // version in this book before, 0 if the job was new
	Version Version `json:"version"` // version now
}

// Import reads what Export wrote: a new job, or the events that this book does not have yet of a job it has. The
// whole file is verified before anything is recorded.
//
// Errors: ErrBadImport (*Diverged among them), ErrTooLarge, ErrQuota, ErrFull.
func (b *Book) Import(ctx context.Context, r io.Reader) (Imported, error) {
	return Imported{}, errNotYet
}

// Report is what Check found.
type Report struct {
	Events, Jobs, Files int
	Problems            []string // each: where – what – remedy; empty when all is well
	Notices             []string // harmless, such as a file that no event names
}

// Check reads the whole book: the database's own structure, every hash chain, the derived tables against the events, and every
// attachment against its hash. The error is for a check that could not be finished.
func (b *Book) Check(ctx context.Context) (Report, error) { return Report{}, errNotYet }

// Rebuilt is what Rebuild found.
type Rebuilt struct {
	Events, Jobs int
	Differences  []string // lines where the old derived tables differed from the rebuilt ones
}

// Rebuild drops the derived tables, makes them again from the events, and compares the two.
func (b *Book) Rebuild(ctx context.Context) (Rebuilt, error) { return Rebuilt{}, errNotYet }
