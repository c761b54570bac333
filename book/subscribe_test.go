package book

import (
	"runtime"
	"testing"
	"time"
)

func TestSubscribersHearOfEveryCommit(t *testing.T) {
	b := openNew(t)
	all, err := b.Subscribe("")
	if err != nil {
		t.Fatal(err)
	}
	one, two := newJob(t, b, "Sandpiper").Job, newJob(t, b, "Curlew").Job
	only, err := b.Subscribe(two)
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, b, one, 1, note("x"))
	mustAppend(t, b, two, 1, note("y"))
	if _, err := b.Append(t.Context(), two, 1, note("refused")); err == nil {
		t.Fatal("no conflict")
	}
	if _, err := b.AppendAll(t.Context(), two, 2, []Draft{note("a"), note("b")}); err != nil {
		t.Fatal(err)
	}
	hear := func(s *Subscription, want ...Change) {
		t.Helper()
		for _, w := range want {
			if got := <-s.C; got != w {
				t.Errorf("got %+v, want %+v", got, w)
			}
		}
		select {
		case got, open := <-s.C:
			t.Errorf("got %+v (%v) more", got, open)
		default:
		}
	}
	hear(all, Change{Job: one, Version: 1}, Change{Job: two, Version: 1}, Change{Job: one, Version: 2}, Change{Job: two, Version: 2}, Change{Job: two, Version: 4})
	hear(only, Change{Job: two, Version: 2}, Change{Job: two, Version: 4})
	// What is heard of is there to be read.
	mustAppend(t, b, one, 2, note("z"))
	c := <-all.C
	if j, err := b.Job(t.Context(), c.Job); err != nil || j.Version != c.Version {
		t.Errorf("heard of version %d, read %d, %v", c.Version, j.Version, err)
	}
	all.Close()
	all.Close()
	if _, open := <-all.C; open {
		t.Error("closed, but not at its end")
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if _, open := <-only.C; open {
		t.Error("the book is closed, the subscription is not")
	}
	only.Close()
	_, err = b.Subscribe("")
	wantError(t, err, ErrClosed)
}

func TestASlowSubscriberHoldsNobodyUpAndIsTold(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	s, err := b.Subscribe(job)
	if err != nil {
		t.Fatal(err)
	}
	const n = 3 * waiting
	for range n {
		mustAppend(t, b, job, AnyVersion, note("x"))
	}
	var got []Change
	for len(s.C) > 0 {
		got = append(got, <-s.C)
	}
	last := got[len(got)-1]
	if len(got) != waiting || last.Version != n+1 || !last.Missed {
		t.Errorf("%d changes, the last %+v", len(got), last)
	}
	mustAppend(t, b, job, AnyVersion, note("x"))
	if c := <-s.C; c.Missed || c.Version != n+2 {
		t.Errorf("after catching up: %+v", c)
	}
}

func TestClosingLeavesNoGoroutines(t *testing.T) {
	settle := func() int {
		n := runtime.NumGoroutine()
		for range 50 {
			time.Sleep(2 * time.Millisecond)
			if m := runtime.NumGoroutine(); m < n {
				n = m
			}
		}
		return n
	}
	before := settle()
	for range 5 {
		b := openNew(t)
		job := newJob(t, b, "Sandpiper").Job
		for range 10 {
			if _, err := b.Subscribe(job); err != nil {
				t.Fatal(err)
			}
		}
		mustAppend(t, b, job, 1, note("x"))
		mustBeSound(t, b)
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if after := settle(); after > before {
		t.Errorf("%d goroutines before, %d after", before, after)
	}
}

func TestAClosedBookSaysSo(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	sent := mustPut(t, b, job, "a.txt", "a")
	f, err := readAttachment(sent.Payload)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	_, err = b.Append(t.Context(), job, AnyVersion, note("x"))
	wantError(t, err, ErrClosed)
	_, err = b.Job(t.Context(), job)
	wantError(t, err, ErrClosed)
	_, err = b.Jobs(t.Context(), Query{})
	wantError(t, err, ErrClosed)
	_, err = b.Check(t.Context())
	wantError(t, err, ErrClosed)
	_, _, err = b.OpenAttachment(t.Context(), f.SHA256)
	wantError(t, err, ErrClosed)
	_, err = b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: "x"}, nil)
	wantError(t, err, ErrClosed)
	wantError(t, b.Backup(t.Context(), b.path+".backup"), ErrClosed)
}
