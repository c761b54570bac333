package jobcard

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

const (
	longestCard = 256 << 10 // bytes; the fullest example has 4 kB
	mostErrors  = 20
	deepest     = 8 // levels of nesting; a card needs four
)

// Parse reads a job card. file is only the name used in messages. On anything wrong the error is an Errors, in the order of the text; no
// half-read card is given out.
func Parse(file string, data []byte) (*Card, error) {
	p := &reader{file: file, lines: strings.Split(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n"), places: map[string]place{}}
	root := p.tree(data)
	if len(p.errors) > 0 {
		return nil, p.errors
	}
	c := &Card{assumed: map[string]bool{}}
	p.fill(c, root)
	if len(p.errors) == 0 {
		p.derive(c)
	}
	if len(p.errors) == 0 {
		p.crossCheck(c)
	}
	if len(p.errors) > 0 {
		slices.SortStableFunc(p.errors, func(a, b *Error) int { return a.Line - b.Line })
		return nil, p.errors[:min(len(p.errors), mostErrors)]
	}
	return c, nil
}

type place struct{ line, column int }

// reader is one reading of a card.
type reader struct {
	file   string
	lines  []string
	errors Errors
	places map[string]place // of each key written, by dotted path
	meant  []string         // dotted paths that misspelt keys were taken for
}

func (p *reader) fail(path string, at place, problem, remedy string) {
	e := &Error{File: p.file, Line: at.line, Column: at.column, Path: path, Problem: problem, Remedy: remedy}
	if at.line >= 1 && at.line <= len(p.lines) {
		e.Source = p.lines[at.line-1]
	}
	p.errors = append(p.errors, e)
}

// tree parses the text as YAML and gives the mapping at its root.
func (p *reader) tree(data []byte) ast.Node {
	start := place{1, 1}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	switch {
	case len(data) > longestCard:
		p.fail("", start, fmt.Sprintf("the file has %d bytes", len(data)), fmt.Sprintf("a job card has at most %d; is this another file?", longestCard))
	case bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")):
		p.fail("", start, "the file is UTF-16", "save it as UTF-8")
	case bytes.IndexByte(data, 0) >= 0:
		p.fail("", start, "the file is not text (it has a zero byte)", "give a job card in YAML; `phasewright card new` writes one to start from")
	case !utf8.Valid(data):
		p.fail("", p.firstInvalid(), "the text is not UTF-8", "save it as UTF-8")
	case len(bytes.TrimSpace(data)) == 0:
		p.fail("", start, "the file is empty", "give a job card in YAML; `phasewright card new` writes one to start from")
	case tooDeep(data):
		p.fail("", start, "brackets are nested too deep", "a job card needs lists of lists at most")
	}
	if len(p.errors) > 0 {
		return nil
	}
	file, err := parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		at, message := start, err.Error()
		var syntax *yaml.SyntaxError
		if errors.As(err, &syntax) {
			message = syntax.Message
			if syntax.Token != nil && syntax.Token.Position != nil {
				at = place{syntax.Token.Position.Line, syntax.Token.Position.Column}
			}
		}
		p.fail("", at, "this is not YAML: "+strings.TrimSpace(message), "mind the indentation, the colon and blank after each key, and quotes around text with a colon in it")
		return nil
	}
	if len(file.Docs) == 0 || file.Docs[0].Body == nil {
		p.fail("", start, "the file holds no keys, only comments", "take away the # before the keys you know")
		return nil
	}
	if len(file.Docs) > 1 {
		p.fail("", start, fmt.Sprintf("the file holds %d documents", len(file.Docs)), "write one job card a file, without a line ---")
		return nil
	}
	return file.Docs[0].Body
}

func (p *reader) firstInvalid() place {
	for i, line := range p.lines {
		if !utf8.ValidString(line) {
			column := 1
			for _, r := range line {
				if r == utf8.RuneError {
					break
				}
				column++
			}
			return place{i + 1, column}
		}
	}
	return place{1, 1}
}

// tooDeep guards the YAML parser, which descends by recursion.
func tooDeep(data []byte) bool {
	depth := 0
	for _, b := range data {
		switch b {
		case '[', '{':
			depth++
			if depth > 64 {
				return true
			}
		case ']', '}':
			depth = max(depth-1, 0)
		}
	}
	for _, line := range bytes.Split(data, []byte("\n")) { // "- - - -" and "? ? ?" nest as well
		if bytes.Count(line, []byte("- ")) > 64 || bytes.Count(line, []byte("? ")) > 64 || bytes.Count(line, []byte("!")) > 64 {
			return true
		}
	}
	return false
}

// fill walks the tree beside the table of fields.
func (p *reader) fill(c *Card, root ast.Node) {
	fields := map[string]*Field{}
	known := map[string][]string{} // accepted keys by section path
	table := Fields()
	for i := range table {
		f := &table[i]
		fields[f.Path] = f
		parts := strings.Split(f.Path, ".")
		for k := range parts {
			section := strings.Join(parts[:k], ".")
			if !slices.Contains(known[section], parts[k]) {
				known[section] = append(known[section], parts[k])
			}
		}
	}
	p.section(c, "", root, fields, known)
	_, coil := p.places["coil"]
	c.Coil.Stated = coil
	for i := range table {
		f := &table[i]
		if _, written := p.places[f.Path]; written {
			continue
		}
		if strings.HasPrefix(f.Path, "coil.") && !coil { // the section as a whole may be left out
			continue
		}
		c.assumed[f.Path] = true
		switch {
		case f.Demand != "" && p.misspelt(f.Path): // said already
		case f.Demand != "":
			at, _ := p.nearestPlace(f.Path)
			p.fail(f.Path, at, "is missing", fmt.Sprintf("write %s, such as %s: %s (%s)", lastKey(f.Path), f.Example, lowerFirst(strings.TrimSuffix(f.Doc, ".")), f.Demand))
		case f.Default != "":
			if ft := f.set(c, value{text: f.Default}); ft != nil {
				panic("jobcard: the default of " + f.Path + " is refused: " + ft.problem)
			}
		}
	}
}

// misspelt says whether the field or its section was written under a name close to the right one.
func (p *reader) misspelt(path string) bool {
	for _, m := range p.meant {
		if path == m || strings.HasPrefix(path, m+".") {
			return true
		}
	}
	return false
}

// nearestPlace is where the section of a missing field stands, or the start of the text.
func (p *reader) nearestPlace(path string) (place, bool) {
	for {
		i := strings.LastIndexByte(path, '.')
		if i < 0 {
			return place{1, 1}, false
		}
		path = path[:i]
		if at, ok := p.places[path]; ok {
			return at, true
		}
	}
}

func lastKey(path string) string { return path[strings.LastIndexByte(path, '.')+1:] }

func lowerFirst(s string) string {
	if len(s) > 1 && s[1] >= 'a' && s[1] <= 'z' || len(s) > 1 && s[1] == ' ' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}

func (p *reader) section(c *Card, path string, n ast.Node, fields map[string]*Field, known map[string][]string) {
	var entries []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		entries = m.Values
	case *ast.MappingValueNode:
		entries = []*ast.MappingValueNode{m}
	case *ast.NullNode: // a section with nothing but comments below it
		return
	default:
		remedy := "write its keys below it, indented: " + strings.Join(known[path], ", ")
		if path == "" {
			remedy = "a job card begins with keys such as " + strings.Join(known[path], ":, ") + ":"
		}
		p.fail(path, placeOf(n), "holds "+describe(n)+" where keys are wanted", remedy)
		return
	}
	for _, entry := range entries {
		key := entry.Key.String()
		at := placeOf(entry.Key)
		if s, ok := entry.Key.(*ast.StringNode); ok {
			key = s.Value
		}
		full := key
		if path != "" {
			full = path + "." + key
		}
		if first, again := p.places[full]; again {
			p.fail(full, at, fmt.Sprintf("stands twice (first in line %d)", first.line), "keep one of the two")
			continue
		}
		if f, ok := fields[full]; ok {
			p.places[full] = at
			p.field(c, f, entry.Value)
			continue
		}
		if _, ok := known[full]; ok {
			p.places[full] = at
			p.section(c, full, entry.Value, fields, known)
			continue
		}
		remedy := "accepted here: " + strings.Join(known[path], ", ")
		if near := nearest(key, known[path]); near != "" {
			remedy = fmt.Sprintf("did you mean %s? %s", near, remedy)
			p.meant = append(p.meant, strings.TrimPrefix(path+"."+near, "."))
		}
		if len(key) > 60 {
			full = full[:60] + "…"
		}
		p.fail(full, at, "is not a key of a job card", remedy)
	}
}

