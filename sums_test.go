package phasewright_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// declared gives every function and test of a room by the name that docs/sums.md uses: Func, Type.Method, TestName.
func declared(t *testing.T, room string) map[string]bool {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(room, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, file := range files {
		tree, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range tree.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			name := f.Name.Name
			if f.Recv != nil {
				kind := f.Recv.List[0].Type
				if pointer, ok := kind.(*ast.StarExpr); ok {
					kind = pointer.X
				}
				if generic, ok := kind.(*ast.IndexExpr); ok {
					kind = generic.X
				}
				if generic, ok := kind.(*ast.IndexListExpr); ok {
					kind = generic.X
				}
				name = kind.(*ast.Ident).Name + "." + name
			}
			out[name] = true
		}
	}
	return out
}

// Every row of docs/sums.md names a function and a test that exist, and no function twice.
func TestSumsNameWhatExists(t *testing.T) {
	text, err := os.ReadFile("docs/sums.md")
	if err != nil {
		t.Fatal(err)
	}
	rooms, seen, rows := map[string]map[string]bool{}, map[string]bool{}, 0
	formulas, _, _ := strings.Cut(string(text), ourNumbers)
	for i, line := range strings.Split(formulas, "\n") {
		cells := strings.Split(line, "|")
		if !strings.HasPrefix(line, "| ") || strings.HasPrefix(line, "| what ") || strings.HasPrefix(line, "| ---") ||
			strings.HasPrefix(line, "| **") {
			continue
		}
		rows++
		if len(cells) != 8 {
			t.Errorf("docs/sums.md:%d: %d cells, want 6 (a | inside a formula?)", i+1, len(cells)-2)
			continue
		}
		for k, what := range []string{"function", "test"} {
			name := strings.Trim(strings.TrimSpace(cells[5+k]), "`")
			room, rest, _ := strings.Cut(name, ".")
			if rooms[room] == nil {
				rooms[room] = declared(t, room)
			}
			if !rooms[room][rest] || (what == "test") != strings.HasPrefix(rest, "Test") {
				t.Errorf("docs/sums.md:%d: there is no %s %q; name the one that has taken its place", i+1, what, name)
			}
			if what == "function" && seen[name] {
				t.Errorf("docs/sums.md:%d: %s stands there twice", i+1, name)
			}
			seen[name] = true
		}
	}
	if rows < 30 {
		t.Errorf("docs/sums.md: only %d rows were read; has the table changed its form?", rows)
	}
}
