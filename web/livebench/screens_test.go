package livebench_test

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"phasewright/web/page"
	"phasewright/web/webtest"
)

// Pictures of a class at work, as a student and as the instructor sees it: free bench, exam under way, judged, told,
// and the list of rooms. Somebody looks at them.
func TestClassScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	c := newSchool(t)
	s := c.shop.Load()
	b := webtest.Browser(t)
	host := &student{Screen: s.Screen(b, c.line(""), 1280, 800), name: "Eve Marsh"}
	ada, ben := c.student(b, 0, "Ada Reed, phone", page.Work), c.student(b, 1, "Benjamin Hale-Featherstone", page.Work)
	shoot := func(p *student, name string) {
		t.Helper()
		for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
			p.Do(chromedp.EmulateViewport(size[0], size[1]))
			for _, look := range []string{"light", "dark"} {
				p.Scheme(look)
				time.Sleep(300 * time.Millisecond)
				png, err := chromedp.Run(p.Ctx, chromedp.FullScreenshot(100))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("class-%s-%d-%s.png", name, size[0], look)), png, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	open := func(path string, all ...*student) {
		for _, p := range all {
			p.Open(path)
			p.Wait(`document.fonts.status == "loaded" && document.querySelector("#bench") && document.documentElement.dataset.script == "on"`)
		}
	}
	free := s.NewBench(url.Values{"name": {"Free bench by the window"}})
	exam := s.NewBench(url.Values{"name": {"Exam, Tuesday group"}, "exercise": {"two-faults"}, "engine": {""}})
	for _, x := range []string{"lamps", "wires", "edge"} {
		s.NewBench(url.Values{"exercise": {x}})
	}
	open(free, ada)
	for _, what := range []string{"key", "light", "fuel"} {
		ada.Click(`[data-switch=` + what + `]`)
	}
	ada.Click("#starter")
	time.Sleep(3 * time.Second)
	ada.Click("#starter")
	ada.Wait(`document.querySelector("#live").innerText.includes("runs")`)
	shoot(ada, "free")
	open(exam, ada, ben, host)
	ada.Click(`[data-switch=key]`)
	ada.Click(`[data-switch=light]`)
	ben.Click("#take")
	ada.Click("#starter")
	ada.Wait(`document.querySelector("#take").innerText == "Give" && document.querySelectorAll("#spark-labels text").length == 8`)
	shoot(ada, "exam")
	ada.Click("#starter")
	ada.Wait(`document.querySelector("[data-show=rpm]").innerText == "0"`)
	host.Click("#secret summary")
	shoot(host, "instructor")
	webtest.Eval[bool](ada.Screen, `(document.querySelectorAll("details").forEach(d => d.open = true), true)`)
	shoot(ada, "open")
	ada.Click("#judge form > .b-ask > button")
	ada.Wait(`document.querySelector("#outcome").innerText.includes("final")`)
	webtest.Eval[bool](ada.Screen, `(document.querySelectorAll("details").forEach(d => d.open = false), scrollTo(0, 0), true)`)
	shoot(ada, "judged")
	shoot(host, "instructor-judged")
	host.Click("#tell summary")
	shoot(host, "instructor-tells")
	host.Click("#tell button")
	ada.Wait(`document.querySelector("#outcome").innerText.includes("What was hidden")`)
	shoot(ada, "told")
	ben.Open("/bench")
	shoot(ben, "list")
	host.Open("/bench")
	shoot(host, "list-instructor")
}
