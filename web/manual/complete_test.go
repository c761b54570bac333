package manual_test

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

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
	"phasewright/verdict"
	"phasewright/web/manual"
	"phasewright/web/page"
	"phasewright/words"
	"phasewright/words/plain"

	markast "github.com/yuin/goldmark/ast"
)

// The reading level of the manual: words in a sentence, at most and on average. Assumed; plainer than the texts of the
// pages (words/plain), as it is read by people who do not know the trade yet.
const (
	longest = 20
	average = 12
)

// blocks calls do with the text of each paragraph, list item, caption and cell; code counts as one word.
func blocks(data []byte, do func(text string, cell bool)) {
	markast.Walk(parsed(data), func(n markast.Node, entering bool) (markast.WalkStatus, error) {
		if !entering {
			return markast.WalkContinue, nil
		}
		switch n.Kind().String() {
		case "Paragraph", "TextBlock", "TableCell":
			do(said(n, data), n.Kind().String() == "TableCell")
			return markast.WalkSkipChildren, nil
		}
		return markast.WalkContinue, nil
	})
}

func said(n markast.Node, data []byte) string {
	var b strings.Builder
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		switch c := c.(type) {
		case *markast.CodeSpan:
			b.WriteString("code")
		case *markast.Text:
			b.Write(c.Segment.Value(data))
			if c.SoftLineBreak() || c.HardLineBreak() {
				b.WriteByte(' ')
			}
		default:
			b.WriteString(said(c, data))
		}
	}
	return b.String()
}

// The manual is plain: short sentences, and no word in a meaning that another word has.
func TestTheManualIsPlain(t *testing.T) {
	for _, c := range manual.Chapters() {
		isPlain(t, c.ID+".md", chapter(t, c.ID))
	}
}

// The README is as plain, and two screens long.
func TestTheReadmeIsPlain(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	isPlain(t, "README.md", text)
	const twoScreens = 100 // lines; assumed: 50 on a desk's screen
	if lines := strings.Count(string(text), "\n"); lines > twoScreens {
		t.Errorf("README.md has %d lines, want at most %d: long tables go to docs/figures.md", lines, twoScreens)
	}
}

// Every link and picture of the README is there.
func TestTheReadmesLinksLeadSomewhere(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	links := link.FindAllSubmatch(text, -1)
	if len(links) < 8 {
		t.Errorf("%d links were found", len(links))
	}
	for _, m := range links {
		if _, err := os.Stat(filepath.Join("../..", string(m[1]))); err != nil {
			t.Errorf("README.md links to %s: %v", m[1], err)
		}
	}
}

// A measured figure that the README shows is one of those in docs/figures.md, whose tables the commands printed.
func TestTheReadmesFiguresAreThoseMeasured(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	all, err := os.ReadFile("../../docs/figures.md")
	if err != nil {
		t.Fatal(err)
	}
	figures := regexp.MustCompile(`\d+\.\d+ %|\d+ of \d+`).FindAllString(string(text), -1)
	if len(figures) < 8 {
		t.Errorf("%d figures were found", len(figures))
	}
	for _, figure := range figures {
		if !strings.Contains(string(all), figure) {
			t.Errorf("the README says %s, docs/figures.md does not", figure)
		}
	}
}

func isPlain(t *testing.T, name string, text []byte) {
	t.Helper()
	sentences, all := 0, 0
	blocks(text, func(text string, cell bool) {
		if alphabet.MatchString(text) {
			return
		}
		for _, long := range plain.Long(text, longest) {
			t.Errorf("%s: %s", name, long)
		}
		for _, fault := range plain.Faults(text) {
			t.Errorf("%s: %s", name, fault)
		}
		if cell { // a few words: they would flatter the average
			return
		}
		for _, s := range plain.Sentences(text) {
			sentences++
			all += plain.Words(s)
		}
	})
	mean := float64(all) / float64(sentences)
	t.Logf("%s: %d sentences of %.1f words on average", name, sentences, mean)
	if mean > average {
		t.Errorf("%s: sentences have %.1f words on average, want at most %d", name, mean, average)
	}
}

var (
	alphabet = regexp.MustCompile(`^(?:[A-Z] ?)+$`) // the letters to jump to

	anchor = regexp.MustCompile(`<a id="([\w-]+)"></a>`)
	link   = regexp.MustCompile(`\]\(([^)]*)\)`)
)

// places are the places of a chapter that a link may name.
func places(t *testing.T, id string) map[string]bool {
	out := map[string]bool{}
	for _, m := range anchor.FindAllSubmatch(chapter(t, id), -1) {
		if out[string(m[1])] {
			t.Errorf("%s.md names the place %s twice", id, m[1])
		}
		out[string(m[1])] = true
	}
	return out
}

