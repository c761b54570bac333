package main

import (
	"context"
	"os"
	"os/signal"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"phasewright/book"
)

func TestMain(m *testing.M) {
	if file := os.Getenv("PHASEWRIGHT_PEAK"); file != "" { // this is the program, started by peakOf
		status := run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
		about, _ := os.ReadFile("/proc/self/status")
		if err := os.WriteFile(file, about, 0o644); err != nil {
			panic(err)
		}
		os.Exit(status)
	}
	testscript.Main(m, map[string]func(){
		"phasewright": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
			defer stop()
			os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

// One script a story of the command line. All engines and readings in them are invented.
func TestScripts(t *testing.T) {
	examples, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"demobook": func(ts *testscript.TestScript, _ bool, args []string) { makeBook(ts, args, demoJob) },
			"oddbook":  func(ts *testscript.TestScript, _ bool, args []string) { makeBook(ts, args, oddJob) },
			"archivedbook": func(ts *testscript.TestScript, _ bool, args []string) {
				makeBook(ts, args, awayJob)
			},
			"emptybook": func(ts *testscript.TestScript, _ bool, args []string) { makeBook(ts, args, nil) },
		},
		Setup: func(e *testscript.Env) error {
			e.Setenv("EXAMPLES", examples+"/../../examples")
			e.Setenv("CARDS", examples+"/testdata/cards")
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			return nil
		},
	})
}

// awayJob is the demo's job with a file, put away.
func awayJob(ctx context.Context, b *book.Book) error {
	if err := demoJob(ctx, b); err != nil {
		return err
	}
	page, err := b.Jobs(ctx, book.Query{})
	if err != nil {
		return err
	}
	job := page.Jobs[0].ID
	if _, err := b.PutAttachment(ctx, job, book.NewAttachment{Who: "N. Example", Name: "run.wav"},
		strings.NewReader(strings.Repeat("invented ", 137))); err != nil {
		return err
	}
	_, err = b.Append(ctx, job, book.AnyVersion, book.Draft{Who: "N. Example", Kind: book.KindJobArchived})
	return err
}

// oddJob is the demo's job with a reading that no form lets through.
func oddJob(ctx context.Context, b *book.Book) error {
	if err := demoJob(ctx, b); err != nil {
		return err
	}
	page, err := b.Jobs(ctx, book.Query{})
	if err != nil {
		return err
	}
	_, err = b.Append(ctx, page.Jobs[0].ID, book.AnyVersion, book.Draft{Who: "N. Example", Kind: book.KindReadingAdded,
		Payload: payload(map[string]any{"id": "odd", "rpm": 800, "shown_deg": 8, "locked_deg": 400})})
	return err
}

// mustMakeBook makes a shop book with the demo's job in it.
func mustMakeBook(t *testing.T, path string) string {
	t.Helper()
	b, err := book.Open(t.Context(), path, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := demoJob(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	return path
}

// makeBook makes a shop book and, with fill, puts something in it.
func makeBook(ts *testscript.TestScript, args []string, fill func(context.Context, *book.Book) error) {
	b, err := book.Open(context.Background(), ts.MkAbs(args[0]), book.Options{})
	ts.Check(err)
	if fill != nil {
		ts.Check(fill(context.Background(), b))
	}
	ts.Check(b.Close())
}
