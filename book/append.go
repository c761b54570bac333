package book

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// NewJob describes a job at its start.
type NewJob struct {
	Who                       string
	Name, Owner, Engine, Shop string // Name is required
	Contact                   string // how the owner is reached
	Key                       string // as in Draft: a repeated CreateJob with the same key gives the first job
	At                        time.Time
	// Room makes it a practice room: a chain of its own like a job's, on no list but that of the rooms.
	Room bool
	// Then is what the job begins with, its card for one: recorded with it, all or nothing. Each has a Key where the
	// job has one.
	Then []Draft
}

// CreateJob starts a job with a random id and records job.created as version 1 of it, and what is to follow behind it.
// The returned event carries the id in Event.Job. All is on disk when CreateJob returns.
func (b *Book) CreateJob(ctx context.Context, j NewJob) (Event, error) {
	start := map[string]any{"name": j.Name, "owner": j.Owner, "engine": j.Engine, "shop": j.Shop}
	if j.Contact != "" {
		start["contact"] = j.Contact
	}
	if j.Room {
		start["room"] = true
	}
	payload, err := json.Marshal(start)
	if err != nil {
		return Event{}, fmt.Errorf("job – %w – %v", ErrBadInput, err)
	}
	for what, s := range map[string]string{"job name": j.Name, "owner": j.Owner, "contact": j.Contact,
		"engine": j.Engine, "shop": j.Shop} {
		if s == "" && what != "job name" {
			continue
		}
		if err := checkWord(what, s, maxText); err != nil { // json.Marshal would have bent what is not UTF-8
			return Event{}, err
		}
	}
	e, err := settled(Draft{Who: j.Who, Kind: KindJobCreated, Payload: payload, Key: j.Key, At: j.At})
	if err != nil {
		return Event{}, err
	}
	then := make([]Event, len(j.Then))
	for i, d := range j.Then {
		if then[i], err = b.settledAfter("a new job", d); err != nil {
			return Event{}, err
		}
		if e.Key != "" && then[i].Key == "" {
			return Event{}, fmt.Errorf("a new job – %w: it has a key and %s behind it has none – give each a key",
				ErrBadInput, d.Kind)
		}
	}
	var made Event
	err = b.do(ctx, func(ctx context.Context, w *writer) (changes []Change, err error) {
		if made, changes, err = w.create(ctx, e); err != nil || len(then) == 0 {
			return changes, err
		}
		for i := range then {
			then[i].Job = made.Job
		}
		_, more, err := w.append(ctx, AnyVersion, then)
		return append(changes, more...), err
	})
	if err != nil {
		return Event{}, err
	}
	return made, nil
}

// create starts a job, or finds the one that was started with the same key.
func (w *writer) create(ctx context.Context, e Event) (Event, []Change, error) {
	if e.Key != "" {
		old, err := scanEvent(w.stmt.row(ctx, `SELECT `+selected+` FROM events WHERE key = ? AND version = 1`,
			e.Key))
		if err == nil {
			old, err = repeated(old, e)
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return old, nil, err
		}
	}
	id, err := w.freeID(ctx)
	if err != nil {
		return Event{}, nil, err
	}
	e.Job, e.Version, e.At = id, 1, w.book.now(e.At)
	if err := w.book.seal(&e, false); err != nil {
		return Event{}, nil, err
	}
	e.Hash = HashEvent(e)
	changes, err := w.insert(ctx, []*Event{&e})
	return e, changes, err
}

// freeID draws an id that no job has. Two equal ones of 80 random bits mean that the source repeats itself.
func (w *writer) freeID(ctx context.Context) (string, error) {
	for range 10 {
		id, err := w.book.newJobID()
		if err != nil {
			return "", err
		}
		v, err := w.head(ctx, id)
		if err != nil || v == 0 {
			return id, err
		}
	}
	return "", fmt.Errorf("job id – the random source gives ids that are taken – check Options.Random: %w", ErrExists)
}

