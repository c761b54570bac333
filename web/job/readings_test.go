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
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// The page shows what the judge says of the job, and the figures of the fit, nothing else.
func TestPageSaysWhatTheJudgeSays(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	advised := 0
	for _, r := range [][2]float64{{800, 11.1}, {1500, 10.8}, {2200, 10.6}, {3000, 10.1}, {3700, 9.9}, {800, 11}, {2200, 10.5}, {3700, 9.8}} {
		webtest.WantCode(t, s.Read(job, fmt.Sprint(r[0]), fmt.Sprint(r[1])), 303)
		j, err := s.Shelf.Job(t.Context(), job)
		if err != nil {
			t.Fatal(err)
		}
		says, err := j.Judge()
		if err != nil {
			t.Fatal(err)
		}
		res, err := j.Fit()
		if err != nil {
			t.Fatal(err)
		}
		body := webtest.HTMLText(s.Get("/job/" + job + "/readings").Body.String())
		webtest.WantIn(t, body, "</svg>"+string(says.Verdict)+"</p>")
		webtest.WantIn(t, body, page.Whole(page.Sentence(says.Next)))
		if turns := strings.Contains(body, "urn the housing"); turns != (says.Cure != nil) {
			t.Errorf("%s: the page speaks of a turn: %v, the judge of a cure: %v", says.Next, turns, says.Cure)
		} else if turns {
			advised++
		}
		if res.Offset.Known() {
			webtest.WantIn(t, body, ">"+page.Signed(res.Offset.Value, 1)+"°<")
			webtest.WantIn(t, body, ">"+page.Signed(res.Delay.Value, 0)+" µs<")
		}
		if t.Failed() {
			t.FailNow()
		}
	}
	if advised == 0 {
		t.Error("no cure was ever advised")
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
	webtest.WantIn(t, page, `<b id="verdict">not shown yet</b>`)
	seen := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(page)[1]
	webtest.WantCode(t, s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {""}}), 422)
	s.Read(job, "3700", "12", "confirmed", "yes")
	w := s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {"A. Reed"}})
	webtest.WantCode(t, w, http.StatusConflict)
	webtest.WantIn(t, w.Body.String(), "changed while you looked")
	page = w.Body.String()
	seen = regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(page)[1]
	s.Post("/job/"+job+"/note", url.Values{"text": {"a note moves nothing"}})
	webtest.WantCode(t, s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {"A. Reed"}}), 303)
	page = s.Get("/job/" + job + "/proof").Body.String()
	webtest.WantIn(t, page, "Signed by A. Reed")
	webtest.WantIn(t, page, "Sign too")
	seen = regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(page)[1]
	webtest.WantCode(t, s.Post("/job/"+job+"/proof/sign", url.Values{"version": {seen}, "name": {"I. Vane"}, "role": {"surveyor"}}), 303)
	webtest.WantIn(t, s.Get("/job/"+job+"/proof").Body.String(), "Signed by A. Reed")
	webtest.WantIn(t, s.Get("/job/"+job+"/proof").Body.String(), "Signed by I. Vane, surveyor")
	webtest.WantPDFText(t, "proof.pdf", s.Get("/job/"+job+"/proof.pdf").Body.Bytes(), "surveyor: I. Vane")
	s.Read(job, "800", "8")
	if strings.Contains(s.Get("/job/"+job+"/proof").Body.String(), "Signed by") {
		t.Error("a reading after the signature leaves it standing")
	}
	page = s.Get("/job/" + job + "/proof").Body.String()
	webtest.WantIn(t, page, "Proof signed by A. Reed, I. Vane")
	webtest.WantPDFText(t, "proof.pdf", s.Get("/job/"+job+"/proof.pdf").Body.Bytes(), "NOT SIGNED")
	before := regexp.MustCompile(`proof\.pdf\?signed=\d+`).FindString(page)
	signed := s.Get("/job/" + job + "/" + before).Body.Bytes()
	webtest.WantPDFText(t, "superseded.pdf", signed, "SUPERSEDED on")
	webtest.WantPDFText(t, "superseded.pdf", signed, "surveyor: I. Vane")
	webtest.WantCode(t, s.Get("/job/"+job+"/proof.pdf?signed=1"), 404)
}

