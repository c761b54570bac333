package livebench

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"log/slog"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"phasewright/bench"
	"phasewright/book"
)

// shopBook is a shop book on disk.
func shopBook(t *testing.T) *book.Book {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "shop.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

// runOf is a run of the program over a book, with the clock of the test; its benches have no loops of their own.
func runOf(t *testing.T, k keeper, c *clock) *rigs {
	t.Helper()
	all := newRigs(c.Now, rand.Reader, slog.New(slog.NewTextHandler(t.Output(), nil)))
	all.keeper = k
	all.engine = func(_ context.Context, o *order) error {
		o.Config = bench.Default()
		return nil
	}
	t.Cleanup(all.close)
	return all
}

func mustSet(t *testing.T, all *rigs, o order) *rig {
	t.Helper()
	o.Config = bench.Default()
	r, err := all.set(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	r.loops = nil // the test lets time pass
	return r
}

// A room comes back from the book as it stood: engine, time, faults, wires, what was done, attempts and the judge's
// word. The same acts at the same steps come to the same engine, to the last bit.
func TestRoomsComeBackFromTheBook(t *testing.T) {
	c, b := start(), shopBook(t)
	first := runOf(t, b, c)
	r := mustSet(t, first, order{Name: "Port side", Exercise: "falls-back", Maker: personOf(eve)})
	other := mustSet(t, first, order{Maker: personOf(ada)})
	if other.label != "Bench 1" {
		t.Errorf("the nameless bench is called %q", other.label)
	}
	if _, err := first.set(t.Context(), order{Name: "port side", Config: bench.Default()}); status(err) != 409 {
		t.Errorf("a second bench of one name: %v", err)
	}
	if err := r.hide(eve, []string{"worn=1.2deg"}, 77); err != nil {
		t.Fatal(err)
	}
	act(t, r, ada, "t1", "key", "to", "on")
	act(t, r, ada, "t1", "light", "to", "on")
	act(t, r, ada, "t1", "starter", "to", "on")
	r.seconds(c, 1.3)
	act(t, r, ada, "t1", "fuel", "to", "on")
	r.seconds(c, 3)
	act(t, r, ada, "t1", "starter", "to", "off")
	act(t, r, ada, "t1", "lever", "rpm", "2000")
	r.seconds(c, 5.7)
	act(t, r, ada, "t1", "fuel", "to", "off")
	r.seconds(c, 6)
	if err := r.do(ada, "t1", "housing", sent("by", "1")); status(err) != 409 {
		t.Errorf("the clamp is tight: %v", err)
	}
	act(t, r, ada, "t1", "follow", "tower", "3")
	if err := r.judge(ada, "t1", nil); err != nil {
		t.Fatal(err)
	}
	act(t, r, ada, "t1", "fuel", "to", "on")
	act(t, r, ada, "t1", "starter", "to", "on")
	r.seconds(c, 2.5)
	if r.state.SpeedRPM == 0 {
		t.Fatal("the engine stands, and nothing is tried")
	}
	standing, at, done, steps := r.state, r.state.TimeS, r.done, r.steps
	first.close()

	second := runOf(t, b, c)
	back, err := second.find(r.id)
	if err != nil {
		t.Fatal(err)
	}
	if back.state.TimeS != at || !reflect.DeepEqual(plainState(back.state), plainState(standing)) {
		t.Errorf("came back at %.3f s as\n%+v\nstood at %.3f s as\n%+v", back.state.TimeS, plainState(back.state), at, plainState(standing))
	}
	if back.steps != steps || back.number != 2 || back.label != "Port side" || back.leads() != "Eve Marsh" || back.hiddenBy != "Eve Marsh" || back.exercise == nil {
		t.Errorf("step %d of %d, attempt %d, %q, led by %q, hidden by %q", back.steps, steps, back.number, back.label, back.leads(), back.hiddenBy)
	}
	if got, want := said(back.done), said(done); got != want {
		t.Errorf("what was done:\n%s\nwas\n%s", got, want)
	}
	if !reflect.DeepEqual(back.faults, r.faults) || !reflect.DeepEqual(back.followed, r.followed) {
		t.Errorf("hidden %v, was %v; followed %v, was %v", back.faults.List(), r.faults.List(), back.followed, r.followed)
	}
	if !reflect.DeepEqual(back.verdict, r.verdict) || back.released {
		t.Errorf("judged %+v, was %+v; released %v", back.verdict, r.verdict, back.released)
	}
	if err := back.judge(ada, "t1", nil); status(err) != 409 {
		t.Errorf("judged again after a new start: %v", err)
	}
	if names := second.list(); len(names) != 2 {
		t.Errorf("%d benches came back", len(names))
	}
	// The next run knows what this one adds, and not what it put away.
	if err := back.release(eve); err != nil {
		t.Fatal(err)
	}
	second.putAway(other.id, "a test")
	second.close()
	third := runOf(t, b, c)
	if again, err := third.find(r.id); err != nil || !again.released {
		t.Errorf("released before a new start: %v", err)
	}
	if _, err := third.find(other.id); status(err) != 404 {
		t.Errorf("put away, and back: %v", err)
	}
	report, err := b.Check(t.Context())
	if err != nil || len(report.Problems) > 0 {
		t.Errorf("the book: %v, %v", report.Problems, err)
	}
	if rebuilt, err := b.Rebuild(t.Context()); err != nil || len(rebuilt.Differences) > 0 {
		t.Errorf("made again from its events: %v, %v", rebuilt.Differences, err)
	}
	for _, shelf := range []book.Shelf{book.Active, book.Archived, book.Both} {
		for _, text := range []string{"", "port", "falls", "reed"} {
			if found, err := b.Jobs(t.Context(), book.Query{Shelf: shelf, Text: text}); err != nil || len(found.Jobs) > 0 {
				t.Errorf("practice stands among the jobs: %+v, %v", found.Jobs, err)
			}
		}
	}
}

// plainState is a state without what only one step holds.
func plainState(s bench.State) bench.State {
	s.Events, s.Notes = nil, nil
	return s
}

func said(all []doneLine) string {
	var b strings.Builder
	for _, d := range all {
		b.WriteString(benchTime(d.TS) + " " + d.Who + " " + d.What + "\n")
	}
	return b.String()
}

// What was saved before the program died comes back, though nothing was closed.
func TestRoomsComeBackAfterACrash(t *testing.T) {
	c, b := start(), shopBook(t)
	first := runOf(t, b, c)
	r := mustSet(t, first, order{Maker: personOf(ada)})
	act(t, r, ada, "t1", "key", "to", "on")
	r.seconds(c, 1)
	act(t, r, ada, "t1", "clamp", "to", "off")
	r.save(false)
	act(t, r, ada, "t1", "light", "to", "on") // dies before this is saved
	r.chain = ""                              // dead: it writes nothing more
	back, err := runOf(t, b, c).find(r.id)
	if err != nil {
		t.Fatal(err)
	}
	if back.state.Key != bench.On || back.state.Clamp != bench.Off || back.state.Light != bench.Off {
		t.Errorf("key %s, clamp %s, light %s", back.state.Key, back.state.Clamp, back.state.Light)
	}
	act(t, back, ada, "t1", "light", "to", "on")
}

// fullBook is a book whose disk is full from a moment on.
type fullBook struct {
	*book.Book
	full bool
}

func (f *fullBook) AppendAll(ctx context.Context, job string, v book.Version, d []book.Draft) ([]book.Event, error) {
	if f.full {
		return nil, book.ErrFull
	}
	return f.Book.AppendAll(ctx, job, v, d)
}

// With the disk full nothing is judged that would be forgotten; work goes on, and what was done is saved once there is
// room.
func TestAJudgementIsKeptOrNotMade(t *testing.T) {
	c := start()
	f := &fullBook{Book: shopBook(t)}
	r := mustSet(t, runOf(t, f, c), order{Exercise: "falls-back", Maker: personOf(eve)})
	r.log = slog.New(slog.NewTextHandler(io.Discard, nil))
	act(t, r, ada, "t1", "key", "to", "on")
	f.full = true
	r.save(false)
	if err := r.judge(ada, "t1", nil); !errors.Is(err, book.ErrFull) || r.verdict != nil {
		t.Errorf("judged on a full disk: %v, %+v", err, r.verdict)
	}
	if err := r.release(eve); !errors.Is(err, book.ErrFull) || r.released {
		t.Errorf("released on a full disk: %v", err)
	}
	act(t, r, ada, "t1", "light", "to", "on")
	f.full = false
	if err := r.judge(ada, "t1", nil); err != nil {
		t.Fatal(err)
	}
	back, err := runOf(t, f, c).find(r.id)
	if err != nil || back.verdict == nil || back.state.Light != bench.On {
		t.Errorf("after the disk had room again: %v, %+v", err, back)
	}
}

// brittleBook breaks over one chain.
type brittleBook struct {
	*book.Book
	over string
}

func (f *brittleBook) AppendAll(ctx context.Context, job string, v book.Version, d []book.Draft) ([]book.Event, error) {
	if job == f.over {
		panic("a broken invariant")
	}
	return f.Book.AppendAll(ctx, job, v, d)
}

// What breaks as one bench is saved is said in the log and stops neither that bench nor the saving of the others.
func TestABenchThatCannotBeSavedIsTheOnlyOne(t *testing.T) {
	c := start()
	f := &brittleBook{Book: shopBook(t)}
	all := runOf(t, f, c)
	var mu sync.Mutex
	var log strings.Builder
	all.log = slog.New(slog.NewTextHandler(writer(func(b []byte) (int, error) {
		mu.Lock()
		defer mu.Unlock()
		return log.Write(b)
	}), nil))
	bad, good := mustSet(t, all, order{Maker: personOf(ada)}), mustSet(t, all, order{Maker: personOf(ada)})
	f.over = bad.chain
	act(t, bad, ada, "t1", "key", "to", "on")
	act(t, good, ada, "t1", "key", "to", "on")
	for end := time.Now().Add(10 * saveEvery); ; time.Sleep(20 * time.Millisecond) {
		mu.Lock()
		said := log.String()
		mu.Unlock()
		events, err := f.Events(t.Context(), good.chain, 0)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(said, "saving a bench broke down") && strings.Contains(said, "bench="+bad.id) && len(events) == 3 {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("%d events of the other bench; the log:\n%s", len(events), said)
		}
	}
	act(t, bad, ada, "t1", "light", "to", "on")
}

type writer func([]byte) (int, error)

func (w writer) Write(b []byte) (int, error) { return w(b) }

// A book of a later release, or one that was tampered with, loses no other bench: the one that cannot be read is left
// where it is.
func TestABenchThatCannotBeReadIsLeft(t *testing.T) {
	c, b := start(), shopBook(t)
	first := runOf(t, b, c)
	bad, good := mustSet(t, first, order{Maker: personOf(ada)}), mustSet(t, first, order{Maker: personOf(ada)})
	strange, _ := draftOf("Ada", book.KindRoomSet, map[string]any{"room": bad.id, "name": 7})
	first.close()
	if _, err := b.AppendAll(t.Context(), bad.chain, book.AnyVersion, []book.Draft{strange}); err != nil {
		t.Fatal(err)
	}
	odd, _ := draftOf("Ada", book.KindRoomActed, roomActed{1, []did{{Step: 3, Who: "Ada", Do: "fly"}, {Step: 4, Who: "Ada", Do: "lever", With: map[string]string{"rpm": "x"}}}, 5})
	if _, err := b.AppendAll(t.Context(), good.chain, book.AnyVersion, []book.Draft{odd}); err != nil {
		t.Fatal(err)
	}
	second := runOf(t, b, c)
	if _, err := second.find(bad.id); status(err) != 404 {
		t.Errorf("a bench that cannot be read: %v", err)
	}
	if back, err := second.find(good.id); err != nil || back.steps != 5 {
		t.Errorf("the other bench: %v", err)
	}
}

// BenchmarkComingBack is what bringing a room back costs for each second that its engine ran at idle.
func BenchmarkComingBack(b *testing.B) {
	c := start()
	r := byHand(b, order{Config: bench.Default()}, c)
	for _, on := range []string{"key", "light", "fuel", "starter"} {
		act(b, r, ada, "t", on, "to", "on")
	}
	r.seconds(c, 3)
	act(b, r, ada, "t", "starter", "to", "off")
	r.seconds(c, 3)
	if !r.state.Runs {
		b.Fatal("the engine does not run")
	}
	for b.Loop() {
		for range int(1e6 / benchStep.Microseconds()) {
			r.step()
		}
	}
}
