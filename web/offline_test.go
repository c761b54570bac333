package web_test

import (
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	role "phasewright/web/page"
	"phasewright/web/webtest"
)

// wantKept waits until the page that is open is kept on the device.
func wantKept(p *webtest.Screen) {
	p.T.Helper()
	p.Wait(`window.kept || (caches.match(location.href).then(k => { if (k) window.kept = true }), false)`)
}

// caches gives the names of what the browser keeps, one a line.
func caches(p *webtest.Screen) string {
	p.T.Helper()
	return webtest.EvalPromise(p, `caches.keys().then(all => all.join("\n"))`)
}

// waits is what the page shows as not sent yet, in whichever place it has for it.
const waits = `((document.querySelector("#waiting-list")?.innerText || "") + (document.querySelector("#waiting")?.innerText || ""))`

// wantNoFaults runs axe over the page.
func wantNoFaults(p *webtest.Screen, what string) {
	p.T.Helper()
	p.Do(chromedp.Evaluate[chromedp.Void](webtest.Axe(p.T.(*testing.T))))
	if found := webtest.EvalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => r.violations.map(v => v.id + ": " + v.nodes[0].html).join("\n"))`); found != "" {
		p.T.Errorf("%s: %s", what, found)
	}
}

// A page loaded again without a line is the one last seen, says since when, keeps taking readings, and sends each once
// when the line is back.
func TestReloadWithoutALine(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	s.Read(job, "700", "9.4")
	readings, front := "/job/"+job+"/readings", "/job/"+job
	p.Open(readings)
	wantKept(p)
	p.Open(front)
	wantKept(p)
	line.Set(true)
	p.Open(readings)
	said := `document.querySelector("#line")?.innerText`
	p.Wait(said + `?.match(/The line to the host is lost. This is as of \d\d:\d\d. What you enter is kept on this device/)`)
	if rows := p.Text("#rows"); !strings.Contains(rows, "9.4") {
		t.Errorf("the page without a line shows the readings %q", rows)
	}
	for _, r := range [][2]string{{"800", "9.1"}, {"1500", "9.2"}} {
		p.TypeIn("#rpm", r[0])
		p.TypeIn("#shown", r[1])
		p.Keys(kb.Enter)
		p.Wait(waits + `.includes("` + r[0] + `") && document.querySelector("#shown").value == ""`)
	}
	p.Open(readings) // again: what was entered is still there
	p.Wait(waits + `.includes("800") && ` + waits + `.includes("1500")`)
	wantNoFaults(p, "a kept page")

	p.Open(front) // what only the host can take stays in the form
	p.Wait(`document.documentElement.dataset.script == "on" && !document.querySelector("#line").hidden`)
	p.Click(`form[action$="/shelf"] button`)
	p.Wait(`document.querySelector('form[action$="/shelf"] [role=alert]')?.innerText.startsWith("Not recorded until the line is back.")`)

	p.Open(front + "/proof") // never seen: said, with what there is instead
	p.Wait(`document.querySelector("h1").innerText == "No line" && document.querySelector("main").innerText.includes("was not opened on this device before")`)
	if n := webtest.Eval[int](p, `document.querySelectorAll(".jobs a").length`); n != 2 {
		t.Errorf("%d kept pages are offered, want the 2 that were seen: %s", n, p.Text("main"))
	}
	wantNoFaults(p, "the page of no line")
	p.Click(`.jobs a[href$="/readings"]`)
	p.Wait(waits + `.includes("800")`)
	if n := len(s.Kinds(job)); n != 3 {
		t.Fatalf("%d events while the line was cut, want 3", n)
	}
	line.Set(false)
	p.Wait(`document.querySelector("#line").hidden && !document.querySelector("#line").dataset.kept && document.querySelectorAll("#rows tbody tr").length == 3 && ` + waits + ` == ""`)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	var got []float64
	for _, r := range j.Readings {
		got = append(got, r.Shown)
	}
	if fmt.Sprint(got) != "[9.4 9.1 9.2]" {
		t.Errorf("the book holds %v, want each reading once and in order", got)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// A reading is in the list, marked, from the moment of the tap, also where the host takes its time.
func TestEntryStandsInTheListAtOnce(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job, other := s.NewJob(), s.NewJob()
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	p.Do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#waiting-list") || document.querySelector("#rows").insertAdjacentHTML("beforebegin", '<ul id="waiting-list" class="waiting-list"></ul>')`))
	p.Do(chromedp.Evaluate[chromedp.Void](`localStorage.setItem("pw.wait.x", JSON.stringify({key: "x", url: "/job/` + other + `/readings", kind: "reading", fields: [["rpm", "990"]], at: 1, conflict: true}))`))
	line.Set(true)
	p.TypeIn("#rpm", "800")
	p.TypeIn("#shown", "9.1")
	at := webtest.Eval[string](p, `(() => { document.querySelector("form[data-queue] button").click(); return document.querySelector("#waiting-list").innerText })()`)
	if !strings.Contains(at, "800 rpm, 9.1° waiting") || strings.Contains(at, "990") {
		t.Errorf("right after the tap the list says %q", at)
	}
	p.Wait(`document.querySelector("#waiting")?.innerText.includes("rpm 990")`) // another job's stays apart
	line.Set(false)
	p.Wait(`document.querySelector("#waiting-list").hidden && document.querySelectorAll("#rows tbody tr").length == 1`)
}

