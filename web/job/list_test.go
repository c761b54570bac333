package job_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/webtest"
)

// threeBays is a shop on a Wednesday afternoon, invented: three bays, three people, one job that waits.
func threeBays(t testing.TB) (*webtest.Shop, map[string]string) {
	now := time.Date(2026, 11, 18, 15, 0, 0, 0, time.UTC)
	s := webtest.NewShop(t, func(c *web.Config) { c.Clock = func() time.Time { return now } })
	jobs := map[string]string{}
	for i, one := range []struct{ name, engine, owner, bay, who string }{
		{"Turnstone, pump set", "four cylinders in line", "Lock & Weir Board", "north", "Ada Reed"},
		{"Kittiwake, port engine", "eight cylinders", "Reach Ferries", "south", "Ben Okoro"},
		{"Plover, workboat", "six cylinders in line", "Harbour of Marlow", "north", "Cy Lind"},
		{"Fieldfare, saw bench", "two cylinders", "", "", ""},
	} {
		at := now.AddDate(0, 0, -20+i)
		e, err := s.Book.CreateJob(t.Context(), book.NewJob{Who: "Ada Reed", Name: one.name, Engine: one.engine, Owner: one.owner, At: at})
		if err != nil {
			t.Fatal(err)
		}
		jobs[one.name[:4]] = e.Job
		add := func(at time.Time, kind book.Kind, payload string) {
			if _, err := s.Book.Append(t.Context(), e.Job, book.AnyVersion, book.Draft{Who: "host screen", Kind: kind, Payload: []byte(payload), At: at}); err != nil {
				t.Fatal(err)
			}
		}
		if one.bay == "" {
			continue
		}
		add(at, book.KindJobDescribed, fmt.Sprintf(`{"bay":%q}`, one.bay))
		add(at, book.KindStepDone, fmt.Sprintf(`{"step":"plan","who":%q}`, one.who))
		add(now.AddDate(0, 0, -2).Add(time.Duration(i)*time.Hour), book.KindReadingAdded, fmt.Sprintf(`{"rpm":900,"shown_deg":9,"locked_deg":8,"who":%q}`, one.who))
		add(now.AddDate(0, 0, -1), book.KindReadingAdded, fmt.Sprintf(`{"rpm":1900,"shown_deg":9,"locked_deg":8,"who":%q}`, one.who))
	}
	if _, err := s.Book.Append(t.Context(), jobs["Kitt"], book.AnyVersion, book.Draft{Who: "Ben Okoro", Kind: book.KindJobDescribed, Payload: []byte(`{"waiting":"a part"}`), At: now}); err != nil {
		t.Fatal(err)
	}
	return s, jobs
}

func TestHomeTellsWhatIsOpenWhereSinceWhenAndWaitingForWhat(t *testing.T) {
	s, jobs := threeBays(t)
	home := s.Get("/").Body.String()
	wantAll(t, home, "bay north, Ada Reed, since 29 Oct", "bay south, Ben Okoro, since 30 Oct", "waiting for a part since today",
		"next: Write the job card.", "This week: Ada Reed 1 job, Ben Okoro 1 job, Cy Lind 1 job.")
	for _, c := range []struct {
		path       string
		have, lack []string
	}{
		{"/?bay=north", []string{"Jobs in work, bay north", "Turnstone", "Plover"}, []string{"<b>Kittiwake", "<b>Fieldfare"}},
		{"/?who=Ben+Okoro", []string{"in hand by Ben Okoro", "<b>Kittiwake"}, []string{"<b>Plover"}},
		{"/?show=waiting", []string{"Jobs that wait", "<b>Kittiwake"}, []string{"<b>Plover"}},
		{"/?month=2026-10&who=Ada+Reed", []string{"Jobs worked on, worked on by Ada Reed, 2026-10", "<b>Turnstone"}, []string{"<b>Fieldfare"}},
		{"/?month=2026-09", []string{"Jobs worked on, 2026-09: none"}, []string{"<b>Turnstone"}},
		{"/?month=lately", []string{"a month is written as year and number, such as 2026-11"}, nil},
		{"/?q=plover&bay=south", []string{"none"}, []string{"<b>Plover"}},
		{"/done", []string{"Done in the week from Monday 16 November 2026", "Ada Reed</h3>", "2 readings"}, []string{"1 step,"}},
		{"/done?month=2026-10", []string{"Done in October 2026", "<b>Turnstone", "1 step"}, []string{"2 readings"}},
		{"/done?who=Cy+Lind", []string{"<b>Plover"}, []string{"<b>Turnstone"}},
		{"/done?week=2026-10-29", []string{"from Monday 26 October", "1 step"}, []string{"2 readings"}},
	} {
		body := s.Get(strings.ReplaceAll(c.path, " ", "+")).Body.String()
		wantAll(t, body, c.have...)
		for _, lack := range c.lack {
			if strings.Contains(body, lack) {
				t.Errorf("%s: there is %q", c.path, lack)
			}
		}
	}
	for _, path := range []string{"/jobs.pdf", "/jobs.pdf?bay=north&paper=letter", "/jobs.pdf?month=2026-09"} {
		w := s.Get(path)
		webtest.WantCode(t, w, http.StatusOK)
		if !bytes.HasPrefix(w.Body.Bytes(), []byte("%PDF-")) {
			t.Errorf("%s is no paper", path)
		}
	}
	job := "/job/" + jobs["Kitt"]
	s.Get(job)                                                                  // somebody looks at it: from then on the list knows what is next
	s.Post(job+"/waiting", url.Values{"for": {""}})                             // the part came
	s.Get(job)                                                                  //
	webtest.WantIn(t, s.Get("/").Body.String(), "next: Write down what is kno") // the page's own words
	if strings.Contains(s.Get("/").Body.String(), "waiting for a part") {
		t.Error("it waits although the part came")
	}
}

