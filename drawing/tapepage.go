package drawing

import (
	"fmt"
	"math"
	"slices"
)

const (
	pageMargin = 9.0
	inside     = pageMargin + 4 // where words begin
	checkHigh  = 11.0           // of a line to measure
	rowGap     = 8.5
)

// Pages returns the tape on sheets, with the check line and how to use it.
func (t Tape) Pages() ([]*Drawing, error) {
	t, err := t.normal()
	if err != nil {
		return nil, err
	}
	w, h := t.Sheet.landscape()
	pieces := t.pieces(w - 2*inside)
	foot := h - pageMargin - TitleHeight(w-2*pageMargin, t.block(maxPages, maxPages)...) - t.checkRoom()
	top := t.headHeight(w)
	var pages []*Drawing
	var rows [][]piece
	for at := 0; at < len(pieces); {
		y := top
		if len(rows) > 0 {
			y = 26
		}
		n := max(1, int((foot-y)/(t.Height+rowGap)))
		n = min(n, len(pieces)-at)
		rows = append(rows, pieces[at:at+n])
		at += n
	}
	if len(rows) > maxPages {
		return nil, fmt.Errorf("timing tape – %d sheets – give a shorter range; %d sheets are the most", len(rows),
			maxPages)
	}
	join := 0
	for i, part := range rows {
		d := New(w, h, t.title(), t.describe())
		d.Reads = true
		strip := func(p piece, y float64) {
			d.As(&Tag{Role: RolePicture, Alt: t.describe()}, func() { t.strip(d, p, inside, y, join) })
		}
		again := &Tag{Role: RoleText} // later sheets say it again
		if i > 0 {
			again = Aside
		}
		d.Frame(pageMargin)
		y := 26.0
		d.As(again, func() { t.head(d) })
		if i == 0 {
			t.howTo(d, len(pieces))
			y = top
		}
		for _, p := range part {
			strip(p, y+rowGap-2)
			join++
			y += t.Height + rowGap
		}
		if len(pieces) == 1 && y+t.Height+rowGap <= foot {
			d.Text(inside, y+rowGap-3.2, "spare", Note)
			strip(pieces[0], y+rowGap-2)
		}
		t.check(d, foot)
		block := func() {
			d.TitleBlock(pageMargin, foot+t.checkRoom(), w-2*pageMargin, t.block(i+1, len(rows))...)
		}
		if i == 0 {
			block()
		} else {
			d.As(Aside, block)
		}
		pages = append(pages, d)
	}
	SayUnprinted(pages)
	return pages, nil
}

// block is the title block of sheet n of all.
func (t Tape) block(n, all int) [][]Cell {
	own := append([]Cell{{"engine", t.Name, 2.2}, {"diameter", t.Lengths.of(t.Diameter, places(t.Diameter)), 1},
		{"crank, seen from the front", t.Turn.String(), 1.5}}, t.Foot...)
	return [][]Cell{own, append(slices.Clone(t.Identity), pageOf(n, all))}
}

// pageOf is the cell that tells page n of all.
func pageOf(n, all int) Cell { return Cell{"page", fmt.Sprintf("%d of %d", n, all), 0.7} }

// Strip returns the whole tape in one piece on a sheet of its own size.
func (t Tape) Strip() (*Drawing, error) {
	t, err := t.normal()
	if err != nil {
		return nil, err
	}
	p := t.pieces(math.Inf(1))[0]
	tail := 0.0
	if t.whole() {
		tail = glueTab
	}
	d := New(math.Max(p.to-p.from+tail+6, checkLength*t.stretch()+50),
		t.Height+13+t.checkRoom(), t.title(), t.describe())
	t.strip(d, p, 3, 4, 0)
	t.check(d, t.Height+6)
	return d, nil
}

func (t Tape) title() string {
	if t.Face == MarksOnly {
		return "Mark-transfer strip"
	}
	return "Timing tape"
}

func (t Tape) describe() string {
	return fmt.Sprintf("True-scale strip for a %s of %s diameter, from %s to %s degrees before the zero mark; the "+
		"crank turns %s, seen from the front.",
		t.Surface, t.Lengths.of(t.Diameter, places(t.Diameter)), Number(t.From, places(t.From)),
		Number(t.To, places(t.To)), t.Turn)
}

