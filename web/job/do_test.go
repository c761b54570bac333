package job_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"phasewright/procedure"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// The page that is read from two metres names the figures of the judge and of the order of work, and no others: through
// readings, a correction and every step of an example job.
func TestDoNamesTheJudgesFigures(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	cures, reads := 0, 0
	for _, r := range [][2]string{{"", ""}, {"800", "11.1"}, {"1500", "10.8"}, {"2200", "10.6"}, {"3000", "10.1"}, {"3700", "9.9"}, {"800", "11"}, {"2200", "10.5"}, {"3700", "9.8"}} {
		if r[0] != "" {
			webtest.WantCode(t, s.Read(job, r[0], r[1]), 303)
		}
		j, err := s.Shelf.Job(t.Context(), job)
		if err != nil {
			t.Fatal(err)
		}
		says, err := j.Judge()
		if err != nil {
			t.Fatal(err)
		}
		w := s.Get("/job/" + job + "/do")
		webtest.WantCode(t, w, 200)
		body := webtest.HTMLText(w.Body.String())
		switch {
		case says.Cure != nil:
			cures++
			webtest.WantIn(t, body, `class="huge ">`+page.Degrees(says.Cure.Housing.TurnDeg)+"</p>")
			webtest.WantIn(t, body, "housing, "+says.Cure.Housing.Direction)
			webtest.WantIn(t, body, page.Whole(says.Cure.Allowance.String()))
			webtest.WantIn(t, body, "then read at "+page.Figure(says.ReadAt, 0)+" rpm")
			webtest.WantIn(t, w.Body.String(), "/readings#fix")
		case strings.HasSuffix(j.Next().Link, "/readings"):
			reads++
			webtest.WantIn(t, body, page.Figure(says.ReadAt, 0)+" rpm</p>")
		}
	}
	if cures == 0 || reads == 0 {
		t.Errorf("%d cures and %d readings were asked for; the test wants both", cures, reads)
	}
	work := s.NewJob()
	for n := 0; n < 60; n++ {
		p, state := s.Ordered(work)
		now := p.Next(state)
		if now.Finished {
			break
		}
		st, _ := p.Step(now.Step)
		for _, at := range []string{"/do?step=" + string(now.Step), "/steps"} {
			w := s.Get("/job/" + work + at)
			webtest.WantCode(t, w, 200)
			webtest.WantIn(t, webtest.HTMLText(w.Body.String()), page.Whole(st.Title))
		}
		text := webtest.HTMLText(s.Get("/job/" + work + "/do?step=" + string(now.Step)).Body.String())
		for _, do := range st.Do {
			webtest.WantIn(t, text, page.Whole(do))
		}
		for i, f := range st.Show {
			if i < 2 && !strings.HasPrefix(f.Name, "lamp, ") && st.ID != procedure.StepMarks && st.ID != procedure.StepLead {
				webtest.WantIn(t, text, page.Whole(f.Value))
			}
		}
		s.Step(work)
	}
	webtest.WantCode(t, s.Get("/job/"+work+"/do"), 200)
	webtest.WantCode(t, s.Get("/job/"+work+"/do?step=polish"), 404)
}

// At two metres: nothing wider than the screen, the number large, one primary action of a finger's size, the screen kept
// awake while it is looked at. DO=folder keeps pictures.
func TestDoOnScreens(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	job := s.NewJob()
	for _, r := range [][2]string{{"800", "11.1"}, {"1500", "10.8"}, {"2200", "10.6"}, {"3000", "10.1"}, {"3700", "9.9"}, {"800", "11"}, {"2200", "10.5"}, {"3700", "9.8"}} {
		webtest.WantCode(t, s.Read(job, r[0], r[1]), 303)
	}
	for _, size := range [][2]int64{{360, 740}, {1280, 800}, {740, 360}, {180, 370}} {
		p := s.Screen(b, base, size[0], size[1])
		for _, at := range []string{"/do", "/do?step=drop", "/do?step=phase", "/do?step=lead", "/do?step=base", "/do?step=place", "/steps?step=phase"} {
			p.Open("/job/" + job + at)
			p.Wait(`document.documentElement.dataset.script == "on"`)
			if wide := webtest.Eval[string](p, `[...document.querySelectorAll("main, main *")].filter(e => e.getBoundingClientRect().right > innerWidth + 0.5 && e.getClientRects().length && !e.closest("svg, .scroll")).map(e => e.tagName + "." + e.className).join(", ").slice(0, 200)`); wide != "" {
				t.Errorf("%s is wider than a screen of %v: %s", at, size[0], wide)
			}
			if strings.HasPrefix(at, "/do") {
				if n := webtest.Eval[int](p, `[...document.querySelectorAll("main .primary")].filter(e => e.getBoundingClientRect().height >= 48).length`); n != 1 {
					t.Errorf("%s: %d primary actions of 48 px", at, n)
				}
				if n := webtest.Eval[float64](p, `parseFloat(getComputedStyle(document.querySelector(".huge, .way")).fontSize)`); n < 28 && size[0] > 200 {
					t.Errorf("%s at %d: the largest words have %v px", at, size[0], n)
				}
			}
			if dir := os.Getenv("DO"); dir != "" {
				for _, look := range []string{"light", "dark"} {
					p.Scheme(look)
					shot := chromedp.FullScreenshot(100)
					png, err := chromedp.Run(p.Ctx, shot)
					if err != nil {
						t.Fatal(err)
					}
					name := strings.NewReplacer("/", "", "?step=", "-").Replace(at) + "-" + map[int64]string{360: "phone", 1280: "desk", 740: "flat", 180: "tiny"}[size[0]] + "-" + look + ".png"
					if err := os.WriteFile(filepath.Join(dir, name), png, 0o644); err != nil {
						t.Fatal(err)
					}
				}
				p.Scheme("light")
			}
		}
		if bad := p.Complaints(); len(bad) > 0 {
			t.Errorf("console: %v", bad)
		}
	}
}

