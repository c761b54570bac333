package record

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/shaft"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// proved is a job with corrections that the readings after them try, signed.
func proved(t testing.TB) *tale {
	s := carded(t)
	speeds := []float64{800, 1500, 2200, 3000, 3700, 2200, 3700}
	for i, rpm := range speeds {
		s.read(string(rune('a'+i)), rpm, 11)
	}
	s.and(book.KindCorrectionMade, map[string]any{"allowance_us": 1200.0}).and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.5, "direction": readings.WithRotor, "allowance_us": 120.0})
	for i, rpm := range speeds {
		s.read(string(rune('n'+i)), rpm, 8.1)
	}
	return s.and(book.KindProofSigned, map[string]any{"name": "A. Reed", "verdict": "pass"})
}

// words are all words drawn on a paper.
func words(p *report.Paper) string {
	var out strings.Builder
	for _, page := range p.Doc.Pages {
		out.WriteString(page.SVG(drawing.AsFile))
	}
	return out.String()
}

func written(text string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, text); return err }
}

// An override stays visible on every sheet and report: step, reason and name.
func TestOverrideIsOnThePapers(t *testing.T) {
	j := carded(t).read("a", 800, 8.5).and(book.KindStepOverride, map[string]any{"step": "plug_out", "who": "N. Example", "reason": "seized plug, engine turned with the gearbox"}).job()
	proof, err := j.ProofPaper(Files{Export: written("the job")}, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"plug_out", "seized plug", "N. Example"} {
		if !strings.Contains(words(proof), want) {
			t.Errorf("the proof does not say %q", want)
		}
	}
	plan, err := j.SetUpPaper(drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(plan.Doc.Pages[0].SVG(drawing.AsFile), "seized plug") {
		t.Error("the set-up sheet does not show the override")
	}
	wrong := begin(t).and(book.KindStepOverride, map[string]any{"step": "plug_out", "reason": "seized plug"}).and(book.KindStepOverride, "?").job()
	if o := wrong.Overrides(); len(o) != 2 || o[0].Step != "plug_out" || o[0].By != "Ada Reed" || !strings.Contains(o[1].Reason, "cannot read") {
		t.Errorf("without a card the overrides are %+v", o)
	}
}

// The proof says what was changed and when, who answers for it, and where in the chain it stands.
func TestProofPaper(t *testing.T) {
	s := proved(t)
	s.line.Head = book.Hash{0xab, 0xcd}
	file := book.Attachment{Name: "run.wav", MediaType: "audio/wav", Size: 4000, SHA256: book.Hash{0x12}}
	p, err := s.job().ProofPaper(Files{List: []book.Attachment{file}, Export: written("the job")}, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	text := words(p)
	for _, want := range []string{"1.5° with the rotor", "85 µs", "120 µs", "A. Reed", "run.wav", file.SHA256.String()[:12], s.line.Head.String()[:12], "harbour pilots",
		s.line.LastAt.Local().Format("2006-01-02 15:04 -07:00")} {
		if !strings.Contains(text, want) {
			t.Errorf("the proof does not say %q", want)
		}
	}
	if n := strings.Count(text, "1\u202f200 µs"); n != 4 {
		t.Errorf("1200 µs stands %d times on the proof, want it on the first page and in the table: as what was set and as what was changed next", n)
	}
	if !p.Doc.Date.Equal(s.line.LastAt) {
		t.Errorf("dated %v, the job's last event is of %v", p.Doc.Date, s.line.LastAt)
	}
}

// The export travels inside while the job's files are small; where they are not, the book is not even asked for it.
func TestProofCarriesTheJob(t *testing.T) {
	j := proved(t).job()
	inside := func(size int64, export func(io.Writer) error) ([]byte, error) {
		p, err := j.ProofPaper(Files{List: []book.Attachment{{Name: "a.jpg", Size: size / 2}, {Name: "b.jpg", Size: size - size/2}}, Export: export}, drawing.A4)
		if err != nil {
			return nil, err
		}
		for _, a := range p.Doc.Attachments {
			if a.Name == report.ExportName {
				return a.Data, nil
			}
		}
		return nil, nil
	}
	if data, err := inside(mostExport, written("the job")); err != nil || string(data) != "the job" {
		t.Errorf("inside travels %q, %v", data, err)
	}
	asked := false
	if data, err := inside(mostExport+1, func(io.Writer) error { asked = true; return nil }); err != nil || data != nil || asked {
		t.Errorf("inside travels %q, %v; asked: %v", data, err, asked)
	}
	broken := errors.New("disk gone")
	if _, err := inside(0, func(io.Writer) error { return broken }); !errors.Is(err, broken) {
		t.Errorf("a failed export gives %v", err)
	}
}

// The same job gives the same papers, byte for byte, however often its events are taken in.
func TestPapersComeOutTheSame(t *testing.T) {
	s := proved(t)
	for name, make := range map[string]func(*Job) (*report.Paper, error){
		"set-up": func(j *Job) (*report.Paper, error) { return j.SetUpPaper(drawing.A4) }, "tape": func(j *Job) (*report.Paper, error) { return j.TapePaper(drawing.Letter) },
		"spark": func(j *Job) (*report.Paper, error) { return j.SparkPaper(drawing.A4) }, "steps": func(j *Job) (*report.Paper, error) { return j.StepsPaper(drawing.A4) },
		"capture": func(j *Job) (*report.Paper, error) {
			return j.CapturePaper(&shaft.Result{Name: "run.wav", DurationS: 2, Sync: shaft.SyncNone}, drawing.A4)
		},
		"proof": func(j *Job) (*report.Paper, error) {
			return j.ProofPaper(Files{Export: written("the job")}, drawing.A4)
		},
	} {
		var files [2][]byte
		for i := range files {
			p, err := make(s.job())
			if err != nil {
				t.Fatal(name, err)
			}
			if files[i], err = p.PDF(); err != nil {
				t.Fatal(name, err)
			}
		}
		if !bytes.HasPrefix(files[0], []byte("%PDF-")) || !bytes.Equal(files[0], files[1]) {
			t.Errorf("%s: made twice, it differs", name)
		}
	}
}

// A paper names people: who gave a name, in a step or beside a correction, and never the screen that they stood at.
func TestPapersNamePeople(t *testing.T) {
	s := carded(t)
	for i, rpm := range []float64{800, 1500, 2200, 3000, 3700} {
		s.read(string(rune('a'+i)), rpm, 11)
	}
	s.and(book.KindCorrectionMade, map[string]any{"allowance_us": 120.0, "who": "N. Example"}).and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.5, "direction": readings.WithRotor})
	for i, rpm := range []float64{800, 1500, 2200, 3000, 3700} {
		s.read(string(rune('n'+i)), rpm, 8.1)
	}
	s.and(book.KindProofSigned, map[string]any{"name": "A. Reed", "verdict": "not shown yet", "role": "technician"}).
		and(book.KindProofSigned, map[string]any{"name": "I. Vane", "verdict": "not shown yet", "role": "surveyor"})
	for i := range s.events {
		s.events[i].Who = book.HostScreen
	}
	s.line.LastWho = book.HostScreen
	j := s.job()
	if len(j.Signings) != 2 || j.Signed.Name != "I. Vane" || j.Signings[0].Role != "technician" {
		t.Fatalf("signed by %+v", j.Signings)
	}
	p, err := j.ProofPaper(Files{Export: written("the job")}, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	text := words(p)
	for _, want := range []string{"N. Example", "by not stated", "technician: A. Reed", "surveyor: I. Vane"} {
		if !strings.Contains(text, want) {
			t.Errorf("the proof does not say %q", want)
		}
	}
	if strings.Contains(text, book.HostScreen) {
		t.Error("the proof names a screen")
	}
	if s.read("z", 800, 8).job().Signings != nil {
		t.Error("a reading after the signatures leaves them standing")
	}
}
