package readings_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"pgregory.net/rapid"

	"phasewright/quantity"
	"phasewright/readings"
)

const header = "rpm,shown_deg,locked_deg\n"

func read(t testing.TB, text string) *readings.Table {
	t.Helper()
	table, err := readings.Read(strings.NewReader(text), "readings.csv")
	if err != nil {
		t.Fatal(err)
	}
	return table
}

func TestReadTakesWhatPeopleWrite(t *testing.T) {
	plain := []readings.Row{{Speed: 800, Shown: 12.5, Locked: 10}, {Speed: 3200, Shown: 11, Locked: 10}}
	for _, c := range []struct {
		name, text string
		want       []readings.Row
	}{
		{"as the design has it", header + "800,12.5,10\n3200,11,10\n", plain},
		{"no last line end", header + "800,12.5,10\n3200,11,10", plain},
		{"CRLF", "rpm,shown_deg,locked_deg\r\n800,12.5,10\r\n3200,11,10\r\n", plain},
		{"byte order mark", "\ufeff" + header + "800,12.5,10\n3200,11,10\n", plain},
		{"blank lines", "\n" + header + "\n800,12.5,10\n\n3200,11,10\n\n", plain},
		{"spaces about the fields", " rpm , shown_deg , locked_deg \n 800 , 12.5 , 10 \n3200, 11,10\n", plain},
		{"capitals in the header", "RPM,Shown_deg,LOCKED_DEG\n800,12.5,10\n3200,11,10\n", plain},
		{"columns in another order", "locked_deg,rpm,shown_deg\n10,800,12.5\n10,3200,11\n", plain},
		{"semicolons and decimal comma", "rpm;shown_deg;locked_deg\n800;12,5;10\n3200;11,0;10\n", plain},
		{"semicolons and decimal point", "rpm;shown_deg;locked_deg\n800;12.5;10\n3200;11.0;10\n", plain},
		{"tabs", "rpm\tshown_deg\tlocked_deg\n800\t12,5\t10\n3200\t11\t10\n", plain},
		{"quoted", "\"rpm\",\"shown_deg\",\"locked_deg\"\n\"800\",\"12.5\",\"10\"\n3200,11,10\n", plain},
		{"exponents and signs", header + "8e2,+12.5,10\n3.2e3,11,1e1\n", plain},
		{"true minus sign", header + "800,\u22122.5,10\n", []readings.Row{{Speed: 800, Shown: -2.5, Locked: 10}}},
		{"all columns", "rpm,shown_deg,locked_deg,u_deg,allowance_us,housing_deg,note\n800,12.5,10,0.3,120,-0.9,\"warm, idle\"\n3200,11,10,,,,\n",
			[]readings.Row{{Speed: 800, Shown: 12.5, Locked: 10, U: 0.3, Allowance: 120, AllowanceStated: true, Housing: -0.9, Note: "warm, idle"}, {Speed: 3200, Shown: 11, Locked: 10}}},
		{"an allowance of nought is stated", "rpm,shown_deg,locked_deg,allowance_us\n800,12.5,10,0\n", []readings.Row{{Speed: 800, Shown: 12.5, Locked: 10, AllowanceStated: true}}},
		{"header only", header, nil},
		{"degree sign in a note", "rpm,shown_deg,locked_deg,note\n800,12.5,10,±0.5°\n", []readings.Row{{Speed: 800, Shown: 12.5, Locked: 10, Note: "±0.5°"}}},
	} {
		got, err := readings.Read(strings.NewReader(c.text), "readings.csv")
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !reflect.DeepEqual(got.Rows, c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got.Rows, c.want)
		}
	}
	dark := read(t, "rpm,shown_deg,locked_deg,u_deg,note\n210,none,8,,starter\n800,12.5,10,,\n900,None,10,0.3,\n")
	if want := []readings.Row{{Speed: 800, Shown: 12.5, Locked: 10}}; !reflect.DeepEqual(dark.Rows, want) {
		t.Errorf("rows %+v beside looks without a flash, want %+v", dark.Rows, want)
	}
	if want := []readings.Row{{Speed: 210, Locked: 8, Note: "starter"}, {Speed: 900, Locked: 10, U: 0.3}}; !reflect.DeepEqual(dark.Dark, want) {
		t.Errorf("looks without a flash %+v, want %+v", dark.Dark, want)
	}
	extra := read(t, "rpm,who,shown_deg,locked_deg,when\n800,Ada,12.5,10,09:15\n")
	if !reflect.DeepEqual(extra.Extra, []string{"who", "when"}) || !reflect.DeepEqual(extra.Rows[0].Extra, []string{"Ada", "09:15"}) {
		t.Errorf("other columns are not kept: %+v", extra)
	}
}

