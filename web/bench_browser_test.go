package web

import (
	"encoding/json"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/bench"
)

func quietConsole(t *testing.T, screens ...*screen) {
	t.Helper()
	for _, s := range screens {
		for _, c := range s.complaints() {
			t.Error("console: " + c)
		}
	}
}

// Two screens on one bench see the same: words, lamps, traces, and where everything stands; the second takes over and the first is told.
func TestTwoScreensOnOneBench(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	b := browser(t)
	one, two := s.screen(b, base, 360, 740), s.screen(b, base, 1280, 800)
	one.open("/bench")
	one.click("button.primary")
	one.wait(`document.querySelector("#bench")`)
	two.open(eval[string](one, "location.pathname"))
	two.wait(`document.querySelector("[data-show=watching]").innerText == "2"`)
	one.click(`#starter`)
	one.wait(`document.querySelector("#said").innerText.includes("the key is off")`)
	one.wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	two.wait(`document.querySelector("#holder").innerText == "host screen holds the controls"`)
	two.click(`[data-switch=key]`)
	two.wait(`document.querySelector("#said").innerText.includes("Take them over first")`)
	one.click(`[data-switch=key]`)
	two.wait(`document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true" && document.querySelector("[data-lamp=crank]").dataset.state != "no power"`)
	one.click(`[data-switch=light]`)
	one.click(`#starter`)
	two.wait(`document.querySelector("[data-show=shows]").innerText.endsWith("°") && document.querySelector("[data-show=sync]").innerText == "held"`)
	first := eval[string](two, `document.querySelector("#rotor").getAttribute("transform")`)
	two.wait(`document.querySelector("#rotor").getAttribute("transform") != "` + first + `"`)
	two.wait(`document.querySelector(".b-fires") && document.querySelectorAll("#spark-labels text").length == 8`)
	if n := eval[int](two, `document.querySelector("#crank-line").getAttribute("d").split("V").length - 1`); n != 16 {
		t.Errorf("the crank's trace has %d steps on an eight", n)
	}
	one.click(`#starter`)
	for _, p := range []*screen{one, two} {
		p.wait(`document.querySelector("[data-show=rpm]").innerText == "0" && document.querySelector("[data-show=slowed]").innerText == "at rest"`)
	}
	time.Sleep(400 * time.Millisecond)
	const stands = `JSON.stringify([["#housing","#wheel","#rotor","#damper","#cursor"].map(q => document.querySelector(q).getAttribute("transform")), ["rpm","volts","mark","turned","sync"].map(n => document.querySelector("[data-show=" + n + "]").innerText),
		["crank","cam","coil","spark"].map(n => document.getElementById(n + "-line").getAttribute("d")), [...document.querySelectorAll("[data-lamp]")].map(l => l.dataset.state)])`
	if a, z := eval[string](one, stands), eval[string](two, stands); a != z {
		t.Errorf("the screens differ:\n%s\n%s", a, z)
	}
	// Loaded anew, the page drawn by the server stands as the script left it.
	two.open(eval[string](one, "location.pathname"))
	if a, z := eval[string](one, `document.querySelector("#rotor").getAttribute("transform")`), eval[string](two, `document.querySelector("#rotor").getAttribute("transform")`); !sameTurn(a, z) {
		t.Errorf("rotor %s, on a page loaded anew %s", a, z)
	}
	two.click("#take")
	one.wait(`document.querySelector("#said").innerText.includes("has taken the controls over from you") && document.querySelector("#take").innerText == "Take over"`)
	two.wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	two.do(chromedp.Navigate("about:blank"))
	one.wait(`document.querySelector("[data-show=watching]").innerText == "1"`)
	quietConsole(t, one, two)
}

// sameTurn compares "rotate(12.34)" of the page and of the server, which prints fewer noughts.
func sameTurn(a, b string) bool {
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimPrefix(s, "rotate("), ")"), 64)
		if err != nil {
			return -1
		}
		return v
	}
	d := remainder(number(a)-number(b), 360)
	return d < 0.3 && d > -0.3
}

// The instructor's screen hides a fault, the class sees that something is hidden and works, the reveal shows all what it was and what was done.
func TestInstructorHidesAndReveals(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	b := browser(t)
	room := s.bench(url.Values{})
	host, class := s.screen(b, base, 1280, 800), s.screen(b, base, 360, 740)
	host.open(room)
	class.open(room)
	host.click("#hide summary")
	host.do(chromedp.SetValue(chromedp.CSS("#fault1"), "delay"))
	host.typeIn("#size1", "210us")
	host.click(".b-hide .b-keys button:first-child")
	class.wait(`document.querySelector("#about").innerText == "a fault is hidden"`)
	host.wait(`document.querySelector("#secret")?.textContent.includes("210\u202fµs")`)
	if strings.Contains(host.text("#outcome"), "210") {
		t.Error("what is hidden stands open on the instructor's screen, where a class can read it")
	}
	class.click(`[data-switch=key]`)
	class.wait(`document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true"`)
	host.wait(`document.querySelector("#hide")`)
	host.click("#hide summary")
	host.click(`form[action$="/reveal"] button`)
	class.wait(`document.querySelector("#outcome").innerText.includes("What was hidden") && document.querySelector("#outcome").innerText.includes("key on")`)
	class.wait(`document.querySelector("#said").innerText == "What was hidden is shown below." && document.querySelector("#about").innerText == "what was hidden is shown"`)
	quietConsole(t, host, class)
}

