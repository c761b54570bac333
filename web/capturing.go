package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"time"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/shaft"
	"phasewright/waveform"
)

// listedAnomalies bounds what one reading of a capture keeps one by one; all are counted.
const listedAnomalies = 100

// percent of the file that was read, 0 to 100; -1 where it is not known.
func (c captureState) percent() int {
	if c.total <= 0 || c.done <= 0 {
		return -1
	}
	return int(min(100, 100*c.done/c.total))
}

// words say how far the reading is and, once that can be told, how long it will take.
func (c captureState) words(now time.Time) string {
	p := c.percent()
	switch {
	case c.stopping:
		return "being stopped"
	case c.began.IsZero():
		return "being read once those before it are done"
	case p < 0:
		return "being read"
	}
	text := fmt.Sprintf("being read: %d %%", p)
	took := now.Sub(c.began)
	if p < 2 || took < time.Second {
		return text
	}
	left := time.Duration(float64(took) * float64(c.total-c.done) / float64(c.done))
	return text + ", " + togo(left)
}

// togo says how long something will take, no finer than such a guess is good for.
func togo(left time.Duration) string {
	switch s := left.Seconds(); {
	case s < 5:
		return "a few seconds to go"
	case s < 55:
		return fmt.Sprintf("about %d s to go", 5*int(math.Ceil(s/5)))
	case s < 3600:
		return fmt.Sprintf("about %d min to go", int(math.Ceil(s/60)))
	}
	return "more than an hour to go"
}

// readCapture lets a stored file be read; the result comes into the book as capture.read.
func (s *Server) readCapture(job string, card *jobcard.Card, file book.Attachment, roles map[string]shaft.Role,
	v *visit) error {
	who := v.who
	return s.captures.add(job, file, v.device, func(ctx context.Context) error {
		return s.captureOnce(ctx, job, card, file, roles, who)
	})
}

// readingBroke writes down that a broken invariant ended a reading.
func (s *Server) readingBroke(t *task, broken string) string {
	number, where := numberOfTrouble()
	s.Log.Error("reading a recording broke down", "number", number, "job", t.job, "file", t.file.SHA256, "err", broken)
	return where
}

// captureStop ends the reading of a file.
func (s *Server) captureStop(w http.ResponseWriter, r *http.Request, v *visit, j *job, f book.Attachment) error {
	if err := s.captures.end(v, j.ID, f.SHA256); err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID+"/captures")
}

// captureTrouble puts a reader's refusal into words; it names place, fault and remedy itself.
func captureTrouble(err error) string {
	var problem *waveform.Problem
	if errors.As(err, &problem) {
		return problem.Error()
	}
	p := words(err)
	if p.status == 500 {
		return err.Error()
	}
	return p.what + " " + p.doing
}

// A packed file may unpack to unpackedTimes its size, and to unpackedLeast whatever its size. A table in which nothing
// but the time changes comes to 81 times with zstd's best (measured); what goes far beyond was made to keep the shop
// waiting.
const (
	unpackedTimes = 1000
	unpackedLeast = 256 << 20
	unpackedMost  = 64 << 30
)

// readingOptions read a file on one processor, tell how far it is, and build the overview that its waveform is drawn from.
func (s *Server) readingOptions(job string, file book.Attachment) waveform.Options {
	return waveform.Options{Workers: 1, Overview: true,
		MaxDecompressed: min(unpackedMost, max(unpackedLeast, unpackedTimes*file.Size)),
		Progress:        func(done, total int64) { s.captures.progress(job, file.SHA256, done, total) }}
}

func (s *Server) captureOnce(ctx context.Context, job string, card *jobcard.Card, file book.Attachment,
	roles map[string]shaft.Role, who string) error {
	lent := &lentFile{book: s.Book, sha: file.SHA256}
	if err := lent.open(ctx); err != nil {
		return err
	}
	defer lent.done()
	got := &keeping{Recording: shaft.Recording{Input: lent.input(file.Name), Options: s.readingOptions(job, file)}}
	res, err := shaft.Run(ctx, got, shaft.Options{Card: card, Roles: roles, MostAnomalies: listedAnomalies})
	if ctx.Err() != nil { // what was read up to there is not what the recording shows
		return ctx.Err()
	}
	s.keepWave(file.SHA256, got.result, lent)
	if res == nil {
		return err
	}
	res.Name = file.Name
	summary, err := json.Marshal(res)
	if err != nil {
		return err
	}
	if len(summary) > book.MaxPayload-1000 {
		res.Series = nil
		if summary, err = json.Marshal(res); err != nil {
			return err
		}
	}
	payload, err := json.Marshal(map[string]any{"sha256": file.SHA256, "summary": json.RawMessage(summary)})
	if err != nil {
		return err
	}
	draft := book.Draft{Who: who, Kind: book.KindCaptureRead, Payload: payload}
	_, err = s.Book.Append(s.captures.ctx, job, book.AnyVersion, draft)
	return err
}
