package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Rebuilt is what Rebuild found.
type Rebuilt struct {
	Events, Jobs int
	Differences  []string // where the old derived tables differed from the rebuilt ones; empty when all was well
}

// Rebuild drops the derived tables, makes them again from the events, and compares the two. Other writers wait
// meanwhile.
func (b *Book) Rebuild(ctx context.Context) (Rebuilt, error) {
	var r Rebuilt
	err := b.do(ctx, func(ctx context.Context, w *writer) (_ []Change, err error) {
		r, err = rebuild(ctx, &w.stmt)
		return nil, err
	})
	return r, err
}

func rebuild(ctx context.Context, x executor) (Rebuilt, error) {
	now, old, err := x.on().anew(ctx, x)
	if err != nil {
		return Rebuilt{}, err
	}
	r, err := refill(ctx, x)
	if err != nil {
		return r, err
	}
	for _, t := range comparedTables {
		for _, side := range [][3]string{{now + t, old + t, "missing or different before"},
			{old + t, now + t, "should not have been there"}} {
			var n int
			if err := x.row(ctx,
				`SELECT count(*) FROM (SELECT * FROM `+side[0]+` EXCEPT SELECT * FROM `+side[1]+`) AS odd`,
			).Scan(&n); err != nil {
				return r, err
			}
			if n > 0 {
				r.Differences = append(r.Differences,
					fmt.Sprintf("table %s – %d rows %s – put right from the events", t, n, side[2]))
			}
		}
		if err := x.exec(ctx, `DROP TABLE `+old+t); err != nil {
			return r, err
		}
	}
	return r, nil
}

// refill fills empty derived tables from the events.
func refill(ctx context.Context, x executor) (Rebuilt, error) {
	var r Rebuilt
	var c chapter
	words := vocabulary{}
	finish := func() error {
		if c.no == 0 {
			return nil
		}
		r.Jobs++
		words.add(c.text)
		return c.save(ctx, x)
	}
	err := eachEvent(ctx, x, func(e Event) error {
		if c.no != 0 && e.Job != c.ID {
			if err := finish(); err != nil {
				return err
			}
			c = chapter{}
		}
		r.Events++
		c.add(e)
		return nil
	})
	if err != nil {
		return r, err
	}
	return r, errors.Join(finish(), words.save(ctx, x))
}

// eventsAtOnce is how many events eachEvent reads at a time: a connection to PostgreSQL does one thing after another,
// and an event may take MaxPayload.
const eventsAtOnce = 200

// eachEvent goes through all events, job by job, oldest first.
func eachEvent(ctx context.Context, x executor, do func(Event) error) error {
	last := Event{}
	for {
		rows, err := x.rows(ctx, `SELECT `+selected+` FROM events WHERE (job, version) > (?, ?)
			ORDER BY job, version LIMIT ?`, last.Job, int64(last.Version), eventsAtOnce)
		if err != nil {
			return err
		}
		events, err := collect(rows, scanEvent)
		if err != nil || len(events) == 0 {
			return err
		}
		for _, e := range events {
			if err := do(e); err != nil {
				return err
			}
		}
		last = events[len(events)-1]
	}
}

// object is a table, index or trigger of the schema.
type object struct{ kind, name, table, sql string }

func (o object) derived() bool {
	for _, t := range derivedTables {
		if o.table == t {
			return true
		}
	}
	return false
}

// wantedSchema makes an empty book in memory by the same steps and reads its schema back.
func wantedSchema(ctx context.Context) ([]object, error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	for _, s := range steps {
		if _, err := db.ExecContext(ctx, s.sql); err != nil {
			return nil, err
		}
	}
	return readSchema(ctx, db)
}

type rowQuerier interface {
	QueryRowContext(ctx context.Context, text string, args ...any) *sql.Row
}

type querier interface {
	QueryContext(ctx context.Context, text string, args ...any) (*sql.Rows, error)
}

func readSchema(ctx context.Context, db querier) ([]object, error) {
	rows, err := db.QueryContext(ctx,
		`SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_schema ORDER BY rowid`)
	if err != nil {
		return nil, err
	}
	return collect(rows, func(row scanner) (object, error) {
		var o object
		err := row.Scan(&o.kind, &o.name, &o.table, &o.sql)
		return o, err
	})
}
