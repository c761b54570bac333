package report

import (
	"fmt"
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/sheet"
	"phasewright/verdict"
)

// Capture is the paper on one recording: its upshot, what was recorded, what it shows with remedies, its drawings, on
// as few sheets as its matter needs. The card may be nil. j is the judgement on it.
func Capture(r *shaft.Result, c *jobcard.Card, j verdict.Judgement, stamp Stamp) (*Paper, error) {
	if r == nil {
		return nil, ErrNothing
	}
	if c == nil {
		c = new(jobcard.Card)
	}
	var f *flow
	for _, dense := range []density{withReasons, withoutReasons, smallDrawings, smallWords} {
		var err error
		if f, err = recording(r, c, j, stamp, dense); err != nil {
			return nil, err
		}
		if len(f.pages) <= 2 {
			break
		}
	}
	return f.paper(stamp, c), nil
}

// How much of long lists is printed at each density: the data hold them all.
var captureLists = map[density]struct{ findings, channels, doubts, lines int }{
	withReasons:    {12, 12, 8, 12},
	withoutReasons: {10, 8, 5, 6},
	smallDrawings:  {8, 6, 3, 4},
	smallWords:     {4, 4, 1, 1},
}

func recording(r *shaft.Result, c *jobcard.Card, j verdict.Judgement, stamp Stamp, dense density) (*flow, error) {
	title, whole := "Recording", "yes"
	if r.Partial != "" {
		title, whole = "Recording, a part of it", "a part"
	}
	f := newFlow("recording", title, or(c.Job.Name, or(r.Name, "a recording")), c, stamp, []drawing.Cell{
		{Label: "recording", Value: or(r.Name, "without a name"), Share: 1.9}, {Label: "read whole", Value: whole,
			Share: 0.8},
	})
	f.heed(f.job + r.Name)
	most := captureLists[dense]
	f.upshot(r, c, j)
	r = j.OntoCapture(r, c)
	if len(stamp.Overrides) > 0 {
		f.overrides(stamp.Overrides)
	}
	f.captureFigures(r)
	f.findings(r, most.findings)
	f.channels(r, most.channels, most.lines)
	f.doubts(r, most.doubts)
	if dense == smallWords { // the drawings take the second sheet
		f.cautions(sheet.Cautions())
	}
	if err := f.drawings(CaptureViews(r, c), dense); err != nil {
		return nil, err
	}
	if dense != smallWords {
		f.cautions(sheet.Cautions())
	}
	return f, nil
}

// upshot says first what the technician wants to know.
func (f *flow) upshot(r *shaft.Result, card *jobcard.Card, j verdict.Judgement) {
	if r.Partial != "" {
		t := drawing.Body.Heavy()
		lines := clip(drawing.Wrap(
			"Only a part of the recording could be read, and all below holds for that part alone: "+r.Partial,
			f.wide()-12, t), 4)
		high := float64(len(lines))*t.Size*drawing.LineHeight + 3
		f.d.Rect(inset, f.y, f.wide(), high, drawing.Outline)
		f.d.Mark(drawing.Point{X: inset + 4, Y: f.y + 3.7}, 3.2, drawing.IsCaution, drawing.Ink)
		for i, s := range lines {
			f.d.Text(inset+9, f.y+4.8+float64(i)*t.Size*drawing.LineHeight, s, t)
		}
		f.heed(r.Partial)
		f.y += high + 2
	}
	v, word, next := CaptureSays(j, r, card)
	f.d.Mark(drawing.Point{X: inset + 3, Y: f.y + 4}, 6, v, drawing.Ink)
	f.d.Text(inset+9, f.y+4, word, drawing.TextStyle{Size: 6, Weight: drawing.Bold}.At(drawing.Start, drawing.Centred))
	f.y += 8.5
	f.text(next, drawing.TextStyle{Size: 3.2})
	f.y += 1.5
}