func inUTF16(text string, mark bool) string {
	var b bytes.Buffer
	if mark {
		b.WriteString("\xff\xfe")
	}
	for _, u := range utf16.Encode([]rune(text)) {
		b.WriteByte(byte(u))
		b.WriteByte(byte(u >> 8))
	}
	return b.String()
}

// Sheets as people keep them: what stands over a column and in a cell is common practice, the figures are invented.
func TestReadTakesSheetsAsPeopleKeepThem(t *testing.T) {
	plain := []readings.Row{{Speed: 850, Shown: 12.5, Locked: 10}, {Speed: 2200, Shown: -2, Locked: 10}}
	for _, c := range []struct {
		name, text string
		want       []readings.Row
	}{
		{"units in the cells", header + "850 rpm,12.5°,10 deg\n\"2,200\",2 ATDC,10 BTDC\n", plain},
		{"headings with units", "Engine speed (rpm),Timing light (° BTDC),Commanded [deg]\n850,12.5,10\n2200,-2,10\n", plain},
		{"headings behind commas and strokes", "\"Speed, rpm\";Shown / deg BTDC;Locked timing\n850;12,5;10\n2.200;-2,0;10\n", plain},
		{"after TDC in the heading", "RPM,Light deg ATDC,Target\n850,-12.5,10\n2200,2,10\n", plain},
		{"blanks and apostrophes in thousands", "revs,observed,set\n850 r/min,BTDC 12.5,10\n2 200,ATDC 2,10\n", plain},
		{"apostrophe", "revs,observed,set\n850.0,12.5,10\n2'200,-2,10\n", plain},
		{"thousands in a sheet with decimal commas", "rpm;shown_deg;locked_deg\n850,000;12,5;10\n2,200;-2;10\n", plain},
		{"empty lines below", header + "850,12.5,10\n2200,-2,10\n,,\n , ,\n", plain},
		{"its own name wins", "speed,rpm,shown_deg,locked_deg\n12,850,12.5,10\n", []readings.Row{{Speed: 850, Shown: 12.5, Locked: 10, Extra: []string{"12"}}}},
		{"the other columns", "rpm,shown,locked,Uncertainty (deg),Delay allowance (ms),Housing turn (shaft deg),Cylinder No.,Confirmed,Remarks\n850,12.5,10,±0.3,0.12,-0.9°,No. 4,x,warm\n850,12.5,10,0.3°,120 us,0,#1,n,\n",
			[]readings.Row{{Speed: 850, Shown: 12.5, Locked: 10, U: 0.3, Allowance: 120, AllowanceStated: true, Housing: -0.9, Wire: 4, Confirmed: true, Note: "warm"},
				{Speed: 850, Shown: 12.5, Locked: 10, U: 0.3, Allowance: 120, AllowanceStated: true, Wire: 1}}},
	} {
		got, err := readings.Read(strings.NewReader(c.text), "readings.csv")
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !reflect.DeepEqual(got.Rows, c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got.Rows, c.want)
		}
	}
}

