package webtest

import (
	"fmt"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// Thumb works a phone's screen by touch and the phone's own keyboard alone, and counts.
type Thumb struct {
	*Screen
	Taps, Keyed int
}

// Thumb opens a phone's screen that is touched.
func (s *Shop) Thumb(base string) *Thumb {
	s.T.Helper()
	p := s.Screen(Browser(s.T), base, 360, 740)
	if _, err := chromedp.Call(p.Ctx, emulation.SetTouchEmulationEnabled,
		emulation.SetTouchEmulationEnabledParams{Enabled: true}); err != nil {
		s.T.Fatal(err)
	}
	return &Thumb{Screen: p}
}

// Tap touches the middle of a part, which must have nothing over it. Scrolling to it does not count.
func (h *Thumb) Tap(css string) {
	h.T.Helper()
	h.Wait(fmt.Sprintf(`document.querySelector(%q)`, css))
	h.touch(css, `if (b.top < 0 || b.bottom > innerHeight - 90) {
		e.scrollIntoView({block: "center", behavior: "instant"});
		b = e.getBoundingClientRect();
	}`)
}

// TapInSight touches a part that must be in sight without scrolling.
func (h *Thumb) TapInSight(css string) {
	h.T.Helper()
	h.touch(css, `if (b.top < 0 || b.bottom > innerHeight) return [b.top, b.bottom];`)
}

// touch touches the middle of a part, after the script has had its way with its box b.
func (h *Thumb) touch(css, first string) {
	h.T.Helper()
	at := Eval[[]float64](h.Screen, fmt.Sprintf(`(() => {
		const e = document.querySelector(%q);
		let b = e.getBoundingClientRect();
		%s
		const x = b.left + b.width / 2, y = b.top + b.height / 2, hit = document.elementFromPoint(x, y);
		return hit && (e.contains(hit) || hit.contains(e) && hit.matches("label, summary")) ? [x, y, b.width, b.height] : [];
	})()`, css, first))
	if len(at) != 4 {
		h.T.Fatalf("%s cannot be touched: %v", css, at)
	}
	h.Taps++
	for _, kind := range []input.DispatchTouchEventType{
		input.DispatchTouchEventTypeTouchStart, input.DispatchTouchEventTypeTouchEnd} {
		p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
		if kind == input.DispatchTouchEventTypeTouchStart {
			p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: at[0], Y: at[1]})
		}
		if _, err := chromedp.Call(h.Ctx, input.DispatchTouchEvent, p); err != nil {
			h.T.Fatal(err)
		}
	}
}

// Types strikes keys where the focus is.
func (h *Thumb) Types(text string) {
	h.T.Helper()
	h.Keys(text)
	h.Keyed += len([]rune(text))
}
