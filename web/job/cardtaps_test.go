package job_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/web/webtest"
)

// next strikes the keyboard's own key for the next field, which counts.
func next(h *webtest.Thumb, want string) {
	h.T.Helper()
	h.Keys(kb.Enter)
	h.Keyed++
	h.Wait(fmt.Sprintf(`document.activeElement?.id == %q`, want))
}

// From a blank job to the sheet of a six-cylinder engine, every needed field given, on a phone held in one hand: at most
// 40 taps and keys, and nothing refused. The engine is invented.
func TestCardInFewTaps(t *testing.T) {
	s := webtest.NewShop(t)
	job := strings.TrimSuffix(s.Post("/new", map[string][]string{"name": {"Kestrel, main engine"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	base, _ := s.Listen()
	h := s.Thumb(base)
	h.Open(job + "/card")
	h.Wait(`document.documentElement.dataset.script == "on" && document.querySelector(".cylinders") && document.querySelector("#left").innerText == "13 needed"`)
	id := func(path string) string { return `[id="card.` + path + `"]` }
	choose := func(path, word string) { h.Tap(`label:has([name="card.` + path + `"][value="` + word + `"])`) }

	h.Tap(`[aria-label="6 cylinders"]`)
	for _, n := range []int{1, 5, 3, 6, 2} {
		h.Tap(fmt.Sprintf(`[data-cylinder="%d"]`, n))
	}
	h.Wait(`document.querySelector('` + id("engine.firing_order") + `').value == "1-5-3-6-2-4"`)
	choose("engine.rotation", "clockwise")
	choose("distributor.rotation", "counterclockwise")
	choose("signals.crank.active_edge", "falling")
	h.Tap(id("engine.bore"))
	for _, x := range []struct{ figure, next string }{{"94", "engine.stroke"}, {"97", "engine.rod"}, {"158", "engine.redline"}, {"4200", "damper.diameter"},
		{"168", "signals.crank.vane_width"}, {"15", "signals.crank.lead"}, {"60", "controller.advance.max"}} {
		h.Types(x.figure)
		next(h, "card."+x.next)
	}
	h.Types("34")
	h.Wait(`document.querySelector("#left").hidden`)
	h.Tap("[data-save]")
	h.Wait(`document.querySelector("h1").innerText == "Set-up sheet" && document.querySelector("#sheet svg.drawing")`)
	t.Logf("%d taps and %d keys, together %d", h.Taps, h.Keyed, h.Taps+h.Keyed)
	if n := h.Taps + h.Keyed; n > 40 {
		t.Errorf("%d taps and keys, want at most 40", n)
	}
	j, err := s.Shelf.Job(t.Context(), strings.TrimPrefix(job, "/job/"))
	if err != nil || j.Card == nil {
		t.Fatal(err, j.Mistakes)
	}
	for _, line := range []string{"cylinders: 6", "firing_order: [1, 5, 3, 6, 2, 4]", "bore: 94 mm", "redline: 4200 rpm", "diameter: 168 mm", "lead: 60 deg", "max: 34 deg"} {
		if !strings.Contains(j.YAML, line+"\n") {
			t.Errorf("the card lacks %q:\n%s", line, j.YAML)
		}
	}
	if n := len(s.Kinds(j.ID)); n != 2 {
		t.Errorf("%d events, want the job and one card", n)
	}
	for _, c := range h.Complaints() {
		t.Error("console: " + c)
	}
}

// Typed any way: units follow what is typed, the shop's unit those that are empty, cylinders are undone; a refused save
// goes to the first mistake, unfolds it and keeps what was typed.
func TestCardFormHelps(t *testing.T) {
	s := webtest.NewShop(t)
	job := strings.TrimSuffix(s.Post("/new", map[string][]string{"name": {"Kestrel"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	base, _ := s.Listen()
	h := s.Thumb(base)
	h.Open(job + "/card")
	h.Wait(`document.querySelector(".cylinders")`)
	id := func(path string) string { return `[id="card.` + path + `"]` }
	unit := func(path, want string) {
		t.Helper()
		h.Wait(`document.querySelector('[name="unit.` + path + `"]').value == "` + want + `"`)
	}
	h.Tap(id("engine.bore"))
	h.Types("6 1/2 in")
	next(h, "card.engine.stroke")
	unit("engine.bore", "in")
	h.Wait(`document.querySelector('` + id("engine.bore") + `').value == "6 1/2"`)
	unit("engine.stroke", "mm")
	h.Tap(`label:has([name="card.job.units"][value="inches"])`)
	unit("engine.stroke", "in")
	unit("distributor.radius", "in")
	h.Wait(`document.querySelector('` + id("engine.stroke") + `').inputMode == "text" && document.querySelector('` + id("engine.redline") + `').inputMode == "decimal"`)
	h.Tap(`[aria-label="4 cylinders"]`)
	h.Tap(`[data-cylinder="1"]`)
	h.Tap(`[data-cylinder="2"]`)
	h.Tap(".undo")
	h.Tap(`[data-cylinder="3"]`)
	h.Tap(`[data-cylinder="4"]`)
	h.Wait(`document.querySelector('` + id("engine.firing_order") + `').value == "1-3-4-2"`)
	h.Tap("#left") // ten are left: units asks for nothing
	h.Wait(`document.activeElement.id == "card.engine.rotation" && document.querySelector("#left").innerText == "10 needed"`)
	h.Tap(`details:has([id="card.controller.guard"]) summary`)
	h.Tap(id("controller.guard"))
	h.Types("3 kg")
	h.Tap("[data-save]")
	h.Wait(`document.readyState == "complete" && document.title.includes("to correct")`)
	h.Wait(`document.activeElement.id == "card.engine.rotation"`)
	for path, want := range map[string]string{"engine.bore": "6 1/2", "engine.firing_order": "1-3-4-2", "controller.guard": "3 kg"} {
		if got := webtest.Eval[string](h.Screen, `document.querySelector('`+id(path)+`').value`); got != want {
			t.Errorf("%s is %q after a refused save, want %q", path, got, want)
		}
	}
	unit("engine.bore", "in")
	h.Wait(`document.querySelector('` + id("controller.guard") + `').closest("details").open`)
	for _, c := range h.Complaints() {
		t.Error("console: " + c)
	}
}

// A mistake in a fold alone: the fold is open and the field has the focus, in sight.
func TestRefusedSaveGoesToTheMistake(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	base, _ := s.Listen()
	h := s.Thumb(base)
	h.Open("/job/" + job + "/card?open=ignition")
	h.Wait(`document.querySelector(".cylinders")`)
	h.Tap(`[id="card.ignition.plug_gap"]`)
	h.Keys("x")
	h.Tap("[data-save]")
	h.Wait(`document.readyState == "complete" && document.activeElement?.id == "card.ignition.plug_gap"`)
	h.Wait(`(() => { const b = document.activeElement.getBoundingClientRect(), save = document.querySelector(".save").getBoundingClientRect(); return b.top > 0 && b.bottom < save.top })()`)
}

// Pictures to be looked at, where SCREENS names a folder.
func TestCardScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	blank := s.Post("/new", map[string][]string{"name": {"Kestrel"}, "from": {"blank"}}).Header().Get("Location")
	full := "/job/" + s.NewJob() + "/card"
	wrong := s.Post("/new", map[string][]string{"name": {"Wrong"}, "from": {"blank"}}).Header().Get("Location")
	s.Post(wrong, map[string][]string{"version": {"1"}, "as": {"unfinished"}, "card.engine.cylinders": {"6"}, "card.engine.bore": {"98 kg"}, "card.ignition.supply": {"x"}})
	both := "/job/" + s.NewJob() + "/card"
	base, _ := s.Listen()
	b := webtest.Browser(t)
	for i, size := range [][2]int64{{360, 740}, {740, 360}, {180, 740}, {1280, 800}} {
		p := s.Screen(b, base, size[0], size[1])
		for _, look := range []string{"light", "dark"} {
			p.Scheme(look)
			shoot := func(name string) {
				p.Wait(`document.fonts.status == "loaded" && document.documentElement.dataset.script == "on"`)
				if wide := webtest.Eval[float64](p, `document.querySelector("main").scrollWidth - document.querySelector("main").clientWidth`); wide > 0 {
					t.Errorf("%s is %v px wider than %d", name, wide, size[0])
				}
				png, err := chromedp.Run(p.Ctx, chromedp.FullScreenshot(100))
				if err != nil || os.WriteFile(fmt.Sprintf("%s/%s-%d-%s.png", dir, name, size[0], look), png, 0o644) != nil {
					t.Fatal(err)
				}
			}
			for name, path := range map[string]string{"card-blank": blank, "card-full": full, "card-wrong": wrong, "new": "/new", "new-found": "/new?q=6+cylinders"} {
				p.Open(path)
				shoot(name)
			}
			p.Open(both)
			p.Wait(`document.querySelector(".cylinders")`)
			p.Do(chromedp.SetValue(chromedp.CSS(`[id="card.engine.bore"]`), fmt.Sprint(80+i)))
			p.Do(chromedp.SetValue(chromedp.CSS(`[id="card.engine.rod"]`), fmt.Sprint(150+i)))
			version := webtest.Eval[string](p, `document.querySelector('[name="version"]').value`)
			yaml := strings.NewReplacer("bore: 94 mm", fmt.Sprintf("bore: 9%d.%d mm", i, len(look)), "rod: 158 mm", fmt.Sprintf("rod: 16%d.%d mm", i, len(look))).Replace(webtest.Example(t, "sandpiper"))
			webtest.WantCode(t, s.Post(both, map[string][]string{"version": {version}, "yaml": {yaml}}), 303)
			p.Click("[data-save]")
			p.Wait(`document.querySelector("#both") && document.readyState == "complete"`)
			shoot("card-both")
		}
	}
}