// Every mistake of a file is told at once, each with its place, and no more of them than a person reads.
func TestReadTellsEveryMistakeAtOnce(t *testing.T) {
	_, err := readings.Read(strings.NewReader("rpm,shown_deg,wire\nfast,12..5,0\n800,12.5\n900,,1\n"), "r.csv")
	var all readings.FileErrors
	if !errors.As(err, &all) {
		t.Fatalf("%T %v", err, err)
	}
	want := []string{`r.csv:1:1: column "locked_deg" is missing`, `r.csv:2:1: rpm "fast"`, `r.csv:2:6: shown_deg "12..5"`, `r.csv:2:12: wire "0"`, "r.csv:3:1: 2 fields", "r.csv:4:5: shown_deg is empty"}
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != len(want) {
		t.Fatalf("%d mistakes told, want %d:\n%v", len(lines), len(want), err)
	}
	for i := range want {
		if !strings.HasPrefix(lines[i], want[i]) {
			t.Errorf("mistake %d: %s, want %s", i+1, lines[i], want[i])
		}
	}
	_, err = readings.Read(strings.NewReader(header+strings.Repeat("x,y,z\n", 100)), "r.csv")
	if n := strings.Count(err.Error(), "\n") + 1; n != 20 {
		t.Errorf("%d mistakes told of 300, want 20", n)
	}
}

