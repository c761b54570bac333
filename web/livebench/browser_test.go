package livebench_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/bench"
	"phasewright/web/webtest"
)

func quietConsole(t *testing.T, screens ...*webtest.Screen) {
	t.Helper()
	for _, s := range screens {
		for _, c := range s.Complaints() {
			t.Error("console: " + c)
		}
	}
}

// Two screens on one bench see the same: words, lamps, traces, and where everything stands; the second takes over and
// the first is told.
func TestTwoScreensOnOneBench(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	one, two := s.Screen(b, base, 360, 740), s.Screen(b, base, 1280, 800)
	one.Open("/bench")
	one.Click("button.primary")
	one.Wait(`document.querySelector("#bench")`)
	two.Open(webtest.Eval[string](one, "location.pathname"))
	two.Wait(`document.querySelector("[data-show=watching]").innerText == "2"`)
	one.Click(`#starter`)
	one.Wait(`document.querySelector("#said").innerText.includes("the key is off")`)
	one.Wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	two.Wait(`document.querySelector("#holder").innerText == "host screen holds the controls"`)
	two.Click(`[data-switch=key]`)
	two.Wait(`document.querySelector("#said").innerText.includes("Take them over first")`)
	one.Click(`[data-switch=key]`)
	two.Wait(`document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true" && document.querySelector("[data-lamp=crank]").dataset.state != "no power"`)
	one.Click(`[data-switch=light]`)
	one.Click(`#starter`)
	two.Wait(`document.querySelector("[data-show=shows]").innerText.endsWith("°") && document.querySelector("[data-show=sync]").innerText == "held"`)
	first := webtest.Eval[string](two, `document.querySelector("#rotor").getAttribute("transform")`)
	two.Wait(`document.querySelector("#rotor").getAttribute("transform") != "` + first + `"`)
	two.Wait(`document.querySelector(".b-fires") && document.querySelectorAll("#spark-labels text").length == 8`)
	if n := webtest.Eval[int](two, `document.querySelector("#crank-line").getAttribute("d").split("V").length - 1`); n != 16 {
		t.Errorf("the crank's trace has %d steps on an eight", n)
	}
	one.Click(`#starter`)
	for _, p := range []*webtest.Screen{one, two} {
		p.Wait(`document.querySelector("[data-show=rpm]").innerText == "0" && document.querySelector("[data-show=slowed]").innerText == "at rest"`)
	}
	time.Sleep(400 * time.Millisecond)
	const stands = `JSON.stringify([["#housing","#wheel","#rotor","#damper","#cursor"].map(q => document.querySelector(q).getAttribute("transform")), ["rpm","volts","mark","turned","sync"].map(n => document.querySelector("[data-show=" + n + "]").innerText),
		["crank","cam","coil","spark"].map(n => document.getElementById(n + "-line").getAttribute("d")), [...document.querySelectorAll("[data-lamp]")].map(l => l.dataset.state)])`
	if a, z := webtest.Eval[string](one, stands), webtest.Eval[string](two, stands); a != z {
		t.Errorf("the screens differ:\n%s\n%s", a, z)
	}
	// Loaded anew, the page drawn by the server stands as the script left it.
	two.Open(webtest.Eval[string](one, "location.pathname"))
	if a, z := webtest.Eval[string](one, `document.querySelector("#rotor").getAttribute("transform")`), webtest.Eval[string](two, `document.querySelector("#rotor").getAttribute("transform")`); !sameTurn(a, z) {
		t.Errorf("rotor %s, on a page loaded anew %s", a, z)
	}
	two.Click("#take")
	one.Wait(`document.querySelector("#said").innerText.includes("has the controls now") && document.querySelector("#take").innerText == "Take over"`)
	two.Wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	two.Do(chromedp.Navigate("about:blank"))
	one.Wait(`document.querySelector("[data-show=watching]").innerText == "1"`)
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
	d := math.Remainder(number(a)-number(b), 360)
	return d < 0.3 && d > -0.3
}

