package record

import (
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/procedure"
)

// The order of work on paper shows what was done: value, name, day, and the photo by the name that it came under; what
// is still to be done keeps its blanks.
func TestStepsPaperShowsWhatWasDone(t *testing.T) {
	s := carded(t).upTo(procedure.StepOpen)
	sha := strings.Repeat("ab", 32)
	s.and(book.KindAttachmentAdded, map[string]any{"sha256": sha, "name": "cap from above.jpg", "media_type": "image/jpeg",
		"size": 4000})
	j := s.job()
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		t.Fatal(err)
	}
	st, _ := p.Step(procedure.StepOpen)
	f := showing(st)
	f.Kind, f.Text, f.SHA256 = procedure.Photo, "", sha
	o := p.Decide(state, procedure.Request{Act: procedure.Do, Step: st.ID, Who: "Ben Oak", Proof: f, Seen: state.Version})
	if len(o.Refused) > 0 {
		t.Fatal(o.Refused)
	}
	s.take(Taken{Drafts: drafts(t, j, o)}).upTo(procedure.StepMarks)
	j = s.job()
	p, state, err = j.Order(j.LastAt)
	if err != nil {
		t.Fatal(err)
	}
	done := 0
	for _, l := range p.Lines(state) {
		ticked := 0
		for _, a := range l.Asks {
			if a.Ticked {
				ticked++
			}
		}
		if len(l.Deeds) > 0 != (ticked > 0) || ticked > 0 && ticked != len(l.Asks) {
			t.Errorf("«%s»: %d of %d boxes ticked, deeds %+v", l.ID, ticked, len(l.Asks), l.Deeds)
		}
		done += len(l.Deeds)
	}
	if done < 8 {
		t.Errorf("%d steps done", done)
	}
	paper, err := j.StepsPaper(drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	text := ""
	for _, d := range paper.Doc.Pages {
		for _, b := range d.TextBoxes() {
			text += b.Text + " "
		}
	}
	for _, want := range []string{"photo: cap from above.jpg", "Ben Oak, 2026-03-14", "Done: 0", "as it should be", "initials"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the paper", want)
		}
	}
}
