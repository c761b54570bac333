package livebench_test

import (
	"net/url"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"phasewright/web/webtest"
)

// A finger that means to scroll and begins on the lever's way moves no lever; one on its handle does, past a small dead
// way, and no more than the finger goes.
func TestScrollingOverTheLeverMovesNothing(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Thumb(base)
	p.Open(s.NewBench(url.Values{}))
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("[data-show=watching]").innerText == "1"`)
	box := webtest.Eval[[]float64](p.Screen, `(() => { const e = document.querySelector(".b-slot").getBoundingClientRect(), l = document.querySelector("#lever"); return [e.left + e.width / 2, e.top, e.bottom, Number(l.value), Number(l.min), Number(l.max)] })()`)
	x, top, bottom, stands := box[0], box[1], box[2], box[3]
	handle := bottom - 9 - (stands-box[4])/(box[5]-box[4])*(bottom-top-18)
	swipe := func(from, way float64) {
		t.Helper()
		touch := func(kind input.DispatchTouchEventType, at ...*input.TouchPoint) {
			t.Helper()
			if _, err := chromedp.Call(p.Ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: append([]*input.TouchPoint{}, at...)}); err != nil {
				t.Fatal(err)
			}
		}
		touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x, Y: from})
		for i := range 5 {
			touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: x, Y: from + way*float64(i+1)/5})
		}
		touch(input.DispatchTouchEventTypeTouchEnd)
		time.Sleep(300 * time.Millisecond) // the lever is sent a few times a second
		webtest.Eval[bool](p.Screen, `(scrollTo(0, 0), true)`)
	}
	lever := func() float64 {
		return webtest.Eval[float64](p.Screen, `Number(document.querySelector("#lever").value)`)
	}
	swipe(top+10, -60)
	if got := lever(); got != stands {
		t.Errorf("a touch above the handle moved the lever from %.0f to %.0f rpm", stands, got)
	}
	swipe(handle, -6)
	if got := lever(); got != stands {
		t.Errorf("six pixels moved the lever from %.0f to %.0f rpm", stands, got)
	}
	const way = 48
	swipe(handle, -way)
	want := stands + (way-8)/(bottom-top-18)*(box[5]-box[4])
	if got := lever(); got < want-150 || got > want+150 {
		t.Errorf("%d pixels up moved the lever from %.0f to %.0f rpm, want about %.0f", way, stands, got, want)
	}
	p.Wait(`document.querySelector("[data-show=leverWords]").innerText != "720"`)
	quietConsole(t, p.Screen)
}

// A phone that falls asleep with the starter latched stops cranking, and the others see why. There is one "Let go".
func TestAPhoneAsleepCranksNoMore(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	p, other := s.Screen(b, base, 360, 740), s.Screen(b, base, 360, 740)
	path := s.NewBench(url.Values{})
	p.Open(path)
	other.Open(path)
	p.Click(`[data-switch=key]`)
	p.Click(`#starter`)
	other.Wait(`Number(document.querySelector("[data-show=rpm]").innerText) > 100`)
	if n := webtest.Eval[int](p, `[...document.querySelectorAll("button")].filter(b => b.innerText.trim() == "Let go").length`); n != 1 {
		t.Errorf("%d buttons say “Let go”", n)
	}
	time.Sleep(2500 * time.Millisecond)
	if webtest.Eval[string](other, `document.querySelector("#starter").getAttribute("aria-pressed")`) != "true" {
		t.Fatal("let go under a page that is awake")
	}
	stops := func(why string) {
		t.Helper()
		since := time.Now()
		other.Wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "false"`)
		if took := time.Since(since); took > 5*time.Second {
			t.Errorf("%s: let go after %v", why, took)
		}
	}
	webtest.Eval[bool](p, `(window.own = window.fetch, window.fetch = (...a) => String(a[0]).endsWith("/beat") ? new Promise(() => {}) : window.own(...a), true)`)
	stops("asleep without a word")
	other.Wait(`document.querySelector("[data-show=did]").innerText.includes("starter let go: nothing was heard")`)
	webtest.Eval[bool](p, `(window.fetch = window.own, true)`)
	p.Wait(`document.querySelector("#starter").innerText == "Crank"`)
	p.Click(`#starter`)
	other.Wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "true"`)
	if _, err := chromedp.Call(p.Ctx, cdppage.SetWebLifecycleState, cdppage.SetWebLifecycleStateParams{State: "frozen"}); err != nil {
		t.Fatal(err)
	}
	stops("put out of sight by the phone") // the page lets go itself, as it goes
}
