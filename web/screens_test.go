package web_test

import (
	"slices"
	"testing"

	"github.com/chromedp/chromedp"

	"phasewright/web/webtest"
)

// Pictures of every page; somebody has to look at them.
func TestScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s, pages := furnished(t)
	s.Photograph(t, dir, pages, nil)
}

// BenchmarkBrowserToBrowser is the time from a press on one screen until another screen shows the reading, in
// real browsers.
func BenchmarkBrowserToBrowser(b *testing.B) {
	s := webtest.NewShop(b)
	base, _ := s.Listen()
	chrome := webtest.Browser(b)
	job := s.NewJob()
	phone, laptop := s.Screen(chrome, base, 360, 740), s.Screen(chrome, base, 1280, 800)
	phone.Open("/job/" + job + "/readings")
	laptop.Open("/job/" + job + "/readings")
	laptop.Wait(`document.documentElement.dataset.script == "on"`)
	webtest.Eval[bool](laptop, `(window.at = 0, new MutationObserver(() => window.at = Date.now()).observe(document.querySelector("#rows"), {childList: true}), true)`)
	var took []float64
	for range max(b.N, 20) {
		webtest.Eval[bool](laptop, `(window.at = 0, true)`)
		phone.Do(chromedp.SetValue(chromedp.CSS("#rpm"), "1500"), chromedp.SetValue(chromedp.CSS("#shown"), "9"))
		pressed := webtest.Eval[float64](phone, `(() => { const t = Date.now(); document.querySelector("form[data-queue] button").click(); return t })()`)
		laptop.Wait(`window.at`)
		took = append(took, webtest.Eval[float64](laptop, `window.at`)-pressed)
		phone.Wait(`document.querySelector("#rpm").value == ""`)
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2], "p50-ms")
	b.ReportMetric(took[len(took)-1], "max-ms")
}
