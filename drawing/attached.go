package drawing

import (
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
	"unicode/utf16"
)

// The bounds of reading a PDF. What Document writes, saved again by another program or not, stays far below them; a
// hostile file is refused before it takes more than some 20 MiB of memory. Contents of attachments are not among
// them: they are handed on while they are read.
const (
	mostPDFObjects  = 100_000   // in the cross-reference
	mostPDFText     = 256 << 10 // bytes of one object outside its stream
	mostPDFTable    = 4 << 20   // bytes of a cross-reference table; 100 000 lines are 2 MB
	mostPDFUnpacked = 4 << 20   // bytes of a stream of objects
	mostPDFLooks    = 200       // objects looked at, and sections of the cross-reference
	mostPDFNesting  = 32
	mostPDFRead     = 64 << 20 // bytes looked at in all, packed and unpacked, besides the attachment
)

// ErrNotAttached says that a PDF carries no such file.
var ErrNotAttached = errors.New("no such file is attached")

var errPDF = errors.New("not a PDF that this program can read, or a damaged one")

// Attached gives the content of the file called name that a PDF of so many bytes carries, to be read once. It reads
// what ISO 32000-1 describes in 7.3 (objects), 7.5 (cross-reference as table or stream, streams of objects) and 7.11
// (embedded files), packed with Flate or not at all; not encrypted files.
//
// Errors: ErrNotAttached, or what makes the file unreadable. Damage to the content itself shows while it is read.
func Attached(r io.ReaderAt, size int64, name string) (io.Reader, error) {
	p := &pdfReader{r: r, size: size, at: map[int64]pdfEntry{}}
	trailer, err := p.crossReference()
	if err != nil {
		return nil, err
	}
	if trailer["Encrypt"] != nil {
		return nil, errors.New("the PDF is encrypted")
	}
	names := p.dict(p.dict(p.dict(trailer["Root"])["Names"])["EmbeddedFiles"])
	found, err := p.named(names, name, 0)
	if err != nil {
		return nil, err
	}
	switch len(found) {
	case 0:
		return nil, ErrNotAttached
	case 1:
	default:
		return nil, fmt.Errorf("the PDF carries %d files called %s", len(found), name)
	}
	files := p.dict(found[0]["EF"])
	for _, key := range []pdfName{"UF", "F"} {
		if s, ok := p.resolve(files[key]).(pdfStream); ok {
			return p.open(s)
		}
	}
	return nil, p.fail(errPDF)
}

// Values of a PDF are int64, pdfName, pdfString, pdfRef, []any, pdfDict, pdfStream, and nil for all else.
type (
	pdfName   string
	pdfString string
	pdfRef    int64 // the number of an object
	pdfDict   map[pdfName]any
	pdfStream struct {
		dict pdfDict
		at   int64 // where its bytes begin
	}
)

// pdfEntry says where an object stands: at a place of the file, or within a stream of objects.
type pdfEntry struct {
	at     int64
	within int64 // number of the stream of objects; 0: none
	free   bool
}

type pdfReader struct {
	r     io.ReaderAt
	size  int64
	at    map[int64]pdfEntry
	looks int
	noted int   // lines of the cross-reference
	read  int   // bytes looked at
	err   error // the first; all that comes after it counts as nil

	unpacked int64     // number of the stream of objects that was unpacked last, 0: none
	inside   pdfStream // it
	packed   []byte    // and its objects
}

func (p *pdfReader) fail(err error) error {
	if p.err == nil {
		p.err = err
	}
	return p.err
}

// text gives the file's bytes from a place, at most so many.
func (p *pdfReader) text(at int64, most int) []byte {
	if at < 0 || at >= p.size {
		return nil
	}
	b := make([]byte, min(int64(most), p.size-at))
	if p.read += len(b); p.read > mostPDFRead {
		p.fail(errPDF)
		return nil
	}
	if _, err := p.r.ReadAt(b, at); err != nil {
		p.fail(err)
		return nil
	}
	return b
}

