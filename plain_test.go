package phasewright_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"phasewright/words/plain"
)

// speaking are the rooms whose texts a technician reads.
var speaking = []string{"coil", "drawing", "leads", "procedure", "readings", "record", "report", "shaft", "sheet", "suspects",
	"verdict", "web/job", "web/page", "web/recording", "web/shelf", "cmd/phasewright"}

// Every text that stands in the code of those rooms and in the pages' templates is plain: no sentence is longer than a
// reader can hold, and no word stands in a meaning that another word has.
func TestTextsInTheCodeArePlain(t *testing.T) {
	texts := 0
	check := func(at, text string) {
		text = strings.ReplaceAll(command.ReplaceAllString(text, "…"), " – ", ". ") // what – found – remedy
		if len(strings.Fields(text)) < 2 || strings.Contains(text, "<</") {         // or what a PDF is written in
			return
		}
		texts++
		for _, fault := range plain.Faults(text) {
			t.Errorf("%s: %s", at, fault)
		}
		for _, long := range plain.Long(text, plain.Longest) {
			t.Errorf("%s: %s", at, long)
		}
	}
	for _, room := range speaking {
		err := filepath.WalkDir(room, func(path string, d fs.DirEntry, err error) error {
			if d != nil && d.Name() == "stand" { // speaks to tests alone
				return fs.SkipDir
			}
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			files := token.NewFileSet()
			f, err := parser.ParseFile(files, path, nil, 0)
			if err != nil {
				return err
			}
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.ImportSpec, *ast.Field:
					return false
				case *ast.CallExpr:
					// what is to be done about a finding, or would show a clause
					if f, ok := n.Fun.(*ast.SelectorExpr); ok && len(n.Args) > 2 && (f.Sel.Name == "Find" || f.Sel.Name == "leave") {
						text, _ := folded(n.Args[2])
						for _, long := range plain.Long(text, plain.LongestDo) {
							t.Errorf("%s: to be done, %s", files.Position(n.Pos()), long)
						}
					}
				case *ast.BinaryExpr:
					if text, some := folded(n); some {
						check(files.Position(n.Pos()).String(), text)
						return false
					}
				case *ast.BasicLit:
					if text, some := folded(n); some {
						check(files.Position(n.Pos()).String(), text)
					}
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	templates, err := filepath.Glob("web/templates/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range templates {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range between.Split(string(data), -1) {
			check(path, action.ReplaceAllString(text, "…"))
		}
	}
	if texts < 1500 {
		t.Errorf("%d texts were found", texts)
	}
}

var (
	command = regexp.MustCompile(`phasewright leads|/leads\b`) // a name, not a word of a sentence
	action  = regexp.MustCompile(`\{\{(?:[^{}"]|"[^"]*")*\}\}`)
	between = regexp.MustCompile(`</?(?:p|li|td|th|div|h[1-6]|summary|legend|label|figcaption|caption|button|dt|dd|span|form|section)\b[^>]*>`)
)

// folded is the text of literals strung together, with … for what is put between them.
func folded(e ast.Expr) (text string, some bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		if e.Kind != token.STRING || e.Value[0] == '`' {
			return "…", false
		}
		text, err := strconv.Unquote(e.Value)
		return text, err == nil
	case *ast.BinaryExpr:
		if e.Op != token.ADD {
			return "…", false
		}
		a, isA := folded(e.X)
		b, isB := folded(e.Y)
		return a + b, isA || isB
	case *ast.ParenExpr:
		return folded(e.X)
	}
	return "…", false
}
