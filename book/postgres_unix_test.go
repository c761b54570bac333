//go:build unix

package book

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"phasewright/book/pgtest"
)

// inPostgres gives the address of a book of the test's own.
func inPostgres(t testing.TB) string { return madeFor(t, filepath.Join(t.TempDir(), "shop.book")) }

func openOn(t testing.TB, address string, opt Options) *Book {
	t.Helper()
	b, err := Open(context.Background(), address, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

// as opens a connection of a role to where a book lies.
func as(t testing.TB, role, address string) *sql.DB {
	t.Helper()
	p, err := newPostgres(strings.Replace(address, "//"+pgtest.Shop+"@", "//"+role+"@", 1))
	if err != nil {
		t.Fatal(err)
	}
	db := p.pool(1, ReadWrite)
	t.Cleanup(func() { db.Close() })
	return db
}

// Nobody changes what was written: not the role of the servers, which has no right to, and not the owner by mistake.
func TestEventsCannotBeChanged(t *testing.T) {
	address := inPostgres(t)
	b := openOn(t, address, Options{})
	newJob(t, b, "Sandpiper")
	for _, role := range []string{pgtest.Shop, pgtest.Keeper} {
		db := as(t, role, address)
		for _, statement := range []string{`UPDATE events SET who = 'nobody'`, `DELETE FROM events`, `TRUNCATE events`} {
			if _, err := db.Exec(statement); err == nil {
				t.Errorf("%s: %s was done", role, statement)
			}
		}
		if role == pgtest.Keeper {
			continue
		}
		for _, statement := range []string{`DROP TRIGGER events_no_change ON events`, `ALTER TABLE events DISABLE TRIGGER ALL`,
			`UPDATE turn SET given = 0`, `DROP TABLE events`, `CREATE TABLE more (x int)`, `DELETE FROM migrations`} {
			if _, err := db.Exec(statement); err == nil {
				t.Errorf("%s: %s was done", role, statement)
			}
		}
	}
	mustBeSound(t, b)
}

// What the owner does on purpose, Check finds.
func TestCheckFindsWhatWasDone(t *testing.T) {
	for name, c := range map[string]struct {
		statements []string
		finds      string
	}{
		"a payload changed": {[]string{`ALTER TABLE events DISABLE TRIGGER ALL`,
			`UPDATE events SET payload = replace(payload, 'idle', 'speed')`, `ALTER TABLE events ENABLE TRIGGER ALL`},
			"does not fit its hash"},
		"the last event gone": {[]string{`ALTER TABLE events DISABLE TRIGGER ALL`,
			`DELETE FROM events WHERE seq = (SELECT max(seq) FROM events)`, `ALTER TABLE events ENABLE TRIGGER ALL`},
			"events are missing"},
		"a trigger off":      {[]string{`ALTER TABLE events DISABLE TRIGGER events_no_change`}, "trigger events_no_change"},
		"an index gone":      {[]string{`DROP INDEX events_key`}, "index events_key is missing"},
		"a table of another": {[]string{`CREATE TABLE more (x int)`}, "table more does not belong"},
		"a count changed":    {[]string{`UPDATE jobs SET notes = 7`}, "do not fit the events"},
		"words of nothing":   {[]string{`INSERT INTO vocabulary VALUES ('nonesuch', 2)`}, "the list of words"},
	} {
		t.Run(name, func(t *testing.T) {
			address := inPostgres(t)
			b := openOn(t, address, Options{})
			mustAppend(t, b, newJob(t, b, "Sandpiper").Job, AnyVersion, note("smoke at idle"))
			mustBeSound(t, b)
			db := as(t, pgtest.Keeper, address)
			for _, s := range c.statements {
				if _, err := db.Exec(s); err != nil {
					t.Fatal(err)
				}
			}
			r, err := b.Check(t.Context())
			if err != nil || !strings.Contains(strings.Join(r.Problems, "\n"), c.finds) {
				t.Errorf("found %q, %v; want %q", r.Problems, err, c.finds)
			}
		})
	}
}

func TestADamagedChunkIsFoundAndHealed(t *testing.T) {
	address := inPostgres(t)
	b := openOn(t, address, Options{})
	job := newJob(t, b, "Sandpiper").Job
	text := strings.Repeat("0.001,4.9,0.1\n", 150_000) // three chunks
	mustPut(t, b, job, "a.csv", text)
	if _, err := as(t, pgtest.Keeper, address).Exec(`UPDATE chunks SET data = overlay(data PLACING 'x' FROM 5)`); err != nil {
		t.Fatal(err)
	}
	r, err := b.Check(t.Context())
	if err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "its content has changed") {
		t.Fatalf("%q, %v", r.Problems, err)
	}
	mustPut(t, b, job, "again.csv", text)
	mustBeSound(t, b)
}

// Screens on one server see what another recorded, at once, and also when the notice was lost.
func TestServersHearEachOther(t *testing.T) {
	address := inPostgres(t)
	one, two := openOn(t, address, Options{}), openOn(t, address, Options{})
	job := newJob(t, one, "Sandpiper").Job
	heard := func(s *Subscription, v Version, within time.Duration) time.Duration {
		t.Helper()
		began := time.Now()
		for {
			select {
			case c := <-s.C:
				if c.Job == job && c.Version >= v {
					return time.Since(began)
				}
			case <-time.After(within):
				t.Fatalf("version %d was not heard of within %v", v, within)
			}
		}
	}
	far, err := two.Subscribe(job)
	if err != nil {
		t.Fatal(err)
	}
	near, err := one.Subscribe(job)
	if err != nil {
		t.Fatal(err)
	}
	for v := Version(2); v < 12; v++ {
		mustAppend(t, one, job, AnyVersion, note("n"))
		heard(far, v, 5*time.Second)
	}
	for v := Version(2); v < 12; v++ {
		if c := <-near.C; c.Version != v {
			t.Errorf("heard of version %d from the own server, want %d and each once", c.Version, v)
		}
	}
	// The line over which notices come is cut; the next ones are heard of all the same.
	if _, err := as(t, pgtest.Keeper, address).Exec(`SELECT pg_terminate_backend(pid) FROM pg_stat_activity
		WHERE query LIKE 'LISTEN%'`); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, one, job, AnyVersion, note("while nobody listens"))
	heard(far, 12, 10*time.Second)
	mustAppend(t, two, job, 12, note("the other way"))
	heard(near, 13, 5*time.Second)
	// A change that another server has overtaken is refused as on one server.
	_, err = one.Append(t.Context(), job, 12, note("late"))
	if conflict := (*Conflict)(nil); !errors.As(err, &conflict) || conflict.Have != 13 || len(conflict.Since) != 1 {
		t.Errorf("%v", err)
	}
}