func (f *flow) captureFigures(r *shaft.Result) {
	recorded, timing := CaptureFigures(r)
	join := func(list []Figure) (out []Field) {
		for _, x := range list {
			value := x.Value
			if x.U != "" {
				value += ", " + x.U
				if x.U[0] == 0xc2 { // ± belongs to its value
					value = x.Value + " " + x.U
				}
			}
			if x.Note != "" {
				value += "; " + x.Note
			}
			out = append(out, Field{x.Name, value})
		}
		return out
	}
	f.captureFields(append(join(timing), join(recorded)...))
}

// captureFields sets labelled values in two columns that are filled one after the other, labels as long as they are.
func (f *flow) captureFields(list []Field) {
	label, value := drawing.Note.Sized(2.7), drawing.Body.Heavy().Sized(2.8)
	wide := f.columnWidth()
	var blocks []block
	for _, x := range list {
		in := drawing.Width(x.Label, label) + 3
		lines := clip(drawing.Wrap(x.Value, wide-in, value), 3)
		if len(lines) > 1 && in > wide*0.45 {
			in = wide * 0.45
			lines = clip(drawing.Wrap(x.Value, wide-in, value), 3)
		}
		f.heed(x.Value)
		high := float64(len(lines))*value.Size*1.3 + 1.3
		blocks = append(blocks, block{high, func(px, y float64) {
			f.d.Line(px, y, px+wide, y, drawing.Grid)
			f.d.Text(px, y+3.5, drawing.Fit(x.Label, in-1, label), label)
			for i, s := range lines {
				f.d.Text(px+wide, y+3.5+float64(i)*value.Size*1.3, s, value.At(drawing.End, drawing.Baseline))
			}
		}})
	}
	f.columns(blocks)
	f.y += gap
}

func (f *flow) findings(r *shaft.Result, most int) {
	if len(r.Findings) == 0 {
		return
	}
	var list []found
	for i, x := range r.Findings {
		if i == most {
			list = append(list, found{verdict: drawing.IsCaution,
				title: fmt.Sprintf("and %d more findings, in the data", len(r.Findings)-i)})
			break
		}
		list = append(list, found{verdict: drawing.IsCaution, title: sentence(x.Text), text: sentence(x.Remedy)})
	}
	const head = "What it shows, and what to do"
	if len(list) == 1 {
		blocks := f.items(list, f.wide())
		f.headingOf(head, blocks[0].high)
		f.stack(blocks)
		return
	}
	blocks := f.items(list, f.columnWidth())
	f.headingOf(head, blocks[0].high)
	f.columns(blocks)
}

func (f *flow) channels(r *shaft.Result, most, lines int) {
	var rows [][]string
	left0 := 0
	for _, pass := range []bool{true, false} { // those with a role first
		for _, ch := range r.Channels {
			if (ch.Role != shaft.Unknown) != pass {
				continue
			}
			if len(rows) == most {
				left0++
				continue
			}
			f.heed(ch.Name + ch.Reason)
			name := strings.Join(clip(drawing.Wrap(ch.Name, f.wide()*0.13, tableText), min(lines, 2)), " ")
			why := strings.Join(clip(drawing.Wrap(ch.Reason, f.wide()*0.46, tableText), lines), " ")
			rows = append(rows, []string{name, string(ch.Role), quantity.Number(float64(ch.Edges), 0), cell(ch.LowV, 2),
				cell(ch.HighV, 2), "", why})
		}
	}
	if len(rows) == 0 {
		return
	}
	f.headingOf("Channels", 14)
	f.table([]column{{"channel", 1.5, left}, {"is", 0.7, left}, {"edges", 0.8, figure}, {"low V", 0.6, figure},
		{"high V", 0.6, figure}, {"", 0.15, left}, {"why", 5, left}}, rows)
	if left0 > 0 {
		f.text(fmt.Sprintf("and %d more channels, in the data.", left0), drawing.Note)
	}
}

