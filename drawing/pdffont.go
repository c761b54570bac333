package drawing

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"unicode/utf16"
)

// pdfFont is a face with the glyphs that a document uses. A glyph that stands for two texts is two glyphs.
type pdfFont struct {
	face   *face
	name   string // in the pages' resources
	number int    // of the object
	ids    map[pdfGlyph]uint16
	order  []pdfGlyph // from id 1
}

type pdfGlyph struct {
	gid  uint16
	text string
}

// id is the code of a glyph in the document.
func (f *pdfFont) id(g glyph) uint16 {
	key := pdfGlyph{g.gid, g.text}
	id, ok := f.ids[key]
	if !ok {
		f.order = append(f.order, key)
		id = uint16(len(f.order))
		f.ids[key] = id
	}
	return id
}

// write adds the font with the glyphs used: a TrueType font by glyph number (ISO 32000-1, 9.7.4) that says which
// letters its glyphs are.
func (f *pdfFont) write(out *pdfOut) {
	data := f.face.read()
	name := subsetTag(f.order) + "+" + f.face.name
	program := subset(data, f.order)
	file := out.packed(fmt.Sprintf("/Length1 %d", len(program)), program)
	be, head, hhea := binary.BigEndian, data.tables["head"], data.tables["hhea"]
	unit := func(table []byte, at int) float64 { return float64(int16(be.Uint16(table[at:]))) * 1000 / data.upem }
	descriptor := out.add("<</Type /FontDescriptor /FontName /%s /Flags 4 /FontBBox [%.0f %.0f %.0f %.0f] "+
		"/ItalicAngle 0 /Ascent %.0f /Descent %.0f /CapHeight %.0f /StemV 80 /FontFile2 %d 0 R>>", name, unit(head, 36),
		unit(head, 38), unit(head, 40), unit(head, 42), unit(hhea, 4), unit(hhea, 6), capHeight*1000, file)
	var widths strings.Builder
	fmt.Fprintf(&widths, "0 [%.0f", data.advance(0))
	for _, g := range f.order {
		fmt.Fprintf(&widths, " %.0f", data.advance(g.gid))
	}
	child := out.add("<</Type /Font /Subtype /CIDFontType2 /BaseFont /%s /CIDSystemInfo <</Registry (Adobe) "+
		"/Ordering (Identity) /Supplement 0>> /FontDescriptor %d 0 R /DW 1000 /W [%s]] /CIDToGIDMap /Identity>>",
		name, descriptor, widths.String())
	letters := out.packed("", f.toUnicode())
	out.set(f.number, fmt.Sprintf("<</Type /Font /Subtype /Type0 /BaseFont /%s /Encoding /Identity-H "+
		"/DescendantFonts [%d 0 R] /ToUnicode %d 0 R>>", name, child, letters))
}

// subsetTag are six letters that tell one subset from another (ISO 32000-1, 9.6.4).
func subsetTag(order []pdfGlyph) string {
	hash := uint64(14695981039346656037) // FNV-1a, 64 bits (RFC 9923)
	for _, g := range order {
		hash = (hash ^ uint64(g.gid)) * 1099511628211
	}
	var b [6]byte
	for i := range b {
		b[i] = 'A' + byte(hash%26)
		hash /= 26
	}
	return string(b[:])
}

// toUnicode says which letters the glyphs are (ISO 32000-1, 9.10.3). What has none of its own, as the second part of
// a letter, is a zero width space.
func (f *pdfFont) toUnicode() []byte {
	var b bytes.Buffer
	b.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n" +
		"/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n" +
		"/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	for from := 0; from < len(f.order); from += 100 {
		part := f.order[from:min(from+100, len(f.order))]
		fmt.Fprintf(&b, "%d beginbfchar\n", len(part))
		for i, g := range part {
			text := g.text
			if text == "" {
				text = "\u200b"
			}
			fmt.Fprintf(&b, "<%04X> <", from+i+1)
			for _, u := range utf16.Encode([]rune(text)) {
				fmt.Fprintf(&b, "%04X", u)
			}
			b.WriteString(">\n")
		}
		b.WriteString("endbfchar\n")
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	return b.Bytes()
}

// outline is what a font says of a glyph's shape (OpenType 1.9, loca and glyf).
func (f *fontData) outline(gid uint16) []byte {
	be, at, loca, glyf := binary.BigEndian, int(gid), f.tables["loca"], f.tables["glyf"]
	if be.Uint16(f.tables["head"][50:]) == 1 {
		return glyf[be.Uint32(loca[4*at:]):be.Uint32(loca[4*at+4:])]
	}
	return glyf[2*int(be.Uint16(loca[2*at:])) : 2*int(be.Uint16(loca[2*at+2:]))]
}

