package drawing

import (
	"cmp"
	"math"
	"slices"
)

// label is a word that stands over or under a place, mm.
type label struct {
	full, words string // as given, and as far as there is room
	at          float64
	left, right float64 // of the words
	row         int
}

// labelAt centres text, at most most mm of it, on a place and keeps it between left and right.
func labelAt(at float64, text string, most, left, right float64) label {
	words := Fit(text, most, Note)
	w := Width(words, Note)
	left = math.Min(math.Max(at-w/2, left), right-w)
	return label{full: text, words: words, at: at, left: left, right: left + w}
}

const labelRow = 3.6 // mm from one row of labels to the next

// labelRows holds where each row of labels ends, mm.
type labelRows []float64

// first gives l the first row in which it stands gap mm clear of the labels before it; −1 where most rows are full.
func (r *labelRows) first(l *label, gap float64, most int) {
	for l.row < len(*r) && (*r)[l.row] > l.left-gap {
		l.row++
	}
	switch {
	case l.row == most:
		l.row = -1
	case l.row == len(*r):
		*r = append(*r, l.right)
	default:
		(*r)[l.row] = l.right
	}
}

// references are labelled lines through the whole height of a field.
type references struct {
	labels []label // from left to right
	rows   int     // of labels, above the field
	top    float64 // of the labels, mm
	gap    float64 // between labels, and from a label to its line, mm
}

// lay places the references that the axis holds on a sheet wide mm wide; a label takes at most share of it.
func (r *references) lay(all []Reference, x axisMap, wide, share float64) {
	all = slices.SortedStableFunc(slices.Values(all), func(a, b Reference) int { return cmp.Compare(a.X, b.X) })
	var rows labelRows
	for _, one := range all {
		if x.holds(one.X) {
			l := labelAt(x.at(one.X), one.Label, wide*share, 0.5, wide-0.5)
			rows.first(&l, r.gap, len(all))
			r.labels = append(r.labels, l)
		}
	}
	r.rows = len(rows)
}

// references draws the lines down to foot, then the labels over them: a line passes under the labels of lower rows.
func (p *placer) references(id string, r references, foot float64) {
	p.d.Group(Group{ID: id, Class: "references"}, func() {
		base := func(l label) float64 { return r.top + Note.Size*capHeight + float64(l.row)*labelRow }
		for _, l := range r.labels {
			from, to := Point{l.at, base(l) + r.gap}, Point{l.at, foot}
			p.d.Line(from.X, from.Y, to.X, to.Y, CentreLn)
			p.edge(from, to, 1)
		}
		for _, l := range r.labels {
			p.d.Heed(l.full)
			p.set(l.left, base(l), l.words, Note.On(Sheet))
		}
	})
}
