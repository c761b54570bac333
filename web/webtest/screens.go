package webtest

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// ScreensFolder is the folder that pictures are wanted in: SCREENS names it, scripts/screens sets it. Without it the
// test is skipped.
func ScreensFolder(t *testing.T) string {
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

// Photograph takes a picture of each page, on a phone and on the desk, by day and by night; ready waits until there
// is something to see.
func (s *Shop) Photograph(t *testing.T, dir string, pages map[string]string, ready func(p *Screen, name string)) {
	t.Helper()
	base, _ := s.Listen()
	b := Browser(t)
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p := s.Screen(b, base, size[0], size[1])
		for name, path := range pages {
			for _, look := range []string{"light", "dark"} {
				p.Scheme(look)
				p.Open(path)
				p.Wait(`document.fonts.status == "loaded"`)
				if ready != nil {
					ready(p, name)
				}
				png, err := chromedp.Run(p.Ctx, chromedp.FullScreenshot(100))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d-%s.png", name, size[0], look)),
					png, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// Enlivened waits until the page's script is at work.
func Enlivened(p *Screen, _ string) { p.Wait(`document.documentElement.dataset.script == "on"`) }