// An exercise from the list to the judge's word with the keyboard alone, worked as the trade does: crank to the lead, housing until the lamp just changes.
func TestExerciseByKeyboardAlone(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 1280, 800)
	p.open("/bench")
	tabTo := func(css string) {
		t.Helper()
		for range 120 {
			if eval[bool](p, `!!document.activeElement && document.activeElement.matches(`+strconv.Quote(css)+`)`) {
				return
			}
			p.keys(kb.Tab)
		}
		t.Fatalf("never reached %s", css)
	}
	tabTo("input[type=radio]")
	p.keys(kb.ArrowDown)
	p.wait(`document.activeElement.value == "lamps"`)
	tabTo("button.primary")
	p.keys(kb.Enter)
	p.wait(`document.querySelector("#bench") && document.querySelector("#rim").getAttribute("aria-valuetext")`)
	mark := func() int {
		return eval[int](p, `Number(document.querySelector("#rim").getAttribute("aria-valuenow"))`)
	}
	tabTo("#rim")
	lead := int(bench.Default().Controller.Lead)
	for range 120 {
		left := ((mark()-lead)%360 + 360) % 360
		if left == 0 {
			break
		}
		key := kb.ArrowRight
		if left >= 10 {
			key = kb.PageUp
		}
		was := mark()
		p.keys(key)
		p.wait(`Number(document.querySelector("#rim").getAttribute("aria-valuenow")) != ` + strconv.Itoa(was))
	}
	if mark() != lead {
		t.Fatalf("the zero mark stands %d° before the pointer", mark())
	}
	p.keys(kb.ArrowLeft)
	p.wait(`document.querySelector("#said").innerText.includes("forward only")`)
	tabTo("[data-switch=key]")
	p.keys(kb.Enter)
	p.wait(`["high","low"].includes(document.querySelector("[data-lamp=crank]").dataset.state)`)
	tabTo("#cap")
	p.keys(kb.ArrowRight)
	p.wait(`document.querySelector("#said").innerText.includes("the clamp is tight")`)
	tabTo("[data-switch=clamp]")
	p.keys(" ")
	p.wait(`document.querySelector("[data-switch=clamp]").innerText.includes("loose")`)
	tabTo("#cap")
	lamp := func() string { return eval[string](p, `document.querySelector("[data-lamp=crank]").dataset.state`) }
	turn := func(key string) {
		t.Helper()
		was := eval[string](p, `document.querySelector("#cap").getAttribute("aria-valuetext")`)
		p.keys(key)
		p.wait(`document.querySelector("#cap").getAttribute("aria-valuetext") != ` + strconv.Quote(was))
	}
	// The vane pulls the lamp low as it comes: low means that the edge came too early, so with the rotor; high, against it.
	coarse, back := kb.PageUp, kb.ArrowDown
	if lamp() == "low" {
		coarse, back = kb.PageDown, kb.ArrowUp
	}
	for was, n := lamp(), 0; lamp() == was; n++ {
		if n > 12 {
			t.Fatal("the lamp never changes")
		}
		turn(coarse)
	}
	for was := lamp(); lamp() == was; {
		turn(back)
	}
	tabTo("[data-switch=clamp]")
	p.keys(kb.Enter)
	p.wait(`document.querySelector("[data-switch=clamp]").innerText.includes("tight")`)
	p.wait(`!!document.querySelector("#live").innerText`) // the lamps were read out
	tabTo("#judge button")
	p.keys(kb.Enter)
	p.wait(`document.querySelector("#outcome").innerText.includes("timing error at worst")`)
	if text := p.text("#outcome"); !strings.Contains(strings.ToLower(text), "goal reached") {
		t.Errorf("set by the lamp, and the judge says: %s", text)
	}
	quietConsole(t, p)
}

// For people who asked for less motion nothing turns, however fast the engine does; it is drawn where it stops.
func TestBenchStandsStillWhereAsked(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}}); err != nil {
		t.Fatal(err)
	}
	p.open(s.bench(url.Values{}))
	p.click(`[data-switch=key]`)
	p.click(`#starter`)
	p.wait(`Number(document.querySelector("[data-show=rpm]").innerText) > 100 && document.querySelector(".b-fires")`)
	eval[string](p, `(window.seen = new Set(), window.look = () => { for (const id of ["rotor", "wheel", "cursor"]) window.seen.add(id + document.getElementById(id).getAttribute("transform")); if (window.looking) requestAnimationFrame(window.look); }, window.looking = true, window.look(), "")`)
	time.Sleep(1500 * time.Millisecond)
	seen := eval[string](p, `(window.looking = false, [...window.seen].join("\n"))`)
	if n := strings.Count(seen, "\n") + 1; n != 3 {
		t.Errorf("things moved:\n%s", seen)
	}
	p.click(`#starter`)
	p.wait(`document.querySelector("[data-show=slowed]").innerText == "at rest" && !document.querySelector(".b-fires")`)
	quietConsole(t, p)
}

