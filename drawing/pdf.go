package drawing

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Document is a PDF: one page for each drawing, as large as the drawing.
type Document struct {
	Title, Author, Subject, Keywords string
	// Date is printed into the file as its creation date. It is the caller's: the
	// same document with the same date is the same file, byte for byte. None: the file has no date.
	Date        time.Time
	Pages       []*Drawing
	Attachments []Attachment
}

// Attachment is a file carried inside a PDF.
type Attachment struct {
	Name, Desc string
	Data       []byte
	Relation   Relation // "" means IsData
}

// Relation says what an attached file is to the document (ISO 19005-3, annex E, from memory).
type Relation string

// The relations.
const (
	IsData   Relation = "Data"   // the numbers of the document
	IsSource Relation = "Source" // what the document was made from
)

// ErrNoPages says that a document has no page.
var ErrNoPages = errors.New("pdf – the document has no pages – give at least one drawing")

// maxSheet is the largest page that PDF readers are sure to show (ISO 32000-1
// annex C: 14 400 units, 5 080 mm).
const maxSheet = 5080

const mm = 72 / 25.4 // points in a millimetre

// PDF returns the document as a PDF file for keeping (PDF/A-3, level A: docs/paper.md). Its parts are tagged, its
// headings are bookmarks. It asks the printer not to scale.
func PDF(doc Document) ([]byte, error) {
	if len(doc.Pages) == 0 {
		return nil, ErrNoPages
	}
	f := &pdfOut{}
	root, pages, fontList, imageList := f.reserve(), f.reserve(), f.reserve(), f.reserve()
	w := &pdfWriter{file: f, tree: newPDFStruct(f), used: map[*face]*pdfFont{},
		images: map[string]string{}}
	var numbers []int
	for i, d := range doc.Pages {
		if !(d.Width > 0 && d.Height > 0 && d.Width <= maxSheet && d.Height <= maxSheet) {
			return nil, fmt.Errorf("pdf page %d – %g × %g mm is no sheet – use a page between 1 and %d mm", i+1,
				d.Width, d.Height, maxSheet)
		}
		numbers = append(numbers, w.page(d, pages, fontList, imageList, i))
	}
	f.objects[pages-1].loose = true // how many pages there are can be seen in the file as it is
	f.set(pages, fmt.Sprintf("<</Type /Pages /Count %d /Kids [%s]>>", len(numbers), pdfRefs(numbers)))
	var list strings.Builder
	for _, font := range w.fonts {
		font.write(f)
		fmt.Fprintf(&list, "/%s %d 0 R ", font.name, font.number)
	}
	f.set(fontList, "<<"+list.String()+">>")
	f.set(imageList, "<<"+w.imageList+">>")
	info, xmp := doc.info(f)
	more := doc.attach(f) + intent(f)
	if marks := outline(f, w.tree.bookmarks(doc.Pages, numbers)); marks != 0 {
		more += fmt.Sprintf(" /Outlines %d 0 R", marks)
	}
	f.set(root, fmt.Sprintf("<</Type /Catalog /Pages %d 0 R /Lang (en-GB) /MarkInfo <</Marked true>> "+
		"/StructTreeRoot %d 0 R /Metadata %d 0 R /ViewerPreferences <</PrintScaling /None /DisplayDocTitle true>>%s>>",
		pages, w.tree.write(), xmp, more))
	return f.bytes(root, info), nil
}

type pdfWriter struct {
	file  *pdfOut
	tree  *pdfStruct
	used  map[*face]*pdfFont
	fonts []*pdfFont // in the order of their first use
	line  []byte     // of the page: what it draws

	images    map[string]string // names of photographs by what they hold
	imageList string            // entries of the dictionary that names them

	height        float64     // of the page, mm
	sheet, number int         // of the page, counted from 0, and its object
	in            *pdfElement // what is drawn belongs to it; nil: to the section
	around        *pdfElement // a picture that takes all that is drawn within it
	apart         bool        // it belongs to nothing
	open          *pdfElement // the marked content begun; decoration: markedAside
	state         Style       // the stroke that the page's graphics state holds
	fill          Paint       // and the fill

	knowLine, knowFill bool
}

