package job_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// sparkJob starts a job with an example's card, texts replaced: old, new …
func sparkJob(s *webtest.Shop, name string, swap ...string) string {
	s.T.Helper()
	text := webtest.Example(s.T, name)
	for i := 0; i < len(swap); i += 2 {
		if !strings.Contains(text, swap[i]) {
			s.T.Fatalf("%s does not hold %q", name, swap[i])
		}
		text = strings.Replace(text, swap[i], swap[i+1], 1)
	}
	w := s.Post("/new", url.Values{"name": {name}, "from": {"paste"}, "yaml": {text}})
	if w.Code != http.StatusSeeOther {
		s.T.Fatalf("new job: %d %s", w.Code, w.Body)
	}
	return w.Header().Get("Location")
}

// saveCard saves another card, as another screen would.
func saveCard(s *webtest.Shop, job, yaml string) {
	s.T.Helper()
	j, err := s.Shelf.Job(context.Background(), strings.TrimPrefix(job, "/job/"))
	if err != nil {
		s.T.Fatal(err)
	}
	if w := s.Post(job+"/card", url.Values{"version": {fmt.Sprint(uint64(j.Version))}, "yaml": {yaml}}); w.Code != http.StatusSeeOther {
		s.T.Fatalf("card: %d %s", w.Code, w.Body)
	}
}

func wantOut(t *testing.T, body, part string) {
	t.Helper()
	if strings.Contains(body, part) {
		t.Errorf("page holds %q", part)
	}
}

// What is tried is answered, recorded nowhere, and says what to write on the card.
func TestSparkTrial(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	id := strings.TrimPrefix(job, "/job/")
	before := len(s.Kinds(id))
	w := s.Get(job + "/spark")
	webtest.WantCode(t, w, 200)
	for _, part := range []string{`name="dwell" value="3.2"`, "dwell set too short", "These try values", "Spark in hand", `id="decide-p`, `id="decide-d`, `id="sweep-p`} {
		webtest.WantIn(t, w.Body.String(), part)
	}
	wantOut(t, w.Body.String(), "To keep it")

	w = s.Get(job + "/spark?dwell=1,5&lead=44&gap=0.7&supply=13.8")
	webtest.WantCode(t, w, 200)
	for _, part := range []string{"To keep it, write on the card", "ignition.dwell", "1.5 ms", "now 3.2 ms", "signals.crank.lead", "44 deg", "ignition.plug_gap", "Worse than on the card", "on the card fine"} {
		webtest.WantIn(t, w.Body.String(), part)
	}
	wantOut(t, w.Body.String(), "<dt>ignition.supply") // it is as on the card
	part := s.Get(job + "/spark/part?dwell=1,5&lead=44&gap=0.7&supply=13.8")
	webtest.WantCode(t, part, 200)
	for _, div := range []string{`<div id="said"`, `<div id="picture"`, `<div id="write"`, `<div id="dwell-said"`} {
		webtest.WantIn(t, part.Body.String(), div)
	}
	wantOut(t, part.Body.String(), "<html")
	// the part is what the page holds, word for word
	between := func(body string) string {
		_, after, _ := strings.Cut(body, `<div id="picture"`)
		return strings.TrimSpace(strings.Split(after, "</section>")[0])
	}
	if between(part.Body.String()) != between(w.Body.String()) || len(between(w.Body.String())) < 5000 {
		t.Error("part and page differ")
	}
	if now := s.Kinds(id); len(now) != before {
		t.Errorf("a trial was recorded: %v", now)
	}
}

