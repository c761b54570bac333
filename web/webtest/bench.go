package webtest

import (
	"net/http"
	"net/url"

	"phasewright/web/page"
)

// NewBench sets a bench up from the host's screen and gives its address.
func (s *Shop) NewBench(form url.Values) string {
	s.T.Helper()
	w := s.Post("/bench", form)
	if w.Code != http.StatusSeeOther {
		s.T.Fatalf("bench: %d %s", w.Code, w.Body)
	}
	return w.Header().Get("Location")
}

var (
	Ada = &page.Session{Role: page.Work, Who: "Ada Reed", Device: "a"}
	Ben = &page.Session{Role: page.Work, Who: "Ben Hale", Device: "b"}
	Eve = &page.Session{Role: page.Instructor, Who: "Eve Marsh", Device: "e"}
)
