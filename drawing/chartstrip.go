package drawing

import "strings"

// Stretch is a part of the x axis that has a name, such as what limits at these speeds.
type Stretch struct {
	From, To float64
	Text     string  // few words; they stand on the strip where all stretches have room for theirs
	Note     string  // stands below the chart where there is no room on the strip; empty: Text
	Verdict  Verdict // fine is left open, the others are hatched
}

const (
	stripHigh = 5.0
	stripGap  = 5.4 // between the lowest panel and the strip; its label stands there
	keyWidth  = 8.5 // of mark and letter before a note
)

// stretchLayout is how the stretches are named.
type stretchLayout struct {
	keyed bool       // letters on the strip, words below
	notes [][]string // wrapped words of each stretch
	keys  []int      // letter of each stretch: the same words have the same letter
	first []int      // stretch that each letter stands for first
	top   float64    // of the notes
}

// axisFoot is where the numbers of the x axis begin.
func (l *chartLayout) axisFoot() float64 {
	foot := l.y[len(l.y)-1].from + l.rowsHigh()
	if len(l.c.Stretches) > 0 {
		foot += stripGap + stripHigh
	}
	return foot
}

// layStrip makes room for the strip and for its words.
func (l *chartLayout) layStrip() {
	if len(l.c.Stretches) == 0 {
		return
	}
	l.height += stripGap + stripHigh
	letter := map[string]int{}
	for i, s := range l.c.Stretches {
		if from, to := l.x.span(s.From, s.To); Width(s.Text, Note)+2.4 > to-from {
			l.strips.keyed = true
		}
		text := s.Note
		if text == "" {
			text = s.Text
		}
		k, known := letter[text]
		if !known {
			k = len(letter)
			letter[text] = k
			l.strips.first = append(l.strips.first, i)
			l.strips.notes = append(l.strips.notes, Wrap(text, l.c.Width-keyWidth-1, Note))
		}
		l.strips.keys = append(l.strips.keys, k)
	}
	if !l.strips.keyed {
		return
	}
	l.strips.top = l.height + 0.8
	for _, lines := range l.strips.notes {
		l.height += float64(len(lines)) * Note.Size * LineHeight
	}
	l.height += 1.6
}

// keyOf is the letter of a stretch: a … z, then aa …
func keyOf(k int) string { return strings.ToLower(letter(k + 1)) }

func (l *chartLayout) strip() {
	if len(l.c.Stretches) == 0 {
		return
	}
	d, top := l.d, l.y[len(l.y)-1].from+l.rowsHigh()+stripGap
	l.set(l.left, top-1.6, d.fit(l.c.StripLabel, l.c.Width-l.left-0.5, Note), Note)
	d.Group(Group{ID: "stretches", Class: "stretches"}, func() {
		for i, s := range l.c.Stretches {
			from, to := l.x.span(s.From, s.To)
			if to <= from {
				continue
			}
			ground, box := Tint, RectPath(from, top, to-from, stripHigh)
			if s.Verdict == IsFine {
				ground = Sheet
				d.Path(box, Fine.Filled(Sheet))
			} else {
				d.hatched(box, Outline)
			}
			words := s.Text
			if l.strips.keyed {
				words = keyOf(l.strips.keys[i])
			}
			style := Note.Painted(Ink).Heavy().At(Middle, Centred)
			if w := Width(words, style); w+0.8 <= to-from {
				l.set((from+to)/2, top+stripHigh/2, words, style.On(ground))
			}
			d.Heed(s.Text + s.Note)
		}
	})
	if !l.strips.keyed {
		return
	}
	y := l.strips.top
	for k, lines := range l.strips.notes {
		base := y + Note.Size*LineHeight*0.75
		d.Mark(Point{2, base - Note.Size*capHeight/2}, 2.6, l.c.Stretches[l.strips.first[k]].Verdict, Ink)
		l.set(4.6, base, keyOf(k), Note.Painted(Ink).Heavy())
		for i, line := range lines {
			l.set(keyWidth, base+float64(i)*Note.Size*LineHeight, line, Note)
		}
		y += float64(len(lines)) * Note.Size * LineHeight
	}
}
