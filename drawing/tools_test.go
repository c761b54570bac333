package drawing

import (
	"bytes"
	"encoding/xml"
	"flag"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "rewrite the golden drawings")

// someDay is an invented date: drawings never ask the clock.
var someDay = time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)

// tool returns the path of an outside tool. Where it is missing the test is skipped
// aloud, but fails on the test machine.
func tool(t testing.TB, name string) string {
	t.Helper()
	if testing.Short() {
		t.Skipf("NOT CHECKED with -short: nothing is compared with %s", name)
	}
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed", name)
		}
		t.Skipf("NOT CHECKED: %s is not installed", name)
	}
	return path
}

func run(t testing.TB, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(tool(t, name), args...)
	var out, bad bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &bad
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%s%s", name, err, out.String(), bad.String())
	}
	return out.String()
}

// pdfFile writes the pages to a PDF file in a folder that goes away.
func pdfFile(t testing.TB, pages ...*Drawing) string {
	t.Helper()
	data, err := PDF(Document{Title: "check", Date: someDay, Pages: pages})
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "check.pdf")
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

// stroke is a stroked path as another program (MuPDF) sees it: its points in mm from
// the top left corner of its page.
type stroke struct {
	page  int
	width float64
	pts   []Point
}

func (s stroke) length() float64 {
	sum := 0.0
	for i := 1; i < len(s.pts); i++ {
		sum += math.Hypot(s.pts[i].X-s.pts[i-1].X, s.pts[i].Y-s.pts[i-1].Y)
	}
	return sum
}

// strokes reads every stroked path of a PDF file with `mutool trace`, which is exact.
func strokes(t testing.TB, name string) []stroke {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(run(t, "mutool", "trace", name)))
	dec.Strict = false
	attr := func(e xml.StartElement, name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("mutool printed %q where a number belongs", s)
		}
		return v
	}
	var out []stroke
	var cur *stroke
	var m [6]float64
	page := 0
	for {
		tok, err := dec.Token()
		if err != nil {
			break
		}
		switch e := tok.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "page":
				page++
			case "stroke_path":
				for i, s := range strings.Fields(attr(e, "transform")) {
					m[i] = number(s)
				}
				cur = &stroke{page: page, width: number(attr(e, "linewidth")) * math.Hypot(m[0], m[1]) * 25.4 / 72}
			case "moveto", "lineto":
				if cur != nil {
					x, y := number(attr(e, "x")), number(attr(e, "y"))
					cur.pts = append(cur.pts, Point{(m[0]*x + m[2]*y + m[4]) * 25.4 / 72, (m[1]*x + m[3]*y + m[5]) * 25.4 / 72})
				}
			}
		case xml.EndElement:
			if e.Name.Local == "stroke_path" {
				out = append(out, *cur)
				cur = nil
			}
		}
	}
	if len(out) == 0 {
		t.Fatalf("mutool found no strokes in %s", name)
	}
	return out
}

// legible fails the test where words lie over each other or leave the sheet.
func legible(t testing.TB, name string, d *Drawing) {
	t.Helper()
	for _, c := range d.Clashes() {
		t.Errorf("%s: %q lies over %q", name, c[0].Text, c[1].Text)
	}
	for _, c := range d.Outside() {
		t.Errorf("%s: %q leaves the sheet", name, c.Text)
	}
	for _, c := range d.Crossings() {
		t.Errorf("%s: a line crosses %q", name, c.Text)
	}
}

// golden compares an SVG with the stored one. LOOK=folder keeps pictures there.
func golden(t *testing.T, name string, d *Drawing) {
	t.Helper()
	legible(t, name, d)
	svg := d.SVG(AsFile)
	if dir := os.Getenv("LOOK"); dir != "" {
		data, err := PDF(Document{Title: name, Date: someDay, Pages: []*Drawing{d}})
		if err != nil {
			t.Fatal(err)
		}
		for ext, b := range map[string][]byte{".svg": []byte(svg), ".pdf": data} {
			if err := os.WriteFile(filepath.Join(dir, name+ext), b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	file := filepath.Join("testdata", name+".svg")
	if *update {
		if err := os.WriteFile(file, []byte(svg), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != svg {
		t.Errorf("%s differs from the stored drawing: look at it, then run go test -update", name)
	}
}