// The instructor's screen hides a fault, the class sees that something is hidden and works, the reveal shows all what
// it was and what was done.
func TestInstructorHidesAndReveals(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	room := s.NewBench(url.Values{})
	host, class := s.Screen(b, base, 1280, 800), s.Screen(b, base, 360, 740)
	host.Open(room)
	class.Open(room)
	host.Click("#hide summary")
	host.Do(chromedp.SetValue(chromedp.CSS("#fault1"), "delay"))
	host.TypeIn("#size1", "210us")
	host.Click(".b-hide .b-keys button:first-child")
	class.Wait(`document.querySelector("#about").innerText == "a fault is hidden"`)
	host.Wait(`document.querySelector("#secret")?.textContent.includes("210\u202fµs")`)
	if strings.Contains(host.Text("#outcome"), "210") {
		t.Error("what is hidden stands open on the instructor's screen, where a class can read it")
	}
	class.Click(`[data-switch=key]`)
	class.Wait(`document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true"`)
	host.Wait(`document.querySelector("#tell summary")`)
	host.Click("#tell summary")
	host.Click(`form[action$="/reveal"] button`)
	class.Wait(`document.querySelector("#outcome").innerText.includes("What was hidden") && document.querySelector("#outcome").innerText.includes("key on")`)
	class.Wait(`document.querySelector("#said").innerText == "What was hidden is shown below." && document.querySelector("#about").innerText == "what was hidden is shown"`)
	quietConsole(t, host, class)
}

// An exercise from the list to the judge's word with the keyboard alone, worked as the trade does: crank to the lead,
// housing until the lamp just changes.
func TestExerciseByKeyboardAlone(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/bench")
	tabTo := func(css string) {
		t.Helper()
		for range 120 {
			if webtest.Eval[bool](p, `!!document.activeElement && document.activeElement.matches(`+strconv.Quote(css)+`)`) {
				return
			}
			p.Keys(kb.Tab)
		}
		t.Fatalf("never reached %s", css)
	}
	tabTo("input[type=radio]")
	p.Keys(kb.ArrowDown)
	p.Wait(`document.activeElement.value == "lamps"`)
	tabTo("button.primary")
	p.Keys(kb.Enter)
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("#rim")?.getAttribute("aria-valuetext")`)
	mark := func() int {
		return webtest.Eval[int](p, `Number(document.querySelector("#rim").getAttribute("aria-valuenow"))`)
	}
	// which stroke: a thumb on plug hole 1, the crank turned until it pushes
	tabTo("#means > summary")
	p.Keys(kb.Enter)
	press := func(form int, value, then string) {
		t.Helper()
		tabTo(fmt.Sprintf("#means form:nth-of-type(%d) button[value='%s']", form, value))
		p.Keys(kb.Enter)
		p.Wait(`document.querySelector("[data-show=hole]").innerText.includes(` + strconv.Quote(then) + `)`)
	}
	press(1, "off", "is out")
	press(3, "on", "thumb on hole 1")
	for n := 0; !strings.Contains(p.Text("[data-show=hole]"), "compression pushes"); n++ {
		if n > 24 {
			t.Fatal("two turns, and no compression felt")
		}
		was := p.Text("[data-show=mark]")
		press(4, "30", "thumb on hole 1")
		p.Wait(`document.querySelector("[data-show=mark]").innerText != ` + strconv.Quote(was))
	}
	press(3, "off", "is out")
	press(1, "on", "every plug is in")
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
		p.Keys(key)
		p.Wait(`Number(document.querySelector("#rim").getAttribute("aria-valuenow")) != ` + strconv.Itoa(was))
	}
	if mark() != lead {
		t.Fatalf("the zero mark stands %d° before the pointer", mark())
	}
	p.Keys(kb.ArrowLeft)
	p.Wait(`document.querySelector("#said").innerText.includes("forward only")`)
	tabTo("[data-switch=power]")
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("[data-switch=power]").innerText.includes("off")`)
	tabTo("[data-switch=key]")
	p.Keys(kb.Enter)
	p.Wait(`["high","low"].includes(document.querySelector("[data-lamp=crank]").dataset.state)`)
	p.Wait(`document.querySelector("[data-switch=clamp]").innerText.includes("loose")`) // in the hand, as the task says
	tabTo("#cap")
	lamp := func() string {
		return webtest.Eval[string](p, `document.querySelector("[data-lamp=crank]").dataset.state`)
	}
	turn := func(key string) {
		t.Helper()
		was := webtest.Eval[string](p, `document.querySelector("#cap").getAttribute("aria-valuetext")`)
		p.Keys(key)
		p.Wait(`document.querySelector("#cap").getAttribute("aria-valuetext") != ` + strconv.Quote(was))
	}
	// The vane pulls the lamp low as it comes: low means that the edge came too early, so with the rotor; high,
	// against it.
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
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("[data-switch=clamp]").innerText.includes("tight")`)
	p.Wait(`!!document.querySelector("#live").innerText`) // the lamps were read out
	tabTo("#judge form > .b-ask > summary")               // the question is asked first
	p.Keys(kb.Enter)
	tabTo("#judge form > .b-ask > button")
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("#outcome").innerText.includes("timing error at worst")`)
	if text := p.Text("#outcome"); !strings.Contains(strings.ToLower(text), "goal reached") {
		t.Errorf("set by the lamp, and the judge says: %s", text)
	}
	p.Wait(`document.activeElement.matches("#outcome h2")`) // ears and eyes begin with what was judged
	quietConsole(t, p)
}