func (t Tape) head(d *Drawing) {
	d.Text(inside, pageMargin+7.5, t.title(), Head.As(&Tag{Role: RoleTitle}))
	x := inside + Width(t.title(), Head) + 4
	facts := fmt.Sprintf("scale 1 : 1; %s, %s across; the crank turns %s, seen from the front; 1° = %s", t.Surface,
		t.Lengths.of(t.Diameter, places(t.Diameter)), t.Turn, t.Lengths.of(t.Distance(1), 3))
	d.Text(x, pageMargin+7.5, d.fit(facts, d.Width-x-inside, Body), Body.Painted(Soft))
	d.Line(pageMargin, pageMargin+10.5, d.Width-pageMargin, pageMargin+10.5, Style{Stroke: Ink, Width: 0.3})
}

const iconSize = 44.0

// instructions returns what the sheet tells the technician to do.
func (t Tape) instructions(pieces int) []string {
	far := TapeMark{Before: t.To}
	if math.Abs(t.From) > math.Abs(t.To) {
		far.Before = t.From
	}
	for _, m := range t.Marks {
		if m.Before != 0 && (len(t.Marks) == 1 || math.Abs(m.Before) > math.Abs(far.Before) || far.Label == "") {
			far = m
		}
	}
	way, when := t.Turn, "before"
	if far.Before < 0 {
		way, when = -way, "after"
	}
	list := []string{
		"Print at 100 %, “fit to page” off. " + t.measure(),
		"Prove the zero mark first: with a piston stop, turned both ways, zero lies midway. On a slipped ring all " +
			"is wrong.",
		"Engine stopped, coil and injector power off, rim clean and dry. Cut along the dashed outline.",
		fmt.Sprintf("Lay the line 0 TDC on the zero mark, print outward, the front edge towards the front of the "+
			"engine. As you look at the pointer the front is %s.", t.Front.words()),
		fmt.Sprintf("Check: %s° %s TDC lies %s from the zero mark along the rim, %s as seen from the front.",
			Number(math.Abs(far.Before), places(far.Before)), when,
			t.Lengths.of(math.Abs(math.Pi*t.Diameter*far.Before/360), 1), way),
	}
	if t.Face == DegreeScale {
		list = slices.Insert(list, 2, "The numbers are degrees before TDC; those with a minus sign lie after it.")
	} else {
		list = append(list, "Carry each line onto the rim with a scriber, at the edge that the pointer reaches over. "+
			"The lengths are those along the rim from 0 TDC.")
	}
	if pieces > 1 {
		list = append(list, "Join the pieces in letter order. Lay the cut end on the hatched tab up to its line, so "+
			"that the round register marks become whole.")
	}
	if t.whole() {
		list = append(list, "The tape goes all the way round: its start lies on the last hatched tab.")
	}
	if t.Thickness > 0 {
		list = append(list, "A tape "+t.Lengths.of(t.Thickness, places(t.Thickness))+" thick is allowed for.")
	}
	return list
}

// headHeight returns where the first row of the first sheet starts.
func (t Tape) headHeight(w float64) float64 {
	d := New(w, 210, "", "")
	return math.Max(t.howTo(d, 2), pageMargin+12+iconSize)
}

// howTo sets the instructions and the little view from the front; it returns the y
// below them.
func (t Tape) howTo(d *Drawing, pieces int) float64 {
	y := pageMargin + 15.5
	body := Body.Sized(2.9)
	wide := d.Width - 2*inside - iconSize - 16
	for i, s := range t.instructions(pieces) {
		step := body.As(&Tag{Role: RoleText})
		d.Text(inside, y, fmt.Sprintf("%d", i+1), step.Heavy())
		y = d.Lines(inside+5, y, wide, s, step) + 0.7
	}
	d.As(&Tag{Role: RolePicture, Alt: "The rim seen from the front, with the side that lies before TDC"}, func() {
		t.icon(d, Point{d.Width - inside - iconSize/2, pageMargin + 13 + iconSize/2})
	})
	return y
}

