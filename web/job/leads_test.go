package job_test

import (
	"net/http"
	"strings"
	"testing"

	"phasewright/web/webtest"
)

// The page says for every signal what stands before the input, beginning with what can harm; another input gives other
// parts, and one that cannot be is said beside its field. Nothing is recorded.
func TestLeadsPage(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	id := strings.TrimPrefix(job, "/job/")
	before := len(s.Kinds(id))
	w := s.Get(job + "/leads")
	webtest.WantCode(t, w, 200)
	for _, part := range []string{"A coil&#39;s primary kills inputs", "tens of kilovolts", `id="lead-crank"`, `id="lead-primary"`, "3 × 330", "kΩ in series", "2 small silicon diodes"} {
		webtest.WantIn(t, w.Body.String(), part)
	}
	webtest.WantIn(t, s.Get(job+"/captures").Body.String(), job+"/leads")
	webtest.WantIn(t, s.Get(job+"/leads?full_scale=2+V").Body.String(), "4 small silicon diodes")
	for query, part := range map[string]string{"full_scale=90+V": "write 0.05 V to 20 V", "impedance=%3Cscript%3E": "&lt;script&gt;", "corner=deep": "write hertz such as 20"} {
		w := s.Get(job + "/leads?" + query)
		webtest.WantCode(t, w, http.StatusUnprocessableEntity)
		webtest.WantIn(t, w.Body.String(), part)
		webtest.WantIn(t, w.Body.String(), `id="lead-crank"`) // for the usual input
	}
	pdf := s.Get(job + "/leads.pdf?full_scale=2+V")
	webtest.WantCode(t, pdf, 200)
	if !strings.HasPrefix(pdf.Body.String(), "%PDF-") {
		t.Error("the paper is none")
	}
	webtest.WantCode(t, s.Get(job+"/leads.pdf?full_scale=90+V"), http.StatusUnprocessableEntity)
	if n := len(s.Kinds(id)); n != before {
		t.Errorf("%d events were recorded", n-before)
	}
}