// markedAside stands for marked content that is no part of the document.
var markedAside = &pdfElement{}

func (w *pdfWriter) page(d *Drawing, parent, fontList, imageList, sheet int) int {
	w.height, w.sheet, w.number = d.Height, sheet, w.file.reserve()
	w.line = nil
	w.forget()
	w.raw("%s 0 0 -%s 0 %s cm", f6(mm), f6(mm), f6(d.Height*mm))
	if d.Reads {
		w.group(&d.root, identity())
	} else {
		w.group(&group{tag: pictureOf(d), parts: d.root.parts}, identity())
	}
	w.endMark()
	content := w.file.packed("", w.line)
	w.file.set(w.number, fmt.Sprintf("<</Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s] /Contents %d 0 R "+
		"/Resources <</Font %d 0 R /XObject %d 0 R>> /StructParents %d /Tabs /S>>", parent, pdfNum(d.Width*mm),
		pdfNum(d.Height*mm), content, fontList, imageList, sheet))
	return w.number
}

func (w *pdfWriter) raw(format string, args ...any) {
	w.line = append(fmt.Appendf(w.line, format, args...), '\n')
}

func (w *pdfWriter) group(g *group, m matrix) {
	if g.tag != nil {
		in, around, apart := w.in, w.around, w.apart
		defer func() { w.in, w.around, w.apart = in, around, apart }()
		w.enter(g, m)
	}
	for _, t := range g.order {
		if !w.apart && w.around == nil {
			w.tree.element(t, w.in)
		}
	}
	for _, part := range g.parts {
		switch p := part.(type) {
		case *shape:
			w.shape(p, m)
		case *words:
			w.words(p, m)
		case *picture:
			w.picture(p, m)
		case *group:
			in := m.then(placed(p.X, p.Y, p.Turn))
			if p.Clip == nil {
				w.group(p, in)
				continue
			}
			w.endMark()
			w.raw("q")
			w.path(p.Clip, in, "W n")
			w.forget()
			w.group(p, in)
			w.endMark()
			w.raw("Q")
			w.forget()
		}
	}
}

// enter makes what follows a part of the group's tag.
func (w *pdfWriter) enter(g *group, m matrix) {
	switch {
	case w.apart || w.around != nil:
	case g.tag.Role == aside:
		w.apart = true
	default:
		w.in = w.tree.element(g.tag, w.in)
		if g.tag.Role != RolePicture {
			return
		}
		w.around = w.in
		if box := g.tag.box; box != (Point{}) {
			w.place(w.in, RectPath(0, 0, box.X, box.Y), m)
		}
	}
}

// place says where on the page a figure stands.
func (w *pdfWriter) place(e *pdfElement, box *Path, m matrix) {
	lo, hi := box.placedBounds(m)
	e.placed = fmt.Sprintf("%s %s %s %s", pdfNum(lo.X*mm), pdfNum((w.height-hi.Y)*mm), pdfNum(hi.X*mm),
		pdfNum((w.height-lo.Y)*mm))
}

// placedBounds are the smallest and largest x and y of the path's corners where m puts them.
func (p *Path) placedBounds(m matrix) (lo, hi Point) {
	q := &Path{}
	for _, s := range p.segs {
		if s.kind != segClose {
			s.to = m.apply(s.to)
			q.segs = append(q.segs, s)
		}
	}
	return q.bounds()
}

// mark begins the marked content of e, unless it is begun (ISO 32000-1, 14.6).
func (w *pdfWriter) mark(e *pdfElement) {
	if w.open == e {
		return
	}
	w.endMark()
	if e == markedAside {
		w.raw("/Artifact BMC")
	} else {
		w.raw("/%s <</MCID %d>> BDC", e.tag.Role, w.tree.content(e, w.sheet, w.number))
	}
	w.open = e
}

