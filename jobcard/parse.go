package jobcard

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phasewright/yamltext"
)

// kind bounds a job card; the fullest example has 4 kB and nests four deep.
var kind = yamltext.Kind{Name: "a job card", Bytes: 64 << 10, Depth: 16,
	Start: "give a job card in YAML; `phasewright card new` writes one to start from"}

// Tree is the syntax tree of a card's text, within the bounds that Parse keeps, and nil where the text is refused as a
// whole.
func Tree(data []byte) ast.Node {
	_, root := yamltext.Read("", data, kind)
	return root
}

// Parse reads a job card. file is only the name used in messages. On anything wrong the error is an Errors, in the
// order of the text; no half-read card is given out.
func Parse(file string, data []byte) (*Card, error) {
	c := &Card{source: data, assumed: map[string]bool{}}
	table := Fields()
	values := map[string]yamltext.Value{}
	var rows []yamltext.Field
	for _, f := range table {
		rows = append(rows, yamltext.Field{Path: f.Path, Set: func(v yamltext.Value) *yamltext.Fault {
			values[f.Path] = v
			return f.set(c, v)
		}})
	}
	p := &reader{yamltext.ReadTable(file, data, kind, yamltext.Table{Fields: rows}), values}
	p.nameTwoStrokes()
	if p.Places != nil {
		p.fill(c, table)
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
	p.doubt(c, table)
	return c, nil
}

// reader is one reading of a card.
type reader struct {
	*yamltext.Reading
	values map[string]yamltext.Value // as written, by path
}

// fill sees to the fields that are not written.
func (p *reader) fill(c *Card, table []Field) {
	_, coil := p.Places["coil"]
	c.Coil.Stated = coil
	for i := range table {
		f := &table[i]
		if _, written := p.Places[f.Path]; written {
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
			p.Fail(f.Path, at, "is missing", fmt.Sprintf("write %s, such as %s: %s (%s)", lastKey(f.Path),
				f.Example, lowerFirst(strings.TrimSuffix(f.Doc, ".")), f.Demand))
		case f.Default != "":
			if ft := f.set(c, yamltext.Value{Text: f.Default}); ft != nil {
				panic("jobcard: the default of " + f.Path + " is refused: " + ft.Problem)
			}
		}
	}
}

// misspelt says whether the field or its section was written under a name close to the right one.
func (p *reader) misspelt(path string) bool {
	for _, m := range p.Meant {
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
		if at, ok := p.Places[path]; ok {
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
