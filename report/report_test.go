package report

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/verdict"
)

var examples = []string{"sandpiper", "gorse-hill", "heron-ferry", "mill-pump", "tern-single", "ember-twelve"}

// run asks an outside tool. Where it is missing the test is skipped aloud, but fails on
// the test machine.
func run(t testing.TB, name string, args ...string) string {
	t.Helper()
	if testing.Short() {
		t.Skipf("NOT CHECKED with -short: nothing is compared with %s", name)
	}
	if _, err := exec.LookPath(name); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed", name)
		}
		t.Skipf("NOT CHECKED: %s is not installed", name)
	}
	var out, bad bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &bad
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%s%s", name, err, out.String(), bad.String())
	}
	return out.String()
}

// keep writes the paper to a file; LOOK=folder keeps it there.
func keep(t testing.TB, name string, p *Paper) string {
	t.Helper()
	dir := os.Getenv("LOOK")
	if dir == "" {
		dir = t.TempDir()
	}
	data, err := p.PDF()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, name+".pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// legible fails the test where words lie over each other or leave the sheet.
func legible(t testing.TB, name string, p *Paper) {
	t.Helper()
	for i, d := range p.Doc.Pages {
		for _, c := range d.Clashes() {
			t.Errorf("%s, page %d: %.60q lies over %.60q", name, i+1, c[0].Text, c[1].Text)
		}
		for _, b := range d.Outside() {
			t.Errorf("%s, page %d: %.60q leaves the sheet", name, i+1, b.Text)
		}
		for _, b := range d.Crossings() {
			t.Errorf("%s, page %d: a line crosses %.60q", name, i+1, b.Text)
		}
	}
}

// squeeze drops white space, so that words can be found across line ends.
func squeeze(s string) string { return strings.Join(strings.Fields(s), "") }

// TestSetUpSheets: three pages at most and two for the work boat, stops and cautions before all else, every item, every
// distance, every caution, every line of the card that cures one.
func TestSetUpSheets(t *testing.T) {
	for _, name := range examples {
		t.Run(name, func(t *testing.T) {
			c, s := card(t, name)
			p, err := SetUp(c, s, Stamp{Date: someDay})
			if err != nil {
				t.Fatal(err)
			}
			legible(t, name, p)
			file := keep(t, "set-up-"+name, p)
			run(t, "qpdf", "--check", file)
			text := squeeze(run(t, "pdftotext", "-raw", file, "-"))
			const list = "Assumed, since nobody measured it, with the range it may lie in"
			most := 3
			if name == "sandpiper" {
				most = 2
			}
			if n := len(p.Doc.Pages); n > most {
				t.Errorf("%d pages, more than %d", n, most)
			}
			o := s.InOrder()
			for i, it := range append(slices.Clone(o.Stops.Items), o.Cautions.Items...) {
				own := squeeze(it.Because + "." + "If ignored")
				if it.Verdict == sheet.Caution {
					own = squeeze(it.Because + it.CureText())
				}
				at := strings.Index(text, own)
				if drawn := strings.Index(text, squeeze("Keep people whole")); at < 0 || at > drawn {
					t.Errorf("%d, %s: reason and cure do not stand above the drawings (%d, %d)", i, it.ID, at, drawn)
				}
				if !strings.Contains(text, squeeze(it.CureText())) {
					t.Errorf("%s: %q is not on the paper", it.ID, it.CureText())
				}
			}
			if len(s.Assumed()) < 20 {
				t.Errorf("only %d inputs are assumed", len(s.Assumed()))
			}
			_, after, _ := strings.Cut(text, squeeze(list))
			for _, in := range s.Assumed() {
				if !strings.Contains(after, squeeze(in.Path+" "+in.Value)) {
					t.Errorf("%s %s is assumed and not on the paper's list", in.Path, in.Value)
				}
			}
			for _, m := range s.Marks { // the marks stand in a table and on the drawing
				for _, w := range []string{m.Name, quantity.Number(m.ArcMM, 1) + quantity.Number(m.ChordMM, 1), m.Direction} {
					if !strings.Contains(text, squeeze(w)) {
						t.Errorf("mark %s: %q is not on the paper", m.Name, w)
					}
				}
			}
			for _, it := range s.Items {
				if strings.HasPrefix(it.ID, "mark_") || it.ID == "cylinder_map" {
					continue
				}
				words := []string{it.Title, it.Text}
				if it.Verdict != sheet.Fine || len(s.Items) < 25 { // long sheets leave out why something is fine
					words = append(words, it.Because)
				}
				for _, w := range words {
					if !strings.Contains(text, squeeze(w)) {
						t.Errorf("item %s: %q is not on the paper", it.ID, w)
					}
				}
			}
			for _, w := range append([]string{s.Job, "seen from the front", "2031-05-04", "page"}, s.Cautions...) {
				if !strings.Contains(text, squeeze(w)) {
					t.Errorf("%q is not on the paper", w)
				}
			}
			for _, e := range s.Expect {
				if !strings.Contains(text, squeeze(e.Why)) {
					t.Errorf("what to expect at %g rpm is not on the paper", e.RPM)
				}
			}
		})
	}
}

// numbersIn counts the numbers of a text.
func numbersIn(text string) map[string]int {
	out := map[string]int{}
	for _, n := range regexp.MustCompile(`-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?`).FindAllString(text, -1) {
		out[n]++
	}
	return out
}

// TestProofHoldsEveryNumber: each number of the machine-readable twin can be read from the paper,
// as often as it stands in the twin; and the twin comes out of the file unchanged.
func TestProofHoldsEveryNumber(t *testing.T) {
	k := sandpiper(t)
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "proof", p)
	file := keep(t, "proof", p)
	run(t, "qpdf", "--check", file)
	printed := numbersIn(run(t, "pdftotext", "-raw", file, "-"))
	want := map[string]int{}
	dec := json.NewDecoder(bytes.NewReader(k.Stamp.JSON))
	dec.UseNumber()
	n := 0
	for {
		tok, err := dec.Token()
		if err != nil {
			break
		}
		if v, ok := tok.(json.Number); ok {
			want[v.String()]++
			n++
		}
	}
	if n < 100 {
		t.Fatalf("only %d numbers in the twin", n)
	}
	for v, times := range want {
		if printed[v] < times {
			t.Errorf("%s stands %d times in the twin and %d times on the paper", v, times, printed[v])
		}
	}
	_, record, _ := strings.Cut(run(t, "pdftotext", "-raw", file, "-"), "The record")
	if raw := regexp.MustCompile(`[a-z]+_[a-z_]+|[{}“”]`).FindString(record); raw != "" {
		t.Errorf("%q stands in the record: a key or a mark of the file, not words", raw)
	}
	out := filepath.Join(t.TempDir(), "job.json")
	run(t, "pdfdetach", "-save", "1", "-o", out, file)
	got, err := os.ReadFile(out)
	if err != nil || !bytes.Equal(got, k.Stamp.JSON) {
		t.Errorf("the twin came out changed: %d bytes of %d, %v", len(got), len(k.Stamp.JSON), err)
	}
}

