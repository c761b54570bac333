package report

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/shaft"
	"phasewright/sheet"
	"phasewright/verdict"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// Whatever is wrong with a recording, its paper is legible, on two sheets at most, and other programs read it; it holds
// the upshot, every finding with its remedy, what to record for what is missing, and the cautions.
func TestCapturePapers(t *testing.T) {
	for i, c := range strange {
		r, card := recordBench(t, c.card, c.run, c.faults, c.without...)
		p, err := Capture(r, card, verdict.OfCapture(r, verdict.Evidence{Card: card}), Stamp{Date: someDay, By: "M. Quay"})
		if err != nil {
			t.Fatalf("%v: %v", c, err)
		}
		legible(t, c.run, p)
		if n := len(p.Doc.Pages); n > 2 || len(p.Warnings()) > 0 {
			t.Errorf("%v: %d sheets, %v", c, n, p.Warnings())
		}
		file := keep(t, "recording-"+string(rune('a'+i)), p)
		run(t, "qpdf", "--check", file)
		text := squeeze(run(t, "pdftotext", "-raw", file, "-"))
		_, word, next := CaptureSays(verdict.OfCapture(r, verdict.Evidence{Card: card}), r, card)
		want := append([]string{card.Job.Name, word, next, "M. Quay", "2031-05-04"}, sheet.Cautions()...)
		for _, f := range r.Findings {
			want = append(want, f.Text[1:], f.Remedy)
		}
		for _, v := range CaptureViews(r, card) {
			want = append(want, v.Title, v.Want)
		}
		for _, w := range want {
			if !strings.Contains(text, squeeze(strings.TrimSuffix(w, "."))) && !strings.Contains(text, squeeze(sentence(w))) {
				t.Errorf("%v: %q is not on the paper", c, w)
			}
		}
		if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || strings.Contains(text, "apartofit") {
			t.Errorf("%v: a figure that is none, or called a part", c)
		}
	}
}

// The same recording gives the same file, which carries the numbers for machines.
func TestCapturePaperSameBytes(t *testing.T) {
	r, card := recordBench(t, "sandpiper", wholeRun, []string{"crossfire=30%"})
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var files [2][]byte
	for i := range files {
		p, err := Capture(r, card, verdict.OfCapture(r, verdict.Evidence{Card: card}), Stamp{Date: someDay, JSON: data})
		if err != nil {
			t.Fatal(err)
		}
		if files[i], err = p.PDF(); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(files[0], files[1]) {
		t.Error("two files of one recording differ")
	}
	dir := t.TempDir()
	name, out := filepath.Join(dir, "r.pdf"), filepath.Join(dir, "r.json")
	if err := os.WriteFile(name, files[0], 0o644); err != nil {
		t.Fatal(err)
	}
	run(t, "pdfdetach", "-savefile", "job.json", "-o", out, name)
	if got, err := os.ReadFile(out); err != nil || !bytes.Equal(got, data) {
		t.Errorf("the numbers came out changed: %v", err)
	}
}

// A part of a recording is called so on every sheet, with the reason; without a job card there is a paper too.
func TestCapturePaperOfAPart(t *testing.T) {
	r, _ := recordBench(t, "sandpiper", wholeRun, nil)
	r.Partial = "line 4711 is cut off: the file ends in the middle of it"
	p, err := Capture(r, nil, verdict.OfCapture(r, verdict.Evidence{Card: nil}), Stamp{Date: someDay})
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "part", p)
	file := keep(t, "recording-part", p)
	text := run(t, "pdftotext", "-layout", file, "-")
	if n := strings.Count(text, "Recording, a part of it"); n != len(p.Doc.Pages) {
		t.Errorf("called a part on %d of %d sheets", n, len(p.Doc.Pages))
	}
	for _, w := range []string{r.Partial, "holds for that part alone", "sandpiper.vcd"} {
		if !strings.Contains(squeeze(text), squeeze(w)) {
			t.Errorf("%q is not on the paper", w)
		}
	}
}