// crossReference reads where the objects stand, newest section first, and gives the newest trailer.
func (p *pdfReader) crossReference() (pdfDict, error) {
	const tail = 2048
	end := p.text(max(p.size-tail, 0), tail)
	i := bytes.LastIndex(end, []byte("startxref"))
	if i < 0 {
		return nil, p.fail(errPDF)
	}
	start, _ := (&pdfText{b: end[i+len("startxref"):]}).value(0).(int64)
	var newest pdfDict
	todo, seen := []int64{start}, map[int64]bool{}
	for len(todo) > 0 {
		at := todo[0]
		todo = todo[1:]
		if seen[at] || len(seen) == mostPDFLooks {
			return nil, p.fail(errPDF)
		}
		seen[at] = true
		trailer := p.section(at)
		if p.err != nil {
			return nil, p.err
		}
		if newest == nil {
			newest = trailer
		}
		for _, key := range []pdfName{"XRefStm", "Prev"} {
			if next, ok := trailer[key].(int64); ok {
				todo = append(todo, next)
			}
		}
	}
	return newest, nil
}

// section reads one section of the cross-reference, table or stream, and gives its trailer.
func (p *pdfReader) section(at int64) pdfDict {
	if head := p.text(at, 4); string(head) != "xref" {
		return p.sectionStream(at)
	}
	for most := 16 << 10; ; most *= 4 { // tables are short as a rule
		t := &pdfText{b: p.text(at, most)}
		t.word()
		for {
			first := t.word()
			if first == "trailer" {
				trailer, ok := t.value(0).(pdfDict)
				if !ok && !t.short {
					p.fail(errPDF)
				}
				if ok {
					return trailer
				}
				break
			}
			number, ok1 := pdfInt(first)
			count, ok2 := pdfInt(t.word())
			if !ok1 || !ok2 {
				break
			}
			for ; count > 0 && !t.short; count-- {
				place, ok := pdfInt(t.word())
				t.word() // generation
				kind := t.word()
				if t.short || !ok {
					break
				}
				p.note(number, pdfEntry{at: place, free: kind != "n"})
				number++
			}
			if p.err != nil {
				return nil
			}
		}
		if !t.short || most >= mostPDFTable || int64(most) > p.size {
			p.fail(errPDF)
			return nil
		}
	}
}

// note keeps where an object stands, unless a newer section said so. Lines that say what is known count as well:
// they take time.
func (p *pdfReader) note(number int64, e pdfEntry) {
	p.noted++
	if _, known := p.at[number]; known && p.noted <= 4*mostPDFObjects {
		return
	}
	if len(p.at) == mostPDFObjects || p.noted > 4*mostPDFObjects {
		p.fail(fmt.Errorf("the PDF has more than %d objects", mostPDFObjects))
		return
	}
	p.at[number] = e
}

func (p *pdfReader) sectionStream(at int64) pdfDict {
	_, v := p.objectAt(at)
	s, ok := v.(pdfStream)
	if !ok || s.dict["Type"] != pdfName("XRef") {
		p.fail(errPDF)
		return nil
	}
	size, _ := s.dict["Size"].(int64)
	ranges, _ := s.dict["Index"].([]any)
	if ranges == nil {
		ranges = []any{int64(0), size}
	}
	var widths [3]int
	w, _ := s.dict["W"].([]any)
	for i := range widths {
		if len(w) == 3 {
			n, _ := w[i].(int64)
			widths[i] = int(n)
		}
		if widths[i] < 0 || widths[i] > 8 {
			p.fail(errPDF)
			return nil
		}
	}
	row := make([]byte, widths[0]+widths[1]+widths[2])
	in, err := p.open(s)
	if err != nil || len(row) == 0 {
		p.fail(errPDF)
		return nil
	}
	for i := 0; i+1 < len(ranges); i += 2 {
		number, _ := ranges[i].(int64)
		count, _ := ranges[i+1].(int64)
		for ; count > 0; count-- {
			if _, err := io.ReadFull(in, row); err != nil {
				p.fail(errPDF)
			}
			kind, a := int64(1), row
			if widths[0] > 0 {
				kind = bigEndian(a[:widths[0]])
			}
			where := bigEndian(a[widths[0] : widths[0]+widths[1]])
			switch kind {
			case 0:
				p.note(number, pdfEntry{free: true})
			case 1:
				p.note(number, pdfEntry{at: where})
			case 2:
				p.note(number, pdfEntry{within: where})
			}
			number++
			if p.err != nil {
				return nil
			}
		}
	}
	return s.dict
}

