package book

import (
	"io"
	"time"
)

// Access says what a program wants of a book.
type Access int

const (
	// ReadWrite makes the book if it is missing, brings an old one up to date, and keeps every other writer out until
	// Close.
	ReadWrite Access = iota
	// ReadOnly reads beside a writer in another program and changes nothing.
	ReadOnly
)

// Sizes in bytes.
const (
	DefaultQuota = 20 << 30 // attachments of a whole book
	// one attachment: as a table of four wires, 35 bytes a row, four minutes at a million rows a second
	DefaultMaxFile = 8 << 30
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
	// Judge, where given, looks at all events of a job that Import is about to take in; its error, which says where,
	// what and what to do, refuses the job.
	Judge func(job []Event) error
}