// The screen is kept awake while the page is looked at: the lock is asked for, given back as the page is hidden, and
// asked for again as it comes back. Its sentences are read aloud where the device has a voice of its own, and not
// offered where the only voice needs a network.
func TestDoStaysAwakeAndReadsAloud(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	b := webtest.Browser(t)
	const stub = `
		window.locks = []; window.said = [];
		Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
			const lock = new EventTarget(); lock.kind = kind; lock.open = true;
			lock.release = async () => { lock.open = false; lock.dispatchEvent(new Event("release")); };
			window.locks.push(lock); return lock; } } });
		const voices = [{ localService: false, lang: "en-GB", name: "far" }];
		if (location.search.includes("near")) voices.push({ localService: true, lang: "en-GB", name: "near" });
		const speech = new EventTarget(); speech.speaking = false; speech.getVoices = () => voices;
		speech.speak = (u) => window.said.push(u); speech.cancel = () => {};
		Object.defineProperty(window, "speechSynthesis", { value: speech });
		window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };`
	p := s.Screen(b, base, 360, 740)
	if _, err := chromedp.Call(p.Ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: stub}); err != nil {
		t.Fatal(err)
	}
	p.Open("/job/" + job + "/do?step=phase")
	p.Wait(`window.locks.length == 1 && window.locks[0].open && window.locks[0].kind == "screen"`)
	if !webtest.Eval[bool](p, `document.getElementById("aloud").hidden`) {
		t.Error("a voice that needs a network is offered")
	}
	hide := func(state string) {
		p.Do(chromedp.Evaluate[chromedp.Void](`Object.defineProperty(document, "visibilityState", { value: "` + state + `", configurable: true }); document.dispatchEvent(new Event("visibilitychange"))`))
	}
	hide("hidden")
	p.Wait(`!window.locks[0].open`)
	hide("visible")
	p.Wait(`window.locks.length == 2 && window.locks[1].open`)
	p.Open("/job/" + job + "/do?step=phase&near")
	p.Wait(`!document.getElementById("aloud").hidden`)
	p.Click("#aloud")
	said := webtest.Eval[string](p, `window.said.map(u => u.voice.name + ": " + u.text).join("\n")`)
	for _, words := range []string{"near: high → low", "near: Have the clamp finger tight.", "near: Stop just past the change."} {
		webtest.WantIn(t, said, words)
	}
	if bad := p.Complaints(); len(bad) > 0 {
		t.Errorf("console: %v", bad)
	}
}

// The page keeps the rules that axe-core can check, day and night, and so does the step that it leads to.
func TestDoIsAccessible(t *testing.T) {
	checker := webtest.Axe(t)
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	b := webtest.Browser(t)
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p := s.Screen(b, base, size[0], size[1])
		for _, at := range []string{"/do", "/do?step=phase", "/do?step=settings", "/steps", "/steps?step=phase", "/steps?step=wires"} {
			p.Open("/job/" + job + at)
			p.Do(chromedp.Evaluate[chromedp.Void](checker))
			for _, look := range []string{"light", "dark"} {
				p.Scheme(look)
				if found := webtest.EvalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => r.violations.map(v => v.id + ": " + v.help + " " + v.nodes[0].html.slice(0, 200)).join("\n"))`); found != "" {
					t.Errorf("%s, %s, %d px: %s", at, look, size[0], found)
				}
			}
		}
	}
}
