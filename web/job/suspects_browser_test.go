package job_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/web/webtest"
)

// A story on a phone (common practice: an engine that cranks and has no spark, the trigger reaching the driver): taps
// alone lead to a settled answer, each look that is asked for answered where it stands, and keeping it is one more.
func TestSuspectsAreTappedToASettledAnswer(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/job/" + job + "/suspects")
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("#now").innerText.includes("Tap what was seen")`)
	tap := func(name, value string) {
		t.Helper()
		css := fmt.Sprintf(`label:has(input[name=%q][value=%q])`, name, value)
		webtest.Eval[bool](p, fmt.Sprintf(`(document.querySelector(%q).closest("details")?.setAttribute("open", ""), true)`, css))
		before := p.Text("#now") + p.Text("#ranking") + p.Text("#asked")
		webtest.Eval[bool](p, fmt.Sprintf(`(document.querySelector(%q).scrollIntoView({block: "center"}), true)`, css))
		p.Click(css)
		p.Wait(fmt.Sprintf(`location.search.includes(%q)`, strings.ReplaceAll(strings.ReplaceAll(name+"="+value, " ", "+"), "'", "%27")))
		p.Wait(fmt.Sprintf(`document.querySelector("#now").innerText + document.querySelector("#ranking").innerText + document.querySelector("#asked").innerText != %q`, before))
	}
	tap("engine.starting", "nothing")
	tap("spark", "none")
	tap("controller.speed", "steady")
	// What a dead driver shows (common practice): everything before it is right, and there is no spark.
	shows := map[string]string{"coil.spark": "none", "coil.trigger": "pulses", "capture.sync": "held",
		"battery.fuse": "good", "cap.brush": "good", "rotor.tip": "clean", "settings.trigger": "right",
		"cap.inside": "dry", "coil.polarity": "right", "cap.traces": "centred", "pickup.plug": "tight",
		"engine.worse": "always"}
	numbers := map[string]string{"battery.coil": "12.3", "battery.cam_pickup": "12.2", "battery.crank_pickup": "12.2",
		"controller.errors": "0", "coil.primary": "0.6", "coil.secondary": "8", "battery.rest": "12.6",
		"battery.cranking": "10.1", "battery.feed_drop": "0.1", "battery.ground_drop": "0.1", "controller.sync_losses": "0"}
	looks := 0
	for ; looks < 8 && !strings.Contains(p.Text("#now"), "Settled"); looks++ {
		name := webtest.Eval[string](p, `document.querySelector(".looknext input:not([type=hidden])")?.name || ""`)
		switch {
		case shows[name] != "":
			tap(name, shows[name])
		case numbers[name] != "":
			css := fmt.Sprintf(`.looknext input[name=%q]`, name)
			if mode := webtest.Eval[string](p, fmt.Sprintf(`document.querySelector(%q).inputMode`, css)); mode != "decimal" {
				t.Errorf("%s has the keyboard %q", name, mode)
			}
			p.TypeIn(css, numbers[name])
			p.Keys(kb.Enter)
			p.Wait(fmt.Sprintf(`location.search.includes(%q)`, name+"="+numbers[name]))
			p.Wait(fmt.Sprintf(`document.querySelector(".looknext input:not([type=hidden])")?.name != %q`, name))
		default:
			t.Fatalf("the story has no answer to %q:\n%s", name, p.Text(".looknext"))
		}
	}
	now := p.Text("#now")
	if !strings.Contains(now, "Settled: do the cure.") || !strings.Contains(now, "driver") || !strings.Contains(now, "Mind:") {
		t.Fatalf("after %d looks:\n%s", looks, now)
	}
	t.Logf("settled after %d looks", looks)
	if webtest.Eval[bool](p, `!!document.querySelector(".looknext")`) {
		t.Error("a look is asked for where all is settled")
	}
	if n := webtest.Eval[int](p, `document.querySelectorAll("main .primary").length`); n != 1 {
		t.Errorf("%d primary actions", n)
	}
	p.Click("main button.primary")
	p.Wait(`location.search == "" && document.querySelector("#now")?.innerText.includes("Settled")`)
	if kinds := s.Kinds(job); kinds[len(kinds)-1] != "evidence.saved" {
		t.Errorf("kept: %v", kinds)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// By keyboard: arrows go through the answers and only the one that is left is weighed; a round further is one press.
func TestSuspectsByKeyboard(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/job/" + s.NewJob() + "/suspects")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	webtest.Eval[bool](p, `(document.querySelector("#e-spark-strong").focus(), true)`)
	p.Keys(" ")
	p.Wait(`location.search.includes("spark=strong")`)
	p.Wait(`document.activeElement.id == "e-spark-strong"`)
	p.Keys(kb.ArrowRight)
	p.Keys(kb.ArrowRight)
	if webtest.Eval[bool](p, `location.search.includes("spark=none")`) {
		t.Error("an answer that was passed by was weighed")
	}
	p.Keys(kb.Tab)
	p.Wait(`location.search.includes("spark=none")`)
	webtest.Eval[bool](p, `(document.querySelector("main button.primary").focus(), true)`)
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("#round").innerText.includes("Lamps") && document.activeElement.id == "round" && location.search.includes("spark=none")`)
}