// Long names, other scripts, hundreds of channels, findings and doubts still give three sheets, and what is left out is
// said to be.
func TestCapturePaperHardInput(t *testing.T) {
	r, card := recordBench(t, "ember-twelve", "crank 2 s then sweep 900..5500 rpm in 8 s", nil)
	long := strings.Repeat("Sandpiper of Marlow Quay ", 40)
	r.Name, r.Partial, card.Job.Name = long, long, "סירת העבודה 🚤"
	for range 200 {
		r.Channels = append(r.Channels, shaft.Channel{Name: long[:60], Role: shaft.Unknown, Reason: long[:200], LowV: shaft.Number(math.NaN()), HighV: shaft.Number(math.Inf(1))})
		r.Doubts = append(r.Doubts, long[:150])
		r.Findings = append(r.Findings, shaft.Finding{ID: "x", Text: long[:100], Remedy: long[:80]})
	}
	r.SyncBecause = long
	p, err := Capture(r, card, verdict.OfCapture(r, verdict.Evidence{Card: card}), Stamp{Date: someDay})
	if err != nil {
		t.Fatal(err)
	}
	legible(t, "hard", p)
	if len(p.Doc.Pages) > 3 || len(p.Warnings()) == 0 { // a name of a thousand letters takes its room on each
		t.Errorf("%d sheets, warnings %v", len(p.Doc.Pages), p.Warnings())
	}
	file := keep(t, "recording-hard", p)
	run(t, "qpdf", "--check", file)
	text := squeeze(run(t, "pdftotext", "-raw", file, "-"))
	for _, w := range []string{"more findings, in the data", "more channels, in the data", "more, in the data"} {
		if !strings.Contains(text, squeeze(w)) {
			t.Errorf("%q is not said", w)
		}
	}
	if _, err := Capture(nil, card, verdict.Judgement{}, Stamp{}); err != ErrNothing {
		t.Error(err)
	}
}

// The upshot never calls sound what is not: shape, word and next step of each verdict.
func TestCaptureSays(t *testing.T) {
	for _, c := range []struct {
		faults, without []string
		shape           drawing.Verdict
		word, next      string
	}{
		{nil, nil, drawing.IsFine, "pass", "within ± 1.0°"},
		{[]string{"housing=1.5deg", "delay=80us"}, nil, drawing.IsStop, "adjust", "turn the housing 1.5° of shaft with the rotor (counterclockwise, seen from above the cap). that is half of 3.0°: the shaft turns at half crank speed. raise the delay allowance by 75 µs. power-cycle. read it back. tighten the clamp. then read again"},
		{[]string{"pickup=off"}, nil, drawing.IsStop, "nothing to tell", "measure the supply at the pickup"},
		{[]string{"lock=off"}, nil, drawing.IsStop, "not a line", "do not turn anything yet"},
		{[]string{"edge=inverted"}, nil, drawing.IsStop, "look elsewhere", "do not turn anything yet"},
		{nil, []string{"engine.mark"}, drawing.IsCaution, "read more", "no mark once a turn"},
		{nil, []string{"engine.mark", "engine.spark"}, drawing.IsCaution, "read more", "no spark signal was found"},
	} {
		r, card := recordBench(t, "sandpiper", wholeRun, c.faults, c.without...)
		shape, word, next := CaptureSays(verdict.OfCapture(r, verdict.Evidence{Card: card}), r, card)
		if shape != c.shape || word != c.word || !strings.Contains(strings.ToLower(next), c.next) {
			t.Errorf("%v without %v: %s, %q, %q", c.faults, c.without, shape.Word(), word, next)
		}
	}
	r, card := recordBench(t, "sandpiper", wholeRun, nil)
	r.Sync, r.LossCount = shaft.SyncLost, 2 // invented
	if shape, word, next := CaptureSays(verdict.OfCapture(r, verdict.Evidence{Card: card}), r, card); shape != drawing.IsStop || word != "look elsewhere" || !strings.Contains(next, "sync was lost") {
		t.Errorf("sync lost: %s, %q, %q", shape.Word(), word, next)
	}
	r, card = recordBench(t, "sandpiper", "hold 1500 rpm for 6 s", nil)
	if _, word, next := CaptureSays(verdict.OfCapture(r, verdict.Evidence{Card: card}), r, card); word != "read more" || !strings.Contains(next, "ecord near") {
		t.Errorf("%q, %q", word, next)
	}
	if _, word, next := CaptureSays(verdict.OfCapture(r, verdict.Evidence{Card: nil}), r, nil); word != "no job card" || !strings.Contains(next, "job card") {
		t.Errorf("%q, %q", word, next)
	}
}
