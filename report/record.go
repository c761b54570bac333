package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"phasewright/drawing"
)

// leaf is a plain value of the record, or what holds more of them.
type leaf struct {
	key   string // "" in a list
	text  string // of a plain value, its digits as they are written
	words bool   // the plain value is a text
	list  bool
	kids  []leaf // of a list or an object
	plain bool
}

// most is the number of lines of the record that are printed.
const most = 3000

// recordOf reads the machine-readable twin.
func recordOf(data []byte) (*leaf, error) {
	if len(data) == 0 {
		return nil, nil
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	top, err := readLeaf(dec, "", 0)
	if err != nil {
		return nil, fmt.Errorf("report – the machine-readable twin is not JSON (%v) – give the "+
			"record as it was exported", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("report – something follows the machine-readable twin – give one JSON value")
	}
	return &top, nil
}

func readLeaf(dec *json.Decoder, key string, depth int) (leaf, error) {
	l := leaf{key: key}
	if depth > 64 {
		return l, fmt.Errorf("nested more than 64 deep")
	}
	tok, err := dec.Token()
	if err != nil {
		return l, err
	}
	open, nested := tok.(json.Delim)
	if !nested {
		l.plain = true
		l.text, l.words = plainText(tok)
		return l, nil
	}
	l.list = open == '['
	for dec.More() {
		name := ""
		if !l.list {
			tok, err := dec.Token()
			if err != nil {
				return l, err
			}
			name = tok.(string) // the decoder lets nothing else through
		}
		kid, err := readLeaf(dec, name, depth+1)
		if err != nil {
			return l, err
		}
		l.kids = append(l.kids, kid)
	}
	_, err = dec.Token()
	return l, err
}

func plainText(tok json.Token) (text string, words bool) {
	switch v := tok.(type) {
	case nil:
		return "not known", false
	case bool:
		if v {
			return "yes", false
		}
		return "no", false
	case json.Number:
		return v.String(), false
	}
	return fmt.Sprint(tok), true
}

// recordWords are what keys of the record are called on paper. A key that is not here is told by its own words.
var recordWords = map[string]string{
	"U": "expanded uncertainty", "U_deg": "expanded uncertainty", "u": "standard uncertainty",
	"u_deg": "standard uncertainty", "combined_u_deg": "combined standard uncertainty",
	"dof": "degrees of freedom", "effective_dof": "effective degrees of freedom", "lo": "from", "hi": "to",
	"sd": "standard deviation", "residual_sd_deg": "standard deviation of the residuals",
	"residual_from_rounding_deg": "residual from rounding", "p": "probability", "rpm": "speed", "deg": "size",
	"id": "name", "row": "reading", "monte_carlo": "simulation", "error_at": "timing error over the speed range",
	"offset_deg": "constant error", "delay_us": "delay left over", "read_here_rpm": "read here",
	"worst": "largest timing error", "worst_before": "largest timing error before",
	"expected_after": "largest timing error expected after",
}

// recordUnits are the units of keys that do not end in one.
var recordUnits = map[string]string{"rpm": " rpm", "deg": "°", "error_at": "°", "worst": "°", "worst_before": "°",
	"expected_after": "°", "surest": "°", "monte_carlo": "°"}

// inUnitAbove are the keys whose figures have the unit of what they belong to.
var inUnitAbove = map[string]bool{"value": true, "u": true, "U": true, "lo": true, "hi": true, "now": true, "set": true,
	"change": true, "mean": true, "sd": true, "difference": true, "delta": true}

// units that a key ends in, and how they are printed.
var keyUnits = map[string]string{"deg": "°", "us": " µs", "ms": " ms", "rpm": " rpm", "mm": " mm", "v": " V", "a": " A",
	"s": " s"}

// named says what a key is called, and the unit of its figures; above is the unit of what it belongs to.
func named(key, above string) (words, unit string) {
	i := strings.LastIndexByte(key, '_')
	if i > 0 {
		unit = keyUnits[key[i+1:]]
	}
	words = recordWords[key]
	if words == "" {
		words = key
		if unit != "" {
			words = key[:i]
		}
		words = strings.ReplaceAll(words, "_", " ")
	}
	switch {
	case recordUnits[key] != "":
		unit = recordUnits[key]
	case unit == "" && inUnitAbove[key]:
		unit = above
	}
	return words, unit
}

// recordLine is a line of the printed record: what it is of, and what is said of it; or a table.
type recordLine struct {
	of, says string
	heads    []string
	rows     [][]string
}

// recordLines tells a leaf and all below it in words. of is what it belongs to, unit what its figures are in.
func recordLines(l leaf, of, unit string) []recordLine {
	if l.plain {
		return []recordLine{{of: of, says: l.text}}
	}
	if heads, rows, ok := asTable(l, unit); ok {
		return []recordLine{{of: of, heads: heads, rows: rows}}
	}
	var short []string
	var long, deep []recordLine
	for i, kid := range l.kids {
		words, own := named(kid.key, unit)
		if kid.key == "id" { // a name, written as a key
			kid.text = strings.ReplaceAll(kid.text, "_", " ")
		}
		below := strings.TrimPrefix(of+", "+words, ", ")
		if l.list {
			words, own = "", unit
			below = of + " " + strconv.Itoa(i+1)
		}
		switch {
		case !kid.plain:
			deep = append(deep, recordLines(kid, below, own)...)
		case kid.words && len(kid.text) > 40:
			long = append(long, recordLine{of: of, says: strings.TrimPrefix(words+": "+kid.text, ": ")})
		default:
			short = append(short, strings.TrimSpace(words+" "+withUnit(kid, own)))
		}
	}
	var out []recordLine
	if len(short) > 0 {
		out = append(out, recordLine{of: of, says: strings.Join(short, "; ")})
	}
	out = append(append(out, long...), deep...)
	for i := len(out) - 1; i > 0; i-- { // said once for all lines of it
		if out[i].of == out[i-1].of {
			out[i].of = ""
		}
	}
	return out
}

func withUnit(l leaf, unit string) string {
	if l.words || l.text == "" || !strings.ContainsRune("-0123456789", rune(l.text[0])) {
		return l.text
	}
	return l.text + unit
}

// asTable makes a table of a list whose members all hold the same plain values.
func asTable(l leaf, unit string) (heads []string, rows [][]string, ok bool) {
	if !l.list || len(l.kids) < 2 || len(l.kids[0].kids) == 0 || len(l.kids[0].kids) > 7 {
		return nil, nil, false
	}
	for _, kid := range l.kids {
		if kid.plain || kid.list || len(kid.kids) != len(l.kids[0].kids) {
			return nil, nil, false
		}
		var row []string
		for i, cell := range kid.kids {
			if !cell.plain || cell.key != l.kids[0].kids[i].key || len(cell.text) > 40 {
				return nil, nil, false
			}
			row = append(row, cell.text)
		}
		rows = append(rows, row)
	}
	for _, cell := range l.kids[0].kids {
		words, own := named(cell.key, unit)
		if own != "" {
			words += ", " + strings.TrimSpace(own)
		}
		heads = append(heads, words)
	}
	return heads, rows, true
}

// record prints the record, so that the paper holds every number that the file holds.
func (f *flow) record(top *leaf) {
	if top == nil {
		return
	}
	f.page()
	f.heading("The record")
	f.text("Every value that this file carries for machines too (job.json), with all its digits. Early is positive.",
		drawing.Note)
	f.y += 1.5
	f.close = true
	told := 0
	for _, line := range recordLines(*top, "", "") {
		if told >= most {
			f.text("The rest stands in the file alone.", drawing.Note)
			return
		}
		told += 1 + len(line.rows)
		if line.rows != nil {
			f.recordTable(line)
			continue
		}
		if told == 1 && line.of == "" {
			line.of = "as a whole"
		}
		f.recordWords(line)
	}
	f.y += gap
}

// recordTable sets a table of the record: side by side in two halves where it is narrow and fits on a sheet.
func (f *flow) recordTable(line recordLine) {
	t, head := tableText.Sized(closeItems), drawing.Note.Sized(closeItems)
	const between = 4.0
	step := t.Size * 1.32
	wide := make([]float64, len(line.heads))
	total := 0.0
	cols := make([]column, len(line.heads))
	for i, name := range line.heads {
		wide[i] = drawing.Width(name, head)
		for _, row := range line.rows {
			wide[i] = max(wide[i], drawing.Width(row[i], t))
		}
		wide[i] += between
		cols[i] = column{name, wide[i], left}
		total += wide[i]
	}
	half := (len(line.rows) + 1) / 2
	high := step*float64(half+1) + 7
	title := tableText.Sized(smallItems).Heavy()
	if total > f.columnWidth()+between || high > (f.bottom()-f.top)/2 {
		f.need(22)
		f.y++
		f.text(strings.TrimSuffix(sentence(line.of), "."), title)
		f.table(cols, line.rows)
		return
	}
	f.need(high)
	f.y++
	f.text(strings.TrimSuffix(sentence(line.of), "."), title)
	for col, rows := range [][][]string{line.rows[:half], line.rows[half:]} {
		x, y := inset+float64(col)*(f.columnWidth()+6), f.y+step
		for i, name := range line.heads {
			f.d.Text(x, y, name, head)
			for k, row := range rows {
				f.heed(row[i])
				f.d.Text(x, y+step*float64(k+1), row[i], t)
			}
			x += wide[i]
		}
	}
	f.y += step*float64(half+1) + 2
}

func (f *flow) recordWords(line recordLine) {
	const in = 46.0
	t := tableText.Sized(closeItems)
	of := t.Painted(drawing.Soft)
	step := t.Size * 1.35
	heads := drawing.Wrap(line.of, in-2, of)
	says := drawing.Wrap(line.says, f.wide()-in, t)
	f.heed(line.of + line.says)
	for k := range max(len(heads), len(says)) {
		f.need(step)
		f.y += step
		if k < len(heads) {
			f.d.Text(inset, f.y, heads[k], of)
		}
		if k < len(says) {
			f.d.Text(inset+in, f.y, says[k], t)
		}
	}
	f.y += 0.6
}
