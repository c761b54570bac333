package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// store records the imported events that the book lacks.
func (in *importing) store() (result Imported, err error) {
	err = in.book.do(in.ctx, func(ctx context.Context, w *writer) (changes []Change, err error) {
		result, changes, err = in.place(ctx, w)
		return changes, err
	})
	return result, err
}

// place appends the imported events that the book lacks. Because of the chain, equal hashes at one version mean equal
// events up to there. What it refuses, it refuses before it appends anything.
func (in *importing) place(ctx context.Context, w *writer) (Imported, []Change, error) {
	result := Imported{Job: in.events[0].Job, Version: in.events[len(in.events)-1].Version}
	have, err := w.head(ctx, result.Job)
	if err != nil {
		return result, nil, err
	}
	result.Before = have
	if err := in.sameSoFar(ctx, w, min(have, result.Version)); err != nil {
		return result, nil, err
	}
	if have >= result.Version {
		result.Version = have
		return result, nil, nil
	}
	if err := in.keysFree(ctx, w, have); err != nil {
		return result, nil, err
	}
	places := make([]*Event, 0, len(in.events))
	for i := range in.events[have:] {
		places = append(places, &in.events[int(have)+i])
	}
	changes, err := w.insert(ctx, places)
	return result, changes, err
}

// head gives the version of a job, 0 when there is none.
func (w *writer) head(ctx context.Context, job string) (Version, error) {
	var v Version
	err := w.stmt.row(ctx, `SELECT coalesce(max(version), 0) FROM events WHERE job = ?`, job).Scan(&v)
	return v, err
}

// sameSoFar compares book and file up to version n.
func (in *importing) sameSoFar(ctx context.Context, w *writer, n Version) error {
	if n == 0 {
		return nil
	}
	var equal bool
	if err := w.hashAt(ctx, in.events[n-1], &equal); err != nil || equal {
		return err
	}
	for _, e := range in.events[:n] {
		if err := w.hashAt(ctx, e, &equal); err != nil {
			return err
		}
		if !equal {
			return &Diverged{Job: e.Job, Version: e.Version}
		}
	}
	return fmt.Errorf("job %s – %w: its chain is broken – check the book", in.events[0].Job, ErrDamaged)
}

func (w *writer) hashAt(ctx context.Context, e Event, equal *bool) error {
	var hash []byte
	err := w.stmt.row(ctx, `SELECT hash FROM events WHERE job = ? AND version = ?`, e.Job, int64(e.Version)).Scan(&hash)
	*equal = string(hash) == string(e.Hash[:])
	return err
}

// keysFree refuses a file whose first event has the key that started another job here.
func (in *importing) keysFree(ctx context.Context, w *writer, have Version) error {
	first := in.events[0]
	if have > 0 || first.Key == "" {
		return nil
	}
	var other string
	err := w.stmt.row(ctx, `SELECT job FROM events WHERE key = ? AND version = 1`, first.Key).Scan(&other)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	return badImport("its key %q started job %s in this book", clip(first.Key, 60), other)
}
