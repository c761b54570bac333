package job_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/record"
	"phasewright/web/webtest"
)

// shown is the configuration count that a page of the job puts into its forms.
func shown(s *webtest.Shop, page string) string {
	s.T.Helper()
	found := regexp.MustCompile(`name="configuration" value="(\d+)"`).FindStringSubmatch(s.Get(page).Body.String())
	if found == nil {
		s.T.Fatal("no configuration on " + page)
	}
	return found[1]
}

// millis is a moment as a page's script sends it.
func millis(t time.Time) string { return strconv.FormatInt(t.UnixMilli(), 10) }

// Four readings, a housing turn of 1.5°, then one that had waited on a phone: it counts as taken before the turn, and
// the pages say so. Sent again it is the same reading, though the engine was changed meanwhile.
func TestReadingThatWaitedBelongsBeforeTheTurn(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, rpm := range []string{"800", "1800", "2800", "3700"} {
		s.Read(job, rpm, "5")
	}
	at := "/job/" + job + "/readings"
	before := shown(s, at)
	taken := time.Now()
	turn := url.Values{"housing": {"1.5"}, "direction": {"against the rotor"}, "allowance": {"160"},
		"configuration": {before}, "key": {"turn"}}
	webtest.WantCode(t, s.Post(at+"/correction", turn), 303)
	for range 2 {
		webtest.WantCode(t, s.Read(job, "2200", "5.2", "key", "waited", "configuration", before, "taken", millis(taken)), 303)
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	now, was := float64(j.Allowance().Or(0)), float64(j.Card.Controller.DelayAllowance.Or(0))
	last := j.Readings[len(j.Readings)-1]
	if len(j.Readings) != 5 || last.RPM != 2200 || last.Housing != 0 || *last.Allowance != was || now == was ||
		!j.Pending() || len(j.AfterCorrections()) != 0 {
		t.Errorf("%d readings, the last %+v; allowance %v, pending %v", len(j.Readings), last, now, j.Pending())
	}
	if last.Origin.Taken.UnixMilli() != taken.UnixMilli() || last.At.Before(taken.Add(-time.Second)) {
		t.Errorf("taken %v, arrived %v; want %v", last.Origin.Taken, last.At, taken)
	}
	words := "before «housing turned 1.5° against the rotor"
	for _, page := range []string{at, "/job/" + job} {
		webtest.WantIn(t, webtest.HTMLText(s.Get(page).Body.String()), words)
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "It counts with the readings of then")
	s.Read(job, "800", "8", "configuration", shown(s, at))
	if j, err = s.Shelf.Job(t.Context(), job); err != nil || j.Readings[5].Housing != -1.5 ||
		len(j.AfterCorrections()) != 1 {
		t.Errorf("the reading after the turn: %+v, %v", j.Readings, err)
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), words)
}

// A count that the book never showed is refused with what to do; a time that is none, and one that cannot be right,
// change nothing.
func TestStampThatCannotBeRight(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, count := range []string{"7", "-1", "soon"} {
		w := s.Read(job, "800", "9", "configuration", count)
		webtest.WantCode(t, w, http.StatusConflict)
		webtest.WantIn(t, w.Body.String(), "Load the page again")
	}
	if n := len(s.Kinds(job)); n != 2 {
		t.Fatalf("%d events", n)
	}
	for i, taken := range []string{"soon", "-99999999999999", "9e99", "253402300800000000",
		millis(time.Now().Add(time.Hour)), "0"} {
		webtest.WantCode(t, s.Read(job, "800", "9", "taken", taken), 303)
		j, err := s.Shelf.Job(t.Context(), job)
		if r := j.Readings[i]; err != nil || !r.Origin.Taken.Equal(r.At) || r.Origin.Late {
			t.Errorf("%s: %+v, %v", taken, r, err)
		}
	}
	webtest.WantCode(t, s.Get("/job/"+job+"/readings"), 200)
}

// A correction entered on a page that does not show the engine as it is would turn the housing twice: it is shown what
// came between.
func TestCorrectionOnAnOldPage(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	at := "/job/" + job + "/readings"
	one := url.Values{"housing": {"1.5"}, "direction": {"with the rotor"}, "configuration": {shown(s, at)},
		"key": {"one"}}
	webtest.WantCode(t, s.Post(at+"/correction", one), 303)
	webtest.WantCode(t, s.Post(at+"/correction", one), 303) // the same form sent twice
	two := url.Values{"housing": {"1.5"}, "direction": {"with the rotor"}, "configuration": one["configuration"],
		"key": {"two"}}
	w := s.Post(at+"/correction", two)
	webtest.WantCode(t, w, http.StatusConflict)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "somebody changed the engine meanwhile")
	two.Set("configuration", shown(s, at))
	webtest.WantCode(t, s.Post(at+"/correction", two), 303)
	if k := s.Kinds(job); len(k) != 4 {
		t.Errorf("events %v", k)
	}
}

