package recording_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/bench"
	"phasewright/web"
	"phasewright/web/webtest"
)

// shownView is the stretch that the page shows, s.
func shownView(s *webtest.Screen) (from, to float64) {
	s.T.Helper()
	text := webtest.Eval[string](s, `document.querySelector("#view").dataset.from + " " + document.querySelector("#view").dataset.to`)
	a, b, _ := strings.Cut(text, " ")
	from, _ = strconv.ParseFloat(a, 64)
	to, _ = strconv.ParseFloat(b, 64)
	return from, to
}

// settled waits until the drawing is of the view that is wanted, and gives its width.
func settled(s *webtest.Screen, than float64) (width float64) {
	s.T.Helper()
	s.Wait(fmt.Sprintf(`!document.querySelector("#drawing").classList.contains("moved") && Math.abs(document.querySelector("#view").dataset.to - document.querySelector("#view").dataset.from - %g) > %g`, than, than*1e-6))
	from, to := shownView(s)
	return to - from
}

// A file made by the bench is sent from the page, its waveform opened, and looked at by key, wheel, drag, pinch and
// link; the address follows and shows the same when loaded again.
func TestWaveformUnderHand(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	file := filepath.Join(t.TempDir(), "first run.csv")
	if err := os.WriteFile(file, webtest.Run{Format: "csv", Seconds: 20, Faults: bench.Faults{Noise: 0.01}}.Record(t), 0o644); err != nil {
		t.Fatal(err)
	}
	p.Open("/job/" + job + "/captures")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	p.Do(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{file}))
	p.Click("#send button")
	p.Wait(`[...document.querySelectorAll("#files a.button")].some(a => a.textContent == "Waveform")`)
	if said := p.Text("#sending"); said != "" {
		t.Errorf("the file is there, and the page says %q", said)
	}
	webtest.Eval[bool](p, `([...document.querySelectorAll("#files a.button")].find(a => a.textContent == "Waveform").click(), true)`)
	p.Wait(`document.querySelector("#drawing .desk-only svg") && document.documentElement.dataset.script == "on"`)
	from, to := shownView(p)
	whole := to - from
	if whole < 19.9 || whole > 20.1 {
		t.Fatalf("the whole is %v s", whole)
	}

	// keys
	webtest.Eval[bool](p, `(document.querySelector("#drawing").focus(), true)`)
	release := s.Recording.HoldViews() // the host is slow to answer
	p.Keys("+")
	p.Wait(`document.querySelector("#drawing").classList.contains("moved")`)
	if a := webtest.Eval[float64](p, `parseFloat((document.querySelector("#drawing .desk-only .wave-moving").getAttribute("transform") || "").slice(7))`); a < 1.99 || a > 2.01 {
		t.Errorf("before the host's answer the drawing is stretched %v times", a)
	}
	if a := webtest.Eval[float64](p, `parseFloat((document.querySelector("#drawing .desk-only .wave-window").getAttribute("transform") || "").slice(7))`); a < 0.49 || a > 0.51 {
		t.Errorf("before the host's answer the window is stretched %v times", a)
	}
	release()
	width := settled(p, whole)
	if width < whole*0.49 || width > whole*0.51 {
		t.Errorf("after + the view is %v s wide", width)
	}
	p.Keys("+")
	p.Keys("+")
	p.Keys("+")
	p.Wait(fmt.Sprintf(`!document.querySelector("#drawing").classList.contains("moved") && document.querySelector("#view").dataset.to - document.querySelector("#view").dataset.from < %g`, whole/15))
	a, _ := shownView(p)
	p.Keys(kb.ArrowRight)
	p.Wait(fmt.Sprintf(`Number(document.querySelector("#view").dataset.from) > %g && !document.querySelector("#drawing").classList.contains("moved")`, a+0.1))
	if got := webtest.Eval[string](p, `location.search`); !strings.Contains(got, "from="+webtest.Eval[string](p, `document.querySelector("#view").dataset.from`)) {
		t.Errorf("the address says %q", got)
	}
	if !webtest.Eval[bool](p, `document.activeElement.id == "drawing"`) {
		t.Error("the focus has left the drawing")
	}

	// wheel: the time under the pointer stays there
	rect := webtest.Eval[[]float64](p, `(() => { const r = document.querySelector("#drawing .desk-only svg").getBoundingClientRect(); return [r.left, r.top, r.width, r.height] })()`)
	x, y := rect[0]+rect[2]*0.75, rect[1]+rect[3]/2
	under := func() float64 {
		d := webtest.Eval[[]float64](p, `(() => { const d = document.querySelector("#drawing .desk-only").dataset; return [Number(d.left), Number(d.right), document.querySelector("#drawing .desk-only svg").viewBox.baseVal.width] })()`)
		from, to := shownView(p)
		return from + ((x-rect[0])/rect[2]*d[2]-d[0])/(d[1]-d[0])*(to-from)
	}
	before, width := under(), func() float64 { a, b := shownView(p); return b - a }()
	wheel := func(dy float64) {
		if _, err := chromedp.Call(p.Ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: "mouseWheel", X: x, Y: y, DeltaX: 0.001, DeltaY: dy}); err != nil {
			t.Fatal(err)
		}
	}
	scrolled := webtest.Eval[float64](p, "scrollY")
	wheel(-240)
	if w := settled(p, width); w >= width*0.9 {
		t.Errorf("the wheel made %v s of %v s", w, width)
	}
	_, now := shownView(p)
	if after := under(); after < before-1e-3*now || after > before+1e-3*now {
		t.Errorf("under the pointer stood %v s, now %v s", before, after)
	}
	if webtest.Eval[float64](p, "scrollY") != scrolled {
		t.Error("the wheel moved the page as well")
	}

	// drag to the right: earlier
	a, b := shownView(p)
	mouse := func(kind input.DispatchMouseEventType, at float64) {
		if _, err := chromedp.Call(p.Ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: at, Y: y, Button: "left", Buttons: 1, ClickCount: 1}); err != nil {
			t.Fatal(err)
		}
	}
	mouse("mousePressed", x-200)
	mouse("mouseMoved", x-100)
	mouse("mouseMoved", x)
	mouse("mouseReleased", x)
	p.Wait(fmt.Sprintf(`!document.querySelector("#drawing").classList.contains("moved") && Number(document.querySelector("#view").dataset.from) < %g`, a-0.1*(b-a)))
	if c, d := shownView(p); d-c < (b-a)*0.999 || d-c > (b-a)*1.001 {
		t.Errorf("dragging made %v s of %v s", d-c, b-a)
	}

	// pinch with two fingers
	a, b = shownView(p)
	touch := func(kind input.DispatchTouchEventType, at ...float64) {
		points := []*input.TouchPoint{}
		for i, px := range at {
			id := float64(i)
			points = append(points, &input.TouchPoint{X: px, Y: y, ID: &id})
		}
		if _, err := chromedp.Call(p.Ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points}); err != nil {
			t.Fatal(err)
		}
	}
	touch("touchStart", x-60)
	touch("touchStart", x-60, x+60)
	touch("touchMove", x-120, x+120)
	touch("touchEnd")
	if w := settled(p, b-a); w > (b-a)*0.6 || w < (b-a)*0.4 {
		t.Errorf("a pinch to twice the distance made %v s of %v s", w, b-a)
	}

	// a press on the strip of the whole goes there
	a, b = shownView(p)
	strip := webtest.Eval[[]float64](p, `(() => { const r = document.querySelector("#drawing .desk-only .wave-window").getBoundingClientRect(), d = document.querySelector("#drawing .desk-only").dataset, s = document.querySelector("#drawing .desk-only svg"), k = s.getBoundingClientRect().width / s.viewBox.baseVal.width; return [s.getBoundingClientRect().left + k * d.left, k * (d.right - d.left), r.top + r.height / 2] })()`)
	y = strip[2]
	mouse("mousePressed", strip[0]+strip[1]/4)
	mouse("mouseReleased", strip[0]+strip[1]/4)
	p.Wait(fmt.Sprintf(`!document.querySelector("#drawing").classList.contains("moved") && Math.abs((Number(document.querySelector("#view").dataset.from) + Number(document.querySelector("#view").dataset.to)) / 2 - %g) < 0.1`, whole/4))
	if c, d := shownView(p); d-c < (b-a)*0.999 || d-c > (b-a)*1.001 {
		t.Errorf("the press on the strip made %v s of %v s", d-c, b-a)
	}

	// a reading entered on another screen leaves the drawing and the focus alone
	webtest.Eval[bool](p, `(document.querySelector("#drawing").focus(), window.kept = document.querySelector("#drawing svg"), true)`)
	s.Read(job, "1500", "9")
	p.Wait(fmt.Sprintf(`Number(document.body.dataset.version) >= %d`, len(s.Kinds(job))))
	if !webtest.Eval[bool](p, `document.activeElement.id == "drawing" && window.kept.isConnected`) {
		t.Error("a reading entered elsewhere took the drawing away from under the hand")
	}

	// links: without leaving the page
	webtest.Eval[bool](p, `(window.stayed = true, true)`)
	a, b = shownView(p)
	p.Click("#moves [data-do=out]")
	if w := settled(p, b-a); w < (b-a)*3.9 {
		t.Errorf("the link made %v s of %v s", w, b-a)
	}
	p.Click("#found [data-do=after]")
	p.Wait(`document.querySelector("#found").innerText.includes("extra pulse on crank") && !document.querySelector("#drawing").classList.contains("moved")`)
	if !webtest.Eval[bool](p, `window.stayed === true`) {
		t.Error("a link loaded the page anew")
	}
	a, b = shownView(p)
	svg := webtest.Eval[string](p, `document.querySelector("#drawing .desk-only").innerHTML`)
	p.Open(webtest.Eval[string](p, `location.pathname + location.search`))
	p.Wait(`document.querySelector("#drawing .desk-only svg")`)
	if c, d := shownView(p); c != a || d != b {
		t.Errorf("loaded again, the page shows %v to %v, before %v to %v", c, d, a, b)
	}
	if webtest.Eval[string](p, `document.querySelector("#drawing .desk-only").innerHTML`) != svg {
		t.Error("loaded again, the drawing differs")
	}
	p.Click("#moves [data-do=whole]")
	p.Wait(`location.search == "" && document.querySelector("#moves [data-do=out]").getAttribute("aria-disabled") == "true"`)
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// A fling of wheel turns: old questions are given up, the last view is the one that is drawn and stands in the address.
func TestLastWishIsDrawn(t *testing.T) {
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 10}.Record(t))
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open(page)
	p.Wait(`document.documentElement.dataset.script == "on"`)
	webtest.Eval[bool](p, `(document.querySelector("#drawing").focus(), true)`)
	for range 12 {
		p.Keys("+")
	}
	for range 3 {
		p.Keys(kb.ArrowLeft)
	}
	p.Wait(`!document.querySelector("#drawing").classList.contains("moved") && document.querySelector("#view").dataset.to - document.querySelector("#view").dataset.from < 0.003`)
	from, to := shownView(p)
	if width := to - from; width < 0.0024 || width > 0.0025 { // 10 s / 2¹²
		t.Errorf("the view is %v s wide", width)
	}
	if middle := (from + to) / 2; middle > 5-0.59*(to-from) || middle < 5-0.61*(to-from) {
		t.Errorf("three steps to the left of the middle of 10 s: %v", middle)
	}
	if !webtest.Eval[bool](p, `document.querySelector("#drawing .phone-only svg title").textContent.includes("Waveform from 4.99")`) {
		t.Error("the drawing is of another view: " + webtest.Eval[string](p, `document.querySelector("#drawing .phone-only svg title").textContent`))
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// While the host is slow, a new wish takes the place of the question before: one drawing is answered, not four.
func TestOldQuestionsAreGivenUp(t *testing.T) {
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 10}.Record(t))
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open(page)
	p.Wait(`document.documentElement.dataset.script == "on"`)
	webtest.Eval[bool](p, `(document.querySelector("#drawing").focus(), true)`)
	release := s.Recording.HoldViews()
	asked := `performance.getEntriesByType("resource").filter(e => e.name.includes("/wave/part?"))`
	for i := range 4 {
		p.Keys("+")
		p.Wait(fmt.Sprintf(`%s.length >= %d`, asked, i)) // the question before was given up, and is in the list
		time.Sleep(3 * 60 * time.Millisecond)            // longer than the page waits for another move
	}
	release()
	p.Wait(`!document.querySelector("#drawing").classList.contains("moved") && document.querySelector("#view").dataset.to - document.querySelector("#view").dataset.from < 0.63`)
	if n := webtest.Eval[int](p, asked+`.filter(e => e.responseStatus == 200).length`); n != 1 {
		t.Errorf("%d drawings were answered", n)
	}
}

