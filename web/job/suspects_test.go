package job_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/suspects"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// The job's own readings are weighed without retyping; what is entered moves the ranking and is recorded only when it
// is kept.
func TestSuspectsOfAJob(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, r := range [][2]string{{"750", "12"}, {"1800", "12"}, {"3200", "12"}} {
		webtest.WantCode(t, s.Read(job, r[0], r[1]), http.StatusSeeOther)
	}
	before := len(s.Kinds(job))
	w := s.Get("/job/" + job + "/suspects")
	webtest.WantCode(t, w, 200)
	for _, part := range []string{"housing off", "or damper ring slipped", "Do not turn anything yet", "The next look",
		"On the starter", `id="ranking"`, "Keep the evidence on the record", "Crosses: what the light showed"} {
		webtest.WantIn(t, w.Body.String(), part)
	}
	first := func(body string) string {
		_, rest, _ := strings.Cut(body, `<ol class="items ranked">`)
		_, rest, _ = strings.Cut(rest, "</b> <span>")
		name, _, _ := strings.Cut(rest, "<")
		return strings.TrimSpace(name)
	}
	// the damper's mark reads 4° early by the piston stop: by hand (64 − 56)/2
	q := url.Values{"piston_stop.before": {"64 deg"}, "piston_stop.after": {"56 deg"}}
	w = s.Get("/job/" + job + "/suspects/part?" + q.Encode())
	webtest.WantCode(t, w, 200)
	if got := first(w.Body.String()); got != "damper ring slipped or pointer bent" {
		t.Errorf("first is %q after the piston stop", got)
	}
	if len(s.Kinds(job)) != before {
		t.Error("looking was recorded")
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/suspects", q), http.StatusSeeOther)
	if kinds := s.Kinds(job); len(kinds) != before+1 || kinds[before] != book.KindEvidenceSaved {
		t.Errorf("events %v", kinds)
	}
	w = s.Get("/job/" + job + "/suspects")
	webtest.WantIn(t, w.Body.String(), `value="64 deg"`)
	if got := first(w.Body.String()); got != "damper ring slipped or pointer bent" {
		t.Errorf("first is %q once kept", got)
	}
}

// A job with a whole table of readings is weighed like one with few. The readings are invented: 4° early at
// every speed.
func TestSuspectsOfAJobWithManyReadings(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	var drafts []book.Draft
	for i := range 120 {
		payload := fmt.Sprintf(`{"id":"r%d","rpm":%d,"shown_deg":%g,"locked_deg":8,"u_deg":0.3,"allowance_us":100,"note":""}`, i, 700+20*i, 12+0.1*float64(i%5-2))
		drafts = append(drafts, book.Draft{Who: "Ada", Kind: book.KindReadingAdded, Payload: []byte(payload)})
	}
	if _, err := s.Book.AppendAll(t.Context(), job, book.AnyVersion, drafts); err != nil {
		t.Fatal(err)
	}
	w := s.Get("/job/" + job + "/suspects")
	webtest.WantCode(t, w, 200)
	for _, part := range []string{"housing off", `id="ranking"`, "mean of "} {
		webtest.WantIn(t, w.Body.String(), part)
	}
}

// Whatever an evidence file may hold can be entered: each key stands in some round of the page, once.
func TestEveryKeyOfEvidenceIsAsked(t *testing.T) {
	s := webtest.NewShop(t)
	job := "/job/" + s.NewJob() + "/suspects"
	name := regexp.MustCompile(`<(?:input|textarea)[^>]* name="([^"]+)"[^>]*>`)
	asked := map[string]bool{}
	first := s.Get(job).Body.String()
	for _, at := range regexp.MustCompile(`<button name="at" value="([a-z]+)"`).FindAllStringSubmatch(first, -1) {
		here := map[string]string{}
		for _, m := range name.FindAllStringSubmatch(s.Get(job+"?cyl=1&at="+at[1]).Body.String(), -1) {
			if kind := m[0]; !strings.Contains(kind, "radio") && !strings.Contains(kind, "checkbox") && here[m[1]] != "" {
				t.Errorf("%s asks twice for %s", at[1], m[1])
			}
			asked[m[1]], here[m[1]] = true, at[1]
		}
	}
	for _, f := range suspects.Fields() {
		path := f.Path
		if section, key, _ := strings.Cut(path, "."); f.InList() {
			path = section + " 1." + key
		}
		if !asked[path] && f.Path != "cylinders.cylinder" {
			t.Errorf("%s is asked nowhere", path)
		}
	}
}

// A number that cannot be read is marked at its field, which comes first, and the ranking goes on with the rest.
func TestSuspectsGoOnWithTheRest(t *testing.T) {
	s := webtest.NewShop(t)
	job := "/job/" + s.NewJob() + "/suspects"
	w := s.Get(job + "/part?at=lamps&spark=none&coil.spark=none&cylinders+3.wire=six")
	webtest.WantCode(t, w, http.StatusUnprocessableEntity)
	for _, part := range []string{"Cannot be read", `id="e-cylinders-3-wire-said"`, `aria-describedby="e-cylinders-3-wire-said"`,
		`name="cylinders 3.wire" value="six"`, "coil or its driver dead"} {
		webtest.WantIn(t, w.Body.String(), part)
	}
	// a number goes with the unit that stands at its field, and what is kept is judged like an evidence file
	webtest.WantCode(t, s.Post(job, url.Values{"at": {"cylinder"}, "cylinders 3.wire": {"900"}, "engine.misfire": {"3"},
		"notes": {"a new wire in May"}}), http.StatusSeeOther)
	body := s.Get(job).Body.String()
	for _, part := range []string{`value="900"`, "a new wire in May", "plug wire broken"} {
		webtest.WantIn(t, body, part)
	}
}

// What cannot be is refused beside its field, with what is accepted, and is not recorded.
func TestSuspectsRefuse(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	before := len(s.Kinds(job))
	for field, want := range map[string][2]string{
		"battery.rest":   {"twelve", "write a voltage such as 13.8 V"},
		"engine.misfire": {"9", "there is no cylinder 9"},
		"compression":    {"a bit", "write one of: felt, not felt"},
	} {
		w := s.Post("/job/"+job+"/suspects", url.Values{field: {want[0]}})
		webtest.WantCode(t, w, http.StatusUnprocessableEntity)
		webtest.WantIn(t, w.Body.String(), strings.ReplaceAll(want[1], "'", "&#39;"))
	}
	if len(s.Kinds(job)) != before {
		t.Error("refused evidence was recorded")
	}
	long := s.Post("/job/"+job+"/suspects", url.Values{"notes": {strings.Repeat("ё", 1001)}})
	webtest.WantCode(t, long, http.StatusUnprocessableEntity)
	webtest.WantIn(t, long.Body.String(), "shorten it")
	phone := s.PairPhone(page.Look)
	w := s.Do(webtest.Request("POST", "/job/"+job+"/suspects", webtest.PhoneAddr, url.Values{"compression": {"felt"}}, func(r *http.Request) { r.AddCookie(phone) }))
	webtest.WantCode(t, w, http.StatusForbidden)
	if slices.Contains(s.Kinds(job), book.KindEvidenceSaved) {
		t.Error("a looker wrote evidence")
	}
}