func (w *pdfWriter) endMark() {
	if w.open != nil {
		w.raw("EMC")
		w.open = nil
	}
}

func (w *pdfWriter) shape(s *shape, m matrix) {
	if w.around != nil {
		w.mark(w.around)
	} else {
		w.mark(markedAside)
	}
	op := "n"
	switch {
	case s.style.Stroke != None && s.style.Fill != None:
		op = "B"
	case s.style.Stroke != None:
		op = "S"
	case s.style.Fill != None:
		op = "f"
	}
	w.pen(s.style)
	w.path(s.path, m, op)
}

// pen sets what differs from the last pen.
func (w *pdfWriter) pen(s Style) {
	b := w.line
	if s.Fill != None && (!w.knowFill || s.Fill != w.fill) {
		b = colour(b, s.Fill, " rg\n")
		w.fill, w.knowFill = s.Fill, true
	}
	if s.Stroke != None {
		if !w.knowLine || s.Stroke != w.state.Stroke {
			b = colour(b, s.Stroke, " RG\n")
		}
		if !w.knowLine || s.Width != w.state.Width {
			b = append(appendNum(b, s.Width), " w\n"...)
		}
		if !w.knowLine || s.Dash != w.state.Dash {
			b = append(b, '[')
			for _, v := range dashes[s.Dash] {
				b = append(appendNum(b, v), ' ')
			}
			b = append(b, "] 0 d\n"...)
		}
		if !w.knowLine || s.Cap != w.state.Cap {
			b = strconv.AppendInt(b, int64(s.Cap), 10)
			b = append(b, " J "...)
			b = strconv.AppendInt(b, int64(s.Cap), 10)
			b = append(b, " j\n"...)
		}
		w.state, w.knowLine = s, true
	}
	w.line = b
}

// forget drops what is known of the graphics state.
func (w *pdfWriter) forget() { w.knowFill, w.knowLine = false, false }

func colour(b []byte, p Paint, op string) []byte {
	for i, v := range paints[p].rgb {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendFloat(b, v/255, 'f', 3, 64)
	}
	return append(b, op...)
}

func (w *pdfWriter) path(p *Path, m matrix, op string) {
	b := w.line
	point := func(q Point) {
		q = m.apply(q)
		b = append(appendNum(b, q.X), ' ')
		b = append(appendNum(b, q.Y), ' ')
	}
	for _, s := range p.segs {
		switch s.kind {
		case segMove:
			point(s.to)
			b = append(b, "m\n"...)
		case segLine:
			point(s.to)
			b = append(b, "l\n"...)
		case segCurve:
			point(s.a)
			point(s.b)
			point(s.to)
			b = append(b, "c\n"...)
		case segArc:
			s.bezier(func(a, c, to Point) {
				point(a)
				point(c)
				point(to)
				b = append(b, "c\n"...)
			})
		case segClose:
			b = append(b, "h\n"...)
		}
	}
	w.line = append(append(b, op...), '\n')
}