// A file dropped anywhere on the page is sent and read.
func TestFileDroppedOnThePage(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/job/" + job + "/captures")
	p.Wait(`document.documentElement.dataset.script == "on" && getComputedStyle(document.querySelector("#drop")).display == "block"`)
	text := string(webtest.Run{Format: "vcd", Seconds: 1}.Record(t))
	webtest.Eval[bool](p, fmt.Sprintf(`(() => {
		const data = new DataTransfer();
		data.items.add(new File([%q], "dropped.vcd"));
		const on = document.querySelector("h1");
		const over = on.dispatchEvent(new DragEvent("dragover", {bubbles: true, cancelable: true, dataTransfer: data}));
		on.dispatchEvent(new DragEvent("dragenter", {bubbles: true, cancelable: true, dataTransfer: data}));
		window.shown = document.body.hasAttribute("data-dropping");
		window.taken = !on.dispatchEvent(new DragEvent("drop", {bubbles: true, cancelable: true, dataTransfer: data}));
		return !over;
	})()`, text))
	p.Wait(`document.querySelector("#files").innerText.includes("dropped.vcd") && document.querySelector("#files").innerText.includes("sync held")`)
	if !webtest.Eval[bool](p, `window.shown && window.taken && !document.body.hasAttribute("data-dropping")`) {
		t.Error("the page does not show that a file may be dropped, or leaves it to the browser")
	}
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 || files[0].Size != int64(len(text)) {
		t.Fatal(files, err)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// What the host does not take says so at the form: a file that is too large is not even sent.
func TestFileTooLargeSaysSo(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) { c.MaxUpload = 100_000 })
	job := s.NewJob()
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	file := filepath.Join(t.TempDir(), "large.csv")
	if err := os.WriteFile(file, make([]byte, 200_000), 0o644); err != nil {
		t.Fatal(err)
	}
	p.Open("/job/" + job + "/captures")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	p.Do(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{file}))
	p.Click("#send button")
	p.Wait(`document.querySelector("#sending").innerText.includes("larger than the 97.7 KiB")`)
	if k := s.Kinds(job); len(k) != 2 {
		t.Errorf("events %v", k)
	}
}