// TestProofSaysWhatMatters: the verdict first, then who, what was done, what it rests on, the cautions.
func TestProofSaysWhatMatters(t *testing.T) {
	k := sandpiper(t)
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	text := run(t, "pdftotext", "-raw", keep(t, "proof", p), "-")
	tight := squeeze(text)
	first := squeeze(string(k.Judged.Word) + sentence(k.Judged.First) + "Next:" + k.Judged.Next)
	if at := strings.Index(tight, first); at < 0 || at > 120 {
		t.Errorf("the verdict stands at letter %d of the paper", at)
	}
	above, _, drawn := strings.Cut(squeeze(run(t, "pdftotext", "-raw", "-l", "1", keep(t, "proof", p), "-")), squeeze("Timing error over the speed range"))
	for _, c := range k.Judged.Clauses {
		if !drawn || !strings.Contains(above, squeeze(c.ID.Title()+" "+string(c.State))) {
			t.Errorf("%s: %s does not stand above the chart of the first page", c.ID.Title(), c.State)
		}
	}
	for _, w := range []string{"harbour pilots", "M. Quay", "2031-05-04", "6 cylinders, firing order 1 5 3 6 2 4", "clockwise, seen from the front", "180 µs", "1.3° of the shaft",
		"does not fit, not used", "does not fit, not used; read in a hurry", "parallax at the pointer", "assumed", "measured at the last overhaul", k.Evidence[0].SHA256, k.Chain.Head, "41 events", "1 of 6", "6 of 6"} {
		if !strings.Contains(tight, squeeze(w)) {
			t.Errorf("%q is not on the paper", w)
		}
	}
	// The cautions that every sheet and report carries (common practice).
	for _, w := range []string{"instructions and local law come first", "trained people", "calculates, it does not certify", "lethal shock", "power off before anyone turns the engine by hand",
		"No cranking with live injectors, fuel in the bowl or an open gas line until base timing is proven", "Clamp tight before any timing check", "Stop the engine before settings change", "Power-cycle and read back", "Exhaust outside by a hose", "Extinguisher"} {
		if !strings.Contains(tight, squeeze(w)) {
			t.Errorf("the caution %q is not on the paper", w)
		}
	}
}

