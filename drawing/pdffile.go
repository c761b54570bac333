package drawing

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"unicode/utf16"

	"github.com/klauspost/compress/zlib"
)

// pdfOut gathers the objects of a PDF 1.7 (ISO 32000-1, 7.5): streams as they are, the rest packed together.
type pdfOut struct {
	objects []pdfObject // the number of the first is 1
}

type pdfObject struct {
	text   string // the value, or the entries of the stream's dictionary
	data   []byte
	stream bool
	loose  bool // stands by itself, to be read without unpacking
}

// reserve gives the number of an object that is to come.
func (f *pdfOut) reserve() int {
	f.objects = append(f.objects, pdfObject{text: "null"})
	return len(f.objects)
}

func (f *pdfOut) set(number int, text string) { f.objects[number-1].text = text }

// add gives the number of a new object.
func (f *pdfOut) add(format string, args ...any) int {
	number := f.reserve()
	f.set(number, fmt.Sprintf(format, args...))
	return number
}

// stream gives the number of a stream with the entries given.
func (f *pdfOut) stream(entries string, data []byte) int {
	f.objects = append(f.objects, pdfObject{text: entries, data: data, stream: true})
	return len(f.objects)
}

// packed is stream with the data compressed.
func (f *pdfOut) packed(entries string, data []byte) int {
	return f.stream(strings.TrimSpace("/Filter /FlateDecode "+entries), deflated(data))
}

// packers are used again: a new one takes a megabyte.
var packers = sync.Pool{New: func() any { return zlib.NewWriter(nil) }}

func deflated(data []byte) []byte {
	var b bytes.Buffer
	z := packers.Get().(*zlib.Writer)
	defer packers.Put(z)
	z.Reset(&b)
	z.Write(data) // a buffer does not fail
	z.Close()
	return b.Bytes()
}

// together is how many objects are packed into one stream.
const together = 200

// bytes is the file. Its identifier is made from its content (ISO 32000-1, 14.4).
func (f *pdfOut) bytes(root, info int) []byte {
	var out bytes.Buffer
	// four bytes that are not text (ISO 19005-3, 6.1.2, from memory)
	out.WriteString("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
	count := len(f.objects)
	packs := make([]packed, 0, count/together+1)
	rows := make([][3]int, count+1) // kind, place, index
	for i, o := range f.objects {
		number := i + 1
		if o.stream {
			rows[number] = [3]int{1, out.Len(), 0}
			writeStream(&out, number, o)
			continue
		}
		if o.loose {
			rows[number] = [3]int{1, out.Len(), 0}
			fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", number, o.text)
			continue
		}
		if len(packs) == 0 || packs[len(packs)-1].n == together {
			packs = append(packs, packed{})
		}
		p := &packs[len(packs)-1]
		rows[number] = [3]int{2, count + len(packs), p.n}
		p.add(number, o.text)
	}
	for i, p := range packs {
		rows = append(rows, [3]int{1, out.Len(), 0})
		entries := fmt.Sprintf("/Type /ObjStm /N %d /First %d /Filter /FlateDecode", p.n, p.head.Len())
		writeStream(&out, count+1+i, pdfObject{text: entries,
			data: deflated(append(p.head.Bytes(), p.body.Bytes()...))})
	}
	start := out.Len()
	rows = append(rows, [3]int{1, start, 0})
	table := make([]byte, 0, 7*len(rows))
	for _, r := range rows {
		table = append(table, byte(r[0]))
		table = binary.BigEndian.AppendUint32(table, uint32(r[1]))
		table = binary.BigEndian.AppendUint16(table, uint16(r[2]))
	}
	sum := sha256.Sum256(out.Bytes())
	entries := fmt.Sprintf("/Type /XRef /Size %d /W [1 4 2] /Root %d 0 R /Info %d 0 R /ID [<%[4]X> <%[4]X>] "+
		"/Filter /FlateDecode", len(rows), root, info, sum[:16])
	writeStream(&out, len(rows)-1, pdfObject{text: entries, data: deflated(table)})
	fmt.Fprintf(&out, "startxref\n%d\n%%%%EOF\n", start)
	return out.Bytes()
}

// packed is a stream of objects in the making.
type packed struct {
	n          int
	head, body bytes.Buffer
}

func (p *packed) add(number int, text string) {
	fmt.Fprintf(&p.head, "%d %d ", number, p.body.Len())
	p.body.WriteString(text + "\n")
	p.n++
}

func writeStream(out *bytes.Buffer, number int, o pdfObject) {
	fmt.Fprintf(out, "%d 0 obj\n<<%s /Length %d>>\nstream\n", number, o.text, len(o.data))
	out.Write(o.data)
	out.WriteString("\nendstream\nendobj\n")
}

// pdfRefs lists references to objects.
func pdfRefs(numbers []int) string {
	var b strings.Builder
	for i, n := range numbers {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(strconv.Itoa(n) + " 0 R")
	}
	return b.String()
}

// longestString is how many UTF-16 units of a text are kept: a string of PDF/A has at most 32 767 bytes (ISO 19005-3,
// 6.1.13, from memory).
const longestString = 16000

// pdfTextString is text as a PDF holds it: plain, or in UTF-16 as digits (ISO 32000-1, 7.9.2.2).
func pdfTextString(text string) string {
	if plain(text) && len(text) < longestString {
		return "(" + strings.NewReplacer(`\`, `\\`, `(`, `\(`, `)`, `\)`).Replace(text) + ")"
	}
	units := utf16.Encode([]rune(text))
	if len(units) > longestString {
		units = units[:longestString]
	}
	b := make([]byte, 0, 4*len(units)+6)
	b = append(b, "<FEFF"...)
	for _, u := range units {
		b = fmt.Appendf(b, "%04X", u)
	}
	return string(append(b, '>'))
}

// letters is text without what has no place in a title: broken UTF-8, control characters, no characters.
func letters(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029:
			return ' '
		case r&0xfffe == 0xfffe || r == 0xfeff || r >= 0xfdd0 && r <= 0xfdef:
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
}
