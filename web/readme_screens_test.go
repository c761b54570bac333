package web_test

import (
	"bytes"
	"image"
	"image/color"
	paint "image/draw"
	"image/png"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"phasewright/examples"
	"phasewright/web/webtest"
)

// The picture of the README (docs/pages.png), of three pages side by side as a phone shows them: readings and sheet of
// the example by day, its engine on the bench by night. scripts/screens makes it with the others; somebody looks at it
// and copies it.
func TestReadmeScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	w := s.Post("/new", url.Values{"name": {"Sandpiper, main engine"}, "from": {"paste"}, "yaml": {webtest.Example(t, "sandpiper")}})
	job := w.Header().Get("Location")
	rows, err := examples.Readings("sandpiper")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(strings.TrimSpace(rows), "\n")[1:] {
		f := strings.Split(line, ",")
		webtest.WantCode(t, s.Post(job+"/readings", url.Values{"rpm": {f[0]}, "shown": {f[1]}, "locked": {f[2]}, "u": {f[3]}, "note": {f[5]}}), 303)
	}
	room := s.NewBench(url.Values{"engine": {strings.TrimPrefix(job, "/job/")}})
	for _, f := range []url.Values{
		{"do": {"key"}, "to": {"on"}}, {"do": {"light"}, "to": {"on"}}, {"do": {"fuel"}, "to": {"on"}}, {"do": {"starter"}, "to": {"on"}},
	} {
		s.Post(room+"/do", f)
	}
	time.Sleep(2500 * time.Millisecond)
	s.Post(room+"/do", url.Values{"do": {"starter"}, "to": {"off"}})
	s.Post(room+"/do", url.Values{"do": {"lever"}, "rpm": {"1900"}})
	time.Sleep(4 * time.Second)

	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	const wide, high, gap, edge = 360, 740, 16, 8
	sheet := image.NewRGBA(image.Rect(0, 0, 3*wide+2*gap+2*edge, high+edge))
	paint.Draw(sheet, sheet.Bounds(), image.NewUniform(color.RGBA{0xd9, 0xd4, 0xc3, 0xff}), image.Point{}, paint.Src)
	for i, page := range []struct{ path, look string }{{job + "/readings", "light"}, {job + "/sheet", "light"}, {room, "dark"}} {
		p.Scheme(page.look)
		p.Open(page.path)
		p.Wait(`document.fonts.status == "loaded" && document.documentElement.dataset.script == "on"`)
		time.Sleep(500 * time.Millisecond)
		shot, err := chromedp.Run(p.Ctx, chromedp.FullScreenshot(100))
		if err != nil {
			t.Fatal(err)
		}
		one, err := png.Decode(bytes.NewReader(shot))
		if err != nil {
			t.Fatal(err)
		}
		paint.Draw(sheet, image.Rect(0, 0, wide, high).Add(image.Pt(edge+i*(wide+gap), edge)), one, image.Point{}, paint.Src)
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, sheet); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "readme-pages.png"), out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}
