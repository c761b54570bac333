package drawing

import (
	"bytes"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// wellFormed reads SVG as XML and returns its elements.
func wellFormed(t testing.TB, svg string) []xml.StartElement {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(svg))
	var out []xml.StartElement
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("not well-formed XML: %v\n%.300s", err, svg)
		}
		if e, ok := tok.(xml.StartElement); ok {
			out = append(out, e.Copy())
		}
	}
}

// TestSVGInPage: a page with a strict content policy takes the drawing: no styles, no scripts, nothing
// from outside; every id once; a title and a description that a screen reader finds.
func TestSVGInPage(t *testing.T) {
	for name, d := range samples(t) {
		d.Prefix = "p1"
		svg := d.SVG(InPage)
		ids, labels := map[string]bool{}, ""
		for i, e := range wellFormed(t, svg) {
			if e.Name.Local == "style" || e.Name.Local == "script" || e.Name.Local == "image" || e.Name.Local == "foreignObject" {
				t.Errorf("%s: a %s element", name, e.Name.Local)
			}
			for _, a := range e.Attr {
				switch {
				case a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "href":
					t.Errorf("%s: attribute %s", name, a.Name.Local)
				case a.Name.Local == "id":
					if ids[a.Value] {
						t.Errorf("%s: id %q twice", name, a.Value)
					}
					if !strings.HasPrefix(a.Value, "p1-") {
						t.Errorf("%s: id %q without the prefix", name, a.Value)
					}
					ids[a.Value] = true
				case a.Name.Local == "aria-labelledby":
					labels = a.Value
				case a.Name.Local == "role" && a.Value != "img":
					t.Errorf("%s: role %q", name, a.Value)
				case i == 0 && (a.Name.Local == "width" || a.Name.Local == "height"):
					t.Errorf("%s: a size in the page", name)
				}
			}
		}
		for _, id := range strings.Fields(labels) {
			if !ids[id] {
				t.Errorf("%s: labelled by %q, which is missing", name, id)
			}
		}
		if labels == "" {
			t.Errorf("%s: no title", name)
		}
		if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Errorf("%s: a value that is no number", name)
		}
	}
}

// TestColoursComeFromThePage: every paint has a class in the style sheet, for lines and for areas.
func TestColoursComeFromThePage(t *testing.T) {
	for p := Ink; p < paintCount; p++ {
		if !strings.Contains(CSS, "."+paints[p].fill+"{fill:var(--") {
			t.Errorf("the style sheet lacks .%s", paints[p].fill)
		}
		if p != Tint && !strings.Contains(CSS, "."+paints[p].stroke+"{stroke:var(--") {
			t.Errorf("the style sheet lacks .%s", paints[p].stroke)
		}
	}
	for _, token := range []string{"--paper", "--sheet", "--ink", "--soft", "--hair", "--wash", "--tint", "--spark"} {
		if strings.Count(Tokens, token+":") < 2 {
			t.Errorf("%s has no day and night colour", token)
		}
	}
}

// TestSparkAlone: vermilion stands for the spark and for nothing else.
func TestSparkAlone(t *testing.T) {
	of := map[string]bool{"signals": true, "events": true, "strips": true, "ribbons": true} // drawings of the spark
	for name, d := range samples(t) {
		kind, _, _ := strings.Cut(name, "-")
		if strings.Contains(d.SVG(InPage), "spark\"") != of[kind] {
			t.Errorf("%s: vermilion where no spark is, or a spark without it", name)
		}
	}
}

func allPages(t testing.TB) Document {
	doc := Document{Title: "Sheets, 1° ± 0.3", Author: "Marlow Quay Boatyard", Date: someDay,
		Attachments: []Attachment{{Name: "job.json", Desc: "the numbers of this document", Data: []byte(`{"offset_deg":1.9}`)},
			{Name: "lesung ä.csv", Data: []byte("rpm,shown_deg\n")}}}
	all := samples(t)
	for _, name := range []string{"chart-desk", "tape-short-1", "tape-whole-1", "wheel", "signals-desk", "elements", "damper-clockwise", "cap-six"} {
		doc.Pages = append(doc.Pages, all[name])
	}
	return doc
}

