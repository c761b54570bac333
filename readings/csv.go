package readings

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"phasewright/quantity"
	"phasewright/spreadsheet"
)

// The bounds of a readings file. A job has a handful of readings; these only keep a wrong file
// from eating the machine.
const (
	MaxRows  = 1_000_000
	MaxBytes = 128 << 20
	maxField = 4096
	maxNames = 64
)

// FileError says where a readings file cannot be used, what is there and what is accepted.
// Line and Column count from 1; the column counts bytes. 0 means the file as a whole.
type FileError struct {
	Name            string
	Line, Column    int
	Problem, Remedy string
}

// Error is "name:line:column: problem; remedy".
func (e *FileError) Error() string {
	where := e.Name
	if e.Line > 0 {
		where = fmt.Sprintf("%s:%d:%d", e.Name, e.Line, e.Column)
	}
	return where + ": " + e.Problem + "; " + e.Remedy
}

// FileErrors are all mistakes of a file, in its order, at most mostTold.
type FileErrors []*FileError

// mostTold is how many mistakes are told at once.
const mostTold = 20

// Error is a line a mistake.
func (es FileErrors) Error() string {
	lines := make([]string, len(es))
	for i, e := range es {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the mistakes one by one.
func (es FileErrors) Unwrap() []error {
	out := make([]error, len(es))
	for i, e := range es {
		out[i] = e
	}
	return out
}

// columns known to the format, in the order in which Write puts them.
var columns = [...]struct {
	name     string
	required bool
	remedy   string
	fault    func(float64) fault
}{
	{"rpm", true, "write the speed in rpm such as 800", speedFault},
	{"shown_deg", true, "write degrees BTDC such as 12.5, or none where the light did not flash", angleFault},
	{"locked_deg", true, "write degrees BTDC such as 10", angleFault},
	{"u_deg", false, "write one standard uncertainty in degrees such as 0.3", uncertaintyFault},
	{"allowance_us", false, "write the delay allowance in microseconds such as 100", allowanceFault},
	{"housing_deg", false, "write shaft degrees turned so far, with the rotor positive, such as 0.9", housingFault},
	{"wire", false, wireRemedy, wireFault},
	{"confirmed", false, confirmedRemedy, nil},
	{"note", false, "", nil},
}

const (
	rpmColumn = iota
	shownColumn
	lockedColumn
	uColumn
	allowanceColumn
	housingColumn
	wireColumn
	confirmedColumn
	noteColumn
)

// Column is a column of a readings file, for those who explain it.
type Column struct {
	Name     string
	Required bool
	Remedy   string // what to write in it; "" for anything
}

// Columns lists the columns of a readings file in the order of Write.
func Columns() []Column {
	var out []Column
	for _, c := range columns {
		out = append(out, Column{c.name, c.required, c.remedy})
	}
	return out
}

const headerRemedy = "the first line names the columns: rpm,shown_deg,locked_deg and, where wanted, u_deg, " +
	"allowance_us, housing_deg, wire, confirmed, note"

const confirmedRemedy = "write yes where the light did show an unlikely figure, no or nothing otherwise"

// Read reads a readings file: CSV after RFC 4180 with a header line. Columns rpm, shown_deg and locked_deg must be
// there, u_deg, allowance_us, housing_deg (shaft degrees turned so far, with the rotor positive), wire (the cylinder on
// whose wire the light hung, 1 where empty: shown_deg counts from that cylinder's own top dead centre), confirmed (yes
// or no) and note may be; others are kept and ignored. A line with the word none under shown_deg, where the light did
// not flash, goes to Table.Dark. Headings and figures may be as people write them (see headings
// and figure): "Engine speed (rpm)" over "2,200", "2 ATDC". Lines may end in LF or CRLF, a byte order mark and lines
// with nothing in them are passed over. Where the header is split by semicolons or tabs, so is the file, and numbers
// may have a decimal comma. An apostrophe before what a spreadsheet would run as a formula is its mark for text and is
// taken away.
//
// name is the file's name in messages. All mistakes are told at once: one is a *FileError, several are FileErrors. What
// else goes wrong is an error of r itself.
func Read(r io.Reader, name string) (*Table, error) {
	in := bufio.NewReaderSize(&bounded{r: r, left: MaxBytes}, 64<<10)
	rd := reader{name: name}
	comma, err := rd.sniff(in)
	if err != nil {
		return nil, err
	}
	rd.decimalComma = comma != ','
	c := csv.NewReader(in)
	c.Comma = comma
	c.ReuseRecord = true
	header, err := c.Read()
	if err != nil {
		return nil, rd.wrap(err, 0)
	}
	t, err := rd.header(c, header)
	if err != nil {
		return nil, err
	}
	for len(rd.wrong) < mostTold {
		record, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			fe, ours := rd.wrap(err, len(record)).(*FileError)
			if !ours {
				return nil, rd.wrap(err, len(record))
			}
			rd.wrong = append(rd.wrong, fe)
			if errors.Is(err, csv.ErrFieldCount) {
				continue // the lines behind it can be read
			}
			break
		}
		if len(t.Rows)+len(t.Dark) == MaxRows {
			line, _ := c.FieldPos(0)
			rd.fail(line, 1, fmt.Sprintf("more than %d readings", MaxRows), "split the file")
			break
		}
		if blank(record) {
			continue
		}
		if row, dark := rd.row(c, record, len(t.Extra)); dark {
			t.Dark = append(t.Dark, row)
		} else {
			t.Rows = append(t.Rows, row)
		}
	}
	switch len(rd.wrong) {
	case 0:
		return t, nil
	case 1:
		return nil, rd.wrong[0]
	}
	return nil, rd.wrong[:min(len(rd.wrong), mostTold)]
}

// blank says whether a line has nothing in any of its fields, as spreadsheets leave them below a table.
func blank(record []string) bool {
	for _, field := range record {
		if strings.TrimSpace(field) != "" {
			return false
		}
	}
	return true
}

// reader holds what the header said.
type reader struct {
	name         string
	fields       int
	place        [len(columns)]int // field of each known column, -1 where absent
	scale        [len(columns)]scale
	extra        []int
	decimalComma bool
	wrong        FileErrors
}

// fail notes a mistake; reading goes on behind it.
func (rd *reader) fail(line, column int, problem, remedy string) {
	rd.wrong = append(rd.wrong, rd.at(line, column, problem, remedy))
}

func (rd *reader) at(line, column int, problem, remedy string) *FileError {
	return &FileError{Name: rd.name, Line: line, Column: column, Problem: problem, Remedy: remedy}
}

// wrap turns what the CSV scanner says into our words.
func (rd *reader) wrap(err error, fields int) error {
	var p *csv.ParseError
	switch {
	case errors.Is(err, errTooLong):
		return rd.at(0, 0, fmt.Sprintf("the file is longer than %d MiB", MaxBytes>>20),
			"give a file of readings, or split it")
	case err == io.EOF:
		return rd.at(1, 1, "the file is empty", headerRemedy)
	case !errors.As(err, &p):
		return fmt.Errorf("%s: cannot be read: %w", rd.name, err)
	}
	switch {
	case errors.Is(p.Err, csv.ErrFieldCount):
		remedy := "give every line one field a column, empty where there is nothing to say"
		if !rd.decimalComma && fields > rd.fields {
			remedy += "; with a decimal comma, put semicolons between the fields"
		}
		return rd.at(p.StartLine, 1, fmt.Sprintf("%s where the header has %d", plural(fields, "1 field", "%d fields"),
			rd.fields), remedy)
	case errors.Is(p.Err, csv.ErrQuote):
		return rd.at(p.StartLine, 1, fmt.Sprintf(
			"a quotation mark that opens on this line is not closed as it should be (line %d, column %d)", p.Line,
			p.Column), `close the field with ", and write "" for a quotation mark inside it`)
	case errors.Is(p.Err, csv.ErrBareQuote):
		return rd.at(p.Line, p.Column, "a quotation mark inside a field without quotes",
			`put the whole field in quotes and write "" for the mark`)
	}
	return rd.at(p.Line, p.Column, p.Err.Error(), "write CSV after RFC 4180")
}

// header places the columns. An error is one that leaves nothing to read behind it.
func (rd *reader) header(c *csv.Reader, record []string) (*Table, error) {
	rd.fields = len(record)
	for k := range rd.place {
		rd.place[k], rd.scale[k] = -1, 1
	}
	if len(record) > maxNames {
		line, column := c.FieldPos(maxNames)
		return nil, rd.at(line, column, fmt.Sprintf("more than %d columns", maxNames), headerRemedy)
	}
	titles := make([]string, len(record))
	taken := make([]bool, len(record))
	seen := make(map[string]int, len(record))
	numbers := 0
	for i, raw := range record {
		line, column := c.FieldPos(i)
		titles[i] = spreadsheet.Text(strings.TrimSpace(raw))
		if f := textFault(titles[i]); f.problem != "" {
			rd.fail(line, column, "the header "+f.problem, f.remedy)
			titles[i] = ""
			continue
		}
		name := strings.ToLower(strings.TrimSpace(raw))
		if _, err := strconv.ParseFloat(name, 64); err == nil {
			numbers++
		}
		if first, twice := seen[name]; twice && name != "" {
			rd.fail(line, column,
				fmt.Sprintf("column %q is there twice (fields %d and %d)", name, first+1, i+1), "keep one of them")
			taken[i] = true
			continue
		}
		seen[name] = i
		for k, col := range columns {
			if col.name == name {
				rd.place[k], taken[i] = i, true
			}
		}
	}
	line, _ := c.FieldPos(0)
	if numbers == len(record) {
		return nil, rd.at(line, 1, "the header line is missing", headerRemedy)
	}
	rd.byHeadings(c, titles, taken)
	t := &Table{}
	for i, title := range titles {
		if !taken[i] {
			rd.extra = append(rd.extra, i)
			t.Extra = append(t.Extra, title)
		}
	}
	return t, nil
}

// byHeadings finds the columns whose own names are not there, and says which are missing.
func (rd *reader) byHeadings(c *csv.Reader, titles []string, taken []bool) {
	for k, col := range columns {
		if rd.place[k] >= 0 {
			continue
		}
		i, factor, f := place(k, titles, taken)
		switch {
		case f.problem != "":
			line, column := c.FieldPos(i)
			rd.fail(line, column, "the heading "+quoted(titles[i])+" "+f.problem, f.remedy)
		case i >= 0:
			rd.place[k], rd.scale[k], taken[i] = i, factor, true
		case col.required:
			line, _ := c.FieldPos(0)
			rd.fail(line, 1, fmt.Sprintf("column %q is missing", col.name), headerRemedy)
		}
	}
}

// noFlash stands under shown_deg where the light did not flash.
const noFlash = "none"

// row reads one reading; what is wrong with it is noted. dark: the light did not flash.
func (rd *reader) row(c *csv.Reader, record []string, extra int) (row Row, dark bool) {
	var v [confirmedColumn]float64
	var given [confirmedColumn]bool
	for k := range v {
		i := rd.place[k]
		if i < 0 {
			continue
		}
		text := strings.TrimSpace(record[i])
		f := fault{}
		if k == shownColumn && strings.EqualFold(text, noFlash) {
			dark = true
			continue
		}
		if text == "" {
			if !columns[k].required {
				continue
			}
			f = fault{"is empty", columns[k].remedy}
		} else {
			v[k], f = rd.figure(k, text)
		}
		if f.problem != "" {
			line, column := c.FieldPos(i)
			what := columns[k].name
			if text != "" {
				what += " " + quoted(text)
			}
			rd.fail(line, column, what+" "+f.problem, f.remedy)
			continue
		}
		given[k] = true
	}
	row.Speed = quantity.Speed(v[rpmColumn])
	row.Shown, row.Locked = quantity.Crank(v[shownColumn]), quantity.Crank(v[lockedColumn])
	row.U = quantity.Crank(v[uColumn])
	row.Allowance, row.AllowanceStated = quantity.Time(v[allowanceColumn]), given[allowanceColumn]
	row.Housing, row.Wire = quantity.Shaft(v[housingColumn]), int(v[wireColumn])
	if i := rd.place[confirmedColumn]; i >= 0 {
		switch text := strings.ToLower(strings.TrimSpace(record[i])); text {
		case "yes", "y", "x", "true":
			row.Confirmed = true
		case "", "no", "n", "false":
		default:
			line, column := c.FieldPos(i)
			rd.fail(line, column, "confirmed "+quoted(text)+" is neither yes nor no", confirmedRemedy)
		}
	}
	take := func(i int) string {
		text := spreadsheet.Text(record[i])
		if f := textFault(text); f.problem != "" {
			line, column := c.FieldPos(i)
			rd.fail(line, column, "the field "+f.problem, f.remedy)
		}
		return strings.Clone(text)
	}
	if i := rd.place[noteColumn]; i >= 0 && record[i] != "" {
		row.Note = take(i)
	}
	if extra > 0 {
		row.Extra = make([]string, extra)
		for k, i := range rd.extra {
			row.Extra[k] = take(i)
		}
	}
	return row, dark
}

// textFault says why a field cannot be kept as text.
func textFault(s string) fault {
	switch {
	case len(s) > maxField:
		return fault{fmt.Sprintf("is longer than %d bytes", maxField),
			"shorten it; if it should not be so long, look for a quotation mark left open"}
	case !utf8.ValidString(s):
		return fault{"is not in UTF-8", "save the file as UTF-8 (in a spreadsheet: CSV UTF-8)"}
	case strings.IndexByte(s, 0) >= 0:
		return fault{"holds a zero byte", "give a text file"}
	}
	return fault{}
}

// number reads a plain decimal number.
func (rd *reader) number(text, remedy string) (float64, fault) {
	plain := text
	if strings.Contains(plain, "\u2212") {
		plain = strings.ReplaceAll(plain, "\u2212", "-") // a true minus sign
	}
	if rd.decimalComma && !strings.Contains(plain, ".") {
		plain = strings.Replace(plain, ",", ".", 1)
	}
	for i := range len(plain) {
		if c := plain[i]; (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			low := strings.ToLower(strings.TrimLeft(plain, "+-"))
			if low == "nan" || low == "inf" || low == "infinity" {
				return 0, fault{"is not a finite number", remedy}
			}
			if !utf8.ValidString(text) {
				return 0, fault{"is not in UTF-8", "save the file as UTF-8 (in a spreadsheet: CSV UTF-8)"}
			}
			return 0, fault{"is not a number", remedy}
		}
	}
	v, err := strconv.ParseFloat(plain, 64)
	switch {
	case errors.Is(err, strconv.ErrRange):
		return 0, fault{"is out of range", remedy}
	case err != nil:
		return 0, fault{"is not a number", remedy}
	}
	if v == 0 {
		v = math.Abs(v) // no minus nought
	}
	return v, fault{}
}

// quoted is a text as a message quotes it.
func quoted(text string) string { return strconv.Quote(clip(text)) }

// clip shortens what a message quotes.
func clip(s string) string {
	const most = 40
	if len(s) <= most {
		return s
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return s[:cut] + "…"
}