// Whoever does not see the drawing hears that the engine turns and stops, and is told speed and light when asked for.
func TestBenchIsHeard(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open(s.NewBench(url.Values{}))
	p.Wait(`document.documentElement.dataset.script == "on"`)
	hear := func(what string) {
		t.Helper()
		p.Wait(`document.querySelector("#live").innerText.includes(` + strconv.Quote(what) + `)`)
	}
	p.Click(`[data-switch=key]`)
	p.Click(`[data-switch=light]`)
	p.Click(`#starter`)
	hear("The starter turns the engine.")
	p.Wait(`document.querySelector("[data-show=shows]").innerText.endsWith("°")`)
	for tries := 0; !strings.Contains(p.Text("#live"), " rpm. The light shows "); tries++ { // it may flash on nothing in between
		if tries > 50 {
			t.Fatalf("heard: %s", p.Text("#live"))
		}
		p.Click("#say")
		time.Sleep(100 * time.Millisecond)
	}
	p.Click("#starter")
	hear("The engine stands.")
	quietConsole(t, p)
}

// For people who asked for less motion nothing turns, however fast the engine does; it is drawn where it stops.
func TestBenchStandsStillWhereAsked(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	if _, err := chromedp.Call(p.Ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}}); err != nil {
		t.Fatal(err)
	}
	p.Open(s.NewBench(url.Values{}))
	p.Click(`[data-switch=key]`)
	p.Click(`#starter`)
	p.Wait(`Number(document.querySelector("[data-show=rpm]").innerText) > 100 && document.querySelector(".b-fires")`)
	webtest.Eval[string](p, `(window.seen = new Set(), window.look = () => { for (const id of ["rotor", "wheel", "cursor"]) window.seen.add(id + document.getElementById(id).getAttribute("transform")); if (window.looking) requestAnimationFrame(window.look); }, window.looking = true, window.look(), "")`)
	time.Sleep(1500 * time.Millisecond)
	seen := webtest.Eval[string](p, `(window.looking = false, [...window.seen].join("\n"))`)
	if n := strings.Count(seen, "\n") + 1; n != 3 {
		t.Errorf("things moved:\n%s", seen)
	}
	p.Click(`#starter`)
	p.Wait(`document.querySelector("[data-show=slowed]").innerText == "at rest" && !document.querySelector(".b-fires")`)
	quietConsole(t, p)
}

// The line is cut, the bench is put away, the host starts again: the page says so each time, and hangs in none.
func TestBenchPageNeverHangs(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	b := webtest.Browser(t)
	p := s.Screen(b, base, 360, 740)
	path := s.NewBench(url.Values{"exercise": {"both"}})
	p.Open(path)
	p.Click(`[data-switch=key]`)
	p.Wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	line.Set(true)
	p.Wait(`document.querySelector("#line").innerText.includes("line to the host is lost")`)
	line.Set(false)
	p.Wait(`document.querySelector("#line").hidden && document.querySelector("#bench").dataset.hold == "mine"`)
	line.Set(true)
	s.Livebench.PutAway(path) // as after a new start: the bench is unknown
	line.Set(false)
	p.Wait(`!document.querySelector("#again").hidden && document.querySelector("#line").hidden`)
	p.Click("#again button")
	p.Wait(`location.pathname != "` + path + `" && document.querySelector("#task")`)
	again := webtest.Eval[string](p, "location.pathname")
	p.Wait(`document.querySelector("[data-show=watching]").innerText == "1"`)
	s.Livebench.PutAway(again)
	p.Wait(`!document.querySelector("#again").hidden && document.querySelector("#said").innerText.includes("put away")`)
}