// Each bad file gives one clear message: where, what, remedy.
func TestReadSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"the style's own example", header + strings.Repeat("800,12.5,10\n", 12) + "800,   12..5,10\n", `readings.csv:14:5: shown_deg "12..5" is not a number; write degrees BTDC such as 12.5, or none where the light did not flash`},
		{"empty", "", "readings.csv:1:1: the file is empty; the first line names the columns"},
		{"blank", " \n\n", "readings.csv:1:1: the file is empty; "},
		{"only a byte order mark", "\ufeff", "readings.csv:1:1: the file is empty; "},
		{"binary", "\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x03\x00>\x00", "readings.csv: this is not a text file; give a CSV file"},
		{"UTF-16 with its mark", inUTF16(header+"800,12.5,10\n", true), "readings.csv: the text is in UTF-16; save it as UTF-8"},
		{"UTF-16 without", inUTF16(header+"800,12.5,10\n", false), "readings.csv: the text is in UTF-16; save it as UTF-8"},
		{"Latin-1 in a note", "rpm,shown_deg,locked_deg,note\n800,12.5,10,\xb10.5\xb0\n", "readings.csv:2:13: the field is not in UTF-8; save the file as UTF-8"},
		{"Latin-1 in a number", header + "800,12.5\xb0,10\n", `readings.csv:2:5: shown_deg "12.5\xb0" is not in UTF-8; save`},
		{"Latin-1 in the header", "rpm,shown_deg,locked_deg,Bemerkung f\xfcr\n", "readings.csv:1:26: the header is not in UTF-8; "},
		{"old line ends", "rpm,shown_deg,locked_deg\r800,12.5,10\r", "readings.csv:1:25: lines end in a lone carriage return; save the file with LF or CRLF"},
		{"no header", "800,12.5,10\n900,12.5,10\n", "readings.csv:1:1: the header line is missing; the first line names the columns"},
		{"missing column", "rpm,shown_deg\n800,12.5\n", `readings.csv:1:1: column "locked_deg" is missing; the first line names the columns`},
		{"column twice", "rpm,shown_deg,locked_deg,RPM\n800,12.5,10,800\n", `readings.csv:1:26: column "rpm" is there twice (fields 1 and 4); keep one of them`},
		{"other column twice", "rpm,shown_deg,locked_deg,who,who\n800,12.5,10,a,b\n", `readings.csv:1:30: column "who" is there twice`},
		{"text in a number", header + "fast,12.5,10\n", `readings.csv:2:1: rpm "fast" is not a number; write the speed in rpm such as 800`},
		{"another unit", header + "800 km/h,12.5,10\n", `readings.csv:2:1: rpm "800 km/h" is not a number; `},
		{"two speeds in one", "rpm;shown_deg;locked_deg\n22,500;11;10\n", "readings.csv:2:1: rpm \"22,500\" may be 22\u2009500 rpm or 22.5 rpm; write whole rpm such as 3200"},
		{"point for a thousands mark", header + "3.200,11,10\n", `readings.csv:2:1: rpm "3.200" is too slow for a reading: 3.2 rpm; write whole rpm such as 3200, without a thousands mark`},
		{"both sides at once", header + "800,-2 ATDC,10\n", `readings.csv:2:5: shown_deg "-2 ATDC" has a minus and ATDC, which may mean either side; write degrees BTDC`},
		{"a word that is no unit", header + "800,2 late,10\n", `readings.csv:2:5: shown_deg "2 late" is not a number; `},
		{"heading with a wrong unit", "speed (km/h),shown,locked\n800,12,10\n", `readings.csv:1:1: the heading "speed (km/h)" has a unit that is not one of rpm; write the speed in rpm`},
		{"two headings for one", "rpm,light,observed,locked\n800,12,12,10\n", `readings.csv:1:11: the heading "observed" may be shown_deg, and so may "light"; write shown_deg over the one that is meant`},
		{"a heading that may be either", "rpm,timing,locked\n800,12,10\n", `readings.csv:1:1: column "shown_deg" is missing; `},
		{"hexadecimal", header + "0x320,12.5,10\n", `readings.csv:2:1: rpm "0x320" is not a number; `},
		{"underscore", header + "3_200,12.5,10\n", `readings.csv:2:1: rpm "3_200" is not a number; `},
		{"NaN", header + "800,NaN,10\n", `readings.csv:2:5: shown_deg "NaN" is not a finite number; `},
		{"infinity", header + "800,-Inf,10\n", `readings.csv:2:5: shown_deg "-Inf" is not a finite number; `},
		{"out of range", header + "800,1e999,10\n", `readings.csv:2:5: shown_deg "1e999" is out of range; `},
		{"zero speed", header + "0,12.5,10\n", `readings.csv:2:1: rpm "0" is not a running speed: 0 rpm; write the speed of the reading in rpm such as 800`},
		{"negative speed", header + "-800,12.5,10\n", `readings.csv:2:1: rpm "-800" is not a running speed: -800 rpm; `},
		{"light at 700°", header + "800,700,10\n", `readings.csv:2:5: shown_deg "700" is impossible: 700°; write degrees BTDC from -180 to 180`},
		{"locked at 700°", header + "800,10,-700\n", `readings.csv:2:8: locked_deg "-700" is impossible: -700°; `},
		{"empty number", header + "800,,10\n", "readings.csv:2:5: shown_deg is empty; write degrees BTDC such as 12.5, or none where the light did not flash"},
		{"uncertainty of nought", "rpm,shown_deg,locked_deg,u_deg\n800,12.5,10,0\n", `readings.csv:2:13: u_deg "0" is not an uncertainty: 0°; write one standard uncertainty in degrees above zero such as 0.3, or leave it empty`},
		{"negative allowance", "rpm,shown_deg,locked_deg,allowance_us\n800,12.5,10,-20\n", `readings.csv:2:13: allowance_us "-20" is impossible: -20 µs; `},
		{"row too short", header + "800,12.5\n", "readings.csv:2:1: 2 fields where the header has 3; give every line one field a column"},
		{"row too long", header + "800,12,5,10\n", "readings.csv:2:1: 4 fields where the header has 3; give every line one field a column, empty where there is nothing to say; with a decimal comma, put semicolons between the fields"},
		{"quotation mark left open", "rpm,shown_deg,locked_deg,note\n800,12.5,10,\"warm\n900,12.5,10,x\n", "readings.csv:2:1: a quotation mark that opens on this line is not closed as it should be"},
		{"quotation mark inside", "rpm,shown_deg,locked_deg,note\n800,12.5,10,6\" pipe\n", "readings.csv:2:14: a quotation mark inside a field without quotes; "},
		{"two decimal marks", "rpm;shown_deg;locked_deg\n800;1.012,5;10\n", `readings.csv:2:5: shown_deg "1.012,5" is not a number; `},
		{"a note without end", "rpm,shown_deg,locked_deg,note\n800,12.5,10," + strings.Repeat("x", 5000) + "\n", "readings.csv:2:13: the field is longer than 4096 bytes; "},
		{"second line of a quoted note counted", "rpm,shown_deg,locked_deg,note\n800,12.5,10,\"a\nb\"\nx,1,1,\n", `readings.csv:4:1: rpm "x" is not a number; `},
	} {
		table, err := readings.Read(strings.NewReader(c.text), "readings.csv")
		if err == nil {
			t.Errorf("%s: no error, read %+v", c.name, table)
			continue
		}
		var where *readings.FileError
		if !errors.As(err, &where) {
			t.Errorf("%s: %T is not a positioned error: %v", c.name, err, err)
		}
		if !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, err, c.want)
		}
		if strings.Contains(err.Error(), "%!") || !strings.Contains(err.Error(), "; ") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: not one line of where, what and remedy: %q", c.name, err)
		}
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the disk is gone") }

