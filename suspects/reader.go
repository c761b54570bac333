package suspects

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/quantity"
	"phasewright/yamltext"
)

// evidenceFile bounds an evidence file.
var evidenceFile = yamltext.Kind{Name: "evidence",
	Start: "begin with a key such as light: (phasewright suspects --keys lists them)", Bytes: 64 << 10, Depth: 16}

// longEvidence is a file of somebody's own with thousands of readings. Rows of readings take some 35 µs each; other
// texts as long may keep the reader busy for seconds, so what comes from elsewhere is read as evidenceFile.
var longEvidence = yamltext.Kind{Name: evidenceFile.Name, Start: evidenceFile.Start, Bytes: 2 << 20,
	Depth: evidenceFile.Depth, Marks: 1 << 20}

// ReadEvidence reads an evidence file (YAML). file is the name used in messages. On anything wrong the error is an
// Errors and no half-read evidence is given out.
func ReadEvidence(file string, data []byte) (*Evidence, error) {
	return readEvidence(file, data, evidenceFile)
}

// ReadLongEvidence reads a file of the reader's own, which may hold thousands of readings.
func ReadLongEvidence(file string, data []byte) (*Evidence, error) {
	return readEvidence(file, data, longEvidence)
}

func readEvidence(file string, data []byte, kind yamltext.Kind) (*Evidence, error) {
	var e Evidence
	t := yamltext.Table{Lists: map[string]yamltext.List{}}
	for _, s := range sections() {
		if s.list {
			t.Lists[s.key] = yamltext.List{Most: s.most, Begin: func() { s.begin(&e) }, Need: s.need}
		}
	}
	for _, f := range fields() {
		t.Fields = append(t.Fields, yamltext.Field{Path: f.Path, Set: func(v yamltext.Value) *yamltext.Fault {
			r, ft := f.read(v)
			if ft == nil {
				f.set(&e, r)
			}
			return ft
		}})
	}
	if err := yamltext.ReadTable(file, data, kind, t).Err(); err != nil {
		return nil, err
	}
	return &e, nil
}

// read reads and checks one value.
func (f field) read(v yamltext.Value) (r read, _ *yamltext.Fault) {
	wanted := "write " + f.Accepts()
	said := strings.TrimSpace(v.Text)
	switch {
	case v.Null:
		return r, yamltext.Wrong("has no plain value", wanted)
	case v.List != f.Many():
		if v.List {
			return r, yamltext.Wrong("is a list", wanted)
		}
		return r, yamltext.Wrong("is not a list", wanted)
	case v.List:
		for _, item := range v.Items {
			if problem := f.readItem(item, &r); problem != "" {
				return r, &yamltext.Fault{Problem: problem, Remedy: wanted, At: item.At}
			}
		}
		return r, nil
	case slices.Contains(f.words, said):
		r.word = said
		return r, nil
	case f.kind == text:
		r.word = said
		return r, nil
	case f.kind == word:
		remedy := wanted
		if w := yamltext.Nearest(said, f.words); w != "" {
			remedy = fmt.Sprintf("did you mean %q? %s", w, wanted)
		}
		return r, yamltext.Wrong(fmt.Sprintf("%q is not known here", short(said)), remedy)
	case f.kind == number:
		x, err := strconv.ParseFloat(strings.Replace(said, ",", ".", 1), 64)
		if err != nil || math.IsNaN(x) {
			return r, yamltext.Wrong(fmt.Sprintf("%q is not a number", short(said)), wanted)
		}
		r.n.Value = x
		if (f.Path == "light.wire" || f.Path == "rotor.points_to" || f.Path == "capture.crank_edges") &&
			x != math.Trunc(x) {
			return r, yamltext.Wrong(fmt.Sprintf("%q is not a whole number", short(said)), wanted)
		}
	default:
		x, err := f.unit.parse(said)
		var pe *quantity.ParseError
		if errors.As(err, &pe) {
			return r, yamltext.Wrong(fmt.Sprintf("%q %s", short(pe.Text), pe.Problem), pe.Remedy)
		} else if err != nil {
			return r, yamltext.Wrong(err.Error(), wanted)
		}
		r.n = x
	}
	if !(r.n.Value >= f.low && r.n.Value <= f.high) || r.n.U < 0 || math.IsInf(r.n.U, 0) || r.n.U > f.high {
		return r, yamltext.Wrong(short(said)+" is impossible here",
			fmt.Sprintf("write a value from %g to %g in the unit of %s", f.low, f.high, f.Example))
	}
	return r, nil
}

// readItem adds one entry of a list, or says what is wrong with it.
func (f field) readItem(item yamltext.Value, r *read) (problem string) {
	text := strings.TrimSpace(item.Text)
	if item.List || item.Null {
		return "has an entry that is no plain value"
	}
	if f.kind == words {
		if !slices.Contains(f.words, text) {
			return fmt.Sprintf("%q is not known here", short(text))
		}
		r.list = append(r.list, text)
		return ""
	}
	k, err := strconv.Atoi(text)
	if err != nil || float64(k) < f.low || float64(k) > f.high || slices.Contains(r.ints, k) {
		return fmt.Sprintf("%q is not a cylinder, or stands twice", short(text))
	}
	r.ints = append(r.ints, k)
	return ""
}

func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
