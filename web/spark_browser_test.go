package web

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// The sliders by keyboard: each press is answered by the server, the address follows, a reload shows the same; a bad value says so at its field.
func TestSparkSlidersByKeyboard(t *testing.T) {
	s := newShop(t)
	job := s.sparkJob("sandpiper")
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	p.open(job + "/spark")
	p.wait(`!document.querySelector(".slider[data-for=dwell]").hidden`)
	chart := `document.querySelector("#picture .phone-only").innerHTML`
	before := eval[string](p, chart)
	eval[bool](p, `(document.querySelector(".slider[data-for=dwell]").focus(), true)`)
	for range 10 {
		p.keys(kb.ArrowLeft)
	}
	p.wait(`document.querySelector("#dwell").value == "2.7"`) // ten steps of 0.05 ms
	p.wait(`document.querySelector("#write").innerText.includes("2.7 ms")`)
	p.wait(`location.search.includes("dwell=2.7")`)
	if eval[string](p, chart) == before {
		t.Error("the chart is as it was")
	}
	if got := eval[string](p, `document.activeElement.dataset.for + " " + document.activeElement.getAttribute("aria-valuetext")`); got != "dwell 2.7 ms" {
		t.Errorf("focus and words: %q", got)
	}
	p.keys(kb.End)
	p.wait(`document.querySelector("#dwell").value == "8" && document.querySelector("#said").innerText.includes("Worse than on the card")`)
	eval[bool](p, `(document.querySelector("#item-coil_charge details").open = true, true)`)
	p.keys(kb.ArrowLeft)
	p.wait(`location.search.includes("dwell=7.95") && document.querySelector("#write").innerText.includes("7.95 ms")`)
	if !eval[bool](p, `document.querySelector("#item-coil_charge details").open`) {
		t.Error("what was unfolded has folded")
	}
	eval[bool](p, `(document.querySelector("#gap").focus(), document.querySelector("#gap").select(), true)`)
	p.typeIn("#gap", "9")
	p.wait(`document.querySelector("#gap-said").innerText.includes("out of reach") && document.querySelector("#gap").getAttribute("aria-invalid") == "true"`)
	p.wait(`document.querySelector("#said").innerText.includes("cannot be tried") && document.querySelector("#picture").innerText == ""`)
	p.keys(kb.Backspace)
	p.typeIn("#gap", "0,6")
	p.wait(`document.querySelector("#gap-said").innerText == "" && !document.querySelector("#gap").hasAttribute("aria-invalid") && document.querySelector("#write").innerText.includes("0.6 mm")`)
	p.wait(`document.querySelector(".slider[data-for=gap]").value == "0.6"`)
	said := p.text("#said")
	p.open(eval[string](p, "location.pathname + location.search"))
	if now := p.text("#said"); now != said {
		t.Errorf("reloaded, the page says %q, before %q", now, said)
	}
	for _, c := range p.complaints() {
		t.Error("console: " + c)
	}
}

// A card changed on another screen reaches the page while sliders stand where they were put.
func TestSparkFollowsLive(t *testing.T) {
	s := newShop(t)
	job := s.sparkJob("sandpiper")
	base, _ := s.serve()
	p := s.screen(browser(t), base, 1280, 800)
	p.open(job + "/spark?gap=0.7")
	p.wait(`document.documentElement.dataset.script == "on"`)
	before := p.text("#said")
	s.saveCard(job, strings.Replace(example(t, "sandpiper"), "target: 7 A", "target: 7.9 A", 1))
	p.wait(fmt.Sprintf("document.querySelector('#said').innerText != %q", before))
	if got := eval[string](p, `document.querySelector("#gap").value + document.querySelector("#write").innerText`); !strings.HasPrefix(got, "0.7") || !strings.Contains(got, "0.7 mm") {
		t.Errorf("the trial was lost: %q", got)
	}
}

// Without script the form asks for the page again.
func TestSparkWithoutScript(t *testing.T) {
	s := newShop(t)
	job := s.sparkJob("sandpiper")
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	p.noScript()
	p.open(job + "/spark")
	p.do(chromedp.SetValue(chromedp.CSS("#dwell"), "1.5"))
	p.click("#work-out")
	p.waitSource("now 3.2 ms")
}

// The page keeps the rules of WCAG 2.2 A and AA that axe-core can check, in both looks; fingers find every target; nothing runs out at any width or text size.
func TestSparkIsForEverybody(t *testing.T) {
	checker := axe(t)
	s := newShop(t)
	job := s.sparkJob("sandpiper")
	base, _ := s.serve()
	b := browser(t)
	for _, path := range []string{job + "/spark?dwell=4.6&lead=44", job + "/spark?gap=9"} {
		for size, look := range map[[2]int64]string{{360, 740}: "light", {1280, 800}: "dark"} {
			p := s.screen(b, base, size[0], size[1])
			p.scheme(look)
			p.open(path)
			p.wait(`!document.querySelector(".slider").hidden`)
			p.do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
			found := evalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => r.violations.map(v => v.id + ": " + v.help + " " + v.nodes[0].html.slice(0, 200)).join("\n"))`)
			if found != "" {
				t.Errorf("%s, %s: %s", path, look, found)
			}
			small := eval[string](p, `[...document.querySelectorAll("main :is(button, input, summary, a.button)")].filter(e => e.offsetParent).map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.height < 47.5 || r.width < 47.5).map(([e, r]) => Math.round(r.width) + "×" + Math.round(r.height) + " " + e.outerHTML.slice(0, 100)).join("\n")`)
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
					p.do(chromedp.EmulateViewport(width, 740))
					eval[bool](p, fmt.Sprintf(`(document.documentElement.style.fontSize = %q, true)`, text))
					if w := eval[int](p, "document.documentElement.scrollWidth"); int64(w) > width {
						t.Errorf("%d wide, text %s: the page is %d px wide", width, text, w)
					}
				}
			}
		}
	}
}

// Pictures to be looked at, where SCREENS names a folder.
func TestSparkScreens(t *testing.T) {
	dir := screensFolder(t)
	s := newShop(t)
	pages := map[string]string{"spark": s.sparkJob("sandpiper") + "/spark", "spark-tried": s.sparkJob("sandpiper") + "/spark?dwell=4.6&lead=44", "spark-wrong": s.sparkJob("sandpiper") + "/spark?gap=9",
		"spark-box": s.sparkJob("gorse-hill") + "/spark", "spark-odd": s.sparkJob("heron-ferry") + "/spark", "spark-bare": s.sparkJob("tern-single") + "/spark", "spark-sheet": s.sparkJob("sandpiper") + "/sheet"}
	s.photograph(t, dir, pages, enlivened)
}