func (p *reader) field(c *Card, f *Field, n ast.Node) {
	v, ok := p.value(f.Path, n, 0)
	if !ok {
		return
	}
	if ft := f.set(c, v); ft != nil {
		p.fail(f.Path, placeOf(n), ft.problem, ft.remedy)
	}
}

// value turns a node into what the setters take.
func (p *reader) value(path string, n ast.Node, depth int) (value, bool) {
	switch x := n.(type) {
	case *ast.SequenceNode:
		if depth > deepest {
			p.fail(path, placeOf(n), "is nested too deep", "lists of lists are the most that a job card takes")
			return value{}, false
		}
		v := value{list: true}
		for _, item := range x.Values {
			iv, ok := p.value(path, item, depth+1)
			if !ok {
				return value{}, false
			}
			v.items = append(v.items, iv)
		}
		return v, true
	case *ast.LiteralNode:
		return value{text: x.Value.Value}, true
	case *ast.NullNode:
		return value{null: true}, true
	case *ast.StringNode:
		return value{text: x.Value}, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return value{text: n.GetToken().Value}, true
	case *ast.AliasNode, *ast.AnchorNode, *ast.TagNode:
		p.fail(path, placeOf(n), "uses "+describe(n), "write the value itself")
		return value{}, false
	}
	p.fail(path, placeOf(n), "holds "+describe(n)+" where a value is wanted", "write the value behind the colon")
	return value{}, false
}

func describe(n ast.Node) string {
	switch n.(type) {
	case nil, *ast.NullNode:
		return "nothing"
	case *ast.MappingNode, *ast.MappingValueNode:
		return "keys"
	case *ast.SequenceNode:
		return "a list"
	case *ast.AliasNode, *ast.AnchorNode:
		return "a YAML anchor or alias"
	case *ast.TagNode:
		return "a YAML tag"
	}
	return "a single value"
}

func placeOf(n ast.Node) place {
	if n == nil || n.GetToken() == nil || n.GetToken().Position == nil {
		return place{1, 1}
	}
	// a mapping's own token is its first colon: the key in front of it is the place a person looks for
	switch m := n.(type) {
	case *ast.MappingNode:
		if len(m.Values) > 0 {
			return placeOf(m.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return placeOf(m.Key)
	}
	pos := n.GetToken().Position
	return place{pos.Line, pos.Column}
}
