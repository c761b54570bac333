//go:build unix

package book

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"phasewright/book/pgtest"
)

// manyEvents makes the events of an invented job, as the book would.
func manyEvents(i int) []Event {
	r := rand.New(rand.NewPCG(uint64(i), 1))
	at := time.Date(2006, 1, 1, 8, 0, 0, 0, time.UTC).Add(time.Duration(i) * 10 * time.Minute)
	id, err := newID(steadyRandomOf(uint64(i)))
	if err != nil {
		panic(err)
	}
	object := func(pairs ...string) json.RawMessage {
		m := map[string]string{}
		for k := 0; k < len(pairs); k += 2 {
			m[pairs[k]] = pairs[k+1]
		}
		raw, _ := json.Marshal(m)
		c, err := Canonical(raw, MaxDepth)
		if err != nil {
			panic(err)
		}
		return c
	}
	all := []Event{
		{Kind: KindJobCreated, Payload: object("name", shopName(r, 3)+" "+fmt.Sprint(i%10_000), "owner",
			shopName(r, 2)+" "+shopName(r, 2), "engine", bigEngines[r.IntN(len(bigEngines))], "shop", "Marlow Quay")},
		{Kind: KindCardSaved, Payload: object("yaml", fmt.Sprintf("engine: {cylinders: %d, bore: %d mm, serial: %s}\n",
			1+r.IntN(12), 60+r.IntN(60), shopName(r, 2)))},
		{Kind: KindNoteAdded, Payload: object("text", "found "+bigFaults[r.IntN(len(bigFaults))]+" by "+shopName(r, 2))},
	}
	var last Event
	for k := range all {
		e := &all[k]
		e.Seq, e.Job, e.Version, e.At, e.Who, e.Prev = int64(3*i+k+1), id, Version(k+1), at, "Ada Reed, phone 1", last.Hash
		e.Hash = HashEvent(*e)
		last = *e
	}
	return all
}

func steadyRandomOf(n uint64) *rand.ChaCha8 {
	var seed [32]byte
	for i := range 8 {
		seed[i] = byte(n >> (8 * i))
	}
	return rand.NewChaCha8(seed)
}

// rowsOf gives the rows of a table of so many jobs to whoever fills it.
type rowsOf struct {
	columns []string
	each    func(job int, yield func(...any))
}

func manyRows(jobs int) map[string]rowsOf {
	names := func(s string) []string {
		return strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(", \n\t", r) })
	}
	chapterOf := func(i int) (c chapter) {
		for _, e := range manyEvents(i) {
			c.add(e)
		}
		return c
	}
	return map[string]rowsOf{
		"events": {names(eventColumns), func(i int, yield func(...any)) {
			for _, e := range manyEvents(i) {
				yield(e.Seq, e.Job, int64(e.Version), toMicros(e.At), e.Who, string(e.Kind), nil, string(e.Payload), e.Back,
					e.Prev[:], e.Hash[:])
			}
		}},
		"jobs": {names(lineColumns), func(i int, yield func(...any)) {
			c := chapterOf(i)
			yield(c.values()...)
		}},
		"work": {names("job_no, hour, person, steps, readings, corrections, proofs, entries"), func(i int, yield func(...any)) {
			c := chapterOf(i)
			for s, d := range c.work {
				yield(c.no, s.hour, s.person, d.steps, d.readings, d.corrections, d.proofs, d.entries)
			}
		}},
		"job_text": {names("no, " + textColumns), func(i int, yield func(...any)) {
			c := chapterOf(i)
			yield(append([]any{c.no}, c.text.values()...)...)
		}},
	}
}

// vocabularyRows are the words of so many jobs, and what leads to them.
func vocabularyRows(jobs int) (words, pairs [][]any) {
	v := vocabulary{}
	for i := range jobs {
		var c chapter
		for _, e := range manyEvents(i) {
			c.add(e)
		}
		v.add(c.text)
	}
	for w, n := range v {
		words = append(words, []any{w, n})
		for _, g := range grams(" " + w + " ") {
			pairs = append(pairs, []any{g, w})
		}
	}
	return words, pairs
}

// fillMany makes a book of so many jobs in PostgreSQL, past the book's own ways, which would take hours.
func fillMany(t testing.TB, c *pgtest.Cluster, jobs int) {
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, strings.Replace(c.Address(pgtest.Keeper, "shop"), "&schema=shop", "", 1))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	run := func(s string) {
		t.Helper()
		if _, err := conn.Exec(ctx, s); err != nil {
			t.Fatal(s, err)
		}
	}
	run(`SET search_path = shop`)
	run(`SET session_replication_role = replica`) // the events have their numbers
	for table, r := range manyRows(jobs) {
		began := time.Now()
		var waiting [][]any
		next := 0
		_, err := conn.CopyFrom(ctx, pgx.Identifier{table}, r.columns, pgx.CopyFromFunc(func() ([]any, error) {
			for len(waiting) == 0 {
				if next == jobs {
					return nil, nil
				}
				r.each(next, func(row ...any) { waiting = append(waiting, row) })
				next++
			}
			row := waiting[0]
			waiting = waiting[1:]
			return row, nil
		}))
		if err != nil {
			t.Fatal(table, err)
		}
		t.Logf("%s: %.0f s", table, time.Since(began).Seconds())
	}
	words, pairs := vocabularyRows(jobs)
	for table, rows := range map[string][][]any{"vocabulary": words, "grams": pairs} {
		columns := map[string][]string{"vocabulary": {"word", "jobs"}, "grams": {"gram", "word"}}[table]
		if _, err := conn.CopyFrom(ctx, pgx.Identifier{table}, columns, pgx.CopyFromRows(rows)); err != nil {
			t.Fatal(table, err)
		}
	}
	run(`UPDATE turn SET given = (SELECT max(seq) FROM events)`)
	run(`VACUUM ANALYZE`)
	t.Logf("%d words, %d pairs", len(words), len(pairs))
}

