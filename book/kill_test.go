package book

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// The test binary is also the program that gets killed and the second program on a book.
func TestMain(m *testing.M) {
	switch os.Getenv("BOOK_HELPER") {
	case "":
		code := m.Run()
		stopped()
		os.Exit(code)
	case "write":
		helperWrite(os.Getenv("BOOK_PATH"))
	case "pairs":
		helperPairs(os.Getenv("BOOK_PATH"))
	case "open":
		helperOpen(os.Getenv("BOOK_PATH"))
	}
}

func helper(t testing.TB, task, path string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), "BOOK_HELPER="+task, "BOOK_PATH="+path)
	cmd.Stderr = os.Stderr
	return cmd
}

// helperWrite records as fast as it can and prints each event once it is acknowledged, each line in one write.
func helperWrite(path string) {
	ctx := context.Background()
	b, err := Open(ctx, path, Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
	acknowledged := func(e Event, err error) Event {
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(4)
		}
		fmt.Printf("%s %d %s\n", e.Job, e.Version, e.Hash)
		return e
	}
	for g := range 6 {
		go func() {
			job := acknowledged(b.CreateJob(ctx, NewJob{Who: "helper", Name: fmt.Sprint("job ", g)})).Job
			for i := 0; ; i++ {
				if i%8 == 7 {
					content := strings.Repeat(fmt.Sprint(g, i, time.Now().UnixNano()), 1000)
					acknowledged(b.PutAttachment(ctx, job, NewAttachment{Who: "helper", Name: "x.txt"}, strings.NewReader(content)))
					continue
				}
				d := readingDraft(fmt.Sprint("r", i))
				d.Key = fmt.Sprintf("%d-%d-%d", os.Getpid(), g, i)
				acknowledged(b.Append(ctx, job, AnyVersion, d))
			}
		}()
	}
	select {}
}

