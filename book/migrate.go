package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// migrate brings the schema up to date, one transaction a step: killed in between, the book is at one whole step.
func (b *Book) migrate(ctx context.Context) error {
	version, err := schemaVersion(ctx, b.writing)
	if err != nil {
		return b.problem(err)
	}
	if err := b.checkVersion(version, ReadWrite); err != nil {
		return err
	}
	for _, s := range steps {
		if s.to <= version {
			continue
		}
		if err := b.runStep(ctx, s, s.to == latest()); err != nil {
			return fmt.Errorf("%s – schema %d could not be made; the book is as it was: %w", b.path, s.to,
				b.problem(err))
		}
	}
	return nil
}

func (b *Book) runStep(ctx context.Context, s step, last bool) (err error) {
	tx, err := b.writing.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, ignoreDone(tx.Rollback()))
		}
	}()
	if _, err := tx.ExecContext(ctx, s.sql); err != nil {
		return err
	}
	if s.then != nil {
		if err := s.then(ctx, direct{tx, oneFile{}}, b.random); err != nil {
			return err
		}
	}
	if last {
		x := direct{tx, oneFile{}}
		if err := clearDerived(ctx, x); err != nil {
			return err
		}
		if _, err := refill(ctx, x); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA application_id = %d; PRAGMA user_version = %d`,
		applicationID, s.to)); err != nil {
		return err
	}
	return tx.Commit()
}

func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
}