// fillFile makes the same book in a file.
func fillFile(t testing.TB, b *Book, jobs int) {
	err := b.do(context.Background(), func(ctx context.Context, w *writer) ([]Change, error) {
		for i := range jobs {
			var c chapter
			for _, e := range manyEvents(i) {
				if err := w.stmt.exec(ctx, `INSERT INTO events (`+eventColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, e.Seq,
					e.Job, int64(e.Version), toMicros(e.At), e.Who, string(e.Kind), nil, string(e.Payload), e.Back, e.Prev[:],
					e.Hash[:]); err != nil {
					return nil, err
				}
				c.add(e)
			}
			if err := c.save(ctx, &w.stmt); err != nil {
				return nil, err
			}
		}
		words := vocabulary{}
		for i := range jobs {
			var c chapter
			for _, e := range manyEvents(i) {
				c.add(e)
			}
			words.add(c.text)
		}
		return nil, words.save(ctx, &w.stmt)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestManyJobs measures a book of so many jobs as BOOK_JOBS says; scripts/load-postgres has a million. Without it, a
// small one says that what is filled past the book's own ways is a sound book.
func TestManyJobs(t *testing.T) {
	jobs := 300
	if s := os.Getenv("BOOK_JOBS"); s != "" {
		var err error
		if jobs, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	c, address := ownCluster(t, "", "maintenance_work_mem=512MB", "work_mem=16MB", "max_wal_size=4GB",
		"shared_buffers=1GB", "synchronous_commit=off")
	fillMany(t, c, jobs)
	server := openOn(t, address, Options{})
	file := openAt(t, filepath.Join(t.TempDir(), "many.book"), Options{})
	fillFile(t, file, jobs)
	if jobs <= 300 {
		mustBeSound(t, server)
		mustBeSound(t, file)
	}
	pick := func(i int) (name, owner, id string) {
		n := i * 7919 % jobs
		e := manyEvents(n)
		return field(e[0].Payload, "name"), field(e[0].Payload, "owner"), e[0].Job
	}
	slip := func(s string) string { // the second and third letters of its first word changed about
		r := []rune(s)
		r[1], r[2] = r[2], r[1]
		return string(r)
	}
	const asks = 300
	for _, q := range []struct {
		name string
		ask  func(b *Book, i int) (int, error)
	}{
		{"list", func(b *Book, i int) (int, error) {
			p, err := b.Jobs(t.Context(), Query{Shelf: []Shelf{Active, Both}[i%2]})
			return len(p.Jobs), err
		}},
		{"find a name", func(b *Book, i int) (int, error) {
			name, _, _ := pick(i)
			p, err := b.Jobs(t.Context(), Query{Text: name})
			return len(p.Jobs), err
		}},
		{"find an owner", func(b *Book, i int) (int, error) {
			_, owner, _ := pick(i)
			p, err := b.Jobs(t.Context(), Query{Text: owner, Shelf: Both})
			return len(p.Jobs), err
		}},
		{"find the middle of a word", func(b *Book, i int) (int, error) {
			name, _, _ := pick(i)
			word, _, _ := strings.Cut(name, " ")
			p, err := b.Jobs(t.Context(), Query{Text: string([]rune(word)[1:])})
			return len(p.Jobs), err
		}},
		{"find with a slip", func(b *Book, i int) (int, error) {
			name, _, _ := pick(i)
			p, err := b.Jobs(t.Context(), Query{Text: slip(name)})
			return len(p.Jobs) + 1, err
		}},
		{"find what is everywhere", func(b *Book, i int) (int, error) {
			p, err := b.Jobs(t.Context(), Query{Text: []string{"marlow quay", "found clamp", "six cylinder"}[i%3]})
			return len(p.Jobs), err
		}},
		{"open", func(b *Book, i int) (int, error) {
			_, _, id := pick(i)
			if _, err := b.Job(t.Context(), id); err != nil {
				return 0, err
			}
			e, err := b.Events(t.Context(), id, 0)
			return len(e), err
		}},
	} {
		var p99 [2]time.Duration
		var median [2]time.Duration
		for k, b := range []*Book{server, file} {
			var took []time.Duration
			for i := range asks {
				began := time.Now()
				n, err := q.ask(b, i)
				if err != nil || n == 0 {
					t.Fatalf("%s, ask %d: %d, %v", q.name, i, n, err)
				}
				took = append(took, time.Since(began))
			}
			slices.Sort(took)
			median[k], p99[k] = took[len(took)/2], took[len(took)*99/100]
		}
		t.Logf("%-26s PostgreSQL %6.1f ms, p99 %6.1f   file %6.1f ms, p99 %6.1f   ratio of p99 %.2f", q.name,
			ms(median[0]), ms(p99[0]), ms(median[1]), ms(p99[1]), ms(p99[0])/ms(p99[1]))
	}
	load, _ := os.ReadFile("/proc/loadavg")
	t.Logf("%d jobs; load %s", jobs, strings.TrimSpace(string(load)))
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