// A form that only the host can answer, sent into a line that nobody knew to be lost, leaves its page as it is.
func TestFormStaysWhereTheLineIsLostUnseen(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/")
	wantKept(p)
	p.Open("/new") // a page that follows nothing
	p.Wait(`navigator.serviceWorker.controller && document.documentElement.dataset.script == "on"`)
	line.Set(true)
	p.TypeIn("#name", "Heron, pump")
	p.Click(`main form button:not([type=button])`)
	p.Wait(`document.querySelector("main form .unsent")?.innerText.includes("What you typed stays here")`)
	if v := webtest.Eval[string](p, `document.querySelector("#name").value`); v != "Heron, pump" {
		t.Errorf("the name is now %q", v)
	}
	line.Set(false)
	p.Click(`main form button:not([type=button])`)
	p.Wait(`location.pathname.endsWith("/card")`)
}

// phones lets every request come from another device than the host, to whichever shop is open.
func phones(t *testing.T, open *atomic.Pointer[webtest.Shop]) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr = webtest.PhoneAddr
		open.Load().ServeHTTP(w, r)
	})}
	go server.Serve(l)
	t.Cleanup(func() { server.Close() })
	return "http://" + l.Addr().String()
}

// pairs enters a code at a phone.
func pairs(s *webtest.Shop, p *webtest.Screen) {
	p.T.Helper()
	i, err := s.Invite(role.Work)
	if err != nil {
		p.T.Fatal(err)
	}
	p.Open("/pair?code=" + i.Code)
	p.TypeIn("#name", "Ada Reed")
	p.Keys(kb.Enter)
	p.Wait(`location.pathname == "/"`)
}

// What a device was shown goes as soon as it is sent away, or another book is open under the same address.
func TestUnpairingEmptiesWhatIsKept(t *testing.T) {
	var open atomic.Pointer[webtest.Shop]
	s := webtest.NewShop(t)
	open.Store(s)
	p := s.Screen(webtest.Browser(t), phones(t, &open), 360, 740)
	pairs(s, p)
	job := s.NewJob()
	p.Open("/job/" + job + "/readings")
	wantKept(p)
	first := caches(p)
	s.Post("/devices/remove", formOf("id", s.Access.Devices()[0].ID))
	p.Wait(`document.querySelector("#line").innerText.includes("not paired with the host any more")`)
	gone := `window.gone || (caches.keys().then(k => { if (!k.some(n => n.startsWith("pw.pages."))) window.gone = true }), false)`
	p.Wait(gone)

	pairs(s, p)
	p.Open("/job/" + job)
	wantKept(p)
	second := caches(p)
	if first == second || strings.Count(second, "pw.pages.") != 1 {
		t.Errorf("kept for the first pairing:\n%s\nfor the second:\n%s", first, second)
	}
	other := webtest.NewShop(t) // the host opens another book
	open.Store(other)
	p.Open("/")
	p.Wait(`location.pathname == "/pair"`)
	p.Wait(gone)
	if kept := webtest.EvalPromise(p, `caches.match("/job/`+job+`").then(k => String(!!k))`); kept != "false" {
		t.Error("a page of the book before is still there")
	}
}

// What is kept is bounded, one job's pages at a time, and an older release's shell goes.
func TestWhatIsKeptIsBounded(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job, next := s.NewJob(), s.NewJob()
	p.Open("/job/" + job)
	wantKept(p)
	webtest.EvalPromise(p, `navigator.serviceWorker.getRegistration().then(r => r.unregister()).then(() => caches.open("pw.shell./static/old/")).then(c => c.put("/static/old/look.css", new Response("x"))).then(() => "")`)
	p.Open("/job/" + next)
	wantKept(p)
	p.Wait(`window.gone || (caches.keys().then(k => { if (!k.some(n => n.includes("old"))) window.gone = true }), false)`)
	if kept := webtest.EvalPromise(p, `caches.match("/job/`+job+`").then(k => String(!!k))`); kept != "false" {
		t.Error("the job before is still kept")
	}
	p.Wait(`navigator.serviceWorker.controller`)
	webtest.EvalPromise(p, `(async () => { for (let i = 0; i < 40; i++) await (await fetch("/?q=" + i, {headers: {"X-Part": "1"}})).text(); return "" })()`)
	p.Wait(`window.bounded || (caches.match("/?q=39").then(async last => { const all = await (await caches.open((await caches.keys()).find(n => n.startsWith("pw.pages.")))).keys(); if (last && all.length == 30) window.bounded = true }), false)`)
	if kept := webtest.EvalPromise(p, `caches.match("/?q=0").then(k => String(!!k))`); kept != "false" {
		t.Error("the oldest page is still kept")
	}
	// What is sent, papers, pages of devices and of pairing are never kept.
	s.Read(job, "800", "9")
	for _, path := range []string{"/devices", "/pair", "/job/" + next + "/readings.csv", "/new"} {
		webtest.EvalPromise(p, `fetch("`+path+`", {headers: {"X-Part": "1"}}).then(a => a.text()).then(() => "")`)
		if kept := webtest.EvalPromise(p, `caches.match("`+path+`").then(k => String(!!k))`); kept != "false" {
			t.Errorf("%s is kept", path)
		}
	}
}