func bigEndian(b []byte) (n int64) {
	for _, c := range b {
		n = n<<8 | int64(c)
	}
	return n
}

// objectAt reads the object that stands at a place, with its number.
func (p *pdfReader) objectAt(at int64) (int64, any) {
	for most := 4 << 10; ; most *= 4 { // objects are short as a rule
		t := &pdfText{b: p.text(at, most)}
		number, ok := pdfInt(t.word())
		t.word() // generation
		obj := t.word()
		v := t.value(0)
		after := t.word()
		if !t.short || int64(most) >= p.size-at {
			if !ok || obj != "obj" || after != "endobj" && after != "stream" {
				p.fail(errPDF)
				return 0, nil
			}
			if dict, isDict := v.(pdfDict); isDict && after == "stream" {
				if t.i < len(t.b) && t.b[t.i] == '\r' {
					t.i++
				}
				return number, pdfStream{dict, at + int64(t.i) + 1}
			}
			return number, v
		}
		if most >= mostPDFText {
			p.fail(errors.New("the PDF has an object that is too large"))
			return 0, nil
		}
	}
}

// resolve gives the value that a reference leads to, and any other value as it is.
func (p *pdfReader) resolve(v any) any {
	for {
		ref, ok := v.(pdfRef)
		if !ok || p.err != nil {
			return v
		}
		if p.looks++; p.looks > mostPDFLooks {
			p.fail(errPDF)
			return nil
		}
		e, known := p.at[int64(ref)]
		switch {
		case !known || e.free:
			return nil
		case e.within == 0:
			var number int64
			if number, v = p.objectAt(e.at); number != int64(ref) {
				p.fail(errPDF)
				return nil
			}
		default:
			v = p.within(e.within, int64(ref))
		}
	}
}

// within gives an object out of a stream of objects.
func (p *pdfReader) within(stream, number int64) any {
	if p.unpacked != stream {
		e := p.at[stream]
		if e.free || e.within != 0 {
			p.fail(errPDF)
			return nil
		}
		_, v := p.objectAt(e.at)
		s, ok := v.(pdfStream)
		if !ok || s.dict["Type"] != pdfName("ObjStm") {
			p.fail(errPDF)
			return nil
		}
		in, err := p.open(s)
		if err != nil {
			return nil
		}
		text, err := io.ReadAll(io.LimitReader(in, mostPDFUnpacked+1))
		if err != nil || len(text) > mostPDFUnpacked {
			p.fail(errors.New("the PDF has a stream of objects that is damaged or too large"))
			return nil
		}
		p.unpacked, p.inside, p.packed = stream, s, text
		p.read += len(text)
	}
	n, _ := p.inside.dict["N"].(int64)
	first, _ := p.inside.dict["First"].(int64)
	head := &pdfText{b: p.packed}
	for ; n > 0 && !head.short; n-- {
		object, ok1 := pdfInt(head.word())
		at, ok2 := pdfInt(head.word())
		if at += first; !ok1 || !ok2 || at < 0 || at > int64(len(p.packed)) {
			break
		}
		if object == number {
			return (&pdfText{b: p.packed[at:min(int64(len(p.packed)), at+mostPDFText)]}).value(0)
		}
	}
	p.fail(errPDF)
	return nil
}

func (p *pdfReader) dict(v any) pdfDict {
	switch x := p.resolve(v).(type) {
	case pdfDict:
		return x
	case pdfStream:
		return x.dict
	}
	return nil
}

