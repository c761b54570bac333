package report

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/sheet"
)

// A name as long as owners give (invented).
const longName = "Grey Heron of the Lower Estuary Ferry Company, starboard auxiliary engine behind the forward bulkhead, " +
	"rebuilt after the grounding off Cormorant Ledge and fitted with the distributor of the old pump house at Mill Lane"

// allPapers are the papers that a card makes.
func allPapers(t *testing.T, c *jobcard.Card, light []readings.Row, stamp Stamp) map[string]*Paper {
	t.Helper()
	must := func(p *Paper, err error) *Paper {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]*Paper{"sheet": must(SetUp(c, s, stamp)), "drawings": must(Drawings(c, s, stamp)),
		"tape": must(TapePaper(Tape(c, s), c, stamp))}
	tape := Tape(c, s)
	out["wheel"] = must(WheelPaper(drawing.WheelFace{Name: tape.Name, Diameter: 180, Turn: tape.Turn, Marks: tape.Marks, Lengths: tape.Lengths}, c, stamp))
	if k, err := sheet.CaseOf(c); err == nil {
		out["spark"] = must(Spark(k, stamp))
	}
	order, err := procedure.New(c, s)
	if err != nil {
		t.Fatal(err)
	}
	out["steps"] = must(Steps(c, s, order.Lines(order.Start()), nil, stamp))
	in := leads.Input{FullScale: 10, Impedance: 1e6}
	if list, err := leads.Make(c, in); err == nil {
		out["leads"] = must(Leads(c, list, in, stamp))
	}
	set := readings.FromCard(c)
	if proof, err := readings.Prove(nil, light, set, set, readings.Simulation{Draws: 2000, Seed: 1}); err == nil {
		out["proof"] = must(Proof(Case{Card: c, Proof: proof, Judged: judged(c, light, proof), After: light, Stamp: stamp}))
	}
	return out
}

// Every page of every paper says which paper it is, which page of how many, the card's hash and the whole name; and
// nothing is set smaller than 7 points.
func TestEveryPageSaysWhatItIs(t *testing.T) {
	cards := map[string]*jobcard.Card{}
	for _, name := range examples {
		cards[name], _ = card(t, name)
	}
	text, err := os.ReadFile("../examples/heron-ferry.yaml")
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile(`name: ("[^"]*"|[^,}\n]*)`).ReplaceAll(text, []byte(`name: "`+longName+`"`))
	if cards["long"], err = jobcard.Parse("long.yaml", named); err != nil {
		t.Fatal(err)
	}
	size := regexp.MustCompile(`font-size="([0-9.]+)"[^>]*>([^<]*)<`)
	drawn := regexp.MustCompile(`^(\d+|seen from the front.*)$`) // inside the drawings, whose own tests see to them
	for name, c := range cards {
		light := "heron-ferry"
		if name != "long" {
			light = name
		}
		stamp := Stamp{Date: someDay, By: "Ada Reed"}
		hash := fmt.Sprintf("%x", sha256.Sum256(c.Source()))
		if name == "long" {
			stamp.Identity = Identity{Job: "i6aylku7tnmmsrej", Revision: 1234, Worked: someDay, WorkedTo: someDay.AddDate(0, 0, 9)}
		}
		for kind, p := range allPapers(t, c, rows(t, light), stamp) {
			number := hash[:12] + "-" + kind
			if name == "long" {
				number = "i6aylku7tnmmsrej-" + kind + "-1234"
			}
			file := keep(t, "all-"+name+"-"+kind, p)
			run(t, "qpdf", "--check", file)
			sheets := strings.Split(run(t, "pdftotext", "-raw", file, "-"), "\f")
			for i, page := range p.Doc.Pages {
				at := fmt.Sprintf("%s, %s, page %d", name, kind, i+1)
				for _, m := range size.FindAllStringSubmatch(page.SVG(drawing.AsFile), -1) {
					if v, _ := strconv.ParseFloat(m[1], 64); v < 2.47 && kind != "tape" && !drawn.MatchString(m[2]) {
						t.Errorf("%s: %q stands %g mm high, under 7 points", at, m[2], v)
						break
					}
				}
				said := squeeze(sheets[i])
				for _, w := range []string{c.Job.Name, number, hash[:12], fmt.Sprintf("page%d of %d", i+1, len(p.Doc.Pages)), "2031-05-04"} {
					if !strings.Contains(said, squeeze(w)) {
						t.Errorf("%s: does not say %q", at, w)
					}
				}
				if strings.Contains(said, "…") {
					t.Errorf("%s: something is cut: %.60q", at, said[max(0, strings.Index(said, "…")-40):])
				}
			}
		}
	}
}