// subset is a TrueType font of the glyphs given, from glyph 1, with the tables that a PDF needs (ISO 32000-1, 9.9).
// Parts of composed glyphs come behind them (OpenType 1.9, glyf).
func subset(data *fontData, order []pdfGlyph) []byte {
	be := binary.BigEndian
	gids := []uint16{0}
	parts := map[uint16]uint16{} // of composed glyphs, as they are numbered here
	for _, g := range order {
		gids = append(gids, g.gid)
	}
	var glyf, loca, hmtx []byte
	for i := 0; i < len(gids); i++ { // grows while it is walked
		loca = be.AppendUint32(loca, uint32(len(glyf)))
		hhea, metrics := data.tables["hhea"], data.tables["hmtx"]
		long := be.Uint16(hhea[34:])
		at := min(gids[i], long-1)
		hmtx = append(hmtx, metrics[4*int(at):4*int(at)+2]...)
		if gids[i] < long {
			hmtx = append(hmtx, metrics[4*int(at)+2:4*int(at)+4]...)
		} else {
			bearing := 4*int(long) + 2*int(gids[i]-long)
			hmtx = append(hmtx, metrics[bearing:bearing+2]...)
		}
		shape := bytes.Clone(data.outline(gids[i]))
		if len(shape) > 0 && int16(be.Uint16(shape)) < 0 {
			renumber(shape, func(part uint16) uint16 {
				n, ok := parts[part]
				if !ok {
					gids = append(gids, part)
					n = uint16(len(gids) - 1)
					parts[part] = n
				}
				return n
			})
		}
		glyf = append(glyf, shape...)
		for len(glyf)%4 != 0 {
			glyf = append(glyf, 0)
		}
	}
	loca = be.AppendUint32(loca, uint32(len(glyf)))
	own := func(table string) []byte { return bytes.Clone(data.tables[table]) }
	head, hhea, maxp := own("head"), own("hhea"), own("maxp")
	be.PutUint32(head[8:], 0)  // the sum of the file is made below
	be.PutUint16(head[50:], 1) // long places
	be.PutUint16(hhea[34:], uint16(len(gids)))
	be.PutUint16(maxp[4:], uint16(len(gids)))
	return fontFile([]fontTable{{"glyf", glyf}, {"head", head}, {"hhea", hhea}, {"hmtx", hmtx}, {"loca", loca},
		{"maxp", maxp}})
}

// renumber changes the numbers of a composed glyph's parts.
func renumber(shape []byte, to func(part uint16) uint16) {
	const words, scaled, more, scaledTwice, turned = 1, 8, 32, 64, 128 // flags (OpenType 1.9, glyf)
	be := binary.BigEndian
	for at, again := 10, true; again; {
		flags := be.Uint16(shape[at:])
		be.PutUint16(shape[at+2:], to(be.Uint16(shape[at+2:])))
		at += 6
		if flags&words != 0 {
			at += 2
		}
		switch {
		case flags&scaled != 0:
			at += 2
		case flags&scaledTwice != 0:
			at += 4
		case flags&turned != 0:
			at += 8
		}
		again = flags&more != 0
	}
}

type fontTable struct {
	name string
	data []byte
}

// fontFile puts tables, in the order of their names, into a font file (OpenType 1.9, organization of a font).
func fontFile(tables []fontTable) []byte {
	be := binary.BigEndian
	n := len(tables)
	power, log := 1, 0
	for power*2 <= n {
		power, log = power*2, log+1
	}
	out := be.AppendUint32(nil, 0x00010000)
	for _, v := range []int{n, power * 16, log, (n - power) * 16} {
		out = be.AppendUint16(out, uint16(v))
	}
	at := 12 + 16*n
	head := 0
	for _, t := range tables {
		if t.name == "head" {
			head = at
		}
		out = append(out, t.name...)
		out = be.AppendUint32(out, fontSum(t.data))
		out = be.AppendUint32(out, uint32(at))
		out = be.AppendUint32(out, uint32(len(t.data)))
		at += (len(t.data) + 3) &^ 3
	}
	for _, t := range tables {
		out = append(out, t.data...)
		for len(out)%4 != 0 {
			out = append(out, 0)
		}
	}
	be.PutUint32(out[head+8:], 0xB1B0AFBA-fontSum(out))
	return out
}

func fontSum(data []byte) (sum uint32) {
	for i := 0; i < len(data); i += 4 {
		var word [4]byte
		copy(word[:], data[i:])
		sum += binary.BigEndian.Uint32(word[:])
	}
	return sum
}