func (f *flow) doubts(r *shaft.Result, most int) {
	if len(r.Doubts) == 0 {
		return
	}
	f.headingOf("What is not certain", 5)
	t := drawing.Body.Sized(2.7)
	for i, s := range r.Doubts {
		if i == most {
			f.text(fmt.Sprintf("and %d more, in the data.", len(r.Doubts)-i), drawing.Note)
			break
		}
		f.text(sentence(s), t)
	}
	f.y += gap
}

// drawings sets the drawings two abreast, the edges around the cycle over the whole width.
func (f *flow) drawings(views []CaptureView, dense density) error {
	strip, field := 6.2, 36.0
	if dense >= smallDrawings {
		strip, field = 4.6, 26
	}
	if dense == smallWords {
		strip, field = 3.8, 22
	}
	var blocks [2]*viewBlock
	n := 0
	flush := func() {
		if n > 0 {
			f.pair(blocks[0], blocks[1])
		}
		blocks, n = [2]*viewBlock{}, 0
	}
	for _, id := range []string{"none", "timing", "speed", "cylinders", "cylinder-speed", "cycle"} {
		for _, v := range views {
			if v.ID != id {
				continue
			}
			at := Space{Width: f.columnWidth(), Height: field, Prefix: id}
			switch id {
			case "cycle", "none":
				flush()
				at.Width = f.wide()
			case "cylinders", "cylinder-speed":
				at.Height = strip
			}
			p, err := f.layOut(v, at, dense)
			if err != nil {
				return err
			}
			blocks[n] = p
			if n++; n == 2 || at.Width == f.wide() {
				flush()
			}
		}
	}
	flush()
	return nil
}

// viewBlock is a view laid out in the space that it gets.
type viewBlock struct {
	title string
	d     *drawing.Drawing
	want  []string
	read  []string
	wide  float64
	high  float64
}

var (
	viewTitle = drawing.TextStyle{Size: 3.6, Weight: drawing.Bold}
	viewWant  = drawing.Body.Sized(2.7)
	viewRead  = drawing.Note.Sized(smallest)
)

func (f *flow) layOut(v CaptureView, at Space, dense density) (*viewBlock, error) {
	p := &viewBlock{title: v.Title, wide: at.Width, high: 6.5}
	if v.Draw != nil {
		d, err := v.Draw(at)
		if err != nil {
			return nil, fmt.Errorf("recording, %s: %w", v.ID, err)
		}
		p.d = d
		p.high += d.Height + 1
	}
	if v.Want != "" {
		p.want = clip(drawing.Wrap(v.Want, at.Width-5, viewWant), 8)
		p.high += float64(len(p.want))*viewWant.Size*1.3 + 1
	}
	if dense == withReasons && v.Reading != "" {
		p.read = clip(drawing.Wrap(v.Reading, at.Width, viewRead), 10)
		p.high += float64(len(p.read)) * viewRead.Size * 1.3
	}
	f.heed(v.Reading + v.Want)
	return p, nil
}

// pair sets two beside each other, tops in line; the second may be nil.
func (f *flow) pair(a, b *viewBlock) {
	high := a.high
	if b != nil {
		high = max(high, b.high)
	}
	f.need(high + gap)
	f.y += 1
	for i, p := range []*viewBlock{a, b} {
		if p == nil {
			continue
		}
		x := inset
		if i == 1 {
			x = f.w - inset - p.wide
		}
		y := f.y + 4
		f.d.Text(x, y, drawing.Fit(p.title, p.wide, viewTitle), viewTitle)
		y += 2.5
		if p.d != nil {
			f.d.Place(p.d, x, y)
			y += p.d.Height + 1
		}
		if len(p.want) > 0 {
			f.d.Mark(drawing.Point{X: x + 1.4, Y: y + 2}, 2.6, drawing.IsCaution, drawing.Ink)
		}
		for _, s := range p.want {
			y += viewWant.Size * 1.3
			f.d.Text(x+5, y-0.6, s, viewWant)
		}
		if len(p.want) > 0 {
			y++
		}
		for _, s := range p.read {
			y += viewRead.Size * 1.3
			f.d.Text(x, y-0.6, s, viewRead)
		}
	}
	f.y += high + gap
}