// Without a card or a job a true-scale drawing still has a number, and another one has another.
func TestNumberWithoutACard(t *testing.T) {
	tape := drawing.Tape{Name: "without a job card", Diameter: 165, Turn: drawing.Clockwise, To: 60}
	number := func() string {
		p, err := TapePaper(tape, nil, Stamp{})
		if err != nil {
			t.Fatal(err)
		}
		return regexp.MustCompile(`[0-9a-f]{12}-tape`).FindString(p.Doc.Pages[0].SVG(drawing.AsFile))
	}
	a := number()
	tape.Diameter = 166
	if b := number(); a == "" || a == b {
		t.Errorf("numbers %q and %q", a, b)
	}
	wheel, err := WheelPaper(drawing.WheelFace{Name: "x", Diameter: 180, Turn: drawing.Clockwise}, nil, Stamp{})
	if err != nil || wheel.Doc.Title != "Degree wheel, x" {
		t.Errorf("a wheel is called %q (%v)", wheel.Doc.Title, err)
	}
}

// The three lines by which anyone can check a proof are run as they are printed.
func TestCheckThisFile(t *testing.T) {
	k := sandpiper(t)
	job := []byte(`{"events": [{"hash": "` + strings.Repeat("0", 64) + `", "version": 1}, {"hash": "` + k.Chain.Head + `"}]}`)
	k.Stamp.Export = zipped(t, "job.json", job)
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	file := keep(t, "check", p)
	dir := t.TempDir()
	if err := os.Link(file, filepath.Join(dir, "FILE.pdf")); err != nil {
		data, _ := os.ReadFile(file)
		if err := os.WriteFile(filepath.Join(dir, "FILE.pdf"), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	text := strings.Join(strings.Fields(run(t, "pdftotext", "-raw", file, "-")), " ")
	line := func(from, to string) string {
		_, after, ok := strings.Cut(text, from)
		out, _, end := strings.Cut(after, to)
		if !ok || !end {
			t.Fatalf("no line from %q to %q on the paper", from, to)
		}
		return strings.NewReplacer("“", `"`, "”", `"`).Replace(out)
	}
	sh := func(command string) string {
		c := exec.Command("sh", "-c", command)
		c.Dir = dir
		out, err := c.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", command, err, out)
		}
		return string(out)
	}
	sh(line("yourself 1. ", " takes the attachments"))
	sums := strings.Split(strings.TrimSpace(sh(line(" 2. ", " must print"))), "\n")
	if len(sums) != 3 {
		t.Errorf("hashes of %d attachments, want three", len(sums))
	}
	tight := squeeze(text)
	for _, s := range sums {
		f := strings.Fields(s)
		if !strings.Contains(tight, f[1]+f[0]) {
			t.Errorf("the paper does not say that %s has the hash %s", f[1], f[0])
		}
	}
	if got := sh(line(" 3. ", " prints the last")); !strings.Contains(got, k.Chain.Head) {
		t.Errorf("the third line prints %q, the chain ends with %s", got, k.Chain.Head)
	}
}

// A turn of the housing that only the readings prove is said to be changed and not recorded; one that was recorded is not.
func TestTurnThatNobodyRecorded(t *testing.T) {
	k := sandpiper(t)
	if got := k.unrecorded(); got != "" {
		t.Errorf("the recorded turn of 1.3° with the rotor is called %q", got)
	}
	k.Corrections = k.Corrections[:1]
	// The line goes from +2.67° to +0.07° at no speed: half of that is 1.3° of the shaft, late, with the rotor.
	if got := k.unrecorded(); !strings.Contains(got, "changed, not recorded") || !strings.Contains(got, "1.3") || !strings.Contains(got, "with the rotor") {
		t.Errorf("an unrecorded turn is called %q", got)
	}
	k.Corrections[0].Turn = -1.3
	if got := k.unrecorded(); !strings.Contains(got, "2.6") {
		t.Errorf("a turn recorded the wrong way round is called %q", got)
	}
	k.Rebuilt = true
	if got := k.unrecorded(); got != "" {
		t.Errorf("after another change of the engine it is called %q", got)
	}
}

// Evidence that speaks against the statement stands on the first page, and so do the open steps.
func TestContraryEvidenceOnTheFirstPage(t *testing.T) {
	k := sandpiper(t)
	k.Recordings = []Recorded{{Name: "sweep.vcd", When: "2031-05-04 10:40 +02:00", Says: "cylinder 4 fires 7° late", Against: true},
		{Name: "idle.vcd", When: "2031-05-04 10:45 +02:00", Says: "within at idle"}}
	k.Ordered, k.OpenSteps = true, []string{"Tighten the clamp", "Power off and on"}
	k.Signers = []Signer{{Name: "M. Quay", Role: "technician", Word: "pass", At: someDay}, {Name: "I. Vane", Role: "surveyor", Word: string(k.Judged.Word), At: someDay}}
	k.Instruments = []Instrument{{Kind: "timing light", Name: "the long one", Number: "L-3", Checked: "2031-01-10", Uncertainty: "0.3°", Known: "certificate"}}
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "contrary", p)
	file := keep(t, "contrary", p)
	first := squeeze(run(t, "pdftotext", "-raw", "-l", "1", file, "-"))
	for _, w := range []string{"recording sweep.vcd: cylinder 4 fires 7° late", "Tighten the clamp; Power off and on", "technician: M. Quay",
		"surveyor: I. Vane", "signed 2031-05-04 12:00 +00:00: pass", "customer: harbour pilots", "JCGM 106:2012", "the light on the wire of cylinder 1, from 750 to"} {
		if !strings.Contains(first, squeeze(w)) && !strings.Contains(first, squeeze(sentence(w))[:len(squeeze(w))]) {
			t.Errorf("%q does not stand on the first page", w)
		}
	}
	if all := squeeze(run(t, "pdftotext", "-raw", file, "-")); !strings.Contains(all, squeeze("idle.vcd 2031-05-04 10:45 +02:00 within at idle")) ||
		!strings.Contains(all, squeeze("timing light the long one L-3 2031-01-10")) {
		t.Error("a recording or an instrument is not on the paper")
	}
}