// TestPDFIsSound asks other programs: qpdf finds no fault, pdftotext finds the words,
// the attachment comes out as it went in, the printer is asked not to scale.
func TestPDFIsSound(t *testing.T) {
	data, err := PDF(allPages(t))
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "all.pdf")
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
	run(t, "qpdf", "--check", name)
	text := run(t, "pdftotext", "-layout", name, "-")
	for _, words := range []string{"timing error, ° (early +)", "measure this line: 100.0 mm", "trigger lead 60°", "seen from the front", "88.0 mm", "crank degrees", "−170",
		"from No. 1 with the rotor: 1 5 3 6 2 4", "Sandpiper, main engine", "corrected for a line that measured 99.6 mm"} {
		if !strings.Contains(text, words) {
			t.Errorf("pdftotext does not find %q", words)
		}
	}
	if info := run(t, "pdfinfo", "-isodates", name); !strings.Contains(info, "Sheets, 1° ± 0.3") || strings.Count(info, "2031-05-04T12:00:00") != 2 {
		t.Errorf("title, or dates that are not the caller's: %s", info)
	}
	objects := run(t, "qpdf", "--qdf", "--object-streams=disable", name, "-")
	if !strings.Contains(objects, "/PrintScaling /None") {
		t.Error("the printer is not asked to keep the scale")
	}
	if fonts := run(t, "pdffonts", name); strings.Count(fonts, "yes no") > 0 && strings.Contains(fonts, " no  no ") {
		t.Errorf("a font is not embedded:\n%s", fonts)
	}
	out := t.TempDir()
	run(t, "pdfdetach", "-saveall", "-o", out, name)
	got, err := os.ReadFile(filepath.Join(out, "job.json"))
	if err != nil || string(got) != `{"offset_deg":1.9}` {
		t.Errorf("the attachment came out as %q, %v", got, err)
	}
}

// TestSameBytes: the same drawings and date give the same file, also side by side.
func TestSameBytes(t *testing.T) {
	first, err := PDF(allPages(t))
	if err != nil {
		t.Fatal(err)
	}
	docs := [4][]byte{}
	var wg sync.WaitGroup
	for i := range docs {
		doc := allPages(t)
		wg.Go(func() { docs[i], _ = PDF(doc) })
	}
	wg.Wait()
	for i, d := range docs {
		if !bytes.Equal(first, d) {
			t.Errorf("file %d differs from the first (%d and %d bytes)", i+2, len(d), len(first))
		}
	}
	for name, d := range samples(t) {
		if d.SVG(AsFile) != samples(t)[name].SVG(AsFile) {
			t.Errorf("%s: two drawings differ", name)
		}
		break
	}
}

// TestFallbackFace: letters that the text face lacks come from the second face, and can be found.
func TestFallbackFace(t *testing.T) {
	d := New(100, 30, "", "")
	d.Text(10, 10, "łódź motor", Body)
	d.Group(Group{Clip: RectPath(0, 0, 100, 30)}, func() { d.Text(10, 20, "in a clip", Body) })
	d.Text(10, 25, "after it", Body)
	text := run(t, "pdftotext", pdfFile(t, d), "-")
	for _, w := range []string{"łódź motor", "in a clip", "after it"} {
		if !strings.Contains(text, w) {
			t.Errorf("pdftotext does not find %q in %q", w, text)
		}
	}
}

func TestNoPages(t *testing.T) {
	if _, err := PDF(Document{}); err != ErrNoPages {
		t.Errorf("got %v", err)
	}
	if _, err := PDF(Document{Pages: []*Drawing{New(0, 10, "", "")}}); err == nil {
		t.Error("a page without width was accepted")
	}
}

func BenchmarkTapePDF(b *testing.B) {
	for b.Loop() {
		pages, err := hillClimb().Pages()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := PDF(Document{Title: "tape", Date: someDay, Pages: pages}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkShortTapePDF(b *testing.B) {
	for b.Loop() {
		pages, err := sandpiper().Pages()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := PDF(Document{Title: "tape", Date: someDay, Pages: pages}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkChartSVG(b *testing.B) {
	c := sampleChart(90)
	for b.Loop() {
		d, err := c.Draw()
		if err != nil {
			b.Fatal(err)
		}
		_ = d.SVG(InPage)
	}
}
