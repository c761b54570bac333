package recording

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/shaft"
	"phasewright/waveform"
	"phasewright/web/page"
)

// listedAnomalies bounds what one reading of a recording keeps one by one; all are counted.
const listedAnomalies = 100

// percent of the file that was read, 0 to 100; -1 where it is not known.
func (c progress) percent() int {
	if c.total <= 0 || c.done <= 0 {
		return -1
	}
	return int(min(100, 100*c.done/c.total))
}

// words say how far the reading is and, once that can be told, how long it will take.
func (c progress) words(now time.Time) string {
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
	return text + ", " + leftWords(left)
}

// leftWords says how long something will still take, no finer than such a guess is good for.
func leftWords(left time.Duration) string {
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

// broke writes down that a broken invariant ended a reading.
func (r *Room) broke(t *task, broken string) string {
	number, where := page.TroubleNumber()
	r.Log.Error("reading a recording broke down", "number", number, "job", t.job, "file", t.file.SHA256, "err", broken)
	return where
}

// readingTrouble puts a reader's refusal into words; it names place, fault and remedy itself.
func readingTrouble(err error) string {
	if problem := (*waveform.Problem)(nil); errors.As(err, &problem) {
		return problem.Error()
	}
	return page.InWords(err)
}

// A packed file may unpack to unpackedTimes its size, and to unpackedLeast whatever its size. A table in which nothing
// but the time changes comes to 81 times with zstd's best (measured); what goes far beyond was made to keep the shop
// waiting.
const (
	unpackedTimes = 1000
	unpackedLeast = 256 << 20
	unpackedMost  = 64 << 30
)

// options read a file on one processor while no page is being made, tell how far it is, and build the overview that its
// waveform is drawn from.
func (r *Room) options(job string, file book.Attachment) waveform.Options {
	return waveform.Options{Workers: 1, Overview: true,
		MaxDecompressed: min(unpackedMost, max(unpackedLeast, unpackedTimes*file.Size)),
		Progress: func(done, total int64) {
			r.queue.report(job, file.SHA256, done, total)
			r.GiveWay()
		}}
}

// read lets a stored file be read when it is its turn; the result comes into the book as capture.read.
func (r *Room) read(by *page.Session, job string, card *jobcard.Card, file book.Attachment,
	roles map[string]shaft.Role) error {
	mine, err := r.claims.take(by, job, file.SHA256, roles)
	if err != nil || !mine {
		return err
	}
	if err := r.readNow(by, job, card, file, roles); err != nil {
		if r.claims != nil {
			r.claims.over(taskID(job, file.SHA256))
		}
		return err
	}
	return nil
}

// readNow reads a file that this server has claimed.
func (r *Room) readNow(by *page.Session, job string, card *jobcard.Card, file book.Attachment,
	roles map[string]shaft.Role) error {
	return r.queue.add(job, file, by.Device, func(ctx context.Context) error {
		shared := &sharedFile{book: r.Book, sha: file.SHA256}
		if err := shared.open(ctx); err != nil {
			return err
		}
		defer shared.done()
		scan := &scannedRecording{Recording: shaft.Recording{Input: shared.input(file.Name),
			Options: r.options(job, file)}}
		res, err := shaft.Run(ctx, scan, shaft.Options{Card: card, Roles: roles, MostAnomalies: listedAnomalies})
		if ctx.Err() != nil { // what was read up to there is not what the recording shows
			return ctx.Err()
		}
		r.waves.keep(file.SHA256, scan.result, shared)
		if res == nil {
			return err
		}
		res.Name = file.Name
		payload, err := readPayload(file.SHA256, res)
		if err != nil {
			return err
		}
		draft := book.Draft{Who: by.Who, Kind: book.KindCaptureRead, Payload: payload}
		_, err = r.Book.Append(r.queue.ctx, job, book.AnyVersion, draft)
		return err
	})
}

// readPayload is what a recording showed as the book keeps it, without the series where it would not fit.
func readPayload(sha book.Hash, res *shaft.Result) ([]byte, error) {
	payload, err := json.Marshal(map[string]any{"sha256": sha, "summary": res})
	if len(payload) > book.MaxPayload-900 && res.Series != nil {
		res.Series = nil
		return readPayload(sha, res)
	}
	return payload, err
}

// scannedRecording is a recording whose reader's own result is kept beside what the shaft room makes of it.
type scannedRecording struct {
	shaft.Recording
	result *waveform.Result
}

// Scan reads the recording.
func (s *scannedRecording) Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error) {
	r, err := s.Recording.Scan(ctx, sink)
	s.result = r
	return r, err
}
