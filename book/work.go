package book

import (
	"cmp"
	"context"
	"strings"
	"time"
)

// stint is an hour of one person's work on a job, with deeds a row of the table work.
type stint struct {
	hour   int64 // since 1970 UTC: an hour falls into one day, week and month of every shop's clock
	person string
}

func (s stint) compare(t stint) int {
	return cmp.Or(cmp.Compare(s.hour, t.hour), strings.Compare(s.person, t.person))
}

const hour = int64(time.Hour / time.Microsecond)

// deeds counts what was done. An undone step and a withdrawn reading were work too.
type deeds struct{ steps, readings, corrections, proofs, entries int }

func (d deeds) and(o deeds) deeds {
	return deeds{d.steps + o.steps, d.readings + o.readings, d.corrections + o.corrections, d.proofs + o.proofs,
		d.entries + o.entries}
}

func deedsOf(e Event) deeds {
	d := deeds{entries: 1}
	switch e.Kind {
	case KindStepDone, KindStepTried, KindStepUndone, KindStepOverride:
		d.steps = 1
	case KindReadingAdded:
		d.readings = 1
	case KindCorrectionMade:
		d.corrections = 1
	case KindProofSigned:
		d.proofs = 1
	}
	return d
}

func stintOf(e Event) stint { return stint{hourOf(e.At), worker(e)} }

// hourOf is the hour that a time lies in, before 1970 too.
func hourOf(t time.Time) int64 {
	at := toMicros(t)
	if at%hour < 0 {
		at -= hour
	}
	return at / hour
}

// worker is who did what an event tells: the name given with it, else that of the device; "" where nobody said.
func worker(e Event) string {
	name := field(e.Payload, "who")
	if e.Kind == KindProofSigned && !forCustomer(field(e.Payload, "role")) { // an owner's name may be erased
		name = field(e.Payload, "name")
	}
	if name = cmp.Or(name, e.Who); name == HostScreen {
		return ""
	}
	return name
}

func addWork(ctx context.Context, x executor, no int64, s stint, d deeds) error {
	return x.exec(ctx, `INSERT INTO work (job_no, hour, person, steps, readings, corrections, proofs, entries)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (job_no, hour, person) DO UPDATE SET steps = work.steps + excluded.steps,
		readings = work.readings + excluded.readings, corrections = work.corrections + excluded.corrections,
		proofs = work.proofs + excluded.proofs, entries = work.entries + excluded.entries`,
		no, s.hour, s.person, d.steps, d.readings, d.corrections, d.proofs, d.entries)
}

func loadWork(ctx context.Context, x executor, no int64) (map[stint]deeds, error) {
	rows, err := x.rows(ctx, `SELECT hour, person, steps, readings, corrections, proofs, entries FROM work
		WHERE job_no = ?`, no)
	if err != nil {
		return nil, err
	}
	all := map[stint]deeds{}
	_, err = collect(rows, func(row scanner) (_ struct{}, err error) {
		var s stint
		var d deeds
		err = row.Scan(&s.hour, &s.person, &d.steps, &d.readings, &d.corrections, &d.proofs, &d.entries)
		all[s] = d
		return struct{}{}, unreadable(err)
	})
	return all, err
}

// hours bounds the hours of a query; ok is false where it asks for any.
func (q Query) hours() (from, to int64, ok bool) {
	from, to = -1<<62, 1<<62
	if !q.From.IsZero() {
		from = hourOf(q.From)
	}
	if !q.To.IsZero() {
		to = hourOf(q.To.Add(-time.Microsecond)) + 1
	}
	return from, to, !q.From.IsZero() || !q.To.IsZero()
}

// chosen is what a query asks of the rows of jobs beyond shelf and text, as conditions to add, with their values.
func (q Query) chosen() (sql string, values []any) {
	add := func(condition string, v ...any) { sql, values = sql+` AND `+condition, append(values, v...) }
	if q.Bay != "" {
		add(`bay = ?`, q.Bay)
	}
	if q.Waiting {
		add(`waiting <> ''`)
	}
	switch from, to, ok := q.hours(); {
	case ok && q.Person != "":
		add(`no IN (SELECT job_no FROM work WHERE hour >= ? AND hour < ? AND work.person = ?)`, from, to, q.Person)
	case ok:
		add(`no IN (SELECT job_no FROM work WHERE hour >= ? AND hour < ?)`, from, to)
	case q.Person != "":
		add(`person = ?`, q.Person)
	}
	return sql, values
}

// Done is what one person did on one job within a time.
type Done struct {
	Person      string    `json:"person"` // "" where nobody said
	Job         string    `json:"job"`
	Name        string    `json:"name"`
	Bay         string    `json:"bay"`         // where it stands now
	Steps       int       `json:"steps"`       // done, taken back, overridden
	Readings    int       `json:"readings"`    // also those withdrawn since
	Corrections int       `json:"corrections"` //
	Proofs      int       `json:"proofs"`      // signatures
	Entries     int       `json:"entries"`     // of all kinds
	Last        time.Time `json:"last"`        // the hour of the last one
}

// mostDone bounds what Done gives.
const mostDone = 1000

// Done tells what was done between q.From and q.To, on jobs put away too, by person, the latest work of each first; bay
// and person choose as in a list. more says that it was too much for one answer.
func (b *Book) Done(ctx context.Context, q Query) (all []Done, more bool, err error) {
	from, to, _ := q.hours()
	which, args := ``, []any{from, to}
	for _, c := range []struct{ column, value string }{{`j.bay`, q.Bay}, {`w.person`, q.Person}} {
		if c.value != "" {
			which, args = which+` AND `+c.column+` = ?`, append(args, c.value)
		}
	}
	rows, err := b.read().rows(ctx, `SELECT w.person, j.id, j.name, j.bay, sum(w.steps), sum(w.readings),
		sum(w.corrections), sum(w.proofs), sum(w.entries), max(w.hour)
		FROM work w JOIN jobs j ON j.no = w.job_no
		WHERE w.hour >= ? AND w.hour < ?`+which+` AND `+aJob+`
		GROUP BY w.person, j.no ORDER BY w.person, max(w.hour) DESC, j.no DESC LIMIT ?`, append(args, mostDone+1)...)
	if err != nil {
		return nil, false, b.problem(err)
	}
	all, err = collect(rows, func(row scanner) (d Done, err error) {
		var last int64
		err = row.Scan(&d.Person, &d.Job, &d.Name, &d.Bay, &d.Steps, &d.Readings, &d.Corrections, &d.Proofs,
			&d.Entries, &last)
		d.Last = fromMicros(last * hour)
		return d, unreadable(err)
	})
	if len(all) > mostDone {
		all, more = all[:mostDone], true
	}
	return all, more, b.problem(err)
}

// Hands gives the bays in which the jobs in work stand and the persons in whose hands they are, by name.
func (b *Book) Hands(ctx context.Context) (bays, persons []string, err error) {
	for column, to := range map[string]*[]string{`bay`: &bays, `person`: &persons} {
		rows, err := b.read().rows(ctx, `SELECT DISTINCT `+column+` FROM jobs
			WHERE archived = ? AND `+column+` <> '' ORDER BY `+column, false)
		if err != nil {
			return nil, nil, b.problem(err)
		}
		if *to, err = collect(rows, scanText); err != nil {
			return nil, nil, b.problem(err)
		}
	}
	return bays, persons, nil
}