func wantAll(t *testing.T, body string, want ...string) {
	t.Helper()
	for _, w := range want {
		webtest.WantIn(t, body, w)
	}
}

// The screen in a bay says so once, and its jobs come first from then on.
func TestTheOwnBayComesFirst(t *testing.T) {
	s, jobs := threeBays(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/?bay=south")
	p.Click(`button[name=bay]`)
	p.Wait(`location.pathname == "/" && document.querySelector("h2").innerText == "Bay south"`)
	order := func() string {
		return strings.Join(webtest.Eval[[]string](p, `[...document.querySelectorAll("#jobs h2, #jobs b:first-child")].map(e => e.innerText.split(",")[0])`), " ")
	}
	if got := order(); !strings.HasPrefix(got, "Bay south Kittiwake Elsewhere ") || strings.Count(got, "Kittiwake") != 1 || !strings.Contains(got, "Fieldfare") {
		t.Error(got)
	}
	p.Open("/job/" + jobs["Plov"])
	p.Click(`#waits button[value="the customer"]`)
	p.Wait(`document.querySelector("#waits p")?.innerText.includes("the customer")`)
	p.Open("/")
	p.Click(`form[action="/bay"] button`)
	p.Wait(`document.querySelector("h2").innerText.startsWith("Jobs in work")`)
	if got := p.Text("#jobs"); !strings.Contains(got, "waiting for the customer since ") {
		t.Error(got)
	}
	if bad := p.Complaints(); len(bad) > 0 {
		t.Error(bad)
	}
}

// Pictures of the list, of what was done, and of a job that waits; somebody has to look at them.
func TestBaysScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s, jobs := threeBays(t)
	s.Photograph(t, dir, map[string]string{"bays": "/", "bays-chosen": "/?bay=north", "bays-done": "/done", "bays-job": "/job/" + jobs["Kitt"]}, nil)
}

// BenchmarkHome asks for the list and what was done in a book of 20,000 jobs: the aim is 50 ms at the 99th percentile.
func BenchmarkHome(b *testing.B) {
	s := webtest.NewShop(b)
	const jobs = 20000
	busy := make(chan struct{}, 64)
	for i := range jobs {
		busy <- struct{}{}
		go func() {
			defer func() { <-busy }()
			at := time.Now().Add(-time.Duration(i) * 4 * time.Hour)
			step := fmt.Appendf(nil, `{"step":"plan","who":"hand %d"}`, i%7)
			bay := fmt.Appendf(nil, `{"bay":"%d","waiting":%q}`, i%6, strings.Repeat("a part", i%50/49))
			if _, err := s.Book.CreateJob(context.Background(), book.NewJob{Who: "Ada", Name: fmt.Sprint("Boat ", i), At: at,
				Then: []book.Draft{{Who: "Ada", Kind: book.KindStepDone, Payload: step, At: at}, {Who: "Ada", Kind: book.KindJobDescribed, Payload: bay, At: at}}}); err != nil {
				b.Error(err)
			}
		}()
	}
	for range cap(busy) {
		busy <- struct{}{}
	}
	for _, path := range []string{"/", "/?bay=3", "/?who=hand+2&bay=1", "/?show=waiting", "/?month=2024-05", "/?q=boat+123", "/done", "/done?month=2025-03", "/jobs.pdf?bay=3&month=2025-03"} {
		b.Run(path, func(b *testing.B) {
			var took []time.Duration
			for b.Loop() {
				start := time.Now()
				if w := s.Get(path); w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(took[len(took)/2].Seconds()*1000, "median-ms")
			b.ReportMetric(took[len(took)*99/100].Seconds()*1000, "p99-ms")
		})
	}
}
