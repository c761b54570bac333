package drawing

import (
	"fmt"
	"strings"
)

// Drawing is a display list on a sheet of Width × Height mm.
type Drawing struct {
	Width, Height float64
	Title         string // a short name, read out by screen readers
	Desc          string // what is seen, in a sentence
	Prefix        string // put before every id, so that several drawings fit one page
	Reads         bool   // it is a page to be read, with pictures on it; else it is one picture
	root          group
	open          []*group
	missing       map[rune]int
}

// Group gathers parts under a stable id and class, moved and turned as one: the
// page can find it and turn it. Label is read out where it is set.
type Group struct {
	ID, Class, Label string
	X, Y             float64 // mm
	Turn             float64 // degrees clockwise about the group's own origin
	Clip             *Path   // in the group's own coordinates
}

type group struct {
	Group
	tag   *Tag
	order []*Tag // of parts that come, where that is more than the order of drawing
	parts []any  // *shape, *words, *group
}

type shape struct {
	path   *Path
	style  Style
	ground bool // laid under words
}

type words struct {
	at   Point
	text string
	TextStyle
	dy float64 // from at to the baseline, along the text's own upright
}

// New returns an empty sheet of width × height mm.
func New(width, height float64, title, desc string) *Drawing {
	return &Drawing{Width: width, Height: height, Title: title, Desc: desc}
}

func (d *Drawing) add(part any) {
	g := &d.root
	if n := len(d.open); n > 0 {
		g = d.open[n-1]
	}
	g.parts = append(g.parts, part)
}

// Group draws everything that draw adds into a group.
func (d *Drawing) Group(g Group, draw func()) {
	in := &group{Group: g}
	d.add(in)
	d.open = append(d.open, in)
	draw()
	d.open = d.open[:len(d.open)-1]
}

// Place puts a copy of the list of sub with its top left corner at (x, y) mm, at
// the same scale.
func (d *Drawing) Place(sub *Drawing, x, y float64) {
	d.add(&group{Group: Group{X: x, Y: y, Class: "placed"}, tag: pictureOf(sub), parts: sub.root.parts})
	for r, n := range sub.missing {
		d.note(r, n)
	}
}

// Path draws p.
func (d *Drawing) Path(p *Path, s Style) {
	if len(p.segs) > 0 {
		d.add(&shape{path: p, style: s})
	}
}

// Line draws a straight line.
func (d *Drawing) Line(x1, y1, x2, y2 float64, s Style) {
	d.Path(Poly(Point{x1, y1}, Point{x2, y2}), s)
}

// Polyline draws through the points.
func (d *Drawing) Polyline(pts []Point, s Style) { d.Path(Poly(pts...), s) }

// Polygon draws the closed figure through the points.
func (d *Drawing) Polygon(pts []Point, s Style) { d.Path(Poly(pts...).Close(), s) }

// Rect draws a rectangle.
func (d *Drawing) Rect(x, y, w, h float64, s Style) { d.Path(RectPath(x, y, w, h), s) }

// Circle draws a circle.
func (d *Drawing) Circle(c Point, r float64, s Style) { d.Path(CirclePath(c, r), s) }

// Arc draws an open arc from clock angle start through sweep degrees.
func (d *Drawing) Arc(c Point, r, start, sweep float64, s Style) {
	d.Path(new(Path).Arc(c, r, start, sweep), s)
}

func (d *Drawing) note(r rune, n int) {
	if d.missing == nil {
		d.missing = map[rune]int{}
	}
	d.missing[r] += n
}

// Warning says what could not be drawn as asked.
type Warning string

// Warnings lists characters that no embedded face holds, in code order.
func (d *Drawing) Warnings() []Warning {
	var ws []Warning
	for _, r := range sortedRunes(d.missing) {
		ws = append(ws,
			Warning(fmt.Sprintf("text – no glyph for U+%04X (%d times), printed as its code – write the name in "+
				"Latin, Greek, Cyrillic, Hebrew, Arabic, Chinese or Japanese letters", r, d.missing[r])))
	}
	return ws
}

// SayUnprinted writes under the frame of the first of the pages which letters stand on them as their codes.
func SayUnprinted(pages []*Drawing) {
	all := map[rune]int{}
	for _, d := range pages {
		for r, n := range d.missing {
			all[r] += n
		}
	}
	if len(all) == 0 {
		return
	}
	var codes []string
	for _, r := range sortedRunes(all) {
		codes = append(codes, fmt.Sprintf("U+%04X", r))
	}
	d, size := pages[0], TextStyle{Size: 2.5, Paint: Soft}
	said := "No letters to print these signs with, given as their codes: " + strings.Join(codes, ", ")
	d.Text(d.Width/2, d.Height-4, Fit(said, d.Width-30, size), size.At(Middle, Baseline))
}
