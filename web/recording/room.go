// Package recording is the pages of recorded files: sending one in, reading it when it is its turn, what it showed, and
// its waveform under the hand.
package recording

import (
	"time"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// Limits of an upload. In time it may take uploadWhole.
type Limits struct {
	Most int64         // bytes of one file
	Idle time.Duration // without a byte; 0 means 30 s
}

// Room is the pages of recordings.
type Room struct {
	*shelf.Shelf
	limits Limits
	queue  *queue
	waves  *waves
	claims *claims // nil where no other server is on the book
}

// New makes the room. Close stops what it does in the background.
func New(s *shelf.Shelf, limits Limits) *Room {
	if limits.Idle == 0 {
		limits.Idle = uploadIdle
	}
	r := &Room{Shelf: s, limits: limits, waves: newWaves()}
	r.queue = newQueue(s.Clock, r.broke)
	if s.Book.Several() {
		r.claims = startClaims(r)
	}
	return r
}

// Close stops what is being read and waits for it.
func (r *Room) Close() {
	r.queue.close()
	r.claims.stop()
}

// Routes are the addresses of a job's recordings and of their waveforms.
func (r *Room) Routes() {
	r.Handle("GET /job/{job}/captures", page.Look, r.OnJob(r.listPage))
	r.Handle("POST /job/{job}/captures", page.Work, r.OnOpenJob(r.uploadPost))
	see := func(path string, h func(*page.Request, *shelf.Job, book.Attachment) error) {
		r.Handle("GET /job/{job}/captures/{sha}"+path, page.Look, r.OnFile(h))
	}
	do := func(path string, h func(*page.Request, *shelf.Job, book.Attachment) error) {
		r.Handle("POST /job/{job}/captures/{sha}"+path, page.Work, r.OnFile(h))
	}
	see("", r.recordingPage)
	see("/recording.pdf", recordingPDF)
	do("", r.readPost)
	do("/stop", r.stopPost)
	do("/evidence", r.evidencePost)
	do("/away", r.throwAwayPost)
	see("/wave", r.wavePage)
	see("/wave/part", r.wavePart)
}

// Wait returns when nothing is read and nothing waits to be.
func (r *Room) Wait() { r.queue.all.Wait() }
