package job_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// odd are events that no form of ours lets through, of each kind: what an imported job, an earlier release or a slip of
// ours may hold. SHA is the hash of a file of the job. All of it is invented.
var odd = map[book.Kind][]string{
	book.KindJobDescribed: {`{}`,
		`{"name":"\u0000\u001b[31m<script>alert(1)</script>","owner":"=cmd","engine":"\u202eenigne"}`, `{"owner":""}`},
	book.KindJobArchived: {`{"reason":5}`, `{}`},
	book.KindJobReopened: {`{"reason":["a"]}`},
	book.KindCardSaved: {`{}`, `{"yaml":5}`, `{"yaml":""}`, `{"yaml":"\u0000"}`,
		`{"yaml":"job: {name: x}\nengine: [1, 2"}`, `{"yaml":"&a [*a, *a]"}`,
		`{"yaml":"job: {name: other}"}`},
	book.KindReadingAdded: {`{}`, `{"id":"a","rpm":800,"shown_deg":400,"locked_deg":8}`,
		`{"id":"b","rpm":800,"shown_deg":8,"locked_deg":400}`, `{"id":"c","rpm":"fast"}`,
		`{"id":"d","rpm":1e308,"shown_deg":-1e308,"locked_deg":1e308}`, `{"id":5,"rpm":0,"shown_deg":8,"locked_deg":8}`,
		`{"id":"e","rpm":-800,"shown_deg":8,"locked_deg":8}`,
		`{"id":"f","rpm":800,"shown_deg":8,"locked_deg":8,"u_deg":-1}`,
		`{"id":"g","rpm":800,"shown_deg":8,"locked_deg":8,"allowance_us":1e9}`,
		`{"id":"h","rpm":800,"shown_deg":8,"locked_deg":8,"note":"\u0000"}`,
		`{"id":"i","rpm":800,"shown_deg":8,"locked_deg":8,"note":"LONG"}`,
		`{"id":"LONG","rpm":900,"shown_deg":999,"locked_deg":8}`,
		`{"id":"two\nlines","rpm":900,"shown_deg":999,"locked_deg":8}`,
		`{"id":"j","rpm":800,"shown_deg":8,"locked_deg":8,"configuration":-5,"taken_at":"0001-01-01T00:00:00Z"}`,
		`{"id":"k","rpm":800,"shown_deg":8,"locked_deg":8,"configuration":1e99,"taken_at":7}`,
		`{"id":"l","rpm":800,"shown_deg":8,"locked_deg":8,"configuration":{}}`},
	book.KindReadingWithdrawn: {`{}`, `{"id":5}`, `{"id":"nobody","reason":{"a":1}}`},
	book.KindCorrectionMade: {`{}`, `{"housing_deg":"far"}`, `{"housing_deg":400,"direction":"with the rotor"}`,
		`{"housing_deg":-3,"direction":"with the rotor"}`,
		`{"housing_deg":1e308,"direction":"against the rotor"}`, `{"housing_deg":3,"direction":"sideways"}`,
		`{"housing_deg":3}`, `{"allowance_us":-5}`, `{"allowance_us":1e300}`},
	book.KindStepDone: {`{}`, `{"step":5}`, `{"step":"polish"}`, `{"step":"idle","proof":{"value":1e308,"rpm":-1e308}}`,
		`{"step":"idle","proof":{}}`, `{"step":"zero","proof":{"kind":"?","value":-9}}`,
		`{"step":"idle","proof":7}`, `{"step":"prove","who":["a"]}`,
		`{"step":"allowance","proof":{"kind":"value","value":1e308}}`,
		`{"step":"marks","proof":{"kind":"photo","sha256":"nothing"}}`},
	book.KindStepUndone: {`{}`, `{"step":"polish"}`, `{"step":"idle","reason":5}`, `{"step":"begin"}`},
	book.KindStepOverride: {`{}`, `{"step":"start"}`, `{"step":"start","who":"","reason":"","against":"all"}`,
		`{"step":"start","who":"N","reason":"LONG","against":["LONG"]}`},
	book.KindAttachmentAdded: {`{"sha256":"SHA","name":"=1+1.csv","media_type":"text/html","size":FILE}`,
		`{"sha256":"SHA","name":"<b>.csv","media_type":"text/csv","size":FILE,"taken_at":[]}`},
	book.KindCaptureRead: {`{}`, `{"sha256":"SHA"}`, `{"sha256":"SHA","summary":{}}`, `{"sha256":"SHA","summary":7}`,
		`{"sha256":"nothing","summary":{}}`,
		`{"sha256":"SHA","summary":{"duration_s":-1,"sync":"held"}}`,
		`{"sha256":"SHA","summary":{"duration_s":1e308,"edges":-4,"speed_rpm":{"min":1e308,"mean":-1e308,"max":0}}}`,
		`{"sha256":"SHA","summary":{"duration_s":3,"sync":"?","channels":[{"name":"","role":"pilot","edges":-3}],"crank":{"edges_per_cycle":-1,"spacing_error_deg":[1],"intervals_deg":[]}}}`,
		`{"sha256":"SHA","summary":{"duration_s":3,"sync":"held","crank":{"edges_per_cycle":6,"active_edge":"rising"},"cam":{},"spark":{"count":-3,"by_cylinder":[{},{"cylinder":99}]},"timing":{},"series":{}}}`,
		`{"sha256":"SHA","summary":{"duration_s":3,"sync":"held","spark":{"count":9},"series":{"cycle":[{"role":"crank","deg":1e9}]}}}`,
		`{"sha256":"SHA","summary":{"duration_s":3,"sync":"held","zero":"TDC firing of cylinder 1, by the mark","crank":{"edges_per_cycle":1,"intervals_deg":[1e9],"active_edge":"rising"},"spark":{"count":9,"by_cylinder":[{"cylinder":1}]},"series":{"cycle":[{"role":"crank","edge":"rising","deg":700},{"role":"crank","edge":"falling","deg":-700},{"role":"spark","deg":1e3,"sd_deg":1e9}],"by_speed":[{"rpm":-1},{"rpm":0},{"rpm":0}],"speed":[{"time_s":5,"min":9,"mean":3,"max":-3},{"time_s":1}],"cylinders":[{"cylinder":-1}],"firings":[{"cylinder":1,"count":-3,"early_deg":1e9,"sd_deg":-1,"bins":[-5],"by_speed":[{"rpm":1},{"rpm":1}]},{"cylinder":1}]}}}`,
		`{"sha256":"SHA","summary":{"duration_s":3,"sync":"held","timing":{"offset_deg":{"value":1e14,"u":-1,"lo":9,"hi":-9},"verdict":"?","commanded":true,"error_at":[{"rpm":0},{"rpm":-9}],"from_rpm":900000},"spark":{"count":9},"series":{"by_speed":[{"rpm":1,"error_deg":1e14}]}}}`,
		`{"sha256":"SHA","summary":{"duration_s":3,"anomaly_count":{"x":-9},"anomalies":[{"kind":"?","time_s":-1e9}],"losses":[{"time_s":-3}],"findings":[{}],"doubts":["LONG"]}}`},
	book.KindEvidenceSaved: {`{}`, `{"fields":5}`, `{"fields":{"worked_on":["nothing"],"lamps.crank":["?"],"":[""]}}`,
		`{"fields":{"worked_on":[]}}`,
		`{"fields":{"flashes at idle":["a: b"],"lamp crank before":["]}"],"engine.misfire":["1e9"],"light.shown":["1e308 deg"]}}`},
	book.KindProofSigned: {`{}`, `{"name":5}`, `{"name":"<script>","verdict":"?"}`},
	book.KindNoteAdded:   {`{}`, `{"text":5}`, `{"text":"\u0000<script>"}`, `{"text":"x","configuration":"a"}`},
	"tea.made":           {`{}`, `{"name":"tea"}`},
}