// The error beyond the readings is drawn dashed: the line is cut where the last reading that counts was taken.
func TestLineBeyondTheReadings(t *testing.T) {
	k := sandpiper(t)
	p := errorPanel("after", k.Proof.Is, k.After, 1)
	if len(p.Series) != 2 || p.Series[0].Look != 0 || p.Series[1].Look != drawing.OutsideValidity {
		t.Fatalf("%d lines", len(p.Series))
	}
	last := p.Series[0].Points[len(p.Series[0].Points)-1]
	if last.X != 3700 || p.Series[1].Points[0] != last || p.Series[1].Points[len(p.Series[1].Points)-1].X != 4200 {
		t.Errorf("cut at %v, goes on to %v", last, p.Series[1].Points)
	}
}

// Photographs are printed upright and small, from JPEG and PNG; what is no picture is said to be none.
func TestPhotographs(t *testing.T) {
	k := sandpiper(t)
	k.Photos = []Photo{{Title: "Number the wires", File: "wires.jpg", By: "M. Quay", When: "2031-05-04 09:00 +02:00", Data: samplePhoto(t, 6)},
		{Title: "Against the map", File: "map.txt", Data: []byte("no picture")}}
	p, err := Proof(k)
	if err != nil {
		t.Fatal(err)
	}
	file := keep(t, "photos", p)
	run(t, "qpdf", "--check", file)
	images := run(t, "pdfimages", "-list", file)
	// 1200 × 800 dots lying, turned a quarter: 900 high and 600 wide.
	if !regexp.MustCompile(`image\s+600\s+900\s+rgb\s+3\s+8\s+jpeg`).MatchString(images) {
		t.Errorf("the pictures in the file are\n%s", images)
	}
	text := squeeze(run(t, "pdftotext", "-raw", file, "-"))
	if !strings.Contains(text, squeeze("map.txt is not printed: it is not a picture")) || !strings.Contains(text, squeeze("Number the wires; M. Quay, 2031-05-04 09:00 +02:00")) {
		t.Error("the paper does not say what its pictures show")
	}
	var again bytes.Buffer
	if data, err := p.PDF(); err != nil {
		t.Fatal(err)
	} else if again.Write(data); !bytes.Equal(again.Bytes(), readAll(t, file)) {
		t.Error("two files of one paper with pictures differ")
	}
	if !strings.Contains(p.Doc.Pages[len(p.Doc.Pages)-2].SVG(drawing.AsFile)+p.Doc.Pages[len(p.Doc.Pages)-1].SVG(drawing.AsFile)+p.Doc.Pages[2].SVG(drawing.AsFile), "data:image/jpeg;base64,") {
		t.Error("no picture in the drawing")
	}
}

// The place of the first dot of a picture once it is upright (Exif 2.3, tag 274, table of the eight orientations: 0th
// row and column).
func TestUnturned(t *testing.T) {
	for turn, corner := range map[int][2]int{1: {0, 0}, 2: {2, 0}, 3: {2, 1}, 4: {0, 1}, 5: {0, 0}, 6: {0, 1}, 7: {2, 1}, 8: {2, 0}} {
		if x, y := unturned(0, 0, 3, 2, turn); [2]int{x, y} != corner {
			t.Errorf("orientation %d: the upper left is dot %d, %d of the file, want %v", turn, x, y, corner)
		}
	}
}
