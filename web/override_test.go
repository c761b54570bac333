package web

import (
	"encoding/json"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/drawing"
)

// An override stays visible on every sheet and report: step, reason and name.
func TestOverrideIsOnTheProof(t *testing.T) {
	s := newShop(t)
	id := s.job()
	s.read(id, "800", "8.5")
	payload, err := json.Marshal(map[string]string{"step": "plug_out", "who": "N. Example", "reason": "seized plug, engine turned with the gearbox"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.book.Append(t.Context(), id, book.AnyVersion, book.Draft{Who: "N. Example", Kind: book.KindStepOverride, Payload: payload}); err != nil {
		t.Fatal(err)
	}
	for _, page := range []string{"/sheet", "/proof"} {
		if body := s.get("/job/" + id + page).Body.String(); !strings.Contains(body, "seized plug") {
			t.Errorf("%s does not show the override", page)
		}
	}
	paper, err := ProofPaper(t.Context(), s.book, id, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	j, err := newJobCache(s.book).get(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := j.sheetPaper(drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(plan.Doc.Pages[0].SVG(drawing.AsFile), "seized plug") {
		t.Error("the set-up sheet on paper does not show the override")
	}
	var text strings.Builder
	for _, p := range paper.Doc.Pages {
		text.WriteString(p.SVG(drawing.AsFile))
	}
	for _, want := range []string{"plug_out", "seized plug", "N. Example"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the proof does not say %q", want)
		}
	}
}