// open gives the content of a stream.
func (p *pdfReader) open(s pdfStream) (io.Reader, error) {
	length, ok := p.resolve(s.dict["Length"]).(int64)
	if !ok || length < 0 || s.at > p.size || length > p.size-s.at {
		return nil, p.fail(errPDF)
	}
	raw := io.NewSectionReader(p.r, s.at, length)
	filter, parms := p.resolve(s.dict["Filter"]), p.resolve(s.dict["DecodeParms"])
	if list, ok := filter.([]any); ok {
		switch len(list) {
		case 0:
			filter = nil
		case 1:
			filter = p.resolve(list[0])
			if of, ok := parms.([]any); ok && len(of) == 1 {
				parms = p.resolve(of[0])
			}
		default:
			filter = pdfName("several")
		}
	}
	if filter == nil {
		return raw, nil
	}
	if filter != pdfName("FlateDecode") {
		return nil, p.fail(errors.New("the PDF is packed in a way that this program does not read"))
	}
	z, err := zlib.NewReader(raw)
	if err != nil {
		return nil, p.fail(errPDF)
	}
	how, _ := parms.(pdfDict)
	predictor, _ := p.resolve(how["Predictor"]).(int64)
	columns, _ := p.resolve(how["Columns"]).(int64)
	switch {
	case predictor <= 1:
		return z, nil
	case predictor >= 10 && columns > 0 && columns <= 64 && how["Colors"] == nil:
		return &pdfRows{r: z, row: make([]byte, columns+1), before: make([]byte, columns)}, nil
	}
	return nil, p.fail(errors.New("the PDF is packed in a way that this program does not read"))
}

// pdfRows undoes the differences that a cross-reference is packed with: each row of bytes says first which kind it
// is (ISO 15948, 9.2).
type pdfRows struct {
	r           io.Reader
	row, before []byte
	left        []byte // of the row, to be given out
}

func (d *pdfRows) Read(b []byte) (int, error) {
	if len(d.left) == 0 {
		if _, err := io.ReadFull(d.r, d.row); err != nil {
			return 0, err
		}
		now := d.row[1:]
		for i := range now {
			switch d.row[0] {
			case 0:
			case 1:
				if i > 0 {
					now[i] += now[i-1]
				}
			case 2:
				now[i] += d.before[i]
			default:
				return 0, errPDF
			}
		}
		copy(d.before, now)
		d.left = now
	}
	n := copy(b, d.left)
	d.left = d.left[n:]
	return n, nil
}

// named gives the descriptions of the files of that name in a tree of names.
func (p *pdfReader) named(node pdfDict, name string, depth int) (found []pdfDict, err error) {
	if depth > mostPDFNesting {
		return nil, p.fail(errPDF)
	}
	pairs, _ := p.resolve(node["Names"]).([]any)
	for i := 1; i < len(pairs); i += 2 {
		spec := p.dict(pairs[i])
		for _, key := range []pdfName{"UF", "F"} {
			if s, ok := p.resolve(spec[key]).(pdfString); ok && s.String() == name {
				found = append(found, spec)
				break
			}
		}
	}
	kids, _ := p.resolve(node["Kids"]).([]any)
	for _, kid := range kids {
		more, err := p.named(p.dict(kid), name, depth+1)
		if err != nil {
			return nil, err
		}
		found = append(found, more...)
	}
	return found, p.err
}

// String is the text of a string, which is UTF-16 or UTF-8 behind a mark, or single bytes.
func (s pdfString) String() string {
	if len(s) >= 2 && s[:2] == "\xfe\xff" {
		var units []uint16
		for i := 2; i+1 < len(s); i += 2 {
			units = append(units, uint16(s[i])<<8|uint16(s[i+1]))
		}
		return string(utf16.Decode(units))
	}
	if len(s) >= 3 && s[:3] == "\xef\xbb\xbf" {
		return string(s[3:])
	}
	return string(s)
}
