package report

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
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

// TestSetUpSheets: three pages at most, stops and cautions before all else, every item, every
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
			if n := len(p.Doc.Pages); n > 3 {
				t.Errorf("%d pages, more than three", n)
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

// TestProofPrintsTheMainFigures: the errors over the speed range stand on the paper with four digits, those of the twin
// rounded; and the twin comes out of the file unchanged, with all of them.
func TestProofPrintsTheMainFigures(t *testing.T) {
	k := sandpiper(t)
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "proof", p)
	file := keep(t, "proof", p)
	run(t, "qpdf", "--check", file)
	_, table, _ := strings.Cut(run(t, "pdftotext", "-layout", file, "-"), "Error over the speed range")
	table, _, _ = strings.Cut(table, "Early is positive.")
	lines := map[string][]string{}
	for _, line := range strings.Split(strings.ReplaceAll(table, "−", "-"), "\n") {
		f := strings.Fields(regexp.MustCompile(`^(\s*\d)\s(\d{3})\b`).ReplaceAllString(line, "$1$2"))
		if len(f) == 5 {
			lines[f[0]] = f[1:]
		}
	}
	if n := len(k.Proof.Is.ErrorAt); n < 10 || len(lines) < n {
		t.Fatalf("%d lines for %d speeds:\n%s", len(lines), n, table)
	}
	near := func(text string, want float64) bool {
		got, err := strconv.ParseFloat(text, 64)
		return err == nil && math.Abs(got-want) <= 0.5e-3*math.Abs(want)+1e-6
	}
	for i, e := range k.Proof.Is.ErrorAt {
		was := k.Proof.Was.ErrorAt[i]
		row := lines[strconv.Itoa(int(e.RPM))]
		if len(row) != 4 || !near(row[0], was.Value) || !near(row[1], was.U) || !near(row[2], e.Value) || !near(row[3], e.U) {
			t.Errorf("at %g rpm the paper says %v, the twin %v ± %v, %v ± %v", e.RPM, row, was.Value, was.U, e.Value, e.U)
		}
	}
	if long := regexp.MustCompile(`\d\.\d{7,}`).FindString(run(t, "pdftotext", file, "-")); long != "" {
		t.Errorf("%s stands on the paper: nobody reads so many digits", long)
	}
	out := filepath.Join(t.TempDir(), "job.json")
	run(t, "pdfdetach", "-savefile", "job.json", "-o", out, file)
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
	above, _, told := strings.Cut(squeeze(run(t, "pdftotext", "-raw", "-l", "1", keep(t, "proof", p), "-")), squeeze("found Largest"))
	for _, c := range k.Judged.Clauses {
		if !told || !strings.Contains(above, squeeze(c.ID.Title()+" "+string(c.State))) {
			t.Errorf("%s: %s does not stand on the first page, above what was found", c.ID.Title(), c.State)
		}
	}
	for _, w := range []string{"harbour pilots", "M. Quay", "2031-05-04", "6 cylinders, firing order 1 5 3 6 2 4", "clockwise, seen from the front", "180 µs", "1.3° of the shaft",
		"does not fit, not used", "does not fit, not used; read in a hurry", "parallax at the pointer", "assumed", "measured at the last overhaul", k.Evidence[0].SHA256, k.Chain.Head, "41 events", fmt.Sprintf("1 of %d", len(p.Doc.Pages)), fmt.Sprintf("%[1]d of %[1]d", len(p.Doc.Pages))} {
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
		k.Corrections = append(k.Corrections, Correction{When: "2031", What: "delay allowance", From: "100 µs", To: "120 µs", By: "M. Quay"})
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
	_, noSteps := Steps(nil, nil, nil, nil, Stamp{})
	for name, err := range map[string]error{"twin": twin, "two": two, "card": noCard, "sheet": noSheet, "proof": noProof, "steps": noSteps} {
		if err == nil || !message.MatchString(err.Error()) {
			t.Errorf("%s: %v does not say where – what – remedy", name, err)
		}
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