// An unlikely reading is asked back, kept with what was typed, and recorded once somebody says that it was shown.
func TestUnlikelyReadingIsAskedBack(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Read(job, "800", "8")
	for _, c := range []struct{ rpm, shown, wire, say string }{
		{"20000", "8", "", "far above the redline"},
		{"820", "12", "", "away from row 1 at the same speed"},
		{"2000", "16", "", "about twice the commanded 8.0°"},
		{"2000", "-112", "5", "No. 1's zero mark would show"},
	} {
		w := s.Read(job, c.rpm, c.shown, "wire", c.wire, "note", "wet hands")
		if w.Code != 422 {
			t.Errorf("%s: status %d", c.say, w.Code)
			continue
		}
		body := webtest.HTMLText(w.Body.String())
		webtest.WantIn(t, body, c.say)
		webtest.WantIn(t, body, `value="wet hands"`)
		if !regexp.MustCompile(`data-ask>Yes, it showed that`).MatchString(w.Body.String()) {
			t.Errorf("%s: no button to say yes", c.say)
		}
		w = s.Do(webtest.Request("POST", "/job/"+job+"/readings", webtest.HostAddr, url.Values{"rpm": {c.rpm}, "shown": {c.shown},
			"locked": {"8"}, "wire": {c.wire}}, func(r *http.Request) { r.Header.Set("Accept", "application/json") }))
		var said page.Reply
		if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || w.Code != 422 || said.Fields["confirmed"] == "" {
			t.Errorf("script is told %d %s", w.Code, w.Body)
		}
	}
	// A cylinder that is not there cannot be confirmed.
	for _, yes := range []string{"", "yes"} {
		w := s.Read(job, "2000", "8", "wire", "7", "confirmed", yes)
		webtest.WantCode(t, w, 422)
		webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "no cylinder 7")
	}
	if n := len(s.Kinds(job)); n != 3 {
		t.Errorf("%d events after questions, want 3", n)
	}
	webtest.WantCode(t, s.Read(job, "820", "12", "confirmed", "yes", "key", "k"), 303)
	webtest.WantCode(t, s.Read(job, "820", "12", "confirmed", "yes", "key", "k"), 303)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if all := j.Counting(); len(all) != 2 || !all[1].Confirmed || all[0].Confirmed {
		t.Errorf("readings %+v", all)
	}
}

// A reading that waits in the book, of an earlier release or of the order of work, does not count until somebody answers
// on the page; then it is recorded again, as taken.
func TestWaitingReadingIsConfirmedOnThePage(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, r := range [][2]string{{"800", "8"}, {"1500", "8.25"}, {"3000", "7.75"}} {
		s.Read(job, r[0], r[1])
	}
	if _, err := s.Book.Append(t.Context(), job, book.AnyVersion, book.Draft{Who: "Ada", Kind: book.KindReadingAdded,
		Payload: json.RawMessage(`{"id":"old","rpm":20000,"shown_deg":8,"locked_deg":8,"allowance_us":85}`)}); err != nil {
		t.Fatal(err)
	}
	fitted := func() *record.Fitted {
		j, err := s.Shelf.Job(t.Context(), job)
		if err != nil {
			t.Fatal(err)
		}
		res, err := j.Fit()
		if err != nil {
			t.Fatal(err)
		}
		return res
	}
	if res := fitted(); res.Used != 3 {
		t.Errorf("%d readings count", res.Used)
	}
	body := s.Get("/job/" + job + "/readings").Body.String()
	webtest.WantIn(t, webtest.HTMLText(body), "not counted: 20\u2009000\u2009rpm is far above the redline")
	form := regexp.MustCompile(`readings/confirm"><input type="hidden" name="row" value="(\d+)"`).FindStringSubmatch(body)
	if form == nil {
		t.Fatal("no way to confirm it")
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/readings/confirm", url.Values{"row": {form[1]}}), 303)
	webtest.WantCode(t, s.Post("/job/"+job+"/readings/confirm", url.Values{"row": {form[1]}}), 303) // again: nothing more
	if res := fitted(); len(res.Points) != 4 || len(res.Asked) != 1 || !res.Asked[0].Counts {
		t.Errorf("after the answer: %d points, asked %+v", len(res.Points), res.Asked)
	}
	if k := s.Kinds(job); len(k) != 8 {
		t.Errorf("events %v", k)
	}
}

// The light on another wire: on the page with its offset, in the file with its number, and no stretch of the chart.
func TestOtherWiresOnThePage(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, r := range [][3]string{{"800", "8.1", ""}, {"1500", "8", "1"}, {"2300", "7.9", ""}, {"3000", "8.1", ""}, {"3700", "8", ""}, {"800", "8.3", "6"}, {"2300", "8.2", "6"}} {
		webtest.WantCode(t, s.Read(job, r[0], r[1], "wire", r[2]), 303)
	}
	body := s.Get("/job/" + job + "/readings").Body.String()
	webtest.WantIn(t, body, `<th scope="row">6</th><td>2</td>`)
	webtest.WantIn(t, body, "wire 6")
	webtest.WantIn(t, s.Get("/job/"+job+"/readings.csv").Body.String(), ",6")
	webtest.WantCode(t, s.Read(job, "900", "8", "wire", "2.5"), 422)
	// 20 000 rpm, confirmed and set aside, stands at the edge with its figures.
	webtest.WantCode(t, s.Read(job, "20000", "45", "confirmed", "yes"), 303)
	body = webtest.HTMLText(s.Get("/job/" + job + "/readings").Body.String())
	if !regexp.MustCompile(`>20.000.rpm, \+37\.0°<`).MatchString(body) {
		t.Error("the chart does not say what lies beyond its edge")
	}
}
