package suspects

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phasewright/quantity"
	"phasewright/yamltext"
)

// evidenceFile bounds an evidence file.
var evidenceFile = yamltext.Kind{Name: "evidence", Start: "begin with a key such as light: (phasewright suspects --keys lists them)", Bytes: 64 << 10, Depth: 16}

// longEvidence is a file of somebody's own with thousands of readings. Rows of readings take some 35 µs each; other texts as
// long may keep the reader busy for seconds, so what comes from elsewhere is read as evidenceFile.
var longEvidence = yamltext.Kind{Name: evidenceFile.Name, Start: evidenceFile.Start, Bytes: 2 << 20, Depth: evidenceFile.Depth, Marks: 1 << 20}

// ReadEvidence reads an evidence file (YAML). file is the name used in messages. On anything wrong the error is an Errors and no half-read evidence is given out.
func ReadEvidence(file string, data []byte) (*Evidence, error) {
	return readEvidence(file, data, evidenceFile)
}

// ReadLongEvidence reads a file of the reader's own, which may hold thousands of readings.
func ReadLongEvidence(file string, data []byte) (*Evidence, error) {
	return readEvidence(file, data, longEvidence)
}

func readEvidence(file string, data []byte, kind yamltext.Kind) (*Evidence, error) {
	text, root := yamltext.Read(file, data, kind)
	p := &reader{Text: text, seen: map[string]int{}}
	var e Evidence
	if len(p.Faults) == 0 {
		p.load(&e, root)
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	return &e, nil
}

type reader struct {
	*yamltext.Text
	seen map[string]int // line of each key
}

func (p *reader) fail(path string, n ast.Node, problem, remedy string) {
	p.Fail(path, yamltext.PlaceOf(n), problem, remedy)
}

// load walks the root.
func (p *reader) load(e *Evidence, root ast.Node) {
	table, secs := fields(), sections()
	var top []string
	for _, s := range secs {
		top = append(top, s.key)
	}
	for _, f := range table {
		if !strings.Contains(f.Path, ".") {
			top = append(top, f.Path)
		}
	}
	for _, entry := range p.entries("", root, top) {
		key := yamltext.Key(entry)
		if p.again(key, entry) {
			continue
		}
		if i := slices.IndexFunc(table, func(f field) bool { return f.Path == key && !strings.Contains(key, ".") }); i >= 0 {
			p.field(e, &table[i], entry.Value)
			continue
		}
		i := slices.IndexFunc(secs, func(s section) bool { return s.key == key })
		if i < 0 {
			p.unknown("", key, entry.Key, top)
			continue
		}
		s := &secs[i]
		if !s.list {
			p.section(e, s, entry.Value, key, table)
			continue
		}
		list, ok := entry.Value.(*ast.SequenceNode)
		if !ok {
			p.fail(key, entry.Value, "is not a list", "write its entries below it, each behind a dash")
			continue
		}
		if s.most > 0 && len(list.Values) > s.most {
			p.fail(key, list, fmt.Sprintf("has %d entries", len(list.Values)), fmt.Sprintf("give at most %d", s.most))
			continue
		}
		for n, item := range list.Values {
			s.begin(e)
			p.section(e, s, item, fmt.Sprintf("%s %d", key, n+1), table)
		}
	}
}

func (p *reader) again(path string, entry *ast.MappingValueNode) bool {
	line := yamltext.PlaceOf(entry.Key).Line
	if first, ok := p.seen[path]; ok {
		p.fail(path, entry.Key, fmt.Sprintf("stands twice (first in line %d)", first), "keep one of the two")
		return true
	}
	p.seen[path] = line
	return false
}

func (p *reader) unknown(path, key string, n ast.Node, accepted []string) {
	if len(key) > 60 {
		key = key[:60] + "…"
	}
	remedy := "accepted here: " + strings.Join(accepted, ", ")
	if w := yamltext.Nearest(key, accepted); w != "" {
		remedy = "did you mean " + w + "? " + remedy
	}
	p.fail(strings.TrimPrefix(path+"."+key, "."), n, "is not a key of evidence", remedy)
}

// section reads the keys of one section or entry; label is its name in messages.
func (p *reader) section(e *Evidence, s *section, n ast.Node, label string, table []field) {
	var accepted []string
	for _, f := range table {
		if k, ok := strings.CutPrefix(f.Path, s.key+"."); ok {
			accepted = append(accepted, k)
		}
	}
	given := map[string]bool{}
	for _, entry := range p.entries(label, n, accepted) {
		key := yamltext.Key(entry)
		if p.again(label+"."+key, entry) {
			continue
		}
		i := slices.IndexFunc(table, func(f field) bool { return f.Path == s.key+"."+key })
		if i < 0 {
			p.unknown(label, key, entry.Key, accepted)
			continue
		}
		given[key] = true
		p.field(e, &table[i], entry.Value)
	}
	for _, k := range s.need {
		if !given[k] {
			p.fail(label, n, "has no "+k, "write "+k+", one of "+strings.Join(accepted, ", "))
		}
	}
}

// entries gives the keys of a mapping; nothing but comments is an empty one.
func (p *reader) entries(label string, n ast.Node, accepted []string) []*ast.MappingValueNode {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}
	case *ast.NullNode, nil:
		return nil
	}
	p.fail(label, n, "holds no keys", "write keys such as "+strings.Join(accepted, ", "))
	return nil
}