// Without script the form asks for the page again: a round further, with everything that was said.
func TestSuspectsWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.NoScript()
	p.Open("/job/" + s.NewJob() + "/suspects")
	p.Click("#e-engine-starting-nothing")
	p.Click("#weigh")
	p.WaitSource("on the starter: nothing")
	p.Click("main button.primary")
	p.WaitSource(`name="engine.starting" value="nothing"`)
}

// The page keeps the rules of WCAG 2.2 A and AA that axe-core can check, in both looks; fingers find every target;
// nothing runs out at any width or text size.
func TestSuspectsAreForEverybody(t *testing.T) {
	checker := webtest.Axe(t)
	s := webtest.NewShop(t)
	job := "/job/" + s.NewJob() + "/suspects"
	base, _ := s.Listen()
	b := webtest.Browser(t)
	for _, path := range []string{job, job + "?at=lamps&spark=none&engine.starting=nothing",
		job + "?at=cylinder&engine.misfire=3&cylinders+3.plug=wet", job + "?at=rest&battery.rest=ten",
		job + "?at=light&timing_light.dial=3&coil.spark=none&coil.trigger=pulses&spark=none&capture.sync=held"} {
		for size, look := range map[[2]int64]string{{360, 740}: "light", {1280, 800}: "dark"} {
			p := s.Screen(b, base, size[0], size[1])
			p.Scheme(look)
			p.Open(path)
			p.Wait(`document.documentElement.dataset.script == "on"`)
			webtest.Eval[bool](p, `(document.querySelectorAll("main details").forEach((d) => { d.open = true }), true)`)
			p.Do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
			found := webtest.EvalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => r.violations.map(v => v.id + ": " + v.help + " " + v.nodes[0].html.slice(0, 200)).join("\n"))`)
			if found != "" {
				t.Errorf("%s, %s: %s", path, look, found)
			}
			small := webtest.Eval[string](p, `[...document.querySelectorAll("main :is(button, input:not([type=hidden]), summary, textarea, a.button)")].filter(e => e.offsetParent).map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.height < 47.5 || r.width < 47.5).map(([e, r]) => Math.round(r.width) + "×" + Math.round(r.height) + " " + e.outerHTML.slice(0, 100)).join("\n")`)
			if small != "" {
				t.Errorf("%s: targets below 48 px:\n%s", path, small)
			}
			if same := webtest.Eval[string](p, `[...document.querySelectorAll("main [name]:not([type=radio]):not([type=checkbox]):not(button)")].map(e => e.name).filter((n, i, all) => all.indexOf(n) != i).join(", ")`); same != "" {
				t.Errorf("%s asks twice for %s", path, same)
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
						t.Errorf("%s, %d wide, text %s: the page is %d px wide", path, width, text, w)
					}
				}
			}
		}
	}
}