// A browser without service workers, or a line that is not secure, works as before: entries wait in the page.
func TestWithoutServiceWorker(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	if _, err := chromedp.Call(p.Ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
		Source: `delete Navigator.prototype.serviceWorker`}); err != nil {
		t.Fatal(err)
	}
	job := s.NewJob()
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on" && !navigator.serviceWorker`)
	line.Set(true)
	p.Wait(`document.querySelector("#line").innerText.includes("The line to the host is lost. This is as of")`)
	p.TypeIn("#rpm", "800")
	p.TypeIn("#shown", "9.1")
	p.Keys(kb.Enter)
	p.Wait(waits + `.includes("800")`)
	line.Set(false)
	p.Wait(`document.querySelector("#line").hidden && document.querySelectorAll("#rows tbody tr").length == 1`)
	if kept := caches(p); kept != "" {
		t.Errorf("kept without a worker: %s", kept)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// The worker's script lies at the root, under the strict policy, and knows its release.
func TestWorkerIsServed(t *testing.T) {
	s := webtest.NewShop(t)
	w := s.Do(webtest.Request("GET", "/sw.js", webtest.PhoneAddr, nil)) // before pairing
	webtest.WantCode(t, w, 200)
	h := w.Header()
	if h.Get("Content-Type") != "text/javascript; charset=utf-8" || h.Get("Cache-Control") != "no-store" ||
		!strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") {
		t.Errorf("headers %v", h)
	}
	if look := s.Access.Asset("look.css"); !strings.HasPrefix(w.Body.String(), "self.release = {") ||
		!strings.Contains(w.Body.String(), look) {
		t.Errorf("the script does not know %s: %.300s", look, w.Body)
	}
}

// Where a device can share files, sheet and proof offer it; the paper comes with its own name. Elsewhere nothing is
// offered.
func TestShareAPaper(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	shown := `[...document.querySelectorAll("[data-share]")].map(b => b.checkVisibility()).join()`
	setCan := func(source string) {
		t.Helper()
		if _, err := chromedp.Call(p.Ctx, page.AddScriptToEvaluateOnNewDocument,
			page.AddScriptToEvaluateOnNewDocumentParams{Source: source}); err != nil {
			t.Fatal(err)
		}
	}
	setCan(`delete Navigator.prototype.canShare`)
	p.Open("/job/" + job + "/sheet")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	if got := webtest.Eval[string](p, shown); got != "false" {
		t.Errorf("offered to a device that cannot: %s", got)
	}
	// A device that shares files, and says once that the tap was too long ago, as phones do.
	setCan(`window.shared = []; let first = true; Object.assign(Navigator.prototype, {
		canShare(what) { return what.files.length == 1 && what.files[0].type == "application/pdf" },
		async share(what) { if (first) { first = false; throw new DOMException("", "NotAllowedError") } shared.push(what.files[0].name + " " + (what.files[0].size > 10000)) } })`)
	for _, view := range []string{"sheet", "proof"} {
		p.Open("/job/" + job + "/" + view)
		p.Wait(shown + ` == "true"`)
		p.Click("[data-share]")
		p.Wait(`document.querySelector("#line").innerText == "The paper has come. Press again to share it."`)
		p.Click("[data-share]")
		p.Wait(`document.querySelector("#line").hidden && shared.length == 1`)
		if got := webtest.Eval[string](p, `shared[0]`); !strings.HasSuffix(got, view+".pdf true") {
			t.Errorf("%s: shared %q", view, got)
		}
	}
}

// A chapter of the manual that was opened on the device can be read there without a line.
func TestTheManualWithoutALine(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	for _, path := range []string{"/manual/stop", "/words"} {
		p.Open(path)
		wantKept(p)
	}
	line.Set(true)
	p.Open("/manual/stop")
	p.Wait(`document.querySelector("h1").innerText == "When to stop" && document.querySelector("#law")`)
	p.Open("/words#tdc")
	p.Wait(`document.querySelector("#line")?.innerText.includes("The line to the host is lost") && document.querySelector("#tdc")`)
}