// field reads and checks one value.
func (p *reader) field(e *Evidence, f *field, n ast.Node) {
	wanted := "write " + f.Accepts()
	if seq, ok := n.(*ast.SequenceNode); ok {
		if f.kind != words && f.kind != counts {
			p.fail(f.Path, n, "is a list", wanted)
			return
		}
		var v read
		for _, item := range seq.Values {
			text, ok := plainText(item)
			if !ok {
				p.fail(f.Path, item, "has an entry that is no plain value", wanted)
				return
			}
			if f.kind == words {
				if !slices.Contains(f.words, text) {
					p.fail(f.Path, item, fmt.Sprintf("%q is not known here", short(text)), wanted)
					return
				}
				v.list = append(v.list, text)
				continue
			}
			k, err := strconv.Atoi(text)
			if err != nil || float64(k) < f.low || float64(k) > f.high || slices.Contains(v.ints, k) {
				p.fail(f.Path, item, fmt.Sprintf("%q is not a cylinder, or stands twice", short(text)), wanted)
				return
			}
			v.ints = append(v.ints, k)
		}
		f.set(e, v)
		return
	}
	text, ok := plainText(n)
	switch {
	case !ok:
		p.fail(f.Path, n, "has no plain value", wanted)
		return
	case f.kind == words || f.kind == counts:
		p.fail(f.Path, n, "is not a list", wanted)
		return
	case slices.Contains(f.words, text):
		f.set(e, read{word: text})
		return
	case f.kind == word:
		remedy := wanted
		if w := yamltext.Nearest(text, f.words); w != "" {
			remedy = fmt.Sprintf("did you mean %q? %s", w, wanted)
		}
		p.fail(f.Path, n, fmt.Sprintf("%q is not known here", short(text)), remedy)
		return
	}
	var v read
	if f.kind == number {
		x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || math.IsNaN(x) {
			p.fail(f.Path, n, fmt.Sprintf("%q is not a number", short(text)), wanted)
			return
		}
		v.n.Value = x
		if (f.Path == "light.wire" || f.Path == "rotor.points_to" || f.Path == "capture.crank_edges") && x != math.Trunc(x) {
			p.fail(f.Path, n, fmt.Sprintf("%q is not a whole number", short(text)), wanted)
			return
		}
	} else {
		x, err := f.unit.parse(text)
		if err != nil {
			var pe *quantity.ParseError
			if errors.As(err, &pe) {
				p.fail(f.Path, n, fmt.Sprintf("%q %s", short(pe.Text), pe.Problem), pe.Remedy)
			} else {
				p.fail(f.Path, n, err.Error(), wanted)
			}
			return
		}
		v.n = x
	}
	if !(v.n.Value >= f.low && v.n.Value <= f.high) || v.n.U < 0 || math.IsInf(v.n.U, 0) || v.n.U > f.high {
		p.fail(f.Path, n, fmt.Sprintf("%s is impossible here", short(text)), fmt.Sprintf("write a value from %g to %g in the unit of %s", f.low, f.high, f.Example))
		return
	}
	f.set(e, v)
}

func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

// plainText is a single value's text without the blanks around it.
func plainText(n ast.Node) (string, bool) {
	text, ok := yamltext.Scalar(n)
	return strings.TrimSpace(text), ok
}
