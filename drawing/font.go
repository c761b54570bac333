package drawing

import (
	"bytes"
	"embed"
	"encoding/binary"
	"sync"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/harfbuzz"
	"github.com/klauspost/compress/zstd"
)

// B612 is the face of everything that is read; Noto Sans and Droid Sans Fallback hold the letters of names that it
// lacks. fonts/README.md says how the files were made and how they are licensed.
//
//go:embed fonts/*.zst
var fontFiles embed.FS

// face is one font file with what layout needs of it.
type face struct {
	name        string // of the file and in the PDF
	first, last rune   // it is asked for letters of this range only
	heavy       bool   // its bold is its regular with a line round each letter
	read        func() *fontData
}

// fontData is read once, when a letter first needs the face.
type fontData struct {
	glyphs map[rune]sign
	latin  [0x180]sign // the same for the letters that are asked most
	font   *font.Font
	tables map[string][]byte
	upem   float64
	shaper sync.Pool // of *shaper, which is not safe side by side
}

// sign is a glyph with its advance in whole thousandths of the size, as the PDF prints it.
type sign struct {
	gid  uint16
	wide float64
}

type shaper struct {
	font   *harfbuzz.Font
	buffer *harfbuzz.Buffer
}

type faceSet struct{ regular, bold []*face } // in the order in which they are asked

// faces is a table in all but the reading.
var faces = sync.OnceValue(func() *faceSet {
	var fs faceSet
	for _, f := range []struct {
		family, bold string
		first, last  rune
	}{
		{"B612", "Bold", ' ', 0xfb06},
		{"NotoSans", "Bold", ' ', 0x21ff},
		{"NotoSansMath", "", 0x2190, 0x22ff},
		{"NotoSansSymbols2", "", 0x2500, 0x26ff},
		{"NotoSansArabic", "Bold", 0x600, 0x200d},
		{"NotoSansHebrew", "Bold", 0x590, 0x5ff},
		{"DroidSansFallback", "", 0x2e80, 0xffef},
	} {
		load := func(name string, heavy bool) *face {
			return &face{name: name, first: f.first, last: f.last, heavy: heavy,
				read: sync.OnceValue(func() *fontData { return readFont(name) })}
		}
		regular := load(f.family+"-Regular", false)
		fs.regular = append(fs.regular, regular)
		if f.bold != "" {
			fs.bold = append(fs.bold, load(f.family+"-Bold", false))
		} else {
			heavy := *regular
			heavy.heavy = true
			fs.bold = append(fs.bold, &heavy)
		}
	}
	return &fs
})

// holds gives the glyph of r.
func (f *face) holds(r rune) (sign, bool) {
	if r < f.first || r > f.last {
		return sign{}, false
	}
	data := f.read()
	if int(r) < len(data.latin) {
		return data.latin[r], data.latin[r].gid != 0
	}
	l, ok := data.glyphs[r]
	return l, ok
}

// pick returns the first face that holds r with its glyph, or nil.
func (fs *faceSet) pick(r rune, bold bool) (*face, sign) {
	if r >= 0xe000 && r <= 0xf8ff {
		return nil, sign{} // for private use: nobody else could read it (ISO 19005-3, 6.2.11.7.3, from memory)
	}
	of := fs.regular
	if bold {
		of = fs.bold
	}
	for _, f := range of {
		if l, ok := f.holds(r); ok {
			return f, l
		}
	}
	return nil, sign{}
}

// fontBytes gives an embedded file. The files are ours, so a damaged one is a broken invariant.
func fontBytes(name string) []byte {
	packed, err := fontFiles.ReadFile("fonts/" + name + ".ttf.zst")
	if err != nil {
		panic("drawing: no embedded font " + name)
	}
	z, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1))
	if err != nil {
		panic(err)
	}
	defer z.Close()
	data, err := z.DecodeAll(packed, nil)
	if err != nil {
		panic("drawing: embedded font " + name + ": " + err.Error())
	}
	return data
}

func readFont(name string) *fontData {
	data := fontBytes(name)
	parsed, err := font.ParseTTF(bytes.NewReader(data))
	if err != nil {
		panic("drawing: embedded font " + name + ": " + err.Error())
	}
	f := &fontData{font: parsed.Font, tables: map[string][]byte{}, glyphs: map[rune]sign{},
		upem: float64(parsed.Upem())}
	be := binary.BigEndian
	for i := range int(be.Uint16(data[4:])) { // the table directory (OpenType 1.9)
		rec := data[12+16*i:]
		at := be.Uint32(rec[8:])
		f.tables[string(rec[:4])] = data[at : at+be.Uint32(rec[12:])]
	}
	for each := parsed.Cmap.Iter(); each.Next(); {
		if r, gid := each.Char(); gid != 0 {
			f.glyphs[r] = sign{uint16(gid), f.advance(uint16(gid))}
		}
	}
	for r := range f.latin {
		f.latin[r] = f.glyphs[rune(r)]
	}
	f.shaper.New = func() any {
		return &shaper{harfbuzz.NewFont(font.NewFace(parsed.Font)), harfbuzz.NewBuffer()}
	}
	return f
}

// advance is how far the pen goes for a glyph, in whole thousandths of the size.
func (f *fontData) advance(gid uint16) float64 {
	be, hhea, hmtx := binary.BigEndian, f.tables["hhea"], f.tables["hmtx"]
	at := min(gid, be.Uint16(hhea[34:])-1)
	return f.thousandths(float64(be.Uint16(hmtx[4*int(at):])))
}

func (f *fontData) thousandths(units float64) float64 { return float64(int(units*1000/f.upem + 0.5)) }
