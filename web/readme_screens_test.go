package web_test

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	paint "image/draw"
	"image/png"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/chromedp/chromedp"

	"phasewright/examples"
	"phasewright/web/webtest"
)

var updateReadme = flag.Bool("update-readme", false, "write docs/pages.txt anew: what the README's pictures show")

// shownInReadme is the shop that the README's pictures are of: the example's job with its readings before the
// corrections, the same after them with a recording, and its engine on the bench.
type shownInReadme struct {
	*webtest.Shop
	before, after, capture, bench string
}

func readmeShop(t *testing.T) shownInReadme {
	t.Helper()
	s := shownInReadme{Shop: webtest.NewShop(t)}
	begin := func() string {
		return s.Post("/new", url.Values{"name": {"Sandpiper, main engine"}, "from": {"paste"},
			"yaml": {webtest.Example(t, "sandpiper")}}).Header().Get("Location")
	}
	read := func(job, file string) {
		rows, err := examples.Readings(file)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(strings.TrimSpace(rows), "\n")[1:] {
			f := strings.Split(line, ",")
			webtest.WantCode(t, s.Post(job+"/readings", url.Values{"rpm": {f[0]}, "shown": {f[1]}, "locked": {f[2]},
				"u": {f[3]}, "note": {f[5]}, "key": {fmt.Sprint(file, i)}}), 303)
		}
	}
	s.before, s.after = begin(), begin()
	read(s.before, "sandpiper")
	read(s.after, "sandpiper")
	s.Post(s.after+"/readings/correction", url.Values{"housing": {"1.3"}, "direction": {"with the rotor"},
		"allowance": {"175"}, "key": {"turned"}})
	read(s.after, "sandpiper-after")
	s.Do(webtest.Upload(s.after+"/captures", webtest.HostAddr, "idle to redline.vcd", bytes.NewReader(webtest.Recording(t))))
	s.Settle()
	files, err := s.Book.Attachments(t.Context(), strings.TrimPrefix(s.after, "/job/"))
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	s.capture = s.after + "/captures/" + files[0].SHA256.String()
	s.bench = s.NewBench(url.Values{"engine": {strings.TrimPrefix(s.before, "/job/")}})
	return s
}

// Colours of the picture's ground and the gaps between its parts, px.
const (
	gap, edge   = 16, 8
	phone, high = 360, 740
)

func ground(wide, high int) *image.RGBA {
	sheet := image.NewRGBA(image.Rect(0, 0, wide, high))
	paint.Draw(sheet, sheet.Bounds(), image.NewUniform(color.RGBA{0xd9, 0xd4, 0xc3, 0xff}), image.Point{}, paint.Src)
	return sheet
}

func put(sheet *image.RGBA, one image.Image, x, y int) {
	paint.Draw(sheet, one.Bounds().Sub(one.Bounds().Min).Add(image.Pt(x, y)), one, one.Bounds().Min, paint.Src)
}

func writePNG(t *testing.T, name string, im image.Image) {
	t.Helper()
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, im); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The pictures of the README: docs/pages.png, of three pages as a phone shows them (readings and recording of the example
// by day, its engine on the bench by night), and docs/papers.png, of the first pages of its sheet and proof.
// scripts/screens makes them with the others as readme-*.png; somebody looks at them and copies them.
func TestReadmeScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := readmeShop(t)
	for _, f := range []url.Values{
		{"do": {"key"}, "to": {"on"}}, {"do": {"light"}, "to": {"on"}}, {"do": {"fuel"}, "to": {"on"}}, {"do": {"starter"}, "to": {"on"}},
	} {
		s.Post(s.bench+"/do", f)
	}
	time.Sleep(2500 * time.Millisecond)
	s.Post(s.bench+"/do", url.Values{"do": {"starter"}, "to": {"off"}})
	s.Post(s.bench+"/do", url.Values{"do": {"lever"}, "rpm": {"1900"}})
	time.Sleep(4 * time.Second)

	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, phone, high)
	pages := ground(3*phone+2*gap+2*edge, high+edge)
	for i, page := range []struct{ path, look string }{{s.before + "/readings", "light"}, {s.capture + "/wave?at=6", "light"}, {s.bench, "dark"}} {
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
		top := image.Rect(0, 0, phone, min(high, one.Bounds().Dy()))
		put(pages, one.(interface {
			SubImage(image.Rectangle) image.Image
		}).SubImage(top), edge+i*(phone+gap), edge)
	}
	writePNG(t, filepath.Join(dir, "readme-pages.png"), pages)

	const paperWide, paperHigh = 540, 764 // A4 at some 65 dots an inch
	papers := ground(2*paperWide+gap+2*edge, paperHigh+2*edge)
	for i, pdf := range []string{s.before + "/sheet.pdf", s.after + "/proof.pdf"} {
		file := filepath.Join(t.TempDir(), "paper.pdf")
		if err := os.WriteFile(file, s.Get(pdf).Body.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		said, err := exec.Command("pdftoppm", "-png", "-singlefile", "-scale-to-x", fmt.Sprint(paperWide), "-scale-to-y",
			fmt.Sprint(paperHigh), file, file).CombinedOutput()
		if err != nil {
			t.Fatalf("pdftoppm: %v: %s", err, said)
		}
		data, err := os.ReadFile(file + ".png")
		if err != nil {
			t.Fatal(err)
		}
		one, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		put(papers, one, edge+i*(paperWide+gap), edge)
	}
	writePNG(t, filepath.Join(dir, "readme-papers.png"), papers)
}

var (
	outlined = regexp.MustCompile(`(?s)<(h1|h2|label|legend|button|dt|th|summary|figcaption)\b[^>]*>(.*?)</`)
	tagged   = regexp.MustCompile(`(?s)<[^>]*>`)
)

// outline is what a page is made of: its headings, labels and buttons, without figures.
func outline(page string) string {
	var b strings.Builder
	for _, m := range outlined.FindAllStringSubmatch(page, -1) {
		text := strings.Join(strings.Fields(tagged.ReplaceAllString(webtest.HTMLText(m[2]), " ")), " ")
		if text != "" && !strings.ContainsFunc(text, unicode.IsDigit) {
			fmt.Fprintf(&b, "  %s: %s\n", m[1], text)
		}
	}
	return b.String()
}

// The README's pictures are of today's pages: what these are made of stands in docs/pages.txt as it was when the
// pictures were taken. Where it differs, take them anew (TestReadmeScreens), look, and write the list with
// -update-readme.
func TestReadmePicturesShowTodaysPages(t *testing.T) {
	s := readmeShop(t)
	var b strings.Builder
	for _, one := range []struct{ name, path string }{{"readings", s.before + "/readings"},
		{"waveform", s.capture + "/wave?at=6"}, {"bench", s.bench}} {
		fmt.Fprintf(&b, "%s\n%s", one.name, outline(s.Get(one.path).Body.String()))
	}
	const list = "../docs/pages.txt"
	if *updateReadme {
		if err := os.WriteFile(list, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(list)
	if err != nil || string(have) != b.String() {
		t.Errorf("the pictures of the README are of other pages (%v):\n%s\nTake them anew: scripts/screens FOLDER, copy "+
			"readme-pages.png and readme-papers.png to docs, then go test ./web -run Readme -update-readme", err, b.String())
	}
}