// Every link of the manual leads somewhere inside the manual.
func TestLinksLeadSomewhere(t *testing.T) {
	there := map[string]map[string]bool{}
	for _, c := range manual.Chapters() {
		there[c.ID] = places(t, c.ID)
	}
	for _, c := range manual.Chapters() {
		for _, m := range link.FindAllSubmatch(chapter(t, c.ID), -1) {
			to := string(m[1])
			if picture, is := strings.CutPrefix(to, "pictures/"); is {
				if pictures[strings.TrimSuffix(picture, ".svg")] == nil {
					t.Errorf("%s.md shows %s, which nobody draws", c.ID, to)
				}
				continue
			}
			file, at, some := strings.Cut(to, "#")
			name := strings.TrimSuffix(file, ".md")
			if file == "" {
				name = c.ID
			}
			if there[name] == nil || some && !there[name][at] {
				t.Errorf("%s.md links to %s, which is not there", c.ID, to)
			}
		}
	}
	if !strings.Contains(string(chapter(t, "README")), "(words.md)") {
		t.Error("the contents do not lead to the words")
	}
	for _, c := range manual.Chapters()[1:] {
		if !strings.Contains(string(chapter(t, "README")), "["+c.Title+"]("+c.ID+".md)") {
			t.Errorf("the contents do not lead to %s", c.ID)
		}
	}
}

// Every item that a sheet can hold is explained, and nothing that no sheet holds: by the examples' sheets and by the
// identifiers in the code of room sheet.
func TestEverySheetItemIsExplained(t *testing.T) {
	have, used := places(t, "sheet"), map[string]bool{}
	want := func(id, from string) {
		place := strings.TrimPrefix(page.ManualOnItem(id), "/manual/sheet#")
		if used[place] = true; !have[place] {
			t.Errorf("sheet.md does not explain %s (%s)", id, from)
		}
	}
	for _, e := range examples.Cards() {
		card, err := jobcard.Parse(e.Name, []byte(e.YAML))
		if err != nil {
			t.Fatal(err)
		}
		s, err := sheet.Make(card)
		if err != nil {
			t.Fatal(err)
		}
		for _, it := range s.Items {
			want(it.ID, e.Name)
		}
	}
	ids := 0
	for _, id := range itemsInCode(t) {
		ids++
		want(id, "in the code")
	}
	if ids < 40 {
		t.Errorf("%d identifiers were found in the code", ids)
	}
	heading := regexp.MustCompile(`(?m)^### <a id="([\w-]+)"`)
	for _, m := range heading.FindAllSubmatch(chapter(t, "sheet"), -1) {
		if !used[string(m[1])] {
			t.Errorf("sheet.md explains %s, which no sheet holds", m[1])
		}
	}
}

// itemsInCode are the identifiers that room sheet gives its items: of literals, and of the functions that make some.
func itemsInCode(t *testing.T) []string {
	t.Helper()
	var out []string
	word := func(e ast.Expr) (string, bool) {
		lit, ok := e.(*ast.BasicLit)
		if !ok || lit.Kind != token.STRING {
			return "", false
		}
		s, err := strconv.Unquote(lit.Value)
		return s, err == nil
	}
	err := filepath.WalkDir("../../sheet", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		tree, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CompositeLit:
				if of, ok := n.Type.(*ast.Ident); !ok || of.Name != "Item" {
					break
				}
				for _, f := range n.Elts {
					if kv, ok := f.(*ast.KeyValueExpr); ok {
						if key, ok := kv.Key.(*ast.Ident); ok && key.Name == "ID" {
							if s, ok := word(kv.Value); ok {
								out = append(out, s)
							}
						}
					}
				}
			case *ast.CallExpr:
				if f, ok := n.Fun.(*ast.Ident); ok && f.Name == "marginItem" && len(n.Args) > 2 {
					if s, ok := word(n.Args[2]); ok {
						out = append(out, s)
					}
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Every clause of the statement is explained, under the name that pages and papers give it.
func TestEveryClauseIsExplained(t *testing.T) {
	text := string(chapter(t, "verdict"))
	for _, id := range verdict.IDs() {
		head := `### <a id="` + string(id) + `"></a>` + words.Capital(id.Title()) + "\n"
		if !strings.Contains(text, head) {
			t.Errorf("verdict.md has no %q", head)
		}
	}
}

// Every page leads to a chapter that is there.
func TestEveryPageLeadsToTheManual(t *testing.T) {
	text, err := os.ReadFile("../page/manual.go")
	if err != nil {
		t.Fatal(err)
	}
	leads := regexp.MustCompile(`"([\w-]+)":\s+"/manual/([\w-]+)(?:#([\w-]+))?"`).FindAllStringSubmatch(string(text), -1)
	named := map[string]bool{}
	for _, m := range leads {
		named[m[1]] = true
		if _, err := os.Stat("../templates/" + m[1] + ".html"); err != nil {
			t.Errorf("there is no view %s", m[1])
		}
		if m[3] != "" && !places(t, m[2])[m[3]] {
			t.Errorf("%s leads to %s#%s, which is not there", m[1], m[2], m[3])
		}
		places(t, m[2])
	}
	templates, err := filepath.Glob("../templates/*.html")
	if err != nil {
		t.Fatal(err)
	}
	without := map[string]bool{"layout": true, "parts": true, "manual": true, "trouble": true, "measured": true}
	for _, path := range templates {
		if view := strings.TrimSuffix(filepath.Base(path), ".html"); !named[view] && !without[view] {
			t.Errorf("the page %s leads to no chapter (page/manual.go)", view)
		}
	}
}