func TestReadPassesOnAFailingFile(t *testing.T) {
	_, err := readings.Read(failing{}, "readings.csv")
	if err == nil || !strings.Contains(err.Error(), "the disk is gone") {
		t.Errorf("error %v", err)
	}
	_, err = readings.Read(io.MultiReader(strings.NewReader(header+"800,12.5,10\n"), failing{}), "readings.csv")
	if err == nil || !strings.Contains(err.Error(), "the disk is gone") {
		t.Errorf("error half-way: %v", err)
	}
}

// endless gives the same line again and again.
type endless struct {
	head, line string
	at         int
}

func (e *endless) Read(p []byte) (int, error) {
	if e.head != "" {
		n := copy(p, e.head)
		e.head = e.head[n:]
		return n, nil
	}
	var n int
	for n < len(p) {
		k := copy(p[n:], e.line[e.at:])
		n += k
		e.at = (e.at + k) % len(e.line)
	}
	return n, nil
}

func TestReadHasBounds(t *testing.T) {
	_, err := readings.Read(&endless{head: header, line: "800,12.5,10\n"}, "readings.csv")
	if err == nil || !strings.HasPrefix(err.Error(), "readings.csv:1000002:1: more than 1000000 readings; split the file") {
		t.Errorf("endless rows: %v", err)
	}
	_, err = readings.Read(&endless{head: "rpm,shown_deg,locked_deg,note\n800,12.5,10,\"", line: "never closed "}, "readings.csv")
	if err == nil || !strings.HasPrefix(err.Error(), "readings.csv: the file is longer than 128 MiB; ") {
		t.Errorf("endless note: %v", err)
	}
	_, err = readings.Read(strings.NewReader(strings.Repeat("a,", 100)+"rpm\n"), "readings.csv")
	if err == nil {
		t.Error("a hundred columns of one name went through")
	}
}

func drawTable(t *rapid.T) *readings.Table {
	text := rapid.OneOf(rapid.StringMatching(`[ -~°±\n]{0,20}`),
		rapid.StringMatching(`'{0,2}[=+@\t\n-][0-9.,e=+-]{0,5}`))
	name := rapid.OneOf(rapid.StringMatching(`'?[=+@-]?[a-z]{1,6}_x`), // and headings that stand for columns of ours
		rapid.SampledFrom([]string{"Notes", "speed (km/h)", "cylinder", "timing light", "delay [ms]", "set", "u shown"}))
	table := &readings.Table{Extra: rapid.SliceOfNDistinct(name, 0, 3, rapid.ID[string]).Draw(t, "extra")}
	if len(table.Extra) == 0 {
		table.Extra = nil
	}
	optional := func(label string, lo, hi float64) float64 {
		if rapid.Bool().Draw(t, label+" given") {
			return rapid.Float64Range(lo, hi).Draw(t, label)
		}
		return 0
	}
	for range rapid.IntRange(0, 8).Draw(t, "rows") {
		r := readings.Row{
			Speed:  quantity.Speed(rapid.Float64Range(20, 30000).Draw(t, "rpm")),
			Shown:  quantity.Crank(rapid.Float64Range(-180, 180).Draw(t, "shown")),
			Locked: quantity.Crank(rapid.Float64Range(-180, 180).Draw(t, "locked")),
			U:      quantity.Crank(optional("u", 1e-3, 90)), Housing: quantity.Shaft(optional("housing", -180, 180)),
			Note: text.Draw(t, "note"),
		}
		if rapid.Bool().Draw(t, "allowance given") {
			r.AllowanceStated, r.Allowance = true, quantity.Time(rapid.Float64Range(0, 20000).Draw(t, "allowance"))
		}
		for range table.Extra {
			r.Extra = append(r.Extra, text.Draw(t, "field"))
		}
		if rapid.IntRange(0, 4).Draw(t, "flashes") == 0 {
			r.Shown = 0
			table.Dark = append(table.Dark, r)
		} else {
			table.Rows = append(table.Rows, r)
		}
	}
	return table
}

func TestWriteThenReadGivesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t)
		var b bytes.Buffer
		if err := table.Write(&b); err != nil {
			t.Fatal(err)
		}
		got, err := readings.Read(bytes.NewReader(b.Bytes()), "again.csv")
		if err != nil {
			t.Fatalf("%v in\n%s", err, b.String())
		}
		if !reflect.DeepEqual(got, table) {
			t.Fatalf("got  %+v\nwant %+v\nfile %q", got, table, b.String())
		}
	})
}

// A note that a spreadsheet would run as a formula stands behind an apostrophe in the file, figures do not, and all of
// it comes back as it was. A note as long as may be stays one; line ends inside a text become LF. The texts are
// invented.
func TestWriteDefusesFormulas(t *testing.T) {
	long := "=" + strings.Repeat("x", 4095)
	table := &readings.Table{Extra: []string{"=cmd"}}
	for _, note := range []string{`=hyperlink("x","y")`, "+1+1", "-2+3", "@sum(a1)", "\t=1", "\r=1", "\rplain",
		"a\r\nb", "-1.5", long} {
		table.Rows = append(table.Rows, readings.Row{Speed: 800, Shown: -12.5, Locked: -10, Note: note,
			Extra: []string{note}})
	}
	var b bytes.Buffer
	if err := table.Write(&b); err != nil {
		t.Fatal(err)
	}
	plain, err := csv.NewReader(bytes.NewReader(b.Bytes())).ReadAll() // as a spreadsheet sees it
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range plain {
		for k, cell := range row {
			if number := i > 0 && (k < 3 || cell == "-1.5"); !number && strings.ContainsAny(cell[:1], "=+-@\t\r\n") ||
				number && cell[0] == '\'' {
				t.Errorf("row %d holds the cell %q", i, cell)
			}
		}
	}
	got, err := readings.Read(bytes.NewReader(b.Bytes()), "again.csv")
	if err != nil {
		t.Fatal(err)
	}
	for i := range table.Rows {
		r := &table.Rows[i]
		r.Note = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(r.Note)
		r.Extra = []string{r.Note}
	}
	if !reflect.DeepEqual(got, table) {
		t.Errorf("got  %.300q\nwant %.300q", fmt.Sprint(got), fmt.Sprint(table))
	}
}

func TestWriteRefuses(t *testing.T) {
	good := readings.Row{Speed: 800, Shown: 10, Locked: 10}
	for name, table := range map[string]*readings.Table{
		"impossible row":            {Rows: []readings.Row{{Speed: -1}}},
		"NaN":                       {Rows: []readings.Row{{Speed: 800, Shown: quantity.Crank(math.NaN())}}},
		"column of a known name":    {Extra: []string{"RPM"}, Rows: []readings.Row{good}},
		"columns of the same name":  {Extra: []string{"a", "A"}},
		"field without a column":    {Rows: []readings.Row{{Speed: 800, Extra: []string{"x"}}}},
		"note in another encoding":  {Rows: []readings.Row{{Speed: 800, Note: "\xb0"}}},
		"column in another one":     {Extra: []string{"\xb0"}},
		"a note that goes on":       {Rows: []readings.Row{{Speed: 800, Note: strings.Repeat("x", 5000)}}},
		"more columns than we read": {Extra: make([]string, 70)},
	} {
		var b bytes.Buffer
		if err := table.Write(&b); err == nil || b.Len() > 0 {
			t.Errorf("%s: error %v, %d bytes written", name, err, b.Len())
		}
	}
}

