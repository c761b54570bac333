package job_test

import (
	"encoding/json"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/web/webtest"
)

// An override stays visible on the pages of sheet and proof; record holds that it stays on their papers.
func TestOverrideIsOnThePages(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	s.Read(id, "800", "8.5")
	payload, err := json.Marshal(map[string]string{"step": "plug_out", "who": "N. Example", "reason": "seized plug, engine turned with the gearbox"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Book.Append(t.Context(), id, book.AnyVersion, book.Draft{Who: "N. Example", Kind: book.KindStepOverride, Payload: payload}); err != nil {
		t.Fatal(err)
	}
	for _, page := range []string{"/sheet", "/proof"} {
		if body := s.Get("/job/" + id + page).Body.String(); !strings.Contains(body, "seized plug") {
			t.Errorf("%s does not show the override", page)
		}
	}
}
