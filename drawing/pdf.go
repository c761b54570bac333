package drawing

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// Document is a PDF: one page for each drawing, as large as the drawing.
type Document struct {
	Title, Author, Subject, Keywords string
	// Date is printed into the file as its creation date. It is the caller's: the
	// same document with the same date is the same file, byte for byte.
	Date        time.Time
	Pages       []*Drawing
	Attachments []Attachment
}

// Attachment is a file carried inside a PDF.
type Attachment struct {
	Name, Desc string
	Data       []byte
}

// ErrNoPages says that a document has no page.
var ErrNoPages = errors.New("pdf – the document has no pages – give at least one drawing")

// maxSheet is the largest page that PDF readers are sure to show (ISO 32000-1
// annex C: 14 400 units, 5 080 mm).
const maxSheet = 5080

const mm = 72 / 25.4 // points in a millimetre

// PDF returns the document as a PDF file. It asks the printer not to scale.
func PDF(doc Document) ([]byte, error) {
	if len(doc.Pages) == 0 {
		return nil, ErrNoPages
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: 210, Ht: 297}})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(doc.Date.UTC())
	pdf.SetModificationDate(doc.Date.UTC())
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.SetLang("en-GB")
	pdf.SetProducer("Phasewright", true)
	for _, p := range []struct {
		set  func(string, bool)
		text string
	}{{pdf.SetTitle, doc.Title}, {pdf.SetAuthor, doc.Author}, {pdf.SetSubject, doc.Subject},
		{pdf.SetKeywords, doc.Keywords}} {
		clean, _ := Clean(p.text)
		p.set(clean, true)
	}
	var files []fpdf.Attachment
	for _, a := range doc.Attachments {
		name, _ := Clean(a.Name)
		desc, _ := Clean(a.Desc)
		files = append(files, fpdf.Attachment{Content: a.Data, Filename: name, Description: desc})
	}
	pdf.SetAttachments(files)
	w := &pdfWriter{pdf: pdf, used: map[*face]bool{}}
	for i, d := range doc.Pages {
		if !(d.Width > 0 && d.Height > 0 && d.Width <= maxSheet && d.Height <= maxSheet) {
			return nil, fmt.Errorf("pdf page %d – %g × %g mm is no sheet – use a page between 1 and %d mm", i+1,
				d.Width, d.Height, maxSheet)
		}
		w.page(d)
	}
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("pdf – could not be written: %w", err)
	}
	return finish(out.Bytes())
}

type pdfWriter struct {
	pdf    *fpdf.Fpdf
	height float64
	used   map[*face]bool
	line   []byte

	state              Style // the stroke that the page's graphics state holds
	fill               Paint // and the fill
	knowLine, knowFill bool
	stale              bool // the font was lost with a restored graphics state
}

func (w *pdfWriter) page(d *Drawing) {
	w.pdf.AddPageFormat("P", fpdf.SizeType{Wd: d.Width, Ht: d.Height})
	w.height = d.Height
	w.forget()
	w.raw("q %s 0 0 -%s 0 %s cm", f6(mm), f6(mm), f6(d.Height*mm))
	w.group(&d.root, identity())
	w.raw("Q")
	w.stale = true
}

func (w *pdfWriter) raw(format string, args ...any) { w.pdf.RawWriteStr(fmt.Sprintf(format, args...)) }

func (w *pdfWriter) group(g *group, m matrix) {
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
			w.raw("q")
			w.path(p.Clip, in, "W n")
			w.forget()
			w.group(p, in)
			w.raw("Q")
			w.forget()
			w.stale = true
		}
	}
}

func (w *pdfWriter) shape(s *shape, m matrix) {
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
	b := w.line[:0]
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
	if len(b) > 0 {
		w.pdf.RawWriteStr(string(b[:len(b)-1]))
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
	b := w.line[:0]
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
	b = append(b, op...)
	w.pdf.RawWriteStr(string(b))
	w.line = b
}

// words sets text in runs of one face each.
func (w *pdfWriter) words(t *words, m matrix) {
	m = m.then(placed(t.at.X, t.at.Y, t.Turn))
	x := 0.0
	switch t.Anchor {
	case Middle:
		x = -width(t.text, t.TextStyle) / 2
	case End:
		x = -width(t.text, t.TextStyle)
	}
	fs := faces()
	var run *face
	from, start, pen := 0, x, x
	rgb := paints[t.Paint].rgb
	if t.Paint == Sheet {
		rgb = [3]float64{0xff, 0xff, 0xff}
	}
	w.pdf.SetTextColor(int(rgb[0]), int(rgb[1]), int(rgb[2]))
	emit := func(to int) {
		if run == nil || to == from {
			return
		}
		if !w.used[run] {
			w.pdf.AddUTF8FontFromBytes(run.family, run.style, bytes.Clone(run.data))
			w.used[run] = true
		}
		size := t.Size * mm
		if w.stale {
			w.pdf.SetFont(run.family, run.style, size+1)
			w.stale = false
		}
		w.pdf.SetFont(run.family, run.style, size)
		at := m.apply(Point{start, t.dy})
		const k = 1 / mm
		w.raw("q %s %s %s %s %s %s cm", f6(m.a*k), f6(m.b*k), f6(-m.c*k), f6(-m.d*k), f6(at.X), f6(at.Y))
		w.pdf.Text(0, w.height, t.text[from:to])
		w.raw("Q")
	}
	for i, r := range t.text {
		f := fs.pick(r, bool(t.Weight))
		if f != run {
			emit(i)
			run, from, start = f, i, pen
		}
		pen += f.widths[r] / 1000 * t.Size
	}
	emit(len(t.text))
}

func f6(v float64) string { return strconv.FormatFloat(v, 'f', 6, 64) }

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

// finish asks the printer for true size and the reader to show the title. The catalogue is the
// last object that the PDF writer prints, so only the cross-reference offset moves.
func finish(pdf []byte) ([]byte, error) {
	mark := []byte("/Type /Catalog\n")
	at, table := bytes.LastIndex(pdf, mark), bytes.LastIndex(pdf, []byte("startxref\n"))
	if at < 0 || table < at {
		return nil, errors.New("pdf – no catalogue in what was written – report this as a fault of the program")
	}
	add := []byte("/ViewerPreferences <</PrintScaling /None /DisplayDocTitle true>>\n")
	rest := pdf[table+len("startxref\n"):]
	end := bytes.IndexByte(rest, '\n')
	offset, err := strconv.Atoi(string(bytes.TrimSpace(rest[:max(end, 0)])))
	if err != nil || offset < at {
		return nil, errors.New("pdf – cross-reference table before the catalogue – report this " +
			"as a fault of the program")
	}
	var out bytes.Buffer
	out.Grow(len(pdf) + len(add) + 8)
	out.Write(pdf[:at+len(mark)])
	out.Write(add)
	out.Write(pdf[at+len(mark) : table])
	fmt.Fprintf(&out, "startxref\n%d", offset+len(add))
	out.Write(rest[end:])
	return out.Bytes(), nil
}