// Without script the links, the field and the choice of channels show other views.
func TestWaveformWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 5}.Record(t))
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.NoScript()
	p.Open(page)
	p.WaitSource("wave-moving")
	p.Click("#moves [data-do=in]")
	p.WaitSource(`data-from="1.87`) // a quarter of 5 s about the middle
	p.Click("#moves [data-do=later]")
	p.WaitSource(`data-from="2.49`)
	p.TypeIn("#at", "4,2")
	p.Click("#goto button")
	p.WaitSource(`data-from="3.5`)
	p.Click("summary")
	p.Click(`#choose input[value=spark]`)
	p.Click("#choose button")
	p.WaitSource(`channel=crank&amp;channel=cam&amp;channel=mark`)
}

// After a restart of the host the open page comes back by itself.
func TestWaveformPageWaitsForTheReading(t *testing.T) {
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 2}.Record(t))
	s.Recording.ForgetWaves() // as after a restart
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	release := keepBusy(s)  // other files are being read
	p.Open(page + "?at=99") // beyond its end, which nobody knows yet
	p.Wait(`document.querySelector("#wave").innerText.includes("The waveform is being prepared.")`)
	release()
	p.Wait(`document.querySelector("#drawing svg") && document.querySelector("#at-said").innerText.includes("write a time between them")`)
	webtest.Eval[bool](p, `(document.querySelector("#drawing").focus(), true)`)
	p.Keys("+")
	p.Wait(`location.search.includes("from=")`)
	// and when the host forgets it while somebody looks
	s.Recording.ForgetWaves()
	p.Keys("+")
	p.Wait(`document.querySelector("#drawing svg") && document.querySelector("#view").dataset.to - document.querySelector("#view").dataset.from < 1.1`)
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}