// oddJob is a job with readings and a file.
func oddJob(s *webtest.Shop) (job, sha string) {
	s.T.Helper()
	job = s.NewJob()
	for _, r := range [][2]string{{"800", "8.5"}, {"1800", "8.4"}, {"3000", "8.2"}} {
		s.Read(job, r[0], r[1])
	}
	e, err := s.Book.PutAttachment(s.T.Context(), job, book.NewAttachment{Who: "Ada", Name: "run.csv",
		MediaType: "text/csv"}, strings.NewReader(oddFile))
	if err != nil {
		s.T.Fatal(err)
	}
	var kept struct{ SHA256 string }
	if err := json.Unmarshal(e.Payload, &kept); err != nil {
		s.T.Fatal(err)
	}
	return job, kept.SHA256
}

const oddFile = "time,crank\n0,0\n1,5\n"

// Whatever a book holds, every page of the job stands: no content of an event makes one fail. Cards and what recordings
// showed replace those before, so that they are looked at one by one; the rest stands in one job together.
func TestOddEventsLeaveEveryPageStanding(t *testing.T) {
	s := webtest.NewShop(t).Odd()
	every := func(string) bool { return true }
	for kind, payloads := range odd {
		job, sha := oddJob(s)
		for _, text := range payloads {
			payload := strings.NewReplacer("SHA", sha, "FILE", fmt.Sprint(len(oddFile)), "LONG", strings.Repeat("long ",
				800)).Replace(text)
			if _, err := s.Book.Append(t.Context(), job, book.AnyVersion, book.Draft{Who: "=Ada", Kind: kind,
				Payload: json.RawMessage(payload)}); err != nil {
				t.Fatalf("%s %s: %v", kind, text, err)
			}
			switch kind {
			case book.KindCardSaved:
				s.Stands(job, sha, text, every)
			case book.KindCaptureRead:
				s.Stands(job, sha, text, func(page string) bool {
					return strings.Contains(page, "capture") ||
						strings.Contains(page, "suspects")
				})
			}
		}
		s.Read(job, "2500", "8.3")
		s.Stands(job, sha, fmt.Sprint(kind, " ", payloads), every)
	}
	s.Settle()
}

