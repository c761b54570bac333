package book

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"
)

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
	Discarded time.Time `json:"discarded,omitzero"` // when the content was thrown away; zero while it is kept
}

// NewAttachment describes a file about to be stored.
type NewAttachment struct {
	Who       string
	Name      string // bare file name, no folders
	MediaType string // such as image/jpeg; "" means application/octet-stream
	Key       string // as in Draft
	At        time.Time
	More      json.RawMessage // further members of the event's payload, a JSON object; none where empty
}

// PutAttachment streams r into the store and records attachment.added at any version. The same content is stored once.
// File and event are on disk when it returns. After an error nothing is recorded and no part of the file is left,
// except when ctx ended while the event was on its way (see Append).
//
// Errors: ErrQuota, ErrTooLarge, ErrFull, and those of Append.
func (b *Book) PutAttachment(ctx context.Context, job string, a NewAttachment, r io.Reader) (Event, error) {
	if b.access == ReadOnly {
		return Event{}, fmt.Errorf("%s – %w: it was opened for reading – open it for writing", b.path, ErrReadOnly)
	}
	if a.MediaType == "" {
		a.MediaType = "application/octet-stream"
	}
	d := Draft{Who: a.Who, Kind: KindAttachmentAdded, Key: a.Key, At: a.At}
	// Everything that can be refused is refused before the file is read.
	if err := errors.Join(checkFileName(a.Name), checkMediaType(a.MediaType)); err != nil {
		return Event{}, err
	}
	if _, err := settled(Draft{Who: d.Who, Kind: KindNoteAdded, Key: d.Key, At: d.At}); err != nil {
		return Event{}, err
	}
	if _, err := b.Job(ctx, job); err != nil {
		return Event{}, err
	}
	if a.Key != "" {
		var seen bool
		err := b.read().row(ctx, `SELECT EXISTS (SELECT 1 FROM events WHERE job = ? AND key = ?)`,
			job, a.Key).Scan(&seen)
		if err != nil {
			return Event{}, b.problem(err)
		}
		if seen {
			return b.putAgain(ctx, job, a, d, r)
		}
	}
	g, err := b.store.stage(ctx, r, math.MaxInt64)
	if err != nil {
		return Event{}, err
	}
	defer g.discard()
	if d.Payload, err = attachmentPayload(a, g.sha, g.size); err != nil {
		return Event{}, err
	}
	b.store.naming.Lock()
	defer b.store.naming.Unlock()
	known, err := b.named(ctx, g.sha)
	if err != nil {
		return Event{}, err
	}
	fresh, err := g.name()
	if err != nil {
		return Event{}, err
	}
	e, err := b.Append(ctx, job, AnyVersion, d)
	switch {
	case err == nil:
		if !known {
			b.store.keep(g.size)
		}
	case fresh && !known && ctx.Err() == nil: // surely not recorded
		b.store.forget(g.sha)
	}
	return e, err
}

// putAgain answers a file sent again with a known key. It only needs its hash, so a full store does not stand in the
// way.
func (b *Book) putAgain(ctx context.Context, job string, a NewAttachment, d Draft, r io.Reader) (Event, error) {
	sum := sha256.New()
	size, err := io.Copy(sum, io.LimitReader(untilDone{ctx, r}, b.store.maxFile+1))
	if err != nil {
		return Event{}, fmt.Errorf("attachment – broke off after %d bytes – send it again: %w", size, err)
	}
	if d.Payload, err = attachmentPayload(a, Hash(sum.Sum(nil)), size); err != nil {
		return Event{}, err
	}
	e, err := b.Append(ctx, job, AnyVersion, d)
	if errors.Is(err, ErrNoAttachment) { // other content than the first time
		err = fmt.Errorf("job %s, key %q – %w – use a new key for every new file", job, a.Key, ErrKeyReused)
	}
	return e, err
}

func attachmentPayload(a NewAttachment, sha Hash, size int64) ([]byte, error) {
	members := map[string]any{}
	if len(a.More) > 0 {
		if err := json.Unmarshal(a.More, &members); err != nil {
			return nil, fmt.Errorf("attachment – %w: further members – send a JSON object: %v", ErrBadInput, err)
		}
	}
	members["sha256"], members["name"], members["media_type"], members["size"] = sha, a.Name, a.MediaType, size
	payload, err := json.Marshal(members)
	if err != nil {
		return nil, fmt.Errorf("attachment – %w – %v", ErrBadInput, err)
	}
	return payload, nil
}

// named reports whether an event names the content.
func (b *Book) named(ctx context.Context, sha Hash) (bool, error) {
	var named bool
	err := b.read().row(ctx, `SELECT EXISTS (SELECT 1 FROM files WHERE sha256 = ? AND discarded = 0)`, sha[:]).Scan(&named)
	return named, b.problem(err)
}

// OpenAttachment opens a stored file for reading (and seeking, for http.ServeContent) and tells its size in bytes. The
// caller closes it. Errors: ErrNoAttachment, ErrDiscarded.
func (b *Book) OpenAttachment(ctx context.Context, sha Hash) (io.ReadSeekCloser, int64, error) {
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	f, size, err := b.store.open(sha)
	if errors.Is(err, ErrNoAttachment) {
		var gone bool
		asked := b.read().row(ctx, `SELECT count(*) > 0 AND min(discarded) > 0 FROM files WHERE sha256 = ?`,
			sha[:]).Scan(&gone)
		if asked == nil && gone {
			err = fmt.Errorf("%s – %w – add the same file again to have it back", sha, ErrDiscarded)
		}
	}
	if err != nil {
		return nil, 0, err
	}
	return f, size, nil
}
