package readings

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"phasewright/spreadsheet"
)

// Write writes the table as CSV after RFC 4180: UTF-8, commas, CRLF, the header first. Optional columns appear where a
// row has something for them. Dark looks come after the rows. Read gives the same table back, but for line ends inside
// a field, which become LF. Texts that a spreadsheet would run as a formula stand behind an apostrophe in the file.
// Rows that cannot be readings, texts that Read would refuse and columns of the same name are refused before anything
// is written.
func (t *Table) Write(w io.Writer) error {
	var has [len(columns)]bool
	lines := slices.Concat(t.Rows, t.Dark)
	if len(lines) > MaxRows {
		return fmt.Errorf("%d readings, %d at most; split the table", len(lines), MaxRows)
	}
	if err := t.checkNames(); err != nil {
		return err
	}
	has[rpmColumn], has[shownColumn], has[lockedColumn] = true, true, true
	for i, r := range lines {
		if err := r.Check(); err != nil {
			return fmt.Errorf("reading %d: %w", i+1, err)
		}
		if len(r.Extra) > len(t.Extra) {
			return fmt.Errorf("reading %d: %d extra fields for %d extra columns; give every column a name", i+1,
				len(r.Extra), len(t.Extra))
		}
		for _, text := range append([]string{r.Note}, r.Extra...) {
			if f := textFault(text); f.problem != "" {
				return fmt.Errorf("reading %d: a text %s; %s", i+1, f.problem, f.remedy)
			}
		}
		has[uColumn] = has[uColumn] || r.U != 0
		has[allowanceColumn] = has[allowanceColumn] || r.AllowanceStated
		has[housingColumn] = has[housingColumn] || r.Housing != 0
		has[wireColumn] = has[wireColumn] || r.Wire != 0
		has[confirmedColumn] = has[confirmedColumn] || r.Confirmed
		has[noteColumn] = has[noteColumn] || r.Note != ""
	}
	for _, name := range t.Extra { // a column of its own name keeps Read from taking an extra one for it
		for k := range has {
			_, ok := named(k, name)
			has[k] = has[k] || ok
		}
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	record := make([]string, 0, len(columns)+len(t.Extra))
	for k, col := range columns {
		if has[k] {
			record = append(record, col.name)
		}
	}
	for _, name := range t.Extra {
		record = append(record, textCell(name))
	}
	if err := c.Write(record); err != nil {
		return err
	}
	for i, r := range lines {
		record = record[:0]
		add := func(k int, v float64, given bool) {
			switch {
			case !has[k]:
			case !given:
				record = append(record, "")
			default:
				record = append(record, strconv.FormatFloat(v, 'f', -1, 64))
			}
		}
		add(rpmColumn, float64(r.Speed), true)
		if i < len(t.Rows) {
			add(shownColumn, float64(r.Shown), true)
		} else {
			record = append(record, noFlash)
		}
		add(lockedColumn, float64(r.Locked), true)
		add(uColumn, float64(r.U), r.U != 0)
		add(allowanceColumn, float64(r.Allowance), r.AllowanceStated)
		add(housingColumn, float64(r.Housing), true)
		add(wireColumn, float64(r.Wire), r.Wire != 0)
		if has[confirmedColumn] {
			record = append(record, map[bool]string{true: "yes"}[r.Confirmed])
		}
		if has[noteColumn] {
			record = append(record, textCell(r.Note))
		}
		for _, text := range r.Extra {
			record = append(record, textCell(text))
		}
		for range len(t.Extra) - len(r.Extra) {
			record = append(record, "")
		}
		if err := c.Write(record); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// oneLineEnd makes every line end LF.
var oneLineEnd = strings.NewReplacer("\r\n", "\n", "\r", "\n")

// textCell is a text as it stands in the file, where no spreadsheet takes it for a formula.
func textCell(text string) string { return spreadsheet.Cell(oneLineEnd.Replace(text)) }

// checkNames refuses extra columns that Read would take for something else.
func (t *Table) checkNames() error {
	seen := make(map[string]bool)
	for _, col := range columns {
		seen[col.name] = true
	}
	if len(t.Extra)+len(columns) > maxNames {
		return fmt.Errorf("%d extra columns; %d at most", len(t.Extra), maxNames-len(columns))
	}
	for _, name := range t.Extra {
		if f := textFault(name); f.problem != "" {
			return fmt.Errorf("a column name %s; %s", f.problem, f.remedy)
		}
		key := strings.ToLower(strings.TrimSpace(name))
		if key != "" && seen[key] {
			return fmt.Errorf("extra column %q has the name of another; rename it", name)
		}
		seen[key] = true
	}
	return nil
}