// The line is cut, the bench is put away, the host starts again: the page says so each time, and hangs in none.
func TestBenchPageNeverHangs(t *testing.T) {
	s := newShop(t)
	base, line := s.serve()
	b := browser(t)
	p := s.screen(b, base, 360, 740)
	path := s.bench(url.Values{"exercise": {"both"}})
	p.open(path)
	p.click(`[data-switch=key]`)
	p.wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	line.set(true)
	p.wait(`document.querySelector("#line").innerText.includes("line to the host is lost")`)
	line.set(false)
	p.wait(`document.querySelector("#line").hidden && document.querySelector("#bench").dataset.hold == "mine"`)
	line.set(true)
	s.rooms.putAway(strings.TrimPrefix(path, "/bench/")) // as after a new start: the bench is unknown
	line.set(false)
	p.wait(`!document.querySelector("#again").hidden`)
	p.click("#again button")
	p.wait(`location.pathname != "` + path + `" && document.querySelector("#task")`)
	again := eval[string](p, "location.pathname")
	p.wait(`document.querySelector("[data-show=watching]").innerText == "1"`)
	s.rooms.putAway(strings.TrimPrefix(again, "/bench/"))
	p.wait(`!document.querySelector("#again").hidden && document.querySelector("#said").innerText.includes("put away")`)
}

// The crank button cranks while it is held, a tap makes it stay; the housing is turned by a finger on the cap.
func TestFingersOnTheBench(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	path := s.bench(url.Values{})
	p.open(path)
	// What matters is in sight without scrolling, the thumb's bar too.
	for _, css := range []string{"#cap", "#rim", ".b-lamps", ".b-trace", ".b-switches", "#starter"} {
		if !eval[bool](p, `(() => { const r = document.querySelector("`+css+`").getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight && document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2).closest("`+css+`") != null })()`) {
			t.Errorf("%s is not in sight on a phone", css)
		}
	}
	p.click(`[data-switch=key]`)
	p.click(`[data-switch=clamp]`)
	p.wait(`document.querySelector("#cap").classList.contains("b-loose") && document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true"`)
	point := func(kind, css string, x, y float64) {
		t.Helper()
		eval[bool](p, `(() => { const e = document.querySelector("`+css+`"), r = e.getBoundingClientRect(); e.dispatchEvent(new PointerEvent("`+kind+`", {bubbles: true, cancelable: true, pointerId: 1, isPrimary: true, button: 0, clientX: r.left + r.width * `+short(x, 3)+`, clientY: r.top + r.height * `+short(y, 3)+`})); return true })()`)
	}
	eval[bool](p, `(Element.prototype.setPointerCapture = () => {}, true)`) // a made-up pointer cannot be captured
	point("pointerdown", "#cap", 0.5, 0.1)
	for _, x := range []float64{0.51, 0.52, 0.53, 0.54} {
		point("pointermove", "#cap", x, 0.1)
	}
	point("pointerup", "#cap", 0.54, 0.1)
	p.wait(`document.querySelector("#cap").getAttribute("aria-valuetext").includes("with the rotor")`) // clockwise, as the bench's own rotor turns
	point("pointerdown", "#starter", 0.5, 0.5)
	p.wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "true"`)
	time.Sleep(400 * time.Millisecond)
	point("pointerup", "#starter", 0.5, 0.5)
	p.wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "false"`)
	p.click("#starter")
	p.wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "true"`)
	time.Sleep(500 * time.Millisecond)
	if eval[string](p, `document.querySelector("#starter").getAttribute("aria-pressed")`) != "true" {
		t.Error("a tap does not stay")
	}
	quietConsole(t, p)
}

// Turning, revealed, judged: no rule of WCAG 2.2 A or AA that can be checked is broken in any of them.
func TestNoViolationOnABenchAtWork(t *testing.T) {
	checker := axe(t)
	s := newShop(t)
	base, _ := s.serve()
	b := browser(t)
	for _, look := range []string{"light", "dark"} {
		p := s.screen(b, base, 360, 740)
		p.scheme(look)
		p.open(s.bench(url.Values{"exercise": {"two-faults"}}))
		p.do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
		p.click(`[data-switch=key]`)
		p.click(`[data-switch=light]`)
		p.click(`#starter`)
		p.wait(`document.querySelector("[data-show=sync]").innerText == "held"`)
		eval[bool](p, `(document.querySelectorAll("details").forEach(d => d.open = true), true)`)
		p.click("#judge > form > button")
		p.wait(`document.querySelector("#outcome").innerText.includes("What was hidden")`)
		text := evalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + " | " + n.failureSummary).join("; "))))`)
		var found []string
		if err := json.Unmarshal([]byte(text), &found); err != nil {
			t.Fatal(err, text)
		}
		for _, v := range found {
			t.Errorf("%s: %s", look, v)
		}
		quietConsole(t, p)
	}
}
