package livebench_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/web/livebench"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// A class on phones sees the same bench; what is hidden is in no page and no stream until it is revealed, and only an
// instructor hides and reveals.
func TestHiddenFaultLeaksToNobody(t *testing.T) {
	s := webtest.NewShop(t)
	b := s.NewBench(url.Values{})
	rig := rigAt(s, b)
	look, work := s.PairPhone(page.Look), s.PairPhone(page.Work)
	as := func(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }
	show := func(c *http.Cookie) string {
		w := s.Do(webtest.Request("GET", b, webtest.PhoneAddr, nil, as(c)))
		webtest.WantCode(t, w, 200)
		return w.Body.String()
	}
	for _, path := range []string{"/hide", "/reveal"} {
		webtest.WantCode(t, s.Do(webtest.Request("POST", b+path, webtest.PhoneAddr, form("fault", "delay"), as(work))), 403)
	}
	for _, path := range []string{"/do", "/take", "/judge", "/away"} {
		webtest.WantCode(t, s.Do(webtest.Request("POST", b+path, webtest.PhoneAddr, form("do", "key", "to", "on"), as(look))), 403)
	}
	webtest.WantCode(t, s.Post(b+"/hide", form("fault", "delay", "size", "1237us", "fault", "damper", "size", "4.37deg")), 303)
	heard, _, err := rig.Watch(&page.Session{Role: page.Look, Who: "class", Device: "c"}, "t")
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rig.Hidden(), " "); !strings.Contains(got, "delay=1237us") || !strings.Contains(got, "damper=4.37deg") {
		t.Fatalf("hidden: %v", got)
	}
	for _, role := range []*http.Cookie{look, work} {
		text := show(role)
		for _, secret := range []string{"1237\u202fµs", "4.37", bench.FaultTable()[0].Title, "damper ring", "signal delay"} {
			if strings.Contains(strings.ToLower(text), strings.ToLower(secret)) {
				t.Errorf("the page says %q", secret)
			}
		}
		webtest.WantIn(t, text, "a fault is hidden")
		if works := strings.Contains(text, `action="`+b+`/`); works != (role == work) {
			t.Errorf("a device that may look only is offered controls, or one that may work is not: %v", works)
		}
	}
	stream := heard()
	for _, secret := range []string{"1237", "4.37", "delay", "damper ring"} {
		if strings.Contains(stream, secret) {
			t.Errorf("the stream says %q: %s", secret, stream)
		}
	}
	webtest.WantIn(t, stream, `"faults":"hidden"`)
	webtest.WantIn(t, s.Get(b).Body.String(), "1237\u202fµs") // the instructor's own screen
	webtest.WantCode(t, s.Do(webtest.Request("POST", b+"/do", webtest.PhoneAddr, form("do", "key", "to", "on"), as(work))), 303)
	webtest.WantCode(t, s.Do(webtest.Request("POST", b+"/away", webtest.PhoneAddr, nil, as(s.PairPhone(page.Work)))), 409) // somebody else is at it
	webtest.WantCode(t, s.Post(b+"/reveal", nil), 303)
	text := show(look)
	for _, part := range []string{"1237\u202fµs", "4.37°", "What was hidden", "What was done", "key on", "Ada Reed, phone"} {
		webtest.WantIn(t, text, part)
	}
	if again, _, _ := rig.Watch(webtest.Ben, "u"); !strings.Contains(again(), `"faults":"revealed"`) {
		t.Error("the stream does not say that it is revealed")
	}
}

// Without script: turn the housing, crank, read the light, all by forms and pages.
func TestBenchWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	b := s.NewBench(form())
	rig := rigAt(s, b)
	post := func(pairs ...string) {
		t.Helper()
		webtest.WantCode(t, s.Post(b+"/do", form(pairs...)), http.StatusSeeOther)
	}
	post("do", "clamp", "to", "off")
	post("do", "housing", "by", "0,5", "way", "against")
	webtest.WantIn(t, s.Get(b).Body.String(), "0.5° against the rotor")
	post("do", "clamp", "to", "on")
	post("do", "key", "to", "on")
	post("do", "light", "to", "on")
	post("do", "starter", "to", "on")
	rig.Crank()
	text := s.Get(b).Body.String()
	webtest.WantIn(t, text, "as the flash shows it")
	webtest.WantIn(t, text, "by the flash ")
	webtest.WantIn(t, text, ">you hold the controls<")
	s.Close()
}

// Every control of the page is one that the bench knows.
func TestEveryControlIsKnown(t *testing.T) {
	s := webtest.NewShop(t)
	text := s.Get(s.NewBench(form("exercise", "two-faults"))).Body.String()
	for i, part := range strings.Split(text, `name="do" value="`) {
		if name, _, ok := strings.Cut(part, `"`); i > 0 && ok && !livebench.Knows(name) && name != "take" && name != "leave" {
			t.Errorf("the page has a control %q that the bench does not know", name)
		}
	}
}
