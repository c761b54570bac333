package yamltext

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// Table is every key that a kind of file takes.
type Table struct {
	Fields []Field
	Lists  map[string]List // sections that hold entries, by path
}

// Field is a key that holds a value.
type Field struct {
	Path string               // section.key, at any depth
	Set  func(v Value) *Fault // takes the value or says what is wrong with it
}

// List says of a section that it is a list of entries, each with the section's keys.
type List struct {
	Most  int      // entries; 0: any number
	Begin func()   // comes before the keys of each entry
	Need  []string // keys that each entry must have
}

// Value is what stands behind a key: a text as written, a list, or nothing.
type Value struct {
	Text       string
	Items      []Value
	List, Null bool
	At         Place
}

// Fault is what is wrong with a value.
type Fault struct {
	Problem, Remedy string
	At              Place // zero: where the value stands
}

// Wrong is a fault of a value as a whole.
func Wrong(problem, remedy string) *Fault { return &Fault{Problem: problem, Remedy: remedy} }

// Reading is a file that was read beside a table.
type Reading struct {
	*Text
	// Places are those of each key written, by dotted path, "light 2.speed" in a list; nil where the text was refused
	// as a whole.
	Places map[string]Place
	Meant  []string // dotted paths that misspelt keys were taken for

	kind   Kind
	fields map[string]*Field
	known  map[string][]string // accepted keys by path of section
	lists  map[string]List
}

// ReadTable reads a file as Read does and gives each value to its field. What is wrong is told with its place; the
// caller asks for Err.
func ReadTable(file string, data []byte, k Kind, t Table) *Reading {
	text, root := Read(file, data, k)
	r := &Reading{Text: text, kind: k, fields: map[string]*Field{}, known: map[string][]string{}, lists: t.Lists}
	if root == nil {
		return r
	}
	for i := range t.Fields {
		f := &t.Fields[i]
		r.fields[f.Path] = f
		parts := strings.Split(f.Path, ".")
		for k := range parts {
			section := strings.Join(parts[:k], ".")
			if !slices.Contains(r.known[section], parts[k]) {
				r.known[section] = append(r.known[section], parts[k])
			}
		}
	}
	r.Places = map[string]Place{}
	r.section("", "", root)
	return r
}

func join(path, key string) string { return strings.TrimPrefix(path+"."+key, ".") }

// section reads the keys of one section or entry; label is its name in messages.
func (r *Reading) section(path, label string, n ast.Node) {
	for _, entry := range r.entries(path, label, n) {
		key, at := Key(entry), PlaceOf(entry.Key)
		full, name := join(path, key), join(label, key)
		field := r.fields[full]
		_, section := r.known[full]
		list, many := r.lists[full]
		if key == "" || strings.Contains(key, ".") || field == nil && !section {
			r.unknown(path, label, key, at)
			continue
		}
		if first, again := r.Places[name]; again {
			r.Fail(name, at, fmt.Sprintf("stands twice (first in line %d)", first.Line), "keep one of the two")
			continue
		}
		r.Places[name] = at
		switch {
		case field != nil:
			r.field(field, entry.Value)
		case many:
			r.list(full, list, entry.Value)
		default:
			r.section(full, name, entry.Value)
		}
	}
}

// entries gives the keys of a mapping; nothing but comments is an empty one.
func (r *Reading) entries(path, label string, n ast.Node) []*ast.MappingValueNode {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}
	case *ast.NullNode, nil:
		return nil
	}
	remedy := "write its keys below it, indented: " + strings.Join(r.known[path], ", ")
	if path == "" {
		remedy = r.kind.Name + " begins with keys such as " + strings.Join(r.known[path], ":, ") + ":"
	}
	r.Fail(label, PlaceOf(n), "holds "+describe(n)+" where keys are wanted", remedy)
	return nil
}

func (r *Reading) unknown(path, label, key string, at Place) {
	remedy := "accepted here: " + strings.Join(r.known[path], ", ")
	if near := Nearest(key, r.known[path]); near != "" {
		remedy = fmt.Sprintf("did you mean %s? %s", near, remedy)
		r.Meant = append(r.Meant, join(path, near))
	}
	if long := []rune(key); len(long) > 60 {
		key = string(long[:60]) + "…"
	}
	r.Fail(join(label, key), at, "is not a key of "+r.kind.Name, remedy)
}

func (r *Reading) list(path string, l List, n ast.Node) {
	entries, ok := n.(*ast.SequenceNode)
	switch {
	case !ok:
		r.Fail(path, PlaceOf(n), "is not a list", "write its entries below it, each behind a dash")
		return
	case l.Most > 0 && len(entries.Values) > l.Most:
		r.Fail(path, PlaceOf(n), fmt.Sprintf("has %d entries", len(entries.Values)),
			fmt.Sprintf("give at most %d", l.Most))
		return
	}
	for i, entry := range entries.Values {
		label := fmt.Sprintf("%s %d", path, i+1)
		l.Begin()
		r.section(path, label, entry)
		for _, key := range l.Need {
			if _, given := r.Places[join(label, key)]; !given {
				r.Fail(label, PlaceOf(entry), "has no "+key, "write "+key+", one of "+strings.Join(r.known[path], ", "))
			}
		}
	}
}

func (r *Reading) field(f *Field, n ast.Node) {
	v, ok := r.value(f.Path, n)
	if !ok {
		return
	}
	if ft := f.Set(v); ft != nil {
		if ft.At == (Place{}) {
			ft.At = v.At
		}
		r.Fail(f.Path, ft.At, ft.Problem, ft.Remedy)
	}
}

// value turns a node into what the fields take. Kind.Depth bounds the lists in lists.
func (r *Reading) value(path string, n ast.Node) (Value, bool) {
	v := Value{At: PlaceOf(n)}
	switch x := n.(type) {
	case *ast.SequenceNode:
		v.List = true
		for _, item := range x.Values {
			one, ok := r.value(path, item)
			if !ok {
				return v, false
			}
			v.Items = append(v.Items, one)
		}
		return v, true
	case *ast.NullNode:
		v.Null = true
		return v, true
	}
	var ok bool
	if v.Text, ok = Scalar(n); !ok {
		r.Fail(path, v.At, "has no plain value but "+describe(n), "write the value itself")
	}
	return v, ok
}

func describe(n ast.Node) string {
	switch n.(type) {
	case nil:
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
