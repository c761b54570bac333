package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

const eventColumns = `seq, job, version, at, who, kind, key, payload, clock_back, prev, hash`

func scanEvent(row scanner) (Event, error) {
	var e Event
	var at int64
	var key sql.NullString
	var payload, prev, hash, personal []byte
	err := row.Scan(&e.Seq, &e.Job, &e.Version, &at, &e.Who, &e.Kind, &key, &payload, &e.Back, &prev, &hash, &personal)
	e.At, e.Key, e.Payload = fromMicros(at), key.String, payload
	copy(e.Prev[:], prev)
	copy(e.Hash[:], hash)
	if err == nil {
		err = e.fill(personal)
	}
	return e, unreadable(err)
}

// collect reads all rows and closes them.
func collect[T any](rows *sql.Rows, scan func(scanner) (T, error)) ([]T, error) {
	defer rows.Close()
	var all []T
	for rows.Next() {
		one, err := scan(rows)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	return all, rows.Err()
}

// Events returns the events of a job with a version above after, oldest first; after 0 gives all of them.
func (b *Book) Events(ctx context.Context, job string, after Version) ([]Event, error) {
	rows, err := b.read().rows(ctx,
		`SELECT `+selected+` FROM events WHERE job = ? AND version > ? ORDER BY version`, job, int64(after))
	if err != nil {
		return nil, b.problem(err)
	}
	events, err := collect(rows, scanEvent)
	if err != nil {
		return nil, b.problem(err)
	}
	if len(events) == 0 { // an unknown job, or one with nothing newer
		if _, err := b.Job(ctx, job); err != nil {
			return nil, err
		}
	}
	return events, nil
}

// Job is a line of the job list: derived from the events and rebuilt from them at will.
type Job struct {
	ID          string    `json:"id"`
	Version     Version   `json:"version"`
	Name        string    `json:"name"`
	Owner       string    `json:"owner"`
	Engine      string    `json:"engine"`
	Shop        string    `json:"shop"`
	Bay         string    `json:"bay"`
	Person      string    `json:"person"`      // in whose hands it is: who worked on it last, or was named since; "" nobody
	Waiting     string    `json:"waiting"`     // for what it waits; "" where nobody said since the work went on
	WaitingAt   time.Time `json:"waiting_at"`  // since when; zero where Waiting is ""
	OpenedAt    time.Time `json:"opened_at"`   // when it was made, or taken up again last
	Status      string    `json:"status"`      // in plain words: "started", "readings taken", "proof signed: pass" ...
	Archived    bool      `json:"archived"`    //
	Readings    int       `json:"readings"`    // added less withdrawn
	Corrections int       `json:"corrections"` //
	StepsDone   int       `json:"steps_done"`  // done or overridden, less undone
	Attachments int       `json:"attachments"` //
	Notes       int       `json:"notes"`       //
	CreatedAt   time.Time `json:"created_at"`  //
	WorkedAt    time.Time `json:"worked_at"`   // the latest time of an event: the list's order
	LastAt      time.Time `json:"last_at"`     // time of the last event, by its own clock
	LastKind    Kind      `json:"last_kind"`   //
	LastWho     string    `json:"last_who"`    //
	LastSeq     int64     `json:"last_seq"`    // Event.Seq of the last event
	Head        Hash      `json:"head"`        // hash of the last event
}

// Job returns the list line of one job, or ErrNoJob.
func (b *Book) Job(ctx context.Context, id string) (Job, error) {
	l, err := scanLine(b.read().row(ctx, `SELECT `+lineColumns+` FROM jobs WHERE id = ?`, id))
	if errors.Is(err, sql.ErrNoRows) {
		return Job{}, fmt.Errorf("job %q – %w – take the id from the job list", clip(id, 40), ErrNoJob)
	}
	return l.Job, b.problem(err)
}

// Attachments lists the files of a job, oldest first.
func (b *Book) Attachments(ctx context.Context, job string) ([]Attachment, error) {
	if _, err := b.Job(ctx, job); err != nil {
		return nil, err
	}
	rows, err := b.read().rows(ctx, `SELECT f.sha256, f.name, f.media_type, f.size, e.job, e.version, e.at, e.who,
		(SELECT at FROM events WHERE job = j.id AND version = f.discarded)
		FROM jobs j JOIN files f ON f.job_no = j.no JOIN events e ON e.job = j.id AND e.version = f.version
		WHERE j.id = ? ORDER BY f.version`, job)
	if err != nil {
		return nil, b.problem(err)
	}
	files, err := collect(rows, func(row scanner) (Attachment, error) {
		var a Attachment
		var sha []byte
		var at int64
		var gone *int64
		err := row.Scan(&sha, &a.Name, &a.MediaType, &a.Size, &a.Job, &a.Version, &at, &a.Who, &gone)
		copy(a.SHA256[:], sha)
		a.At, a.Discarded = fromMicros(at), timeAt(gone)
		return a, err
	})
	return files, b.problem(err)
}
