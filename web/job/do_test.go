package job_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

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
			if w := webtest.Eval[float64](p, `document.documentElement.scrollWidth`); w > float64(size[0]) {
				t.Errorf("%s is %v px wide on a screen of %v: %s", at, w, size[0], webtest.Eval[string](p, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 0.5 && e.getClientRects().length && !e.closest("svg, .scroll")).map(e => e.tagName + "." + e.className).join(", ").slice(0, 200)`))
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
