//go:build unix

package main

import (
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"phasewright/book/pgtest"
)

// The command line takes the address of a database wherever it takes a book.
func TestScriptsOnPostgreSQL(t *testing.T) {
	c := pgtest.Shared(t)
	t.Cleanup(pgtest.Stop)
	testscript.Run(t, testscript.Params{
		Dir: "testdata/postgres",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"demobook": func(ts *testscript.TestScript, _ bool, args []string) { makeBook(ts, args, demoJob) },
		},
		Setup: func(e *testscript.Env) error {
			e.Setenv("KEEPER", c.Address(pgtest.Keeper, "yard"))
			e.Setenv("SHOP", c.Address(pgtest.Shop, "yard"))
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			return nil
		},
	})
}