// icon shows from the front which way before TDC lies.
func (t Tape) icon(d *Drawing, c Point) {
	r := iconSize*0.5 - 9
	w := float64(t.Turn)
	d.Group(Group{Class: "icon"}, func() {
		d.Circle(c, r, Outline.Filled(Paper))
		d.Circle(c, r*0.3, Fine)
		at := Polar(c, r, 0)
		d.Polygon([]Point{{at.X, at.Y - 0.2}, {at.X - 1.1, at.Y - 3.4}, {at.X + 1.1, at.Y - 3.4}}, Area(Ink))
		d.Line(c.X, c.Y-r, c.X, c.Y-r+3, Heavy)
		d.Arc(c, r+1.6, w*8, w*62, Dimension)
		head := arrowLong / (r + 1.6) * 180 / math.Pi
		d.Arrow(Polar(c, r+1.6, w*(70+head)), w*(70+head)+w*(90-head/2), Ink)
		turnArrow(d, c, r*0.62, w*190, 80, t.Turn)
		d.Text(c.X, c.Y-r*0.53, "0", Label.Heavy().At(Middle, Centred))
		q := Polar(c, r+2.8, w*48)
		a := Start
		if w < 0 {
			a = End
		}
		d.Text(q.X, q.Y-1.5, "before", Note.Sized(leastText).At(a, Baseline))
		d.Text(c.X, c.Y+r+4, "seen from the front", Note.Sized(leastText).At(Middle, Baseline))
	})
}

// checkRoom is what the check lines take above the title block, mm.
func (t Tape) checkRoom() float64 {
	if t.Lengths.Rules == InchRules {
		return 6 + 2*checkHigh
	}
	return 6 + checkHigh
}

// measure says what the check line must come to.
func (t Tape) measure() string {
	if t.Lengths.Rules == InchRules {
		return "Measure the check lines: they must be 4 in and 100.0 mm. If not, print again and give the length of " +
			"the 100 mm line."
	}
	return "Measure the check line: it must be " + t.Lengths.of(checkLength, 1) +
		". If it is not, print again and give the length you measured."
}

// check draws the lines to measure: 100 mm, and in an inch shop four inches above it.
func (t Tape) check(d *Drawing, y float64) {
	x := inside
	if d.Height < 100 { // a strip on its own
		x = 3
	}
	note := "printed without correction"
	if t.Measured != 0 {
		note = "corrected for a line that measured " + t.Lengths.of(t.Measured, max(1, places(t.Measured)))
	}
	base := y + 10.5
	measured := func(draw func()) { d.As(&Tag{Role: RolePicture, Alt: "Check line, to be measured"}, draw) }
	if t.Lengths.Rules == InchRules {
		measured(func() { t.checkLine(d, "check-inches", Point{x, base}, checkInches, "4 in", 8, 2) })
		base += checkHigh
	}
	measured(func() { t.checkLine(d, "check", Point{x, base}, checkLength, Number(checkLength, 1)+" mm", 10, 1) })
	after := x + checkLength*t.stretch() + 4
	d.Text(after, base, d.fit(note, d.Width-after-4, Note), Note)
}

// checkLine draws a line of so many mm in parts, with a figure at each so many of them.
func (t Tape) checkLine(d *Drawing, id string, at Point, mm float64, words string, parts, figures int) {
	long := mm * t.stretch()
	d.Group(Group{ID: id, Class: "check"}, func() {
		d.Line(at.X, at.Y, at.X+long, at.Y, Style{Stroke: Ink, Width: 0.25})
		for i := range parts + 1 {
			x, h, pen := at.X+long*float64(i)/float64(parts), 2.0, Fine
			if i%parts == 0 {
				h, pen = 4.5, Style{Stroke: Ink, Width: 0.25}
			}
			d.Line(x, at.Y-h, x, at.Y, pen)
			if i%figures == 0 {
				figure := i * 10
				if figures > 1 {
					figure = i / figures
				}
				d.Text(x, at.Y+1, fmt.Sprint(figure), Note.Sized(leastText).At(Middle, Top))
			}
		}
		d.Text(at.X+long/2, at.Y-3, "measure this line: "+words, Label.Heavy().At(Middle, Baseline).On(Sheet))
	})
}
