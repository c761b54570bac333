package job

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml/ast"

	"phasewright/jobcard"
	"phasewright/web/page"
)

// cardSection is one group of fields on the card's form.
type cardSection struct {
	Name   string
	Fields []cardField
	Wrong  int  // fields with mistakes
	Given  int  // fields filled in
	Lacks  int  // needed fields that are empty
	Open   bool // shown unfolded
}

// cardField is one field of the card with what was typed. It holds text: reading it is the parser's business.
type cardField struct {
	Name, Label, Value, Hint, Hold, Wrong, Need string
	Options                                     []string // words that the parser takes; nil where it takes more
}

// formPrefix goes before the dotted path in the names of inputs.
const formPrefix = "card."

// cardForm lays the parser's own table of fields out as a form.
func cardForm(values map[string]string, mistakes jobcard.Errors) []cardSection {
	wrong := map[string]string{}
	for _, e := range mistakes {
		if wrong[e.Path] == "" {
			wrong[e.Path] = page.Joined("; ", e.Problem, e.Remedy)
		}
	}
	var sections []cardSection
	for _, f := range jobcard.Fields() {
		name, rest, nested := strings.Cut(f.Path, ".")
		if !nested {
			rest = name
		}
		if len(sections) == 0 || sections[len(sections)-1].Name != name {
			sections = append(sections, cardSection{Name: name})
		}
		s := &sections[len(sections)-1]
		one := cardField{Name: formPrefix + f.Path, Label: label.Replace(rest), Value: values[f.Path], Hint: f.Doc,
			Need: f.Demand, Wrong: wrong[f.Path], Hold: holdOf(f), Options: options(f.Path, values[f.Path])}
		if one.Wrong != "" {
			s.Wrong++
		}
		if one.Value != "" {
			s.Given++
		} else if one.Need != "" {
			s.Lacks++
		}
		s.Fields = append(s.Fields, one)
	}
	for i := range sections {
		s := &sections[i]
		if s.Name == "coil" && s.Given == 0 {
			s.Lacks = 0 // a section that may be left out as a whole
		}
		s.Open = s.Wrong > 0 || i < 2 && len(mistakes) == 0
	}
	return sections
}

var label = strings.NewReplacer(".", ", ", "_", " ")

// holdOf is what stands in an empty field.
func holdOf(f jobcard.Field) string {
	switch {
	case f.Open:
		return "not given if left empty"
	case f.Default != "":
		return f.Default + " if left empty"
	case f.Demand != "":
		return "such as " + strings.Trim(f.Example, `"`)
	}
	return "may stay empty"
}

// enums are the words that each field offers, by dotted path, read once from the parser's own schema. Where other
// spellings are taken too, the words stand first among the forms.
var enums = sync.OnceValue(func() map[string][]string {
	out := map[string][]string{}
	var walk func(prefix string, node map[string]any)
	walk = func(prefix string, node map[string]any) {
		properties, _ := node["properties"].(map[string]any)
		for key, v := range properties {
			child, _ := v.(map[string]any)
			if forms, ok := child["anyOf"].([]any); ok {
				child, _ = forms[0].(map[string]any)
			}
			if words, ok := child["enum"].([]any); ok {
				for _, w := range words {
					out[prefix+key] = append(out[prefix+key], fmt.Sprint(w))
				}
			}
			walk(prefix+key+".", child)
		}
	}
	var schema map[string]any
	if json.Unmarshal(jobcard.SchemaJSON(), &schema) == nil {
		walk("", schema)
	}
	return out
})

// options are the words to choose from, with the one that stands there already, whatever it is.
func options(path, value string) []string {
	words := enums()[path]
	if len(words) == 0 || value == "" || slices.Contains(words, value) {
		return words
	}
	return append([]string{value}, words...)
}

// homeless gives the mistakes that no field of the form can show.
func homeless(mistakes jobcard.Errors) []string {
	known := map[string]bool{}
	for _, f := range jobcard.Fields() {
		known[f.Path] = true
	}
	var out []string
	for _, e := range mistakes {
		if !known[e.Path] {
			out = append(out, e.Error())
		}
	}
	return out
}

// cardValues takes a card's text apart into the text of each field, by dotted path. Of a text that is refused as a
// whole, such as one that is no YAML, it gives nothing.
func cardValues(text string) map[string]string {
	values := map[string]string{}
	if root := jobcard.Tree([]byte(text)); root != nil {
		collect(values, "", root)
	}
	return values
}

func collect(values map[string]string, path string, n ast.Node) {
	switch n := n.(type) {
	case *ast.MappingNode:
		for _, pair := range n.Values {
			collect(values, path, pair)
		}
	case *ast.MappingValueNode:
		at := n.Key.GetToken().Value
		if path != "" {
			at = path + "." + at
		}
		collect(values, at, n.Value)
	case *ast.SequenceNode:
		values[path] = flow(n)
	case *ast.StringNode:
		values[path] = n.Value
	case *ast.LiteralNode:
		values[path] = strings.TrimSpace(n.Value.Value)
	case *ast.NullNode, nil:
	default:
		if t := n.GetToken(); t != nil {
			values[path] = t.Value
		}
	}
}

// flow writes a list on one line, in square brackets.
func flow(n ast.Node) string {
	switch n := n.(type) {
	case *ast.SequenceNode:
		parts := make([]string, len(n.Values))
		for i, v := range n.Values {
			parts[i] = flow(v)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case *ast.StringNode:
		return n.Value
	}
	if t := n.GetToken(); t != nil {
		return t.Value
	}
	return ""
}

// bare matches text that YAML takes as it stands, with nothing in it that YAML reads another way.
var bare = regexp.MustCompile(`^[\pL\pN][\pL\pN ./()±²³·µ°−+–-]*$`)

// cardText writes a card from the fields of a form, in the order of the parser's table. Empty fields are left out. What
// is typed stays as it is typed: the parser judges it.
func cardText(values map[string]string) string {
	var b strings.Builder
	var open []string // keys of the mappings that are open, outermost first
	for _, f := range jobcard.Fields() {
		v := strings.TrimSpace(values[f.Path])
		if v == "" {
			continue
		}
		keys := strings.Split(f.Path, ".")
		parents := keys[:len(keys)-1]
		same := 0
		for same < len(parents) && same < len(open) && parents[same] == open[same] {
			same++
		}
		for i := same; i < len(parents); i++ {
			b.WriteString(strings.Repeat("  ", i) + parents[i] + ":\n")
		}
		open = parents
		b.WriteString(strings.Repeat("  ", len(parents)) + keys[len(keys)-1] + ": " + scalar(v) + "\n")
	}
	return b.String()
}

// scalar quotes text where YAML would not read it as it stands. Lists in square brackets stay lists.
func scalar(v string) string {
	if strings.HasPrefix(v, "[") && balanced(v) ||
		bare.MatchString(v) && v == strings.TrimSpace(v) && !strings.EqualFold(v, "null") {
		return v
	}
	quoted, err := json.Marshal(v) // a JSON string is a YAML double-quoted one
	if err != nil {
		return `""`
	}
	return string(quoted)
}

// balanced says whether v is one list of brackets with nothing in it that could end it early.
func balanced(v string) bool {
	depth := 0
	for i, r := range v {
		switch r {
		case '[':
			depth++
		case ']':
			depth--
			if depth == 0 && i != len(v)-1 {
				return false
			}
		case '{', '}', '#', '\n', '\r', '"', '\'', '&', '*', '!', '|', '>', '%', '@', '`', ':':
			return false
		}
		if depth < 1 && i != len(v)-1 {
			return false
		}
	}
	return depth == 0
}