// words sets one line of text.
func (w *pdfWriter) words(t *words, m matrix) {
	goesOn := w.part(t, m)
	m = m.then(placed(t.at.X, t.at.Y, t.Turn))
	pen := 0.0
	switch t.Anchor {
	case Middle:
		pen = -width(t.text, t.TextStyle) / 2
	case End:
		pen = -width(t.text, t.TextStyle)
	}
	line := lineOf(t.text, bool(t.Weight))
	if goesOn {
		space := plainLine(" ", bool(t.Weight))
		line = append(space, line...)
		pen -= space[0].glyphs[0].wide / 1000 * t.Size
	}
	if !w.knowFill || t.Paint != w.fill {
		w.line = colour(w.line, t.Paint, " rg\n")
		w.fill, w.knowFill = t.Paint, true
	}
	for _, p := range line {
		font := w.used[p.face]
		if font == nil {
			font = &pdfFont{face: p.face, name: fmt.Sprintf("F%d", len(w.fonts)+1), number: w.file.reserve(),
				ids: map[pdfGlyph]uint16{}}
			w.used[p.face] = font
			w.fonts = append(w.fonts, font)
		}
		if p.face.heavy {
			w.line = colour(w.line, t.Paint, " RG ")
			w.raw("%s w [] 0 d 2 Tr", pdfNum(t.Size*heavier))
			w.knowLine = false
		}
		at := m.apply(Point{pen, t.dy})
		w.raw("BT /%s %s Tf %s %s %s %s %s %s Tm", font.name, pdfNum(t.Size), f6(m.a), f6(m.b), f6(-m.c), f6(-m.d),
			pdfNum(at.X), pdfNum(at.Y))
		pen += w.glyphs(font, p, t.Size) / 1000 * t.Size
		w.raw("ET")
		if p.face.heavy {
			w.raw("0 Tr")
		}
	}
}

// heavier is how wide the line round a letter is that makes it bold, as a share of the size (own choice).
const heavier = 0.035

// part begins the marked content that text belongs to. Text that goes on in the same part begins with a space, so
// that words do not run together when they are read out.
func (w *pdfWriter) part(t *words, m matrix) (goesOn bool) {
	switch {
	case w.apart || t.Tag == Aside:
		w.mark(markedAside)
		return false
	case w.around != nil:
		w.mark(w.around)
		return false
	}
	e := w.in
	inside := e != nil && e.holdsText() && t.Tag != nil && t.Tag.Role == RoleText // a paragraph in one is that one
	if t.Tag != nil && !inside {
		e = w.tree.element(t.Tag, w.in)
	}
	if e == nil || !e.holdsText() {
		e = w.tree.element(&Tag{Role: RoleText}, e)
	}
	w.mark(e)
	if goesOn = e.text != ""; goesOn {
		e.text += " "
	} else {
		e.at = m.apply(t.at)
	}
	e.text += t.text
	return goesOn
}

// glyphs shows the glyphs of a piece and returns how far the pen went, in thousandths of the size.
func (w *pdfWriter) glyphs(font *pdfFont, p faceRun, size float64) (pen float64) {
	data := p.face.read()
	at, rise, open := 0.0, 0.0, false
	begin := func() {
		if !open {
			w.line = append(w.line, "[<"...)
			open = true
		}
	}
	end := func() {
		if open {
			w.line = append(w.line, ">] TJ\n"...)
			open = false
		}
	}
	for _, g := range p.glyphs {
		if g.dy != rise {
			end()
			w.raw("%s Ts", pdfNum(g.dy/1000*size))
			rise = g.dy
		}
		begin()
		if back := at - pen - g.dx; math.Abs(back) > 1e-6 {
			w.line = fmt.Appendf(w.line, ">%s<", pdfNum(back))
			at -= back
		}
		const digits = "0123456789ABCDEF"
		id := font.id(g)
		w.line = append(w.line, digits[id>>12], digits[id>>8&15], digits[id>>4&15], digits[id&15])
		at += data.advance(g.gid)
		pen += g.wide
	}
	end()
	if rise != 0 {
		w.raw("0 Ts")
	}
	return pen
}

func pdfNum(v float64) string { return string(appendNum(nil, v)) }

// f6 prints v to a millionth.
func f6(v float64) string {
	s := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(v, 'f', 6, 64), "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// appendNum prints v mm to 0.1 µm.
func appendNum(b []byte, v float64) []byte {
	n := len(b)
	b = strconv.AppendFloat(b, v, 'f', 4, 64)
	for b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	if string(b[n:]) == "-0" {
		b = append(b[:n], '0')
	}
	return b
}