// Values that cannot be tried are refused at their field, with what is accepted; none is silently changed.
func TestSparkRefuses(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	for query, says := range map[string][]string{
		"dwell=45":                  {"45 ms is out of reach", "write 0.5 ms to 8 ms", `value="45"`},
		"dwell=lots":                {"&#34;lots&#34; is not a number", "write 0.5 ms to 8 ms"},
		"supply=2":                  {"2 V is out of reach", "write 6 V to 17 V"},
		"gap=9":                     {"9 mm is out of reach", "write 0.3 mm to 2 mm"},
		"lead=130":                  {"130° is out of reach", "write 35° to 121°"},
		"lead=%3Cscript%3E&dwell=3": {"&lt;script&gt;", "is not a number"},
		"gap=NaN":                   {"is out of reach"},
	} {
		for _, path := range []string{"/spark?", "/spark/part?"} {
			w := s.Get(job + path + query)
			webtest.WantCode(t, w, http.StatusUnprocessableEntity)
			for _, part := range says {
				if path == "/spark/part?" && strings.HasPrefix(part, "value=") {
					continue
				}
				webtest.WantIn(t, w.Body.String(), part)
			}
			wantOut(t, w.Body.String(), "<script>")
			wantOut(t, w.Body.String(), "decide-p") // no chart of something else
		}
	}
	// a target that this supply never reaches: the card's field, and what would do
	weak := sparkJob(s, "sandpiper", "target: 7 A", "target: 9 A")
	w := s.Get(weak + "/spark?supply=6")
	webtest.WantCode(t, w, http.StatusUnprocessableEntity)
	webtest.WantIn(t, w.Body.String(), "<b>coil.target: ")
	webtest.WantIn(t, w.Body.String(), "is never reached")
	webtest.WantIn(t, w.Body.String(), "set a lower target")
	// a tip wider than its place between towers
	wide := sparkJob(s, "sandpiper", "rotor_tip: 9 mm", "rotor_tip: 24 mm")
	w = s.Get(wide + "/spark")
	webtest.WantCode(t, w, 200)
	webtest.WantIn(t, w.Body.String(), "distributor.rotor_tip: a tip of")
	webtest.WantIn(t, w.Body.String(), "write a tip narrower than")
	for _, file := range []string{"/spark.pdf", "/dwell.csv"} {
		webtest.WantCode(t, s.Get(wide+file), http.StatusConflict)
	}
	// a job without a card that can be used
	blank := strings.TrimSuffix(s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	for _, path := range []string{"/spark/part?dwell=9", "/spark.pdf", "/dwell.csv"} {
		w := s.Get(blank + path)
		webtest.WantCode(t, w, http.StatusConflict)
		webtest.WantIn(t, w.Body.String(), "Correct the job card first")
	}
	webtest.WantCode(t, s.Get("/job/none/spark"), 404)
	webtest.WantCode(t, s.Get("/job/none/spark/part"), 404)
}

// Every example has its page; what its card does not say is asked for, never made up.
func TestSparkOfEveryExample(t *testing.T) {
	s := webtest.NewShop(t)
	for name, says := range map[string][]string{
		"sandpiper": {"current A", "in hand, times"}, "heron-ferry": {"current A", "Coil from the measured charge"}, "mill-pump": {"current A"}, "ember-twelve": {"pulse fits ms", "Write ignition.box_voltage"},
		"gorse-hill": {"pulse fits ms", "needs kV"}, "tern-single": {"Write the coil section", "needs kV"},
	} {
		job := sparkJob(s, name)
		w := s.Get(job + "/spark")
		webtest.WantCode(t, w, 200)
		for _, part := range says {
			webtest.WantIn(t, w.Body.String(), part)
		}
		if coil := name == "sandpiper" || name == "heron-ferry" || name == "mill-pump"; coil {
			webtest.WantIn(t, w.Body.String(), "/dwell.csv")
		} else {
			wantOut(t, w.Body.String(), "/dwell.csv")
			webtest.WantCode(t, s.Get(job+"/dwell.csv"), http.StatusConflict)
		}
		pdf := s.Get(job + "/spark.pdf")
		webtest.WantCode(t, pdf, 200)
		webtest.WantPDFText(t, "spark.pdf", pdf.Body.Bytes(), "The chart in figures")
	}
	box := sparkJob(s, "gorse-hill", "output: spark box", "output: spark box, box_voltage: 38 kV ± 4 kV")
	webtest.WantIn(t, s.Get(box+"/spark").Body.String(), "the spark box can give 34.0 to 42.0 kV")
	blank := strings.TrimSuffix(s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	webtest.WantIn(t, s.Get(blank+"/spark").Body.String(), "Open the job card")
	for _, file := range []string{"/spark.pdf", "/dwell.csv"} {
		webtest.WantCode(t, s.Get(blank+file), http.StatusConflict)
	}
}

// The dwell table is a file that other programs read: 6 to 16 V by halves, dwell falling as supply rises.
func TestDwellCSV(t *testing.T) {
	s := webtest.NewShop(t)
	w := s.Get(sparkJob(s, "sandpiper") + "/dwell.csv")
	webtest.WantCode(t, w, 200)
	rows, err := csv.NewReader(bytes.NewReader(w.Body.Bytes())).ReadAll() // RFC 4180
	if err != nil || len(rows) != 22 || rows[1][0] != "6.00" || rows[21][0] != "16.00" {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i := 2; i < len(rows); i++ {
		var a, b float64
		fmt.Sscan(rows[i-1][1], &a)
		fmt.Sscan(rows[i][1], &b)
		if rows[i-1][3] == "yes" && !(b < a) {
			t.Errorf("%s V needs %s µs, %s V %s", rows[i-1][0], rows[i-1][1], rows[i][0], rows[i][1])
		}
	}
}

// Whoever may look may try; nobody else may.
func TestSparkNeedsPairing(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	for _, path := range []string{"/spark", "/spark/part", "/spark.pdf", "/dwell.csv"} {
		webtest.WantCode(t, s.Do(webtest.Request("GET", job+path, webtest.PhoneAddr, nil)), http.StatusSeeOther)
		look := s.PairPhone(page.Look)
		webtest.WantCode(t, s.Do(webtest.Request("GET", job+path, webtest.PhoneAddr, nil, func(r *http.Request) { r.AddCookie(look) })), 200)
	}
}

// A card changed on another screen changes the page, and its version tells those who follow.
func TestSparkFollowsTheCard(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	webtest.WantIn(t, s.Get(job+"/spark").Body.String(), "card 3.2 ms")
	saveCard(s, job, strings.Replace(webtest.Example(t, "sandpiper"), "dwell: 3.2 ms", "dwell: 3.4 ms", 1))
	w := s.Get(job + "/spark")
	webtest.WantIn(t, w.Body.String(), "card 3.4 ms")
	if k := s.Kinds(strings.TrimPrefix(job, "/job/")); k[len(k)-1] != book.KindCardSaved {
		t.Error(k)
	}
}

// A card with the controller's dwell table: its form holds the table, the sheet judges it, and no single dwell is tried
// on the spark's page, which is drawn all the same.
func TestDwellTableOnThePages(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	saveCard(s, job, strings.Replace(webtest.Example(t, "sandpiper"), "dwell: 3.2 ms", "dwell_table: [[9 V, 5.7 ms], [12 V, 3.6 ms], [16 V, 2.4 ms]]", 1))
	form := s.Get(job + "/card").Body.String()
	webtest.WantIn(t, form, `name="card.ignition.dwell_table"`)
	webtest.WantIn(t, form, "9 V, 5.7 ms; 12 V, 3.6 ms; 16 V, 2.4 ms")
	webtest.WantIn(t, s.Get(job+"/sheet").Body.String(), `id="item-dwell_held"`)
	spark := s.Get(job + "/spark")
	webtest.WantCode(t, spark, 200)
	webtest.WantIn(t, spark.Body.String(), `id="decide-`)
	wantOut(t, spark.Body.String(), `name="dwell"`)
	for _, path := range []string{"/steps", "/spark.pdf", "/sheet.pdf", "/dwell.csv"} {
		webtest.WantCode(t, s.Get(job+path), 200)
	}
}