func TestAListenerThatBreaksEndsAlone(t *testing.T) {
	address := inPostgres(t)
	one, two := openOn(t, address, Options{}), openOn(t, address, Options{})
	job, other := newJob(t, one, "Sandpiper").Job, newJob(t, one, "Curlew").Job
	time.Sleep(100 * time.Millisecond)
	bad, err := two.Subscribe(job)
	if err != nil {
		t.Fatal(err)
	}
	close(bad.c) // sending on it breaks whoever sends
	mustAppend(t, one, job, AnyVersion, note("n"))
	good, err := two.Subscribe(other)
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, one, other, AnyVersion, note("n"))
	select {
	case <-good.C:
	case <-time.After(10 * time.Second):
		t.Error("nothing is heard of any more")
	}
	two.hub.mu.Lock()
	delete(two.hub.subs, bad)
	two.hub.mu.Unlock()
}

// Four servers with ten writers each on one job, each against the version that it last saw: no update is lost.
func TestServersLoseNoUpdate(t *testing.T) {
	address := inPostgres(t)
	const servers, writers, each = 4, 5, 5
	var books []*Book
	for range servers {
		books = append(books, openOn(t, address, Options{}))
	}
	job := newJob(t, books[0], "Sandpiper").Job
	var wg sync.WaitGroup
	var conflicts atomic.Int64
	for w := range servers * writers {
		wg.Go(func() {
			b, v := books[w%servers], Version(1)
			for i := 0; i < each; {
				e, err := b.Append(context.Background(), job, v, note(fmt.Sprint(w, i)))
				var c *Conflict
				switch {
				case err == nil:
					i, v = i+1, e.Version
				case errors.As(err, &c):
					conflicts.Add(1)
					v = c.Have
				default:
					t.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
	if j, err := books[1].Job(t.Context(), job); err != nil || j.Version != 1+servers*writers*each {
		t.Errorf("version %d, %v", j.Version, err)
	}
	t.Logf("%d conflicts", conflicts.Load())
	if r := mustBeSound(t, books[2]); r.Events != 1+servers*writers*each {
		t.Errorf("%+v", r)
	}
}

// steady is a stream of bytes that are the same each time, and different in every piece.
func steady(size int64) io.Reader { return io.LimitReader(steadyRandom(11), size) }

// A large file goes in and out as a stream, and a part of it is read without the rest. BOOK_FILE_SIZE, in bytes, is
// 48 MiB where nothing is said; scripts/load-postgres takes 4 GiB.
func TestALargeFileIsReadByParts(t *testing.T) {
	size := int64(48<<20 + 12345)
	if s := os.Getenv("BOOK_FILE_SIZE"); s != "" {
		var err error
		if size, err = strconv.ParseInt(s, 10, 64); err != nil {
			t.Fatal(err)
		}
	}
	b := openOn(t, inPostgres(t), Options{})
	job := newJob(t, b, "Sandpiper").Job
	sum := sha256.New()
	var most atomic.Uint64
	watch := func(r io.Reader) io.Reader {
		n := int64(0)
		return readerFunc(func(p []byte) (int, error) {
			k, err := r.Read(p)
			if n += int64(k); n > 16<<20 {
				n = 0
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most.Store(max(most.Load(), m.HeapAlloc))
			}
			return k, err
		})
	}
	began := time.Now()
	if _, err := b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: "long.csv"},
		watch(io.TeeReader(steady(size), sum))); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d MiB went in at %.0f MiB/s, heap at most %d MiB", size>>20, float64(size>>20)/time.Since(began).Seconds(),
		most.Load()>>20)
	if most.Load() > 128<<20 {
		t.Errorf("the heap grew to %d MiB", most.Load()>>20)
	}
	sha := Hash(sum.Sum(nil))
	var slowest time.Duration
	for i := range 20 {
		began = time.Now()
		f, _, err := b.OpenAttachment(t.Context(), sha)
		if err != nil {
			t.Fatal(err)
		}
		part := make([]byte, 2<<20) // as much as a view of a waveform reads
		if _, err := f.(io.ReaderAt).ReadAt(part, (size/2+int64(i)*777_777)%(size-int64(len(part)))); err != nil {
			t.Fatal(err)
		}
		f.Close()
		slowest = max(slowest, time.Since(began))
	}
	t.Logf("2 MiB of its middle came out in %v at most", slowest)
	f, n, err := b.OpenAttachment(t.Context(), sha)
	if err != nil || n != size {
		t.Fatal(n, err)
	}
	back := sha256.New()
	if _, err := io.Copy(back, f); err != nil || Hash(back.Sum(nil)) != sha {
		t.Errorf("another content came back, %v", err)
	}
	f.Close()
	// The same content again takes no more room; 7 bytes further on it is other pieces.
	mustCount := func(want int) {
		t.Helper()
		var n int
		if err := b.read().row(t.Context(), `SELECT count(*) FROM contents`).Scan(&n); err != nil || n != want {
			t.Errorf("%d contents, %v", n, err)
		}
	}
	mustCount(1)
	if size < 1<<30 {
		if _, err := b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: "again.csv"}, steady(size)); err != nil {
			t.Fatal(err)
		}
		mustCount(1)
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// A program that dies in the middle of a file leaves pieces that nobody sees; they are swept when their time is over.
func TestAHalfSentFileIsSweptAway(t *testing.T) {
	address := inPostgres(t)
	b := openOn(t, address, Options{})
	w, err := b.store.kept.begin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(w, steady(3<<20)); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, b)
	count := func() (n int) {
		if err := b.read().row(t.Context(), `SELECT (SELECT count(*) FROM chunks) + (SELECT count(*) FROM contents)`).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	openOn(t, address, Options{}).Close()
	if n := count(); n != 4 {
		t.Errorf("%d rows are there of a file on its way", n)
	}
	if _, err := as(t, pgtest.Keeper, address).Exec(`UPDATE contents SET seen_at = now() - interval '2 hours'`); err != nil {
		t.Fatal(err)
	}
	openOn(t, address, Options{}).Close()
	if n := count(); n != 0 {
		t.Errorf("%d rows are left of a file that was given up", n)
	}
}

// A whole book goes into PostgreSQL and back, in two parts, and is the same book.
func TestCopyBothWays(t *testing.T) {
	file := openNew(t)
	job := fullJob(t, file)
	if _, err := file.AppendShop(t.Context(), note("of the shop")); err != nil {
		t.Fatal(err)
	}
	server := openOn(t, inPostgres(t), Options{})
	if err := file.Copy(t.Context(), server, nil); err != nil {
		t.Fatal(err)
	}
	for i := range 300 {
		mustAppend(t, file, job, AnyVersion, note(fmt.Sprint("later ", i)))
	}
	mustPut(t, file, job, "later.txt", "later")
	stopped, cancel := context.WithCancel(t.Context())
	err := file.Copy(stopped, server, func(Copied) { cancel() })
	if !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	told := Copied{}
	if err := file.Copy(t.Context(), server, func(c Copied) { told = c }); err != nil || told.Done != told.All {
		t.Fatal(told, err)
	}
	mustBeSound(t, server)
	back := openNew(t)
	if err := server.Copy(t.Context(), back, nil); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, back)
	for _, b := range []*Book{server, back} {
		var one, two bytes.Buffer
		if err := errors.Join(file.WriteEventsCSV(t.Context(), &one), b.WriteEventsCSV(t.Context(), &two)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(one.Bytes(), two.Bytes()) {
			t.Errorf("the events differ")
		}
		if !bytes.Equal(exportOf(t, file, job), exportOf(t, b, job)) {
			t.Errorf("the exported job differs")
		}
		was, err := file.AllJobs(t.Context(), Query{Shelf: Both})
		now, err2 := b.AllJobs(t.Context(), Query{Shelf: Both})
		if err != nil || err2 != nil || fmt.Sprint(was) != fmt.Sprint(now) {
			t.Errorf("the lists of jobs differ: %v %v", err, err2)
		}
	}
	other := openNew(t)
	newJob(t, other, "Curlew")
	wantError(t, file.Copy(t.Context(), other, nil), ErrExists, "from event 1 on")
}

// PostgreSQL's own tools make a backup that holds the files too: dump, restore elsewhere, check.
func TestDumpRestoreCheck(t *testing.T) {
	address := inPostgres(t)
	b := openOn(t, address, Options{})
	fullJob(t, b)
	c := pgtest.Shared(t)
	space := b.base.(*postgres).space
	dump, err := c.Program("pg_dump", "--format", "custom", "--schema", space, "postgres").Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Run("CREATE DATABASE back_" + space); err != nil {
		t.Fatal(err)
	}
	restore := c.Program("pg_restore", "--exit-on-error", "--dbname", "back_"+space)
	restore.Stdin = bytes.NewReader(dump)
	if out, err := restore.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	back := openOn(t, strings.Replace(address, "/postgres?", "/back_"+space+"?", 1), Options{})
	if r := mustBeSound(t, back); r.Events != 7 || r.Files != 2 {
		t.Errorf("%+v", r)
	}
	mustAppend(t, back, allJobs(t, back)[0].ID, AnyVersion, note("it goes on"))
	mustBeSound(t, back)
}

func allJobs(t testing.TB, b *Book) []Job {
	t.Helper()
	jobs, err := b.AllJobs(t.Context(), Query{Shelf: Both})
	if err != nil {
		t.Fatal(err)
	}
	return jobs
}

func TestWhatServersShare(t *testing.T) {
	address := inPostgres(t)
	one, two := openOn(t, address, Options{}), openOn(t, address, Options{})
	var wg sync.WaitGroup
	for i := range 20 {
		wg.Go(func() {
			b := []*Book{one, two}[i%2]
			if err := b.ChangeShared(context.Background(), "count", func(v string) (string, error) {
				n, _ := strconv.Atoi(v)
				return strconv.Itoa(n + 1), nil
			}); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	refused := errors.New("refused")
	if err := two.ChangeShared(t.Context(), "count", func(string) (string, error) { return "", refused }); err != refused {
		t.Error(err)
	}
	if v, err := one.Shared(t.Context(), "count"); v != "20" || err != nil {
		t.Errorf("%q, %v", v, err)
	}
	claim := func(b *Book, life time.Duration, want bool) {
		t.Helper()
		if got, err := b.Claim(t.Context(), "work", life); err != nil || got != want {
			t.Errorf("claimed %v, %v; want %v", got, err, want)
		}
	}
	claim(one, time.Minute, true)
	claim(two, time.Minute, false)
	claim(one, 50*time.Millisecond, true)
	time.Sleep(100 * time.Millisecond)
	if all, err := two.Claims(t.Context(), "wo"); err != nil || len(all) != 1 || all[0] != (Claimed{"work", true}) {
		t.Errorf("%v, %v", all, err)
	}
	claim(two, time.Minute, true) // the first was silent for too long
	claim(one, time.Minute, false)
	if err := two.Unclaim(t.Context(), "work"); err != nil {
		t.Fatal(err)
	}
	claim(one, time.Minute, true)
}

// Who is forgotten stands in no row of any table; the job's chain holds as before.
func TestAForgottenPersonLeavesNoRow(t *testing.T) {
	address := inPostgres(t)
	b := openOn(t, address, Options{})
	job := personOf(t, b)
	db := as(t, pgtest.Keeper, address)
	rows := func() (n int) {
		t.Helper()
		for table := range grants {
			for _, name := range []string{"Vasterbrink", "vasterbrink", "018 2277", "Orzel", "orzel", "Zebulonia", "zebulonia"} {
				var some int
				if err := db.QueryRow(`SELECT count(*) FROM `+table+` AS r WHERE CAST(r AS text) LIKE '%' || $1 || '%'`,
					name).Scan(&some); err != nil {
					t.Fatal(table, err)
				}
				n += some
			}
		}
		return n
	}
	if rows() == 0 {
		t.Fatal("the test sees nothing")
	}
	if _, err := b.Forget(t.Context(), "Ada Reed", "", job); err != nil {
		t.Fatal(err)
	}
	if n := rows(); n != 0 {
		t.Errorf("%d rows still hold a name", n)
	}
	mustBeSound(t, b)
	back := openNew(t)
	if err := b.Copy(t.Context(), back, nil); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, back)
}

// proxy passes bytes between programs and the server's socket, and cuts lines when it is told.
type proxy struct {
	listener net.Listener
	to       string
	cutAfter atomic.Bool // the next COMMIT goes through and its answer does not come back
	cuts     atomic.Int64
}

func newProxy(t *testing.T, c *pgtest.Cluster) *proxy {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{listener: l, to: c.Socket()}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			in, err := l.Accept()
			if err != nil {
				return
			}
			go p.pass(in)
		}
	}()
	return p
}

func (p *proxy) pass(in net.Conn) {
	defer in.Close()
	out, err := net.Dial("unix", p.to)
	if err != nil {
		return
	}
	defer out.Close()
	var dead atomic.Bool // the answers are lost from here on
	var commits sync.Map // names of prepared statements that commit
	go func() {
		defer in.Close()
		buf := make([]byte, 64<<10)
		for {
			n, err := out.Read(buf)
			if dead.Load() {
				return
			}
			if n > 0 {
				if _, err := in.Write(buf[:n]); err != nil {
					return
				}
			}
			if err != nil {
				return
			}
		}
	}()
	buf := make([]byte, 64<<10)
	for {
		n, err := in.Read(buf)
		if n > 0 {
			// Parse is P, a length of four bytes, name\x00text\x00; Bind is B, a length, portal\x00name\x00 (PostgreSQL 15, 55.7).
			if i := bytes.Index(buf[:n], []byte("\x00COMMIT\x00")); i >= 0 {
				start := bytes.LastIndex(buf[:i], []byte("P\x00\x00\x00")) + 5
				commits.Store(string(buf[start:i]), true)
			}
			commits.Range(func(name, _ any) bool {
				bind := append(append([]byte{0}, name.(string)...), 0)
				if buf[0] == 'B' && bytes.Contains(buf[:n], bind) && p.cutAfter.CompareAndSwap(true, false) {
					dead.Store(true)
					p.cuts.Add(1)
				}
				return true
			})
			if _, err := out.Write(buf[:n]); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
		if dead.Load() {
			time.Sleep(50 * time.Millisecond) // until the server has done it
			return
		}
	}
}

// The line breaks between a commit and its answer: the event is there once, and whoever recorded it hears so.
func TestTheLineIsCutBetweenCommitAndAnswer(t *testing.T) {
	address := inPostgres(t)
	c := pgtest.Shared(t)
	p := newProxy(t, c)
	at := strings.Replace(address, "//"+pgtest.Shop+"@/", "//"+pgtest.Shop+"@"+p.listener.Addr().String()+"/", 1)
	at = strings.Replace(at, "host="+strings.ReplaceAll(c.Folder(), "/", "%2F")+"&", "", 1) + "&sslmode=disable"
	b := openOn(t, at, Options{})
	job := newJob(t, b, "Sandpiper").Job
	const cuts = 10
	for i := range cuts {
		p.cutAfter.Store(true)
		e, err := b.Append(t.Context(), job, Version(1+i), note(fmt.Sprint(i)))
		if err != nil || e.Version != Version(2+i) {
			t.Fatalf("cut %d: %+v, %v", i, e, err)
		}
	}
	if n := p.cuts.Load(); n != cuts {
		t.Errorf("%d lines were cut, want %d: the test saw too little", n, cuts)
	}
	if r := mustBeSound(t, b); r.Events != 1+cuts {
		t.Errorf("%d events", r.Events)
	}
}

// own is a cluster that is stopped and killed, with a book in it.
func ownCluster(t testing.TB, parent string, settings ...string) (c *pgtest.Cluster, address string) {
	t.Helper()
	pgtest.Need(t)
	c, err := pgtest.Make(parent, settings...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(c.Remove)
	if err := Migrate(t.Context(), c.Address(pgtest.Keeper, "shop"), pgtest.Shop); err != nil {
		t.Fatal(err)
	}
	return c, c.Address(pgtest.Shop, "shop")
}

// While PostgreSQL is away, whoever reads or records is told so; once it is back all goes on by itself.
func TestPostgreSQLGoesAndComesBack(t *testing.T) {
	c, address := ownCluster(t, "")
	b := openOn(t, address, Options{})
	job := newJob(t, b, "Sandpiper").Job
	s, err := b.Subscribe(job)
	if err != nil {
		t.Fatal(err)
	}
	// A short restart is a wait.
	if err := c.Kill(); err != nil {
		t.Fatal(err)
	}
	answer := make(chan error, 1)
	go func() {
		_, err := b.Append(context.Background(), job, 1, note("during the restart"))
		answer <- err
	}()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	if err := <-answer; err != nil && !errors.Is(err, ErrAway) {
		t.Fatal(err)
	} else if err != nil {
		t.Logf("the restart took longer than the patience: %v", err)
		d := note("during the restart")
		mustAppend(t, b, job, AnyVersion, d)
	}
	if err := c.Down(); err != nil {
		t.Fatal(err)
	}
	_, err = b.Job(t.Context(), job)
	wantError(t, err, ErrAway, "goes on by itself")
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	_, err = b.Append(ctx, job, AnyVersion, Draft{Who: "Ada", Kind: KindNoteAdded, Key: "k"})
	cancel()
	if !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, ErrAway) {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	// Sent again, it is recorded once, whether the first try came through or not.
	for range 2 {
		if _, err := b.Append(t.Context(), job, AnyVersion, Draft{Who: "Ada", Kind: KindNoteAdded, Key: "k"}); err != nil {
			t.Fatal(err)
		}
	}
	if r := mustBeSound(t, b); r.Events != 3 {
		t.Errorf("%d events, want 3", r.Events)
	}
	other := openOn(t, address, Options{})
	mustAppend(t, other, job, AnyVersion, note("heard of again"))
	for {
		select {
		case change := <-s.C:
			if change.Version == 4 {
				return
			}
		case <-time.After(15 * time.Second):
			t.Fatal("nothing is heard of after the restart")
		}
	}
}

// Servers, and PostgreSQL itself, are killed at any instant: nothing acknowledged is lost, nothing is there twice.
func TestKilledServersAndDatabase(t *testing.T) {
	c, address := ownCluster(t, "", "wal_sync_method=fdatasync")
	seed := uint64(time.Now().UnixNano())
	t.Logf("random instants from %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	all := map[string]bool{}
	rounds := killRounds(t) / 4
	databases := 0
	for round := range max(rounds, 3) {
		var servers []*exec.Cmd
		var outs []*bytes.Buffer
		for range 2 {
			cmd := helper(t, "write", address)
			out := &bytes.Buffer{}
			cmd.Stdout, cmd.Stderr = out, io.Discard
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			servers, outs = append(servers, cmd), append(outs, out)
		}
		time.Sleep(200*time.Millisecond + time.Duration(random.Int64N(600))*time.Millisecond)
		if round%2 == 1 {
			databases++
			if err := c.Kill(); err != nil {
				t.Fatal(err)
			}
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration(random.Int64N(300)) * time.Millisecond)
		}
		for _, s := range servers {
			_ = s.Process.Kill()
			_ = s.Wait()
		}
		for _, out := range outs {
			for line := range strings.Lines(out.String()) {
				if strings.HasSuffix(line, "\n") {
					all[strings.TrimSpace(line)] = true
				}
			}
		}
	}
	b := openOn(t, address, Options{})
	there := map[string]bool{}
	rows, err := b.read().rows(t.Context(), `SELECT `+selected+` FROM events`)
	if err != nil {
		t.Fatal(err)
	}
	events, err := collect(rows, scanEvent)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		there[fmt.Sprintf("%s %d %s", e.Job, e.Version, e.Hash)] = true
	}
	for line := range all {
		if !there[line] {
			t.Errorf("acknowledged and lost: %s", line)
		}
	}
	mustBeSound(t, b)
	t.Logf("%d rounds, PostgreSQL killed in %d; %d events acknowledged, %d there", max(rounds, 3), databases, len(all),
		len(events))
	if len(all) == 0 {
		t.Error("nothing was acknowledged: the test saw nothing")
	}
}

// The first server is lost, and a stand-by that has followed it is promoted by hand: programs go on there.
func TestFailOverToAStandby(t *testing.T) {
	c, address := ownCluster(t, "")
	standby, err := c.Standby()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(standby.Remove)
	// An answer waits for the stand-by, so that what was acknowledged is there too.
	for _, s := range []string{"ALTER SYSTEM SET synchronous_standby_names = '*'", "SELECT pg_reload_conf()"} {
		if err := c.Run(s); err != nil {
			t.Fatal(err)
		}
	}
	here := "host=" + strings.ReplaceAll(c.Folder(), "/", "%2F")
	both := strings.Replace(address, here, here+"%2C"+strings.ReplaceAll(standby.Folder(), "/", "%2F"), 1)
	b := openOn(t, both+"&target_session_attrs=read-write", Options{})
	job := newJob(t, b, "Sandpiper").Job
	for i := range 20 {
		mustAppend(t, b, job, Version(1+i), note(fmt.Sprint(i)))
	}
	if err := c.Kill(); err != nil {
		t.Fatal(err)
	}
	answer := make(chan error, 1)
	go func() {
		d := note("in between")
		d.Key = "once"
		_, err := b.Append(context.Background(), job, AnyVersion, d)
		answer <- err
	}()
	if err := standby.Promote(); err != nil {
		t.Fatal(err)
	}
	if err := <-answer; err != nil {
		t.Fatal(err)
	}
	d := note("in between")
	d.Key = "once"
	if e := mustAppend(t, b, job, AnyVersion, d); !e.Repeated || e.Version != 22 {
		t.Errorf("sent again: %+v", e)
	}
	if r := mustBeSound(t, b); r.Events != 22 {
		t.Errorf("%d events", r.Events)
	}
}