// Notes, files and steps carry what their screen showed too, and say so when they come late.
func TestEverythingEnteredIsStamped(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	old, taken := shown(s, "/job/"+job), time.Now()
	s.Post("/job/"+job+"/readings/correction", url.Values{"allowance": {"140"}})
	webtest.WantCode(t, s.Post("/job/"+job+"/note", url.Values{"text": {"belt squeals"}, "configuration": {old},
		"taken": {millis(taken)}}), 303)
	webtest.WantCode(t, s.Post("/job/"+job+"/note", url.Values{"text": {"x"}, "configuration": {"99"}}), http.StatusConflict)
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	m.WriteField("configuration", old)
	m.WriteField("taken", millis(taken))
	part, _ := m.CreateFormFile("file", "run.csv")
	io.WriteString(part, "time,crank\n")
	m.Close()
	r := httptest.NewRequest("POST", "/job/"+job+"/captures", &body)
	r.RemoteAddr, r.Host = webtest.HostAddr, "127.0.0.1:8080"
	r.Header.Set("Origin", "http://"+r.Host)
	r.Header.Set("Content-Type", m.FormDataContentType())
	webtest.WantCode(t, s.Do(r), 303)
	s.Settle()
	_, state := s.Ordered(job)
	webtest.WantCode(t, s.Post("/job/"+job+"/steps", url.Values{"act": {"done"}, "step": {"begin"}, "who": {"Ada"},
		"seen":          s.Looks(job, procedure.StepBegin),
		"configuration": {old}, "version": {fmt.Sprint(state.Version)}, "text": {"read"}}), 303)
	events, err := s.Book.Events(t.Context(), job, 3)
	if err != nil {
		t.Fatal(err)
	}
	found := map[book.Kind]bool{}
	for _, e := range events {
		if e.Kind == book.KindCaptureRead {
			continue // made here, of a file that bears the stamp
		}
		found[e.Kind] = true
		var stamp record.Stamp
		if err := json.Unmarshal(e.Payload, &stamp); err != nil || stamp.Configuration == nil ||
			fmt.Sprint(*stamp.Configuration) != old {
			t.Errorf("%s %s", e.Kind, e.Payload)
		} else if e.Kind != book.KindStepDone && (stamp.TakenAt == nil ||
			stamp.TakenAt.UnixMilli() != taken.UnixMilli()) {
			t.Errorf("%s %s: not taken %v", e.Kind, e.Payload, taken)
		}
	}
	if !found[book.KindNoteAdded] || !found[book.KindAttachmentAdded] || !found[book.KindStepDone] {
		t.Errorf("found %v", found)
	}
	words := "before «delay allowance set to 140 µs»"
	for page, n := range map[string]int{"": 3, "/captures": 1, "/steps": 1} {
		if text := webtest.HTMLText(s.Get("/job/" + job + page).Body.String()); strings.Count(text, words) != n {
			t.Errorf("page %q says %d times that something came late, want %d", page, strings.Count(text, words), n)
		}
	}
}

// The whole way in a browser: a reading is entered while the line is lost, the housing is turned at the host, the line
// returns.
func TestLostLineKeepsWhatTheScreenShowed(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	for _, rpm := range []string{"800", "1800", "2800", "3700"} {
		s.Read(job, rpm, "5")
	}
	at := "/job/" + job + "/readings"
	p.Open(at)
	p.Wait(`document.documentElement.dataset.script == "on"`)
	s.Post("/job/"+job+"/readings/correction", url.Values{"allowance": {"140"}})
	p.Wait(fmt.Sprintf(`document.querySelector("#setup input").value == "%s"`,
		shown(s, at))) // the form follows what the page shows
	line.Set(true)
	p.TypeIn("#rpm", "2200")
	p.TypeIn("#shown", "5.2")
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("#waiting-list").innerText.includes("2200 rpm")`)
	if text := webtest.Eval[string](p, `document.querySelector("#waiting-list").innerText`); strings.Contains(text,
		"configuration") {
		t.Errorf("the list of what waits says %q", text)
	}
	s.Post("/job/"+job+"/readings/correction", url.Values{"housing": {"1.5"}, "direction": {"against the rotor"}})
	line.Set(false)
	p.Wait(`!document.querySelector("#waiting-list li") && document.querySelector("#warnings").innerText.includes("It counts with the readings of then")`)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	r := j.Readings[4]
	if r.Housing != 0 || *r.Allowance != 140 || !r.Origin.Late || !j.Pending() || r.Origin.Taken.Equal(r.At) {
		t.Errorf("the reading that waited: %+v", r)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}
