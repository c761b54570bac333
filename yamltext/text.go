package yamltext

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Most is how many faults are told at once.
const Most = 20

// Kind says what sort of file is read: it bounds the text and gives the words of the messages.
type Kind struct {
	Name  string // "a job card"
	Start string // what to do with an empty file: "give a job card in YAML; ..."
	Bytes int    // longest text
	Depth int    // deepest nesting of brackets, dashes or indented lines
	Marks int    // most signs of YAML, by weight; 0: as many as are read within 50 ms whatever they are
}

// Place is where something stands, both from 1.
type Place struct{ Line, Column int }

// Text is a file being read, with what is wrong with it so far.
type Text struct {
	File   string
	Faults Errors
	lines  []string
}

// Read checks the text (UTF-8 with or without byte order mark, bounded, not nested too deep) and parses it as one YAML
// document with a body. Where that fails the node is nil and the faults say why. Duplicate keys are left in the tree
// for the caller to tell with their path. Lines may end with LF, CR LF or CR.
func Read(file string, data []byte, k Kind) (*Text, ast.Node) {
	t, data := open(file, data, k)
	if len(t.Faults) > 0 {
		return t, nil
	}
	start := Place{1, 1}
	tokens := lexer.Tokenize(string(data))
	for _, x := range tokens {
		if len(x.Value) > longestText && x.Type != token.CommentType {
			t.Fail("", placeIn(x), fmt.Sprintf("a text of %d bytes stands here", len(x.Value)),
				k.Name+" has short texts; is a quote or a colon missing?")
			return t, nil
		}
	}
	file1, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		at, message := start, ""
		var syntax *yaml.SyntaxError
		if errors.As(err, &syntax) { // its Error would print the whole text, token by token
			message = syntax.Message
			at = placeIn(syntax.Token)
		} else {
			message = err.Error()
		}
		t.Fail("", at, "this is not YAML: "+strings.TrimSpace(message),
			"mind the indentation, the colon and blank after each key, and quotes around text with a colon in it")
		return t, nil
	}
	if len(file1.Docs) == 0 || file1.Docs[0].Body == nil {
		t.Fail("", start, "the file holds no keys, only comments", "take away the # before the keys you know")
		return t, nil
	}
	if len(file1.Docs) > 1 {
		t.Fail("", start, fmt.Sprintf("the file holds %d documents", len(file1.Docs)),
			"write one a file, without a line ---")
		return t, nil
	}
	joinAtCommas(file1.Docs[0].Body)
	return t, file1.Docs[0].Body
}

// open checks the text before the library sees it and ends its lines with LF.
func open(file string, data []byte, k Kind) (*Text, []byte) {
	t := &Text{File: file}
	start := Place{1, 1}
	if len(data) > k.Bytes {
		t.Fail("", start, fmt.Sprintf("the file has %d bytes", len(data)),
			fmt.Sprintf("%s has at most %d; is this another file?", k.Name, k.Bytes))
		return t, nil
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	data = bytes.ReplaceAll(bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n"))
	t.lines = strings.Split(string(data), "\n")
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")):
		t.Fail("", start, "the file is UTF-16", "save it as UTF-8")
	case bytes.IndexByte(data, 0) >= 0:
		t.Fail("", start, "the file is not text (it has a zero byte)", k.Start)
	case !utf8.Valid(data):
		t.Fail("", t.firstInvalid(), "the text is not UTF-8", "save it as UTF-8")
	case len(bytes.TrimSpace(data)) == 0:
		t.Fail("", start, "the file is empty", k.Start)
	default:
		t.bound(k)
	}
	return t, data
}

// Fail notes a fault. path is the dotted name of the key, empty for faults of the text.
func (t *Text) Fail(path string, at Place, problem, remedy string) {
	e := &Error{File: t.File, Line: at.Line, Column: at.Column, Path: path, Problem: problem, Remedy: remedy}
	if at.Line >= 1 && at.Line <= len(t.lines) {
		e.Source = t.lines[at.Line-1]
	}
	t.Faults = append(t.Faults, e)
}

// Err is nil, or the Errors in the order of the text, at most Most.
func (t *Text) Err() error {
	if len(t.Faults) == 0 {
		return nil
	}
	slices.SortStableFunc(t.Faults, func(a, b *Error) int { return a.Line - b.Line })
	return t.Faults[:min(len(t.Faults), Most)]
}

func (t *Text) firstInvalid() Place {
	for i, line := range t.lines {
		if utf8.ValidString(line) {
			continue
		}
		column := 1
		for _, r := range line {
			if r == utf8.RuneError {
				break
			}
			column++
		}
		return Place{i + 1, column}
	}
	return Place{1, 1}
}

// PlaceOf is where a node stands. A mapping's own token is its first colon: the key in front of it is the place a
// person looks for.
func PlaceOf(n ast.Node) Place {
	switch m := n.(type) {
	case *ast.MappingNode:
		if len(m.Values) > 0 {
			return PlaceOf(m.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return PlaceOf(m.Key)
	}
	if n == nil {
		return Place{1, 1}
	}
	return placeIn(n.GetToken())
}

// placeIn is where a token of the library stands; it gives a block of text the column 0.
func placeIn(x *token.Token) Place {
	if x == nil || x.Position == nil {
		return Place{1, 1}
	}
	return Place{max(x.Position.Line, 1), max(x.Position.Column, 1)}
}

// Key is the name of a key as written.
func Key(m *ast.MappingValueNode) string {
	if s, ok := m.Key.(*ast.StringNode); ok {
		return s.Value
	}
	return m.Key.String()
}

// Scalar is the text of a single value as written, and false for anything else. YAML 1.1 readers take on, off, yes and
// no for truth values; here the word counts.
func Scalar(n ast.Node) (string, bool) {
	switch x := n.(type) {
	case *ast.StringNode:
		return x.Value, true
	case *ast.LiteralNode:
		return x.Value.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	return "", false
}
