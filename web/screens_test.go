package web

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
)

// screensFolder is the folder that pictures are wanted in: SCREENS names it, scripts/screens sets it. Without it the test is skipped.
func screensFolder(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("SCREENS")
	if dir == "" {
		t.Skip("no pictures asked for: set SCREENS to a folder, or run scripts/screens")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// photograph takes a picture of each page, on a phone and on the desk, by day and by night; ready waits until there is something to see.
func (s *shop) photograph(t *testing.T, dir string, pages map[string]string, ready func(p *screen, name string)) {
	t.Helper()
	base, _ := s.serve()
	b := browser(t)
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p := s.screen(b, base, size[0], size[1])
		for name, path := range pages {
			for _, look := range []string{"light", "dark"} {
				p.scheme(look)
				p.open(path)
				p.wait(`document.fonts.status == "loaded"`)
				if ready != nil {
					ready(p, name)
				}
				png, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d-%s.png", name, size[0], look)), png, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// enlivened waits until the page's script is at work.
func enlivened(p *screen, _ string) { p.wait(`document.documentElement.dataset.script == "on"`) }

// Pictures of every page; somebody has to look at them.
func TestScreens(t *testing.T) {
	dir := screensFolder(t)
	s, pages := furnished(t)
	s.photograph(t, dir, pages, nil)
}

// BenchmarkBrowserToBrowser is the time from a press on one screen until another screen shows the reading, in real browsers.
func BenchmarkBrowserToBrowser(b *testing.B) {
	s := newShop(b)
	base, _ := s.serve()
	chrome := browser(b)
	job := s.job()
	phone, laptop := s.screen(chrome, base, 360, 740), s.screen(chrome, base, 1280, 800)
	phone.open("/job/" + job + "/readings")
	laptop.open("/job/" + job + "/readings")
	laptop.wait(`document.documentElement.dataset.script == "on"`)
	eval[bool](laptop, `(window.at = 0, new MutationObserver(() => window.at = Date.now()).observe(document.querySelector("#rows"), {childList: true}), true)`)
	var took []float64
	for range max(b.N, 20) {
		eval[bool](laptop, `(window.at = 0, true)`)
		phone.do(chromedp.SetValue(chromedp.CSS("#rpm"), "1500"), chromedp.SetValue(chromedp.CSS("#shown"), "9"))
		pressed := eval[float64](phone, `(() => { const t = Date.now(); document.querySelector("form[data-queue] button").click(); return t })()`)
		laptop.wait(`window.at`)
		took = append(took, eval[float64](laptop, `window.at`)-pressed)
		phone.wait(`document.querySelector("#rpm").value == ""`)
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2], "p50-ms")
	b.ReportMetric(took[len(took)-1], "max-ms")
}