// Append records one event. It is on disk when Append returns without error.
//
// expected is the version the caller last saw, or AnyVersion. When the job has moved on, nothing is recorded and the
// error is a *Conflict. A draft whose Key was recorded before gives that event back, with Repeated set, whatever
// the version; if kind or payload differ from what was recorded, the error is ErrKeyReused.
//
// When ctx ends while the event is on its way, the error is that of ctx and the event may or may not be recorded: send
// it again with the same Key.
//
// Errors: *Conflict, ErrNoJob, ErrBadInput, ErrTooLarge, ErrKeyReused, ErrFull, ErrReadOnly, ErrDamaged, ErrClosed.
func (b *Book) Append(ctx context.Context, job string, expected Version, d Draft) (Event, error) {
	made, err := b.AppendAll(ctx, job, expected, []Draft{d})
	if err != nil {
		return Event{}, err
	}
	return made[0], nil
}

// AppendAll records several events of one job, all or none. Errors are those of Append. Sent again after a lost answer,
// the drafts must be the same ones: it is repeated when the first has a Key that was recorded, and the others must then
// follow it in the book.
func (b *Book) AppendAll(ctx context.Context, job string, expected Version, drafts []Draft) ([]Event, error) {
	if err := checkID(job); err != nil {
		return nil, err
	}
	if len(drafts) == 0 {
		return nil, fmt.Errorf("job %s – %w: no event given – send at least one", job, ErrBadInput)
	}
	checked := make([]Event, len(drafts))
	for i, d := range drafts {
		e, err := b.settledAfter("job "+job, d)
		if err != nil {
			return nil, err
		}
		e.Job = job
		checked[i] = e
	}
	var made []Event
	err := b.do(ctx, func(ctx context.Context, w *writer) (changes []Change, err error) {
		made, changes, err = w.append(ctx, expected, checked)
		return changes, err
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// settledAfter checks a draft of an event that is not a job's first.
func (b *Book) settledAfter(where string, d Draft) (Event, error) {
	e, err := settled(d)
	if err != nil {
		return Event{}, err
	}
	switch e.Kind {
	case KindJobCreated:
		return Event{}, fmt.Errorf("%s – %w: %s stands only at the start – record %s", where, ErrBadInput,
			KindJobCreated, KindJobDescribed)
	case KindAttachmentAdded:
		a, err := readAttachment(e.Payload)
		if err != nil {
			return Event{}, err
		}
		if size, err := b.store.size(a.SHA256); err != nil || size != a.Size {
			return Event{}, fmt.Errorf("%s – %w: %s is not stored with %d bytes – store the file first", where,
				ErrNoAttachment, a.SHA256, a.Size)
		}
	}
	return e, nil
}

// append places the checked events at the end of their job.
func (w *writer) append(ctx context.Context, expected Version, checked []Event) ([]Event, []Change, error) {
	job, x := checked[0].Job, &w.stmt
	last, err := scanEvent(w.stmt.row(ctx,
		`SELECT `+selected+` FROM events WHERE job = ? ORDER BY version DESC LIMIT 1`, job))
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil, fmt.Errorf("job %s – %w – take the id from the job list", job, ErrNoJob)
	}
	if err != nil {
		return nil, nil, err
	}
	if old, err := w.seen(ctx, checked); old != nil || err != nil {
		return old, nil, err
	}
	for _, e := range checked {
		if a, err := readAttachment(e.Payload); e.Kind == KindAttachmentAdded && err == nil {
			if held, err := x.on().holds(ctx, x, a.SHA256); err != nil || !held {
				return nil, nil, cmp.Or(err, fmt.Errorf("job %s – %w: %s was taken away meanwhile – send it again", job,
					ErrNoAttachment, a.SHA256))
			}
		}
	}
	if expected != AnyVersion && expected != last.Version {
		since, err := w.since(ctx, job, expected)
		if err != nil {
			return nil, nil, err
		}
		return nil, nil, &Conflict{Job: job, Have: last.Version, Want: expected, Since: since}
	}
	made := make([]Event, len(checked))
	places := make([]*Event, len(checked))
	for i, e := range checked {
		e.Version, e.At, e.Prev = last.Version+1, w.book.now(e.At), last.Hash
		e.Back = e.At.Before(last.At)
		if err := w.book.seal(&e, false); err != nil {
			return nil, nil, err
		}
		e.Hash = HashEvent(e)
		made[i], places[i], last = e, &made[i], e
	}
	changes, err := w.insert(ctx, places)
	return made, changes, err
}

// seen gives the events recorded earlier when the first draft's key is known.
func (w *writer) seen(ctx context.Context, checked []Event) ([]Event, error) {
	var found []Event
	for i, e := range checked {
		if e.Key == "" && len(found) == 0 {
			continue
		}
		var old Event
		var err error
		if e.Key != "" {
			old, err = scanEvent(w.stmt.row(ctx, `SELECT `+selected+` FROM events WHERE job = ? AND key = ?`,
				e.Job, e.Key))
		} else {
			old, err = scanEvent(w.stmt.row(ctx, `SELECT `+selected+` FROM events WHERE job = ? AND version = ?`,
				e.Job, int64(found[i-1].Version)+1))
		}
		switch {
		case errors.Is(err, sql.ErrNoRows) && len(found) == 0:
			continue
		case errors.Is(err, sql.ErrNoRows) || err == nil && len(found) != i:
			return nil, fmt.Errorf(
				"job %s, key %q – %w: only some of these events were recorded with it – use a new key", e.Job, e.Key,
				ErrKeyReused)
		case err != nil:
			return nil, err
		}
		if old, err = repeated(old, e); err != nil {
			return nil, err
		}
		found = append(found, old)
	}
	return found, nil
}

// repeated checks that a draft with a known key is the one recorded then.
func repeated(old, draft Event) (Event, error) {
	if old.Kind != draft.Kind || !old.says(draft.Payload) {
		return Event{}, fmt.Errorf("job %s, key %q – %w at version %d – use a new key for every new event", old.Job,
			draft.Key, ErrKeyReused, old.Version)
	}
	old.Repeated = true
	return old, nil
}

func (w *writer) since(ctx context.Context, job string, after Version) ([]Event, error) {
	rows, err := w.stmt.rows(ctx,
		`SELECT `+selected+` FROM events WHERE job = ? AND version > ? ORDER BY version LIMIT ?`,
		job, int64(max(after, 0)), MaxSince)
	if err != nil {
		return nil, err
	}
	return collect(rows, scanEvent)
}

// insert adds placed and hashed events of one job, which must follow on its last, and moves the derived tables along.
// What of them was hashed with personal values in it is sealed first.
func (w *writer) insert(ctx context.Context, events []*Event) ([]Change, error) {
	line, err := loadLine(ctx, &w.stmt, events[0].Job)
	if err != nil {
		return nil, err
	}
	for _, e := range events {
		if e.sealed == nil {
			if err := w.book.seal(e, true); err != nil {
				return nil, err
			}
		}
		var key any
		if e.Key != "" {
			key = e.Key
		}
		err := w.stmt.row(ctx, `INSERT INTO events (job, version, at, who, kind, key, payload, clock_back, prev, hash)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING seq`,
			e.Job, int64(e.Version), toMicros(e.At), e.Who, string(e.Kind), key, string(e.stored()), e.Back, e.Prev[:],
			e.Hash[:]).Scan(&e.Seq)
		if err != nil {
			return nil, err
		}
		w.made = append(w.made, place{e.Seq, e.Hash})
		if err := savePersonal(ctx, &w.stmt, *e); err != nil {
			return nil, err
		}
		if e.Kind == KindPersonErased {
			err = w.erase(ctx, line, *e)
		} else {
			err = derive(ctx, &w.stmt, line, *e)
		}
		if err != nil {
			return nil, err
		}
	}
	if err := saveLine(ctx, &w.stmt, line); err != nil {
		return nil, err
	}
	return []Change{{Job: line.ID, Version: line.Version, Room: line.IsRoom()}}, nil
}
