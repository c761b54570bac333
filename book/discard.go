package book

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// discarded is the payload of attachment.discarded.
type discarded struct {
	SHA256 Hash   `json:"sha256"`
	Reason string `json:"reason,omitempty"`
}

func readDiscarded(payload []byte) (discarded, error) {
	var d discarded
	if err := json.Unmarshal(payload, &d); err != nil || d.SHA256 == (Hash{}) {
		return d, fmt.Errorf("%s payload – %w: sha256 is missing or none – take it from the list of files",
			KindAttachmentDiscarded, ErrBadInput)
	}
	return d, nil
}

// Discard throws a file of a job away: name, size and hash stay on the record with what was read of it, the content
// goes, unless another job keeps the same. Adding the same file again brings it back.
//
// Errors: ErrNoAttachment where the job keeps no such file, and those of Append.
func (b *Book) Discard(ctx context.Context, job string, sha Hash, who, reason, key string) (Event, error) {
	payload, err := json.Marshal(discarded{sha, reason})
	if err != nil {
		return Event{}, fmt.Errorf("discard – %w – %v", ErrBadInput, err)
	}
	files, err := b.Attachments(ctx, job)
	if err != nil {
		return Event{}, err
	}
	known, kept := false, false
	for _, f := range files {
		known = known || f.SHA256 == sha
		kept = kept || f.SHA256 == sha && f.Discarded.IsZero()
	}
	if !known || !kept && key == "" {
		return Event{}, fmt.Errorf("job %s – %w: it keeps no file %s – take the file from the job's list", job,
			ErrNoAttachment, sha)
	}
	b.store.naming.Lock()
	defer b.store.naming.Unlock()
	e, err := b.Append(ctx, job, AnyVersion, Draft{Who: who, Kind: KindAttachmentDiscarded, Payload: payload, Key: key})
	if err != nil {
		return e, err
	}
	return e, b.sweep(ctx, sha)
}

// sweep takes a stored file away that no event names any more. store.naming is held.
func (b *Book) sweep(ctx context.Context, sha Hash) error {
	if kept, err := b.named(ctx, sha); err != nil || kept {
		return err
	}
	size, err := b.store.size(sha)
	if err != nil {
		return nil // gone already
	}
	b.store.forget(sha)
	b.store.keep(-size)
	return nil
}

// DiskUse is the room that a book takes, in bytes.
type DiskUse struct {
	Events int64    `json:"events"` // the book's own file
	Files  int64    `json:"files"`  // all files kept, each content once
	Jobs   []JobUse `json:"jobs"`   // those with files, the largest first
}

// JobUse is the room that the files of one job take, in bytes. A file that two jobs keep counts in both.
type JobUse struct {
	Job       string `json:"job"`
	Name      string `json:"name"`
	Kept      int64  `json:"kept"`
	Discarded int64  `json:"discarded"` // what was thrown away
}

// DiskUse says how much room the book takes, and which job's files.
func (b *Book) DiskUse(ctx context.Context) (DiskUse, error) {
	var u DiskUse
	x := b.read()
	var err error
	if u.Events, err = b.base.bytes(ctx, x); err == nil {
		u.Files, err = fileBytes(ctx, x, latest())
	}
	if err != nil {
		return u, b.problem(err)
	}
	// A file discarded and added again is kept: the least of its marks is 0.
	rows, err := x.rows(ctx, `SELECT id, name, sum(CASE WHEN gone THEN 0 ELSE size END) AS kept,
			sum(CASE WHEN gone THEN size ELSE 0 END)
		FROM (SELECT job_no, size, min(discarded) > 0 AS gone FROM files GROUP BY job_no, sha256, size) AS each
		JOIN jobs ON no = job_no GROUP BY no, id, name ORDER BY kept DESC, id`)
	if err != nil {
		return u, b.problem(err)
	}
	u.Jobs, err = collect(rows, func(row scanner) (j JobUse, err error) {
		err = row.Scan(&j.Job, &j.Name, &j.Kept, &j.Discarded)
		return j, err
	})
	return u, b.problem(err)
}

// fileBytes counts the bytes of all files that a book keeps, each content once.
func fileBytes(ctx context.Context, x executor, schema int) (n int64, err error) {
	err = x.row(ctx, `SELECT coalesce(sum(size), 0) FROM (SELECT DISTINCT sha256, size FROM files
		WHERE `+keeps(schema)+`) AS each`).Scan(&n)
	return n, err
}

// keptFiles gives the files that the events keep: those discarded since are left out.
func keptFiles(events []Event) []fileRow {
	var all []fileRow
	for _, e := range events {
		all = filesAfter(all, e)
	}
	kept := all[:0]
	for _, f := range all {
		if f.discarded == 0 {
			kept = append(kept, f)
		}
	}
	return kept
}

// filesAfter gives the rows of the table files of a job after an event.
func filesAfter(rows []fileRow, e Event) []fileRow {
	switch e.Kind {
	case KindAttachmentAdded:
		if a, err := readAttachment(e.Payload); err == nil {
			rows = append(rows, fileRow{e.Version, a, 0})
		}
	case KindAttachmentDiscarded:
		d, err := readDiscarded(e.Payload)
		for i := range rows {
			if err == nil && rows[i].SHA256 == d.SHA256 && rows[i].discarded == 0 {
				rows[i].discarded = e.Version
			}
		}
	}
	return rows
}

// timeAt gives the time for a mark in the database, none for none.
func timeAt(micros *int64) time.Time {
	if micros == nil {
		return time.Time{}
	}
	return fromMicros(*micros)
}
