package drawing

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"time"
)

// The primaries of sRGB under D50 are those that published profiles of sRGB hold (to four places, from memory), and
// together they are white.
func TestPrimariesOfTheProfile(t *testing.T) {
	rgb, _ := adapted()
	for k, want := range [3]xyz{{0.4360, 0.2225, 0.0139}, {0.3851, 0.7169, 0.0971}, {0.1431, 0.0606, 0.7141}} {
		for i := range 3 {
			if math.Abs(rgb[k][i]-want[i]) > 0.0002 {
				t.Errorf("primary %d is %.4f, published %.4f", k, rgb[k], want)
				break
			}
		}
	}
	for i := range 3 {
		if sum := rgb[0][i] + rgb[1][i] + rgb[2][i]; math.Abs(sum-d50[i]) > 1e-9 {
			t.Errorf("the primaries together are %g of %g", sum, d50[i])
		}
	}
	be, p := binary.BigEndian, srgb()
	if int(be.Uint32(p)) != len(p) || len(p)%4 != 0 {
		t.Errorf("a profile of %d bytes says it has %d", len(p), be.Uint32(p))
	}
	for i := range int(be.Uint32(p[128:])) { // each tag begins with the name of its type and lies in the file
		tag := p[132+12*i:]
		at, n := int(be.Uint32(tag[4:])), int(be.Uint32(tag[8:]))
		if at%4 != 0 || at+n > len(p) || !strings.Contains("mluc XYZ para sf32", string(p[at:at+4])) {
			t.Errorf("tag %s at %d, %d bytes", tag[:4], at, n)
		}
	}
}

// A subset holds the outlines of the face, also of composed glyphs, and its sums are right (OpenType 1.9).
func TestSubsetHoldsTheOutlines(t *testing.T) {
	be := binary.BigEndian
	for name, text := range map[string]string{"B612-Regular": "Ab1°é", "DroidSansFallback-Regular": "漁船渡汽艇号", "NotoSans-Bold": "ᾥΆЇỄ", "NotoSansArabic-Regular": "سفينة"} {
		data := readFont(name)
		var order []pdfGlyph
		for _, r := range text {
			order = append(order, pdfGlyph{gid: data.glyphs[r].gid, text: string(r)})
		}
		program := subset(data, order)
		if sum := fontSum(program); sum != 0xB1B0AFBA {
			t.Errorf("%s: the file sums to %X", name, sum)
		}
		cut := &fontData{tables: map[string][]byte{}}
		for i := range int(be.Uint16(program[4:])) {
			rec := program[12+16*i:]
			at, n := be.Uint32(rec[8:]), be.Uint32(rec[12:])
			cut.tables[string(rec[:4])] = program[at : at+n]
		}
		composed := 0
		var same func(was, is uint16)
		same = func(was, is uint16) {
			a, b := data.outline(was), bytes.TrimRight(cut.outline(is), "\x00")
			if len(a) > 0 && int16(be.Uint16(a)) < 0 {
				composed++
				var old, now []uint16
				a, b = bytes.Clone(a), bytes.Clone(cut.outline(is))
				renumber(a, func(p uint16) uint16 { old = append(old, p); return 0 })
				renumber(b, func(p uint16) uint16 { now = append(now, p); return 0 })
				b = bytes.TrimRight(b, "\x00")
				for i := range old {
					same(old[i], now[i])
				}
			}
			if !bytes.Equal(bytes.TrimRight(a, "\x00"), b) {
				t.Errorf("%s: glyph %d became another, %d", name, was, is)
			}
		}
		for i, g := range order {
			same(g.gid, uint16(i+1))
		}
		if name != "B612-Regular" && name != "NotoSansArabic-Regular" && composed == 0 {
			t.Errorf("%s: no composed glyph was looked at", name)
		}
	}
}

// Another word is another identifier; without a date the file has none.
func TestIdentifierAndDate(t *testing.T) {
	id := func(words string, at time.Time) string {
		d := New(50, 50, "one", "")
		d.Text(5, 10, words, Body)
		data, err := PDF(Document{Title: "one", Date: at, Pages: []*Drawing{d}})
		if err != nil {
			t.Fatal(err)
		}
		if dated := bytes.Contains(data, []byte("xmp:CreateDate")); dated == at.IsZero() {
			t.Errorf("dated %v, %v", at, dated)
		}
		_, rest, _ := bytes.Cut(data, []byte("/ID [<"))
		return string(rest[:32])
	}
	if a, b, c := id("a", someDay), id("b", someDay), id("a", time.Time{}); a == b || a == c || a != id("a", someDay) {
		t.Errorf("identifiers %s, %s, %s", a, b, c)
	}
}
