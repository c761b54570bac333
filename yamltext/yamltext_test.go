package yamltext_test

import (
	"strings"
	"testing"

	"phasewright/yamltext"
)

var kind = yamltext.Kind{Name: "a note", Start: "write a key", Bytes: 100, Depth: 4}

func TestReadRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                       "n.yaml:1:1: the file is empty; write a key",
		"\xef\xbb\xbf \n":        "the file is empty",
		"# only":                 "holds no keys, only comments",
		"a: 1\n---\nb: 2":        "holds 2 documents",
		strings.Repeat("x", 101): "has 101 bytes; a note has at most 100",
		"a: [[[[[1]]]]]":         "nested too deep",
		"- - - - - 1":            "nested too deep",
		"a: \x00":                "zero byte",
		"\xfe\xff\x00a":          "UTF-16",
		"a: 1\nb: \xff":          "n.yaml:2:4: the text is not UTF-8",
		"a: {b":                  "this is not YAML",
	} {
		x, root := yamltext.Read("n.yaml", []byte(text), kind)
		if err := x.Err(); err == nil || root != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestReadTakes(t *testing.T) {
	x, root := yamltext.Read("n.yaml", []byte("\xef\xbb\xbfa: 1\r\nb: [2, on]\r\n"), kind)
	if err := x.Err(); err != nil || root == nil {
		t.Fatal(err)
	}
	x.Fail("b", yamltext.Place{Line: 2, Column: 5}, "is wrong", "mend it")
	x.Fail("a", yamltext.Place{Line: 1, Column: 1}, "is wrong too", "mend it")
	err := x.Err()
	lines := strings.Split(err.Error(), "\n")
	if !strings.HasPrefix(lines[0], "n.yaml:1:1: a: is wrong too; mend it") { // in the order of the text
		t.Errorf("%v", err)
	}
	if last := lines[len(lines)-1]; strings.Index(last, "^") != strings.Index(lines[len(lines)-2], "2, on") {
		t.Errorf("the caret stands elsewhere:\n%v", err)
	}
}

// Levenshtein distances by hand: bore–boore 1, damper–dampr 1, dog–cat 3.
func TestNearest(t *testing.T) {
	words := []string{"bore", "damper", "cat"}
	for word, want := range map[string]string{"boore": "bore", "dampr": "damper", "dog": "", "Bore": "bore", strings.Repeat("b", 100): ""} {
		if got := yamltext.Nearest(word, words); got != want {
			t.Errorf("%s: %q, want %q", word, got, want)
		}
	}
}