// helperPairs records things that belong together as fast as it can: jobs with their cards, steps with what they mean.
func helperPairs(path string) {
	ctx := context.Background()
	b, err := Open(ctx, path, Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
	for g := range 6 {
		go func() {
			for i := 0; ; i++ {
				key := fmt.Sprintf("%d-%d-%d", os.Getpid(), g, i)
				e, err := b.CreateJob(ctx, NewJob{Who: "helper", Name: "job " + key, Key: key,
					Then: []Draft{cardDraft(key + "-card")}})
				if err == nil {
					_, err = b.AppendAll(ctx, e.Job, AnyVersion, stepPair(key))
				}
				if err != nil {
					fmt.Fprintln(os.Stderr, err)
					os.Exit(4)
				}
				fmt.Printf("%s %d %s\n", e.Job, e.Version, e.Hash)
			}
		}()
	}
	select {}
}

// cardDraft and stepPair are an invented card, and an invented step with the housing turn that it means.
func cardDraft(key string) Draft {
	return Draft{Who: "helper", Kind: KindCardSaved, Payload: json.RawMessage(`{"yaml":"job: {name: invented}"}`),
		Key: key}
}

func stepPair(key string) []Draft {
	return []Draft{{Who: "helper", Kind: KindStepDone, Payload: json.RawMessage(`{"step":"housing","who":"helper"}`),
		Key: key + "-step"},
		{Who: "helper", Kind: KindCorrectionMade,
			Payload: json.RawMessage(`{"housing_deg":1.5,"direction":"with the rotor"}`), Key: key +
				"-step-for-readings"}}
}

// A job and its card, a step and what it means: a program that is killed leaves both or neither. Sent again, the same
// things are not recorded twice.
func TestKilledBetweenTwoThatBelongTogether(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("random instants from %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	path := filepath.Join(t.TempDir(), "shop.book")
	var acknowledged, pairs, bare int
	for range killRounds(t) / 2 {
		acknowledged += len(runUntilKilled(t, "pairs", path, firstAnswer,
			time.Duration(random.Int64N(100))*time.Millisecond))
		b, err := Open(t.Context(), path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		pairs, bare = 0, 0
		page, err := b.Jobs(t.Context(), Query{Limit: 500})
		if err != nil {
			t.Fatal(err)
		}
		for _, j := range page.Jobs { // the latest 500
			events, err := b.Events(t.Context(), j.ID, 0)
			if err != nil {
				t.Fatal(err)
			}
			var kinds []Kind
			for _, e := range events {
				kinds = append(kinds, e.Kind)
			}
			switch fmt.Sprint(kinds) {
			case "[job.created card.saved step.done correction.made]":
				pairs++
			case "[job.created card.saved]":
				bare++
			default:
				t.Errorf("a killed program left %v", kinds)
			}
		}
		mustBeSound(t, b)
		if len(page.Jobs) > 0 {
			last, key := page.Jobs[0], strings.TrimPrefix(page.Jobs[0].Name, "job ")
			e, err := b.CreateJob(t.Context(), NewJob{Who: "helper", Name: last.Name, Key: key,
				Then: []Draft{cardDraft(key + "-card")}})
			if err != nil || e.Job != last.ID || !e.Repeated {
				t.Errorf("the same job sent again gives %+v, %v", e, err)
			}
			if _, err := b.AppendAll(t.Context(), last.ID, AnyVersion, stepPair(key)); err != nil {
				t.Error(err)
			}
			if now, err := b.Job(t.Context(), last.ID); err != nil || now.Version != 4 {
				t.Errorf("sent again, the job is at version %d, %v; want 4", now.Version, err)
			}
		}
		if err := b.Close(); err != nil || t.Failed() {
			t.Fatal(err)
		}
	}
	t.Logf("%d jobs acknowledged; at the end %d whole, %d without the step that was on its way", acknowledged, pairs,
		bare)
	if acknowledged == 0 {
		t.Error("nothing was acknowledged: the test saw nothing")
	}
}

// killRounds is 20, or as many as BOOK_KILL_ROUNDS says (scripts/kill-book): rounds in which something was
// acknowledged.
func killRounds(t *testing.T) int {
	s := os.Getenv("BOOK_KILL_ROUNDS")
	if s == "" {
		if testing.Short() {
			return 6
		}
		return 20
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// A writing program is killed at a random moment, round after round on the same book: while it opens, recovers, writes
// events, stores files. Whatever it acknowledged must be there, and the book must be sound.
func TestKilledAtAnyInstantNothingAcknowledgedIsLost(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("random instants from %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	rounds := killRounds(t)
	var total, counted, empty int
	var path string
	acknowledged := map[string]string{} // "job version" to hash
	longest := 150 * time.Millisecond   // until the kill
	for round := 0; counted < rounds; round++ {
		if round%20 == 0 { // a fresh book now and then keeps the checks short
			path = filepath.Join(t.TempDir(), "shop.book")
			clear(acknowledged)
		}
		lines := writeUntilKilled(t, path, time.Duration(random.Int64N(int64(longest))))
		if len(lines) == 0 {
			empty++
			if empty > counted+20 { // a slow machine: let the writer come further
				longest = min(longest*5/4, 10*time.Second)
			}
		} else {
			counted++
		}
		for _, l := range lines {
			at := strings.LastIndexByte(l, ' ')
			acknowledged[l[:at]] = l[at+1:]
		}
		total += len(lines)
		checkAcknowledged(t, path, acknowledged)
		if t.Failed() {
			t.Fatalf("after round %d", round)
		}
	}
	t.Logf("%d rounds counted, in which %d events were acknowledged, none lost; %d more rounds were empty: killed before the first answer", counted, total, empty)
}

// writeUntilKilled starts the writer, kills it after a while, and gives the lines it wrote whole.
func writeUntilKilled(t *testing.T, path string, after time.Duration) []string {
	return runUntilKilled(t, "write", path, start, after)
}

// since is what the time until the kill is counted from.
type since bool

const (
	start       since = false
	firstAnswer since = true // however long a busy machine takes to give one
)

// runUntilKilled starts a helper, kills it after a while, and gives the lines it wrote whole.
func runUntilKilled(t *testing.T, task, path string, from since, after time.Duration) []string {
	cmd := helper(t, task, path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	answers := bufio.NewReader(out)
	if from == firstAnswer {
		answers.Peek(1) // waits; an error comes again when all is read
	}
	time.AfterFunc(after, func() { cmd.Process.Kill() })
	text, err := io.ReadAll(answers)
	if err != nil {
		t.Fatal(err)
	}
	err = cmd.Wait()
	if exit := cmd.ProcessState; exit.Exited() {
		t.Fatalf("the writer ended by itself: %v", err)
	}
	var lines []string
	for s := bufio.NewScanner(bytes.NewReader(text[:bytes.LastIndexByte(text, '\n')+1])); s.Scan(); {
		lines = append(lines, s.Text())
	}
	return lines
}

func checkAcknowledged(t *testing.T, path string, acknowledged map[string]string) {
	t.Helper()
	b, err := Open(t.Context(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	mustBeSound(t, b)
	found := map[string]string{}
	page, err := b.Jobs(t.Context(), Query{Limit: 500})
	if err != nil || page.Next != "" {
		t.Fatal(len(page.Jobs), err)
	}
	for _, j := range page.Jobs {
		events, err := b.Events(t.Context(), j.ID, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range events {
			found[fmt.Sprintf("%s %d", e.Job, e.Version)] = e.Hash.String()
		}
	}
	for place, hash := range acknowledged {
		if found[place] != hash {
			t.Errorf("acknowledged event %s is lost (found %q, acknowledged %s)", place, found[place], hash)
		}
	}
}

// A killed upgrade leaves the book at one whole schema, and the next opening finishes it.
func TestKilledWhileUpgrading(t *testing.T) {
	random := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 0))
	old := filepath.Join(t.TempDir(), "old.book")
	text, err := os.ReadFile("testdata/v1/shop.book")
	if err != nil {
		t.Fatal(err)
	}
	for range max(3, killRounds(t)/10) {
		os.Remove(old)
		removeBook(old)
		if err := os.WriteFile(old, text, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.CopyFS(old+".files", os.DirFS("testdata/v1/shop.book.files")); err != nil {
			t.Fatal(err)
		}
		writeUntilKilled(t, old, time.Duration(random.Int64N(int64(40*time.Millisecond))))
		b, err := Open(t.Context(), old, Options{})
		if err != nil {
			t.Fatal(err)
		}
		mustBeSound(t, b)
		compareWithFixture(t, b)
		b.Close()
		os.RemoveAll(old + ".files")
	}
}

// helperOpen opens the book, says how that went, and waits for the end of its input.
func helperOpen(path string) {
	for _, access := range []Access{ReadWrite, ReadOnly} {
		b, err := Open(context.Background(), path, Options{Access: access})
		answer := map[string]any{"error": "", "jobs": 0}
		if err != nil {
			answer["error"] = err.Error()
		} else {
			page, err := b.Jobs(context.Background(), Query{})
			if err != nil {
				answer["error"] = err.Error()
			}
			answer["jobs"] = len(page.Jobs)
			b.Close()
		}
		json.NewEncoder(os.Stdout).Encode(answer)
	}
}

func TestASecondProgramIsKeptFromWritingAndMayRead(t *testing.T) {
	b := openNew(t)
	newJob(t, b, "Sandpiper")
	type answer struct {
		Error string
		Jobs  int
	}
	ask := func() (write, read answer) {
		out, err := helper(t, "open", b.path).Output()
		if err != nil {
			t.Fatal(err)
		}
		dec := json.NewDecoder(bytes.NewReader(out))
		if err := dec.Decode(&write); err != nil {
			t.Fatal(err)
		}
		if err := dec.Decode(&read); err != nil {
			t.Fatal(err)
		}
		return write, read
	}
	write, read := ask()
	if !strings.Contains(write.Error, ErrInUse.Error()) || !strings.Contains(write.Error, " – close the other program") {
		t.Errorf("a second writer was told %q", write.Error)
	}
	if read.Error != "" || read.Jobs != 1 {
		t.Errorf("a reader beside the writer got %+v", read)
	}
	_, err := Open(t.Context(), b.path, Options{}) // from the same program
	wantError(t, err, ErrInUse)
	newJob(t, b, "Curlew")
	mustBeSound(t, b)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if write, read = ask(); write.Error != "" || write.Jobs != 2 || read.Error != "" {
		t.Errorf("after closing, a writer got %+v and a reader %+v", write, read)
	}
}

// While a program is alive on the book, readers of another see whole transactions only.
func TestReadersSeeWholeSetsOnly(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	r := openAt(t, b.path, Options{Access: ReadOnly})
	var wg sync.WaitGroup
	wg.Go(func() {
		for range 100 {
			if _, err := b.AppendAll(t.Context(), job, AnyVersion, []Draft{note("left"), note("right")}); err != nil {
				t.Error(err)
			}
		}
	})
	for range 100 {
		events, err := r.Events(t.Context(), job, 0)
		if err != nil || len(events)%2 != 1 {
			t.Fatalf("%d events, %v", len(events), err)
		}
		j, err := r.Job(t.Context(), job)
		if err != nil || j.Version%2 != 1 || j.Version < events[len(events)-1].Version {
			t.Fatalf("list line at version %d, %v", j.Version, err)
		}
	}
	wg.Wait()
	_, err := r.Append(t.Context(), job, AnyVersion, note("no"))
	wantError(t, err, ErrReadOnly, "opened for reading")
	_, err = r.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: "x"}, strings.NewReader("x"))
	wantError(t, err, ErrReadOnly)
	_, err = r.Import(t.Context(), strings.NewReader("x"))
	wantError(t, err, ErrReadOnly)
	_, err = r.Rebuild(t.Context())
	wantError(t, err, ErrReadOnly)
	mustBeSound(t, r)
}
