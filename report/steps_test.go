package report

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/procedure"
	"phasewright/quantity"
)

// sevenPoints is the smallest size that is read at arm's length, mm: 7 of 72 to the inch.
const sevenPoints = 7 * 25.4 / 72

var fontSize = regexp.MustCompile(`font-size="([0-9.]+)"`)

// wellSet fails the test where letters are below seven points, and where the last sheet holds a lonely rest: what is
// drawn on it must reach a third of the way down.
func wellSet(t testing.TB, name string, p *Paper) {
	t.Helper()
	for i, d := range p.Doc.Pages {
		least := math.Inf(1)
		for _, m := range fontSize.FindAllStringSubmatch(d.SVG(drawing.AsFile), -1) {
			v, err := strconv.ParseFloat(m[1], 64)
			if err != nil {
				t.Fatal(err)
			}
			least = min(least, v)
		}
		if least < sevenPoints {
			t.Errorf("%s, page %d: letters of %.2f mm, below 7 pt", name, i+1, least)
		}
	}
	last, low := p.Doc.Pages[len(p.Doc.Pages)-1], 0.0
	block := last.Height
	for _, b := range last.TextBoxes() {
		if strings.HasPrefix(b.Text, "number: ") {
			block = b.Corners[3].Y - drawing.TitleHeight(last.Width-2*margin, []drawing.Cell{{Label: "one row"}})
		}
	}
	for _, b := range last.TextBoxes() {
		if y := b.Corners[3].Y; y < block {
			low = max(low, y)
		}
	}
	if len(p.Doc.Pages) > 1 && low < last.Height/3 {
		t.Errorf("%s: the last of %d pages ends %.0f mm from its top", name, len(p.Doc.Pages), low)
	}
}

// Every step of every example stands on paper in the order of work: hazard, actions, figures, what shows it, what to do
// when it is otherwise. On either sheet and in either unit nothing is cut, too small or over something else.
func TestStepsOnPaper(t *testing.T) {
	for i, name := range examples {
		c, s := card(t, name)
		size := drawing.SheetSize(i % 2)
		if i%3 == 0 {
			c.Job.Units = quantity.Inch
		}
		p, err := procedure.New(c, s)
		if err != nil {
			t.Fatal(err)
		}
		lines := p.Lines(p.Start())
		paper, err := Steps(c, s, lines, nil, Stamp{Date: someDay, Paper: size})
		if err != nil {
			t.Fatal(err)
		}
		legible(t, name, paper)
		wellSet(t, name, paper)
		file := keep(t, "order-"+name, paper)
		run(t, "qpdf", "--check", file)
		text := squeeze(run(t, "pdftotext", "-raw", file, "-"))
		at := 0
		for n, l := range lines {
			words := append([]string{strconv.Itoa(n+1) + " " + l.Title, l.Hazard}, l.Do...)
			for _, f := range l.Show {
				words = append(words, f.Name+" "+f.Value)
			}
			for _, a := range l.Asks {
				words = append(append(words, a.Ask), a.Blanks...)
			}
			words = append(words, "initials", l.Remarks)
			for _, w := range words {
				k := strings.Index(text[at:], squeeze(w))
				if k < 0 {
					t.Errorf("%s, %d «%s»: %q is not on the paper, or not in its place", name, n+1, l.ID, w)
					continue
				}
				at += k
			}
			for _, row := range l.If {
				for _, w := range row {
					for _, word := range strings.Fields(w) {
						if !strings.Contains(text[at:], word) {
							t.Errorf("%s, %d «%s»: of %q the word %q is not on the paper", name, n+1, l.ID, w, word)
						}
					}
				}
			}
		}
	}
}

// A step has a box for each thing that shows it; of one that is done they are ticked, with value, name, time and photo.
func TestDoneStepsAreTicked(t *testing.T) {
	c, s := card(t, "sandpiper")
	p, err := procedure.New(c, s)
	if err != nil {
		t.Fatal(err)
	}
	lines := p.Lines(p.Start())
	drawn := func(lines []procedure.Line) (boxes, ticks int, text string) {
		paper, err := Steps(c, s, lines, map[string]string{strings.Repeat("a", 64): "cap from above.jpg"},
			Stamp{Date: someDay})
		if err != nil {
			t.Fatal(err)
		}
		legible(t, "done", paper)
		for _, d := range paper.Doc.Pages {
			for _, b := range d.TextBoxes() {
				text += b.Text + " "
			}
		}
		f := newFlow("steps", "", "", nil, Stamp{}, nil)
		count := func() int { return strings.Count(f.d.SVG(drawing.AsFile), "<path") }
		none := count()
		f.box(0, 0, 3, false)
		one := count() - none
		f.box(0, 0, 3, true)
		if one < 1 || count()-none != 2*one+1 {
			t.Fatalf("a box is %d paths, a ticked one %d", one, count()-none-one)
		}
		for _, l := range lines {
			for _, a := range l.Asks {
				boxes++
				if a.Ticked {
					ticks++
				}
			}
		}
		return boxes, ticks, squeeze(text)
	}
	boxes, ticks, blank := drawn(lines)
	if ticks != 0 || boxes < 60 || strings.Contains(blank, "Done") {
		t.Errorf("of a blank list %d of %d boxes are ticked", ticks, boxes)
	}
	done := slices.Clone(lines)
	i := slices.IndexFunc(done, func(l procedure.Line) bool { return l.ID == procedure.StepOpen })
	done[i].Deeds = []procedure.Deed{{Value: "wires 1 to 6", Who: "Ada Reed", When: "2031-05-04 09:10",
		Photo: strings.Repeat("a", 64)}}
	_, _, text := drawn(done)
	if want := squeeze("Done: wires 1 to 6 – Ada Reed, 2031-05-04 09:10; photo: cap from above.jpg"); !strings.Contains(text, want) {
		t.Errorf("%q is not on the paper", want)
	}
}