// A reading that cannot be one, as an imported job may hold it, is shown as not counting, is no part of fit, chart,
// proof and file, and can be withdrawn.
func TestImpossibleReadingIsShownAndWithdrawn(t *testing.T) {
	s := webtest.NewShop(t).Odd()
	for _, payload := range odd[book.KindReadingAdded][:13] {
		job := s.NewJob()
		for _, r := range [][2]string{{"800", "8.5"}, {"1800", "8.4"}, {"3000", "8.2"}} {
			s.Read(job, r[0], r[1])
		}
		fit := func() string {
			j, err := s.Shelf.Job(t.Context(), job)
			if err != nil {
				t.Fatal(err)
			}
			res, err := j.Fit()
			if err != nil {
				t.Fatal(err)
			}
			return fmt.Sprint(res.Offset, res.Used, j.Pending(), len(j.Counting()))
		}
		was, file := fit(), s.Get("/job/"+job+"/readings.csv").Body.String()
		payload = strings.ReplaceAll(payload, "LONG", strings.Repeat("long ", 800))
		e, err := s.Book.Append(t.Context(), job, book.AnyVersion, book.Draft{Who: "Ada", Kind: book.KindReadingAdded,
			Payload: json.RawMessage(payload)})
		if err != nil {
			t.Fatal(err)
		}
		page := webtest.HTMLText(s.Get("/job/" + job + "/readings").Body.String())
		if !strings.Contains(page, "does not count, because it is impossible: ") || !strings.Contains(page,
			fmt.Sprintf(`<option value="%d">`, e.Version)) {
			t.Errorf("%.100s: the page does not say that it does not count, or offers no way to withdraw it", payload)
		}
		webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job).Body.String()), "; does not count: ")
		if now := fit(); now != was || s.Get("/job/"+job+"/readings.csv").Body.String() != file {
			t.Errorf("%.100s: the fit was %s and is %s, or the file changed", payload, was, now)
		}
		webtest.WantCode(t, s.Post("/job/"+job+"/readings/withdraw", url.Values{"row": {fmt.Sprint(e.Version)},
			"reason": {"from another book"}}), http.StatusSeeOther)
		webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+"/readings").Body.String()), "withdrawn: from another book")
		line, err := s.Book.Job(t.Context(), job)
		if err != nil || line.Readings != 3 {
			t.Errorf("%.100s: the list counts %d readings, %v", payload, line.Readings, err)
		}
	}
}

