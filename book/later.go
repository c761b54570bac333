package book

import (
	"context"
	"errors"
	"io"
)

var errNotYet = errors.New("book – not written yet – wait for the next commit")

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