// The crank button cranks while it is held, a tap makes it stay; the housing is turned by a finger on the cap.
func TestFingersOnTheBench(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	path := s.NewBench(url.Values{})
	p.Open(path)
	// What matters is in sight without scrolling, the thumb's bar too.
	for _, css := range []string{"#cap", "#rim", ".b-lamps", ".b-trace", ".b-switches", "#starter"} {
		if !webtest.Eval[bool](p, `(() => { const r = document.querySelector("`+css+`").getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight && document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2).closest("`+css+`") != null })()`) {
			t.Errorf("%s is not in sight on a phone", css)
		}
	}
	p.Click(`[data-switch=key]`)
	p.Wait(`document.querySelector("[data-switch=clamp]").innerText.includes("not felt")`)
	p.Click(`[data-switch=clamp]`)
	p.Wait(`document.querySelector("[data-switch=clamp]").innerText.includes("tight")`)
	p.Click(`[data-switch=clamp]`)
	p.Wait(`document.querySelector("#cap").classList.contains("b-loose") && document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true"`)
	point := func(kind, css string, x, y float64) {
		t.Helper()
		webtest.Eval[bool](p, `(() => { const e = document.querySelector("`+css+`"), r = e.getBoundingClientRect(); e.dispatchEvent(new PointerEvent("`+kind+`", {bubbles: true, cancelable: true, pointerId: 1, isPrimary: true, button: 0, clientX: r.left + r.width * `+fmt.Sprintf("%.3f", x)+`, clientY: r.top + r.height * `+fmt.Sprintf("%.3f", y)+`})); return true })()`)
	}
	webtest.Eval[bool](p, `(Element.prototype.setPointerCapture = () => {}, true)`) // a made-up pointer cannot be captured
	point("pointerdown", "#cap", 0.5, 0.1)
	for _, x := range []float64{0.51, 0.52, 0.53, 0.54} {
		point("pointermove", "#cap", x, 0.1)
	}
	point("pointerup", "#cap", 0.54, 0.1)
	p.Wait(`document.querySelector("#cap").getAttribute("aria-valuetext").includes("with the rotor")`) // clockwise, as the bench's own rotor turns
	point("pointerdown", "#starter", 0.5, 0.5)
	p.Wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "true"`)
	time.Sleep(400 * time.Millisecond)
	point("pointerup", "#starter", 0.5, 0.5)
	p.Wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "false"`)
	p.Click("#starter")
	p.Wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "true"`)
	time.Sleep(500 * time.Millisecond)
	if webtest.Eval[string](p, `document.querySelector("#starter").getAttribute("aria-pressed")`) != "true" {
		t.Error("a tap does not stay")
	}
	quietConsole(t, p)
}

// Turning, revealed, judged: no rule of WCAG 2.2 A or AA that can be checked is broken in any of them.
func TestNoViolationOnABenchAtWork(t *testing.T) {
	checker := webtest.Axe(t)
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	for _, look := range []string{"light", "dark"} {
		p := s.Screen(b, base, 360, 740)
		p.Scheme(look)
		p.Open(s.NewBench(url.Values{"exercise": {"two-faults"}}))
		p.Do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
		p.Click(`[data-switch=key]`)
		p.Click(`[data-switch=light]`)
		p.Click(`#starter`)
		p.Wait(`document.querySelector("[data-show=sync]").innerText == "held"`)
		webtest.Eval[bool](p, `(document.querySelectorAll("details").forEach(d => d.open = true), true)`)
		p.Click("#judge form > .b-ask > button")
		p.Wait(`document.querySelector("#outcome").innerText.includes("What was hidden")`)
		text := webtest.EvalPromise(p, `axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + " | " + n.failureSummary).join("; "))))`)
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