// TestVerdictShapes: pass, fail and undecided look different without colour.
func TestVerdictShapes(t *testing.T) {
	seen := map[string]bool{}
	for _, word := range []verdict.Word{verdict.Pass, verdict.Fails, verdict.NotShownYet} {
		k := sandpiper(t)
		k.Judged.Word = word
		p, err := Proof(k)
		if err != nil {
			t.Fatal(err)
		}
		svg := p.Doc.Pages[0].SVG(drawing.InPage)
		at := strings.Index(svg, ">"+string(word)+"</text>")
		if at < 0 {
			t.Fatalf("the word %q is missing", word)
		}
		start := strings.LastIndex(svg[:at], "Proof of timing") // the mark is drawn between the strip and the word
		seen[svg[start:strings.LastIndex(svg[:at], "<text")]] = true
	}
	if len(seen) != 3 {
		t.Errorf("%d different marks for three verdicts", len(seen))
	}
}

// TestSameBytes: the same job gives the same file.
func TestSameBytes(t *testing.T) {
	var files [2][]byte
	for i := range files {
		p, err := Proof(sandpiper(t))
		if err != nil {
			t.Fatal(err)
		}
		if files[i], err = p.PDF(); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(files[0], files[1]) {
		t.Error("two files of one job differ")
	}
}

func TestSheetSizes(t *testing.T) {
	c, s := card(t, "sandpiper")
	for size, want := range map[drawing.SheetSize][2]float64{drawing.A4: {210, 297}, drawing.Letter: {215.9, 279.4}} {
		p, err := SetUp(c, s, Stamp{Date: someDay, Paper: size})
		if err != nil {
			t.Fatal(err)
		}
		legible(t, "set-up", p)
		if d := p.Doc.Pages[0]; d.Width != want[0] || d.Height != want[1] {
			t.Errorf("%g × %g mm, want %g × %g", d.Width, d.Height, want[0], want[1])
		}
	}
}

// TestHardInput: long names, other scripts, hundreds of rows and missing figures still give a sheet.
func TestHardInput(t *testing.T) {
	long := strings.Repeat("Sandpiper of Marlow Quay ", 400)
	k := sandpiper(t)
	k.Customer, k.Technician = "סירת העבודה", long
	k.Card.Job.Name = long
	k.Details = []Field{{long, long}}
	for range 300 {
		k.Overrides = append(k.Overrides, Override{"2031", long[:200], "reason 🚤", "船長"})
		k.Corrections = append(k.Corrections, Correction{"2031", "delay allowance", "100 µs", "120 µs", "M. Quay"})
	}
	k.Overrides = append(k.Overrides, Override{"2031", "step", long, "M. Quay"})
	k.Evidence = append(k.Evidence, Evidence{Name: long, SHA256: "\xff\xfe"})
	k.Proof.Combined, k.Proof.DOF = readings.Number(math.NaN()), readings.Number(math.Inf(1))
	k.Proof.Worst.U, k.Proof.Is.Offset.Value = math.Inf(1), math.NaN()
	k.Proof.Was, k.Proof.Check = nil, nil
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "hard", p)
	if len(p.Warnings()) == 0 {
		t.Error("no warning of letters that cannot be printed")
	}
	run(t, "qpdf", "--check", keep(t, "hard", p))
}

// TestFewReadings: proofs that know little print what they know, whatever the example.
func TestFewReadings(t *testing.T) {
	for _, name := range examples {
		c, _ := card(t, name)
		all := rows(t, name)
		set := readings.FromCard(c)
		for _, n := range []int{1, 2, 3, len(all)} {
			p, err := readings.Prove(nil, all[:min(n, len(all))], set, set, readings.Simulation{Draws: 2000, Seed: 1})
			if err != nil {
				continue // refused with a message of its own
			}
			paper, err := Proof(Case{Card: c, Proof: p, Judged: judged(c, all[:min(n, len(all))], p), After: all[:min(n, len(all))], Stamp: Stamp{Date: someDay}})
			if err != nil {
				t.Errorf("%s, %d readings: %v", name, n, err)
				continue
			}
			legible(t, name, paper)
			if text := run(t, "pdftotext", keep(t, "few-"+name, paper), "-"); strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
				t.Errorf("%s, %d readings: a figure that is no number is printed", name, n)
			}
		}
	}
}

func TestNothingToPrint(t *testing.T) {
	c, s := card(t, "sandpiper")
	message := regexp.MustCompile(`^report – .+ – .+[^.]$`)
	k := sandpiper(t)
	k.Stamp.JSON = []byte(`{"a": 1`)
	_, twin := Proof(k)
	k.Stamp.JSON = []byte(`{} {}`)
	_, two := Proof(k)
	_, noCard := SetUp(nil, s, Stamp{})
	_, noSheet := SetUp(c, nil, Stamp{})
	_, noProof := Proof(Case{Card: c})
	_, noSteps := Steps(nil, nil, Stamp{})
	for name, err := range map[string]error{"twin": twin, "two": two, "card": noCard, "sheet": noSheet, "proof": noProof, "steps": noSteps} {
		if err == nil || !message.MatchString(err.Error()) {
			t.Errorf("%s: %v does not say where – what – remedy", name, err)
		}
	}
}