// The corpus under testdata/fuzz is run with the tests; every seed is also listed here.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"", header, header + "800,12.5,10\n", "\ufeff" + header, "rpm;shown_deg;locked_deg\n800;12,5;10\n", "rpm\tshown_deg\tlocked_deg\n1\t2\t3\n",
		"rpm,shown_deg,locked_deg,u_deg,allowance_us,housing_deg,note\r\n800,12.5,10,0.3,120,-0.9,\"a \"\"b\"\"\r\nc\"\r\n", header + "800,12.5,10,\"\n", header + "\"800,1,1\n",
		inUTF16(header, true), inUTF16(header, false), "\x00\x01\x02", "rpm,rpm\n", "rpm,shown_deg,locked_deg\r800,1,1\r", header + "800,1e400,10\n", header + "nan,inf,-inf\n", "a,b,c,\n,,,\n", "800,1,2\n",
		"Engine speed (rpm),Light / °BTDC,Locked\n\"2,200\",2 ATDC,No. 4\n", "speed;shown (atdc);set\n2.200;-0;0\n", "n,read,target,delay [ms]\n1 200,± 3,#,0.1 us\n", "speed (,shown,locked\n", "notes,rpm,shown,locked\n,,,\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		table, err := readings.Read(bytes.NewReader(data), "f.csv")
		if err != nil {
			var where *readings.FileError
			if !errors.As(err, &where) {
				t.Fatalf("%T is not a positioned error: %v", err, err)
			}
			if where.Problem == "" || where.Remedy == "" || !strings.HasPrefix(err.Error(), "f.csv") || strings.Contains(err.Error(), "%!") {
				t.Fatalf("not where, what and remedy: %q", err)
			}
			if lines := bytes.Count(data, []byte("\n")) + 1; where.Line < 0 || where.Line > lines || where.Line > 0 && where.Column < 1 {
				t.Fatalf("position %d:%d is not in the file of %d lines", where.Line, where.Column, lines)
			}
			return
		}
		if len(table.Rows)+len(table.Dark) > bytes.Count(data, []byte("\n"))+1 {
			t.Fatalf("%d readings from %d bytes", len(table.Rows), len(data))
		}
		for i, r := range slices.Concat(table.Rows, table.Dark) {
			if err := r.Check(); err != nil {
				t.Fatalf("reading %d went through: %v", i+1, err)
			}
			if len(r.Extra) != len(table.Extra) {
				t.Fatalf("reading %d has %d fields for %d other columns", i+1, len(r.Extra), len(table.Extra))
			}
		}
		res, err := readings.Fit(table.Rows, boat())
		if err != nil {
			t.Fatalf("what was read cannot be fitted: %v", err)
		}
		if _, err := json.Marshal(res); err != nil {
			t.Fatalf("the fit cannot be written: %v", err)
		}
		if words := strings.Join(append(res.Advice, res.Warnings...), ""); len(res.Advice) == 0 || strings.Contains(words, "%!") || strings.Contains(words, "NaN") {
			t.Fatalf("advice %q, warnings %q", res.Advice, res.Warnings)
		}
		var b bytes.Buffer
		if err := table.Write(&b); err != nil {
			if len(table.Extra) > 40 {
				return // close to the most columns there may be
			}
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again, err := readings.Read(&b, "f.csv")
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		if len(again.Rows) != len(table.Rows) || len(again.Dark) != len(table.Dark) {
			t.Fatalf("%d readings became %d", len(table.Rows), len(again.Rows))
		}
		for i := range again.Rows {
			a, b := again.Rows[i], table.Rows[i]
			a.Note, b.Note, a.Extra, b.Extra = "", "", nil, nil
			if !reflect.DeepEqual(a, b) {
				t.Fatalf("reading %d: %+v became %+v", i+1, b, a)
			}
		}
	})
}

func TestCorpusIsThere(t *testing.T) {
	files, err := filepath.Glob("testdata/fuzz/FuzzRead/*")
	if err != nil || len(files) == 0 {
		t.Errorf("no corpus (%v): it is part of the tests", err)
	}
	for _, f := range files {
		if _, err := os.Stat(f); err != nil {
			t.Error(err)
		}
	}
}

func million() []byte {
	var b bytes.Buffer
	b.WriteString("rpm,shown_deg,locked_deg,u_deg,allowance_us\n")
	for i := range readings.MaxRows {
		n := 750 + i%3400
		b.WriteString(strconv.Itoa(n))
		fmt.Fprintf(&b, ",%.1f,10,0.4,%d\n", 11.9-0.0005*float64(n), 100+20*(i%3))
	}
	return b.Bytes()
}

func BenchmarkReadMillion(b *testing.B) {
	data := million()
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		table, err := readings.Read(bytes.NewReader(data), "million.csv")
		if err != nil || len(table.Rows) != readings.MaxRows {
			b.Fatal(err)
		}
	}
}
