package phasewright_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"strings"
	"testing"
	"unicode/utf8"
)

// mostColumns is how wide a line of Go may be, a tab counting 4: a longer line is two thoughts.
const mostColumns = 120

// A line with part of a raw string is left out: a struct tag, a query or a style sheet cannot be broken.
func TestLinesFitInTheColumns(t *testing.T) {
	listed, err := exec.Command("git", "ls-files", "-co", "--exclude-standard", "*.go").Output()
	if err != nil {
		t.Skip("NOT CHECKED: git does not list the files: ", err)
	}
	for _, file := range strings.Fields(string(listed)) {
		if strings.HasSuffix(file, "_test.go") || strings.HasPrefix(file, "node_modules/") {
			continue
		}
		text, err := os.ReadFile(file)
		if os.IsNotExist(err) {
			continue // taken away, not yet committed
		} else if err != nil {
			t.Fatal(err)
		}
		raw := rawLines(t, file, text)
		for i, line := range strings.Split(string(text), "\n") {
			columns := utf8.RuneCountInString(line) + 3*strings.Count(line, "\t")
			if columns > mostColumns && !raw[i+1] {
				t.Errorf("%s:%d: %d columns, more than %d: break it where the second thought begins",
					file, i+1, columns, mostColumns)
			}
		}
	}
}

// rawLines are the lines that raw strings lie on.
func rawLines(t *testing.T, file string, text []byte) map[int]bool {
	t.Helper()
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, file, text, 0)
	if err != nil {
		t.Fatal(err)
	}
	lines := map[int]bool{}
	ast.Inspect(tree, func(n ast.Node) bool {
		if lit, ok := n.(*ast.BasicLit); ok && strings.HasPrefix(lit.Value, "`") {
			for l := set.Position(lit.Pos()).Line; l <= set.Position(lit.End()).Line; l++ {
				lines[l] = true
			}
		}
		return true
	})
	return lines
}
