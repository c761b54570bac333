package main

import (
	"context"
	"os"
	"os/signal"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"phasewright/book"
)

func TestMain(m *testing.M) {
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
			"demobook":  func(ts *testscript.TestScript, _ bool, args []string) { makeBook(ts, args, demoJob) },
			"emptybook": func(ts *testscript.TestScript, _ bool, args []string) { makeBook(ts, args, nil) },
		},
		Setup: func(e *testscript.Env) error {
			e.Setenv("EXAMPLES", examples+"/../../examples")
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			return nil
		},
	})
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
