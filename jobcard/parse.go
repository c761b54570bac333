package jobcard

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phasewright/yamltext"
)

// kind bounds a job card; the fullest example has 4 kB and nests four deep.
var kind = yamltext.Kind{Name: "a job card", Start: "give a job card in YAML; `phasewright card new` writes one to start from", Bytes: 64 << 10, Depth: 16}

const deepest = 8 // levels of lists

// Tree is the syntax tree of a card's text, within the bounds that Parse keeps, and nil where the text is refused as a
// whole.
func Tree(data []byte) ast.Node {
	_, root := yamltext.Read("", data, kind)
	return root
}

// Parse reads a job card. file is only the name used in messages. On anything wrong the error is an Errors, in the order of the text; no
// half-read card is given out.
func Parse(file string, data []byte) (*Card, error) {
	text, root := yamltext.Read(file, data, kind)
	p := &reader{Text: text, places: map[string]yamltext.Place{}}
	c := &Card{assumed: map[string]bool{}}
	if len(p.Faults) == 0 {
		p.fill(c, root)
	}
	if len(p.Faults) == 0 {
		p.derive(c)
	}
	if len(p.Faults) == 0 {
		p.crossCheck(c)
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	return c, nil
}

// reader is one reading of a card.
type reader struct {
	*yamltext.Text
	places map[string]yamltext.Place // of each key written, by dotted path
	meant  []string                  // dotted paths that misspelt keys were taken for
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
		c.assumed[f.Path] = !f.Open
		switch {
		case f.Demand != "" && p.misspelt(f.Path): // said already
		case f.Demand != "":
			at, _ := p.nearestPlace(f.Path)
			p.Fail(f.Path, at, "is missing", fmt.Sprintf("write %s, such as %s: %s (%s)", lastKey(f.Path), f.Example, lowerFirst(strings.TrimSuffix(f.Doc, ".")), f.Demand))
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
func (p *reader) nearestPlace(path string) (yamltext.Place, bool) {
	for {
		i := strings.LastIndexByte(path, '.')
		if i < 0 {
			return yamltext.Place{Line: 1, Column: 1}, false
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
		p.Fail(path, yamltext.PlaceOf(n), "holds "+describe(n)+" where keys are wanted", remedy)
		return
	}
	for _, entry := range entries {
		key, at := yamltext.Key(entry), yamltext.PlaceOf(entry.Key)
		full := key
		if path != "" {
			full = path + "." + key
		}
		if first, again := p.places[full]; again {
			p.Fail(full, at, fmt.Sprintf("stands twice (first in line %d)", first.Line), "keep one of the two")
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
		if near := yamltext.Nearest(key, known[path]); near != "" {
			remedy = fmt.Sprintf("did you mean %s? %s", near, remedy)
			p.meant = append(p.meant, strings.TrimPrefix(path+"."+near, "."))
		}
		if len(key) > 60 {
			full = full[:60] + "…"
		}
		p.Fail(full, at, "is not a key of a job card", remedy)
	}
}

func (p *reader) field(c *Card, f *Field, n ast.Node) {
	v, ok := p.value(f.Path, n, 0)
	if !ok {
		return
	}
	if ft := f.set(c, v); ft != nil {
		p.Fail(f.Path, yamltext.PlaceOf(n), ft.problem, ft.remedy)
	}
}

// value turns a node into what the setters take.
func (p *reader) value(path string, n ast.Node, depth int) (value, bool) {
	switch x := n.(type) {
	case *ast.SequenceNode:
		if depth > deepest {
			p.Fail(path, yamltext.PlaceOf(n), "is nested too deep", "lists of lists are the most that a job card takes")
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
	case *ast.NullNode:
		return value{null: true}, true
	case *ast.AliasNode, *ast.AnchorNode, *ast.TagNode:
		p.Fail(path, yamltext.PlaceOf(n), "uses "+describe(n), "write the value itself")
		return value{}, false
	}
	if text, ok := yamltext.Scalar(n); ok {
		return value{text: text}, true
	}
	p.Fail(path, yamltext.PlaceOf(n), "holds "+describe(n)+" where a value is wanted", "write the value behind the colon")
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