// What else does not count is said where it is looked for: a correction among the corrections, a recording among the
// recordings, with the way out.
func TestOtherImpossibleThingsAreShown(t *testing.T) {
	s := webtest.NewShop(t).Odd()
	job, sha := oddJob(s)
	for _, d := range []book.Draft{
		{Kind: book.KindCorrectionMade, Payload: json.RawMessage(`{"housing_deg":400,"direction":"with the rotor"}`)},
		{Kind: book.KindCorrectionMade, Payload: json.RawMessage(`{"allowance_us":"much"}`)},
		{Kind: book.KindCaptureRead, Payload: json.RawMessage(`{"sha256":"` + sha + `","summary":{"edges":-1}}`)},
		{Kind: book.KindCardSaved, Payload: json.RawMessage(`{"yaml":5}`)},
	} {
		d.Who = "Ada"
		if _, err := s.Book.Append(t.Context(), job, book.AnyVersion, d); err != nil {
			t.Fatal(err)
		}
	}
	page := webtest.HTMLText(s.Get("/job/" + job + "/readings").Body.String())
	webtest.WantIn(t, page, "does not count: housing_deg is impossible: 400°")
	webtest.WantIn(t, page, "does not count: allowance_us is a JSON string, which it cannot be")
	for _, one := range []string{"/captures", "/captures/" + sha} {
		webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+one).Body.String()),
			"what was recorded of it does not count: summary is impossible")
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job).Body.String()), "does not count: yaml is a JSON number")
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil || len(j.Corrections) != 0 || j.Card == nil || j.Pending() {
		t.Errorf("%+v, %v", j, err)
	}
}

// The form and the import refuse the same readings, in the same words.
func TestFormAndImportRefuseTheSame(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, c := range []struct {
		form    url.Values
		payload string
		say     string
	}{
		{url.Values{"rpm": {"800"}, "shown": {"8"}, "locked": {"400"}}, `{"rpm":800,"shown_deg":8,"locked_deg":400}`,
			"is impossible: 400°; write degrees BTDC from -180 to 180"},
		{url.Values{"rpm": {"5"}, "shown": {"8"}, "locked": {"8"}}, `{"rpm":5,"shown_deg":8,"locked_deg":8}`,
			"is too slow for a reading: 5 rpm"},
		{url.Values{"rpm": {"800"}, "shown": {"8"}, "locked": {"8"}, "u": {"-1"}},
			`{"rpm":800,"shown_deg":8,"locked_deg":8,"u_deg":-1}`, "is not an uncertainty: -1°"},
		{url.Values{"rpm": {"800"}, "shown": {"8"}, "locked": {"8"}, "note": {strings.Repeat("n", 501)}},
			`{"rpm":800,"shown_deg":8,"locked_deg":8,"note":"` + strings.Repeat("n", 501) + `"}`,
			"is longer than 500 characters"},
		{url.Values{"rpm": {"800"}, "shown": {"8"}, "locked": {"8"}}, `{"rpm":800,"shown_deg":8,"locked_deg":8}`, ""},
	} {
		w := s.Do(webtest.Request("POST", "/job/"+job+"/readings", webtest.HostAddr, c.form,
			func(r *http.Request) { r.Header.Set("Accept", "application/json") }))
		err := record.CheckImport([]book.Event{{Version: 7, Who: "Ben", Kind: book.KindReadingAdded,
			Payload: json.RawMessage(c.payload)}})
		if c.say == "" {
			if w.Code != 200 || err != nil {
				t.Errorf("%s: %d, %v", c.payload, w.Code, err)
			}
			continue
		}
		var said page.Reply
		if json.Unmarshal(w.Body.Bytes(), &said) != nil || w.Code != 422 || !strings.Contains(fmt.Sprint(said.Fields),
			c.say) {
			t.Errorf("%.80s: the form says %d %s", c.payload, w.Code, w.Body)
		}
		if err == nil || !strings.Contains(err.Error(), c.say) || !strings.Contains(err.Error(),
			"event 7, a reading recorded by Ben") || !strings.Contains(err.Error(), "withdraw that reading") {
			t.Errorf("%.80s: the import says %v", c.payload, err)
		}
	}
	// Withdrawn, it travels.
	if err := record.CheckImport([]book.Event{{Version: 7, Kind: book.KindReadingAdded,
		Payload: json.RawMessage(`{"id":"a","rpm":800,"shown_deg":8,"locked_deg":400}`)},
		{Version: 8, Kind: book.KindReadingWithdrawn, Payload: json.RawMessage(`{"id":"a"}`)}}); err != nil {
		t.Error(err)
	}
}