// TestRecordInWords: the record is told in words, in its order, with units and with the digits as written.
func TestRecordInWords(t *testing.T) {
	top, err := recordOf([]byte(`{"idle_rpm":1.50,"offset_deg":{"value":-2e-3,"dof":4,"free":null},"some_words":["x y","z"],` +
		`"error_at":[{"rpm":750,"U":0.30},{"rpm":1000,"U":0.25}],"odd":[{"a":1},{"b":[2,{"c":true}]}]}`))
	if err != nil {
		t.Fatal(err)
	}
	got := recordLines(*top, "", "")
	want := []recordLine{{says: "idle 1.50 rpm"}, {of: "constant error", says: "value -2e-3°; degrees of freedom 4; free not known"},
		{of: "some words", says: "x y; z"},
		{of: "timing error over the speed range", heads: []string{"speed, rpm", "expanded uncertainty, °"}, rows: [][]string{{"750", "0.30"}, {"1000", "0.25"}}},
		{of: "odd 1", says: "a 1"}, {of: "odd 2, b", says: "2"}, {of: "odd 2, b 2", says: "c yes"}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
}

// TestTapeFromCard: the tape of the work boat carries the sheet's marks, and its lead mark
// lies where the sheet says, 88.0 mm clockwise of the zero mark.
func TestTapeFromCard(t *testing.T) {
	for _, name := range examples {
		c, s := card(t, name)
		tape := Tape(c, s)
		if _, err := tape.Pages(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for i, m := range s.Marks {
			if got := tape.Distance(tape.Marks[i].Before); math.Abs(got-m.ArcMM) > 0.001 {
				t.Errorf("%s: %s lies %.3f mm along the tape, the sheet says %.3f", name, m.Name, got, m.ArcMM)
			}
		}
	}
}

func TestStepList(t *testing.T) {
	c, _ := card(t, "sandpiper")
	var steps []Step
	for i := range 40 {
		s := Step{Part: []string{"Make safe", "Out with the old unit", "Phase"}[i/14], Title: "Battery negative off", Do: []string{"Take the lead off.", "Tape it up."}, Proof: []string{"the lamp at the coil is dark"}}
		if i%5 == 0 {
			s.Hazard = "A spark box stores a lethal shock after the key is off: wait, then measure."
		}
		steps = append(steps, s)
	}
	p, err := Steps(c, steps, Stamp{Date: someDay})
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "steps", p)
	file := keep(t, "steps", p)
	run(t, "qpdf", "--check", file)
	if text := run(t, "pdftotext", file, "-"); strings.Count(text, "Battery negative off") != 40 {
		t.Error("a step is missing")
	}
}

// On paper what can hurt stands above what to do, and what to do when it is otherwise is a table of its own.
func TestHazardAboveTextAndBranchesInATable(t *testing.T) {
	c, _ := card(t, "sandpiper")
	s := Step{Part: "Phase", Title: "Tighten the clamp", Hazard: "Hands are by the belts.", Do: []string{"Hold the housing.", "Tighten it."},
		If: [][3]string{{"the edge moved", "the clamp turned the housing", "Turn the housing, or line up the tip, again"}, {"it slips", "oil on the flange", "wipe it dry"}}, Proof: []string{"tight"}}
	_, parts, _ := newFlow(drawing.A4, "Order of work", "x", nil).laid(s)
	if parts[0].lead != caution || parts[0].lines[0] != s.Hazard || parts[1].lines[0] != s.Do[0] {
		t.Errorf("first stands %+v, then %+v", parts[0], parts[1])
	}
	var rows []string
	for _, p := range parts {
		if p.cells != nil {
			if len(p.cells) != 3 || p.lead != rule {
				t.Errorf("a row of %+v", p)
			}
			rows = append(rows, p.cells[0][0]+" | "+p.cells[1][0]+" | "+p.cells[2][0])
		}
	}
	if got := strings.Join(rows, "\n"); got != "if | do | because\nthe edge moved | Turn the housing, or line up the tip, again | the clamp turned the housing\nit slips | wipe it dry | oil on the flange" {
		t.Errorf("the table reads\n%s", got)
	}
	p, err := Steps(c, []Step{s}, Stamp{Date: someDay})
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "steps with a table", p)
	file := keep(t, "steps with a table", p)
	text := run(t, "pdftotext", file, "-")
	for _, one := range []string{"because", "the clamp turned the housing", "wipe it dry"} {
		if !strings.Contains(text, one) {
			t.Errorf("the paper does not say %q", one)
		}
	}
	if strings.Index(text, s.Hazard) > strings.Index(text, s.Do[0]) {
		t.Error("the hazard stands below the text")
	}
}
