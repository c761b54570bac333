package job_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// The page shows what the readings room says of the same rows, nothing else.
func TestPageSaysWhatTheFitSays(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	card, err := jobcard.Parse("", []byte(webtest.Example(t, "sandpiper")))
	if err != nil {
		t.Fatal(err)
	}
	var rows []readings.Row
	for _, r := range [][2]float64{{800, 9.9}, {1500, 9.5}, {2200, 9.3}, {3000, 8.8}, {3700, 8.6}, {800, 9.8}, {2200, 9.2}, {3700, 8.5}} {
		webtest.WantCode(t, s.Read(job, fmt.Sprint(r[0]), fmt.Sprint(r[1])), 303)
		rows = append(rows, record.Reading{RPM: r[0], Shown: r[1], Locked: 8}.Row())
		res, err := readings.Fit(rows, readings.FromCard(card))
		if err != nil {
			t.Fatal(err)
		}
		body := webtest.HTMLText(s.Get("/job/" + job + "/readings").Body.String())
		webtest.WantIn(t, body, "</svg>"+string(res.Verdict)+"</p>")
		webtest.WantIn(t, body, page.Whole(res.Advice[0]))
		if res.Offset.Known() {
			webtest.WantIn(t, body, ">"+page.Signed(res.Offset.Value, 1)+"°<")
			webtest.WantIn(t, body, ">"+page.Signed(res.Delay.Value, 0)+" µs<")
		}
		if t.Failed() {
			t.FailNow()
		}
	}
}

func TestReadingSentTwiceCountsOnce(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	webtest.WantCode(t, s.Read(job, "800", "9", "key", "phone-1"), 303)
	webtest.WantCode(t, s.Read(job, "800", "9", "key", "phone-1"), 303)
	if n := len(s.Kinds(job)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
	w := s.Read(job, "900", "9", "key", "phone-1")
	webtest.WantCode(t, w, http.StatusConflict)
	webtest.WantIn(t, w.Body.String(), "900")
}

func TestWrongFiguresAreRefusedWithWords(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, c := range []struct{ rpm, shown, say string }{
		{"", "9", `is empty; write the speed in rpm`},
		{"12..5", "9", `"12..5" is not a number`},
		{"0x320", "9", `is not a number`}, {"inf", "9", `is not a number`}, {"1e3", "9", `is not a number`},
		{"5", "9", "too slow for a reading"},
		{"800", "", "write degrees BTDC"},
		{"800", "200", "is impossible"},
	} {
		w := s.Read(job, c.rpm, c.shown, "note", "wet hands")
		webtest.WantCode(t, w, 422)
		body := webtest.HTMLText(w.Body.String())
		webtest.WantIn(t, body, c.say)
		webtest.WantIn(t, body, `value="wet hands"`) // what was typed is kept
		webtest.WantIn(t, body, `aria-invalid="true"`)
		w = s.Do(webtest.Request("POST", "/job/"+job+"/readings", webtest.HostAddr, url.Values{"rpm": {c.rpm}, "shown": {c.shown}, "locked": {"8"}}, func(r *http.Request) { r.Header.Set("Accept", "application/json") }))
		var said page.Reply
		if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || w.Code != 422 || !strings.Contains(fmt.Sprint(said.Fields), c.say) {
			t.Errorf("script is told %d %s", w.Code, w.Body)
		}
	}
	if n := len(s.Kinds(job)); n != 2 {
		t.Errorf("%d events after refusals, want 2", n)
	}
}

func TestWithdrawnReadingLeavesTheFitNotTheRecord(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Read(job, "800", "9", "key", "a")
	s.Read(job, "2000", "25", "key", "b")
	webtest.WantCode(t, s.Post("/job/"+job+"/readings/withdraw", url.Values{"id": {"b"}, "reason": {"dial was off"}}), 303)
	webtest.WantCode(t, s.Post("/job/"+job+"/readings/withdraw", url.Values{"id": {"b"}}), 303) // again: nothing more
	body := s.Get("/job/" + job + "/readings").Body.String()
	webtest.WantIn(t, body, "withdrawn: dial was off")
	if k := s.Kinds(job); len(k) != 5 || k[4] != book.KindReadingWithdrawn {
		t.Errorf("events %v", k)
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil || len(j.Counting()) != 1 {
		t.Errorf("%d readings count, %v", len(j.Counting()), err)
	}
}

// A housing turn against the rotor advances, one with it retards: twice its degrees on the crank. Readings before and
// after it fit one line.
func TestCorrectionMovesWhatWasReadBefore(t *testing.T) {
	correctionMoves(t, "5", "against the rotor") // 3° late everywhere
	correctionMoves(t, "11", "with the rotor")   // 3° early
}

func correctionMoves(t *testing.T, shown, direction string) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, r := range []string{"800", "1800", "2800", "3700"} {
		s.Read(job, r, shown)
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/readings/correction", url.Values{"housing": {"1.5"}, "direction": {direction}}), 303)
	body := s.Get("/job/" + job + "/readings").Body.String()
	webtest.WantIn(t, body, "corrected: read again")
	s.Read(job, "800", "8") // one alone fits together with those of before: 3° then is nothing now
	if j, err := s.Shelf.Job(t.Context(), job); err != nil {
		t.Fatal(err)
	} else if res, err := j.Fit(); err != nil || res.Used != 5 || res.Offset.Value < -0.01 || res.Offset.Value > 0.01 {
		t.Fatalf("offset %v° through %d readings, %v; want 0° through 5", res.Offset.Value, res.Used, err)
	}
	for _, r := range []string{"1800", "2800", "3700"} {
		s.Read(job, r, "8")
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	res, err := j.Fit()
	if err != nil {
		t.Fatal(err)
	}
	if v := res.Offset.Value; v < -0.01 || v > 0.01 || res.Used != 4 || res.From != 4 {
		t.Errorf("offset %v° through %d readings after the turn, want 0° through the 4 new ones", v, res.Used)
	}
	if body := s.Get("/job/" + job + "/readings").Body.String(); strings.Count(body, "before the correction") < 4 {
		t.Error("the page does not say which readings were taken before the correction")
	}
	for _, bad := range []url.Values{{}, {"housing": {"1"}}, {"housing": {"-1"}, "direction": {"with the rotor"}}, {"allowance": {"-5"}}, {"allowance": {"soon"}}} {
		webtest.WantCode(t, s.Post("/job/"+job+"/readings/correction", bad), 422)
	}
}

func TestProofIsSignedOnWhatWasSeen(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, r := range []string{"800", "1500", "2200", "3000", "3700", "800", "2200", "3700"} {
		s.Read(job, r, "8.1")
	}
	page := s.Get("/job/" + job + "/proof").Body.String()
	webtest.WantIn(t, page, "</svg>pass</p>")
	seen := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(page)[1]
	webtest.WantCode(t, s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {""}}), 422)
	s.Read(job, "3700", "12")
	w := s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {"A. Reed"}})
	webtest.WantCode(t, w, http.StatusConflict)
	webtest.WantIn(t, w.Body.String(), "changed while you looked")
	page = w.Body.String()
	seen = regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(page)[1]
	s.Post("/job/"+job+"/note", url.Values{"text": {"a note moves nothing"}})
	webtest.WantCode(t, s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {"A. Reed"}}), 303)
	webtest.WantIn(t, s.Get("/job/"+job+"/proof").Body.String(), "Signed by A. Reed")
	s.Read(job, "800", "8")
	if strings.Contains(s.Get("/job/"+job+"/proof").Body.String(), "Signed by") {
		t.Error("a reading after the signature leaves it standing")
	}
}
