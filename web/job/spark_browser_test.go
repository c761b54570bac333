package job_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/web/webtest"
)

// The sliders by keyboard: each press is answered by the server, the address follows, a reload shows the same; a bad
// value says so at its field.
func TestSparkSlidersByKeyboard(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open(job + "/spark")
	p.Wait(`!document.querySelector(".slider[data-for=dwell]").hidden`)
	chart := `document.querySelector("#picture .phone-only").innerHTML`
	before := webtest.Eval[string](p, chart)
	webtest.Eval[bool](p, `(document.querySelector(".slider[data-for=dwell]").focus(), true)`)
	for range 10 {
		p.Keys(kb.ArrowLeft)
	}
	p.Wait(`document.querySelector("#dwell").value == "2.7"`) // ten steps of 0.05 ms
	p.Wait(`document.querySelector("#write").innerText.includes("2.7 ms")`)
	p.Wait(`location.search.includes("dwell=2.7")`)
	if webtest.Eval[string](p, chart) == before {
		t.Error("the chart is as it was")
	}
	if got := webtest.Eval[string](p, `document.activeElement.dataset.for + " " + document.activeElement.getAttribute("aria-valuetext")`); got != "dwell 2.7 ms" {
		t.Errorf("focus and words: %q", got)
	}
	p.Keys(kb.End)
	p.Wait(`document.querySelector("#dwell").value == "8" && document.querySelector("#said").innerText.includes("Worse than on the card")`)
	webtest.Eval[bool](p, `(document.querySelector("#item-coil_charge details").open = true, true)`)
	p.Keys(kb.ArrowLeft)
	p.Wait(`location.search.includes("dwell=7.95") && document.querySelector("#write").innerText.includes("7.95 ms")`)
	if !webtest.Eval[bool](p, `document.querySelector("#item-coil_charge details").open`) {
		t.Error("what was unfolded has folded")
	}
	webtest.Eval[bool](p, `(document.querySelector("#gap").focus(), document.querySelector("#gap").select(), true)`)
	p.TypeIn("#gap", "9")
	p.Wait(`document.querySelector("#gap-said").innerText.includes("out of reach") && document.querySelector("#gap").getAttribute("aria-invalid") == "true"`)
	p.Wait(`document.querySelector("#said").innerText.includes("cannot be tried") && document.querySelector("#picture").innerText == ""`)
	p.Keys(kb.Backspace)
	p.TypeIn("#gap", "0,6")
	p.Wait(`document.querySelector("#gap-said").innerText == "" && !document.querySelector("#gap").hasAttribute("aria-invalid") && document.querySelector("#write").innerText.includes("0.6 mm")`)
	p.Wait(`document.querySelector(".slider[data-for=gap]").value == "0.6"`)
	said := p.Text("#said")
	p.Open(webtest.Eval[string](p, "location.pathname + location.search"))
	if now := p.Text("#said"); now != said {
		t.Errorf("reloaded, the page says %q, before %q", now, said)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// A card changed on another screen reaches the page while sliders stand where they were put.
func TestSparkFollowsLive(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open(job + "/spark?gap=0.7")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	before := p.Text("#said")
	saveCard(s, job, strings.Replace(webtest.Example(t, "sandpiper"), "target: 7 A", "target: 7.9 A", 1))
	p.Wait(fmt.Sprintf("document.querySelector('#said').innerText != %q", before))
	if got := webtest.Eval[string](p, `document.querySelector("#gap").value + document.querySelector("#write").innerText`); !strings.HasPrefix(got, "0.7") || !strings.Contains(got, "0.7 mm") {
		t.Errorf("the trial was lost: %q", got)
	}
}

// Without script the form asks for the page again.
func TestSparkWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.NoScript()
	p.Open(job + "/spark")
	p.Do(chromedp.SetValue(chromedp.CSS("#dwell"), "1.5"))
	p.Click("#work-out")
	p.WaitSource("now 3.2 ms")
}

// The page keeps the rules of WCAG 2.2 A and AA that axe-core can check, in both looks; fingers find every target;
// nothing runs out at any width or text size.
func TestSparkIsForEverybody(t *testing.T) {
	checker := webtest.Axe(t)
	s := webtest.NewShop(t)
	job := sparkJob(s, "sandpiper")
	base, _ := s.Listen()
	b := webtest.Browser(t)
	for _, path := range []string{job + "/spark?dwell=4.6&lead=44", job + "/spark?gap=9"} {
		for size, look := range map[[2]int64]string{{360, 740}: "light", {1280, 800}: "dark"} {
			p := s.Screen(b, base, size[0], size[1])
			p.Scheme(look)
			p.Open(path)
			p.Wait(`!document.querySelector(".slider").hidden`)
			p.Do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
			found := webtest.EvalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => r.violations.map(v => v.id + ": " + v.help + " " + v.nodes[0].html.slice(0, 200)).join("\n"))`)
			if found != "" {
				t.Errorf("%s, %s: %s", path, look, found)
			}
			small := webtest.Eval[string](p, `[...document.querySelectorAll("main :is(button, input, summary, a.button)")].filter(e => e.offsetParent).map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.height < 47.5 || r.width < 47.5).map(([e, r]) => Math.round(r.width) + "×" + Math.round(r.height) + " " + e.outerHTML.slice(0, 100)).join("\n")`)
			if small != "" {
				t.Errorf("targets below 48 px:\n%s", small)
			}
			if size[0] == 1280 {
				continue
			}
			for _, width := range []int64{320, 360, 640, 820} {
				for _, text := range []string{"", "200%"} {
					if text != "" && width < 360 {
						continue
					}
					p.Do(chromedp.EmulateViewport(width, 740))
					webtest.Eval[bool](p, fmt.Sprintf(`(document.documentElement.style.fontSize = %q, true)`, text))
					if w := webtest.Eval[int](p, "document.documentElement.scrollWidth"); int64(w) > width {
						t.Errorf("%d wide, text %s: the page is %d px wide", width, text, w)
					}
				}
			}
		}
	}
}

// Pictures to be looked at, where SCREENS names a folder.
func TestSparkScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	pages := map[string]string{"spark": sparkJob(s, "sandpiper") + "/spark", "spark-tried": sparkJob(s, "sandpiper") + "/spark?dwell=4.6&lead=44", "spark-wrong": sparkJob(s, "sandpiper") + "/spark?gap=9",
		"spark-box": sparkJob(s, "gorse-hill") + "/spark", "spark-odd": sparkJob(s, "heron-ferry") + "/spark", "spark-bare": sparkJob(s, "tern-single") + "/spark", "spark-sheet": sparkJob(s, "sandpiper") + "/sheet"}
	s.Photograph(t, dir, pages, webtest.Enlivened)
}
