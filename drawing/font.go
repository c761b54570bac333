package drawing

import (
	_ "embed"
	"encoding/binary"
	"sync"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// B612 (SIL Open Font License 1.1, see fonts/OFL.txt) is the face of everything
// that is read. fonts/README.md says how the files were made.
//
//go:embed fonts/B612-Regular.ttf
var b612Regular []byte

//go:embed fonts/B612-Bold.ttf
var b612Bold []byte

// face is one font file with what layout needs of it.
type face struct {
	family, style string // as the PDF writer knows it
	data          []byte
	widths        map[rune]float64 // advance in thousandths of the size
}

type faceSet struct{ regular, bold [2]*face } // B612 first, then the fallback

// faces reads the metrics once. It is a table in all but the reading.
var faces = sync.OnceValue(func() *faceSet {
	load := func(family, style string, data []byte) *face {
		return &face{family, style, data, readWidths(data)}
	}
	return &faceSet{
		regular: [2]*face{load("B612", "", b612Regular), load("Go", "", goregular.TTF)},
		bold:    [2]*face{load("B612", "B", b612Bold), load("Go", "B", gobold.TTF)},
	}
})

func (fs *faceSet) of(bold bool) [2]*face {
	if bold {
		return fs.bold
	}
	return fs.regular
}

// pick returns the face that holds r, or nil.
func (fs *faceSet) pick(r rune, bold bool) *face {
	for _, f := range fs.of(bold) {
		if _, ok := f.widths[r]; ok {
			return f
		}
	}
	return nil
}

// readWidths reads the advance of every character of a TrueType file (tables
// head, hhea, hmtx and a format 4 cmap, OpenType 1.9). The embedded files are ours,
// so a malformed one is a broken invariant.
func readWidths(data []byte) map[rune]float64 {
	be := binary.BigEndian
	table := map[string][]byte{}
	for i := range int(be.Uint16(data[4:])) {
		rec := data[12+16*i:]
		off, n := be.Uint32(rec[8:]), be.Uint32(rec[12:])
		table[string(rec[:4])] = data[off : off+n]
	}
	upem := float64(be.Uint16(table["head"][18:]))
	metrics := int(be.Uint16(table["hhea"][34:]))
	hmtx, cmap := table["hmtx"], table["cmap"]
	advance := func(gid int) float64 {
		gid = min(gid, metrics-1)
		// whole thousandths, as the PDF prints them
		return float64(int(float64(be.Uint16(hmtx[4*gid:]))*1000/upem + 0.5))
	}
	var sub []byte
	for i := range int(be.Uint16(cmap[2:])) {
		rec := cmap[4+8*i:]
		t := cmap[be.Uint32(rec[4:]):]
		if be.Uint16(rec) == 3 && be.Uint16(rec[2:]) == 1 && be.Uint16(t) == 4 {
			sub = t
		}
	}
	if sub == nil {
		panic("drawing: embedded font without a Windows Unicode character map")
	}
	widths := map[rune]float64{}
	segs := int(be.Uint16(sub[6:])) / 2
	ends, starts := sub[14:], sub[16+2*segs:]
	deltas, offsets := starts[2*segs:], starts[4*segs:]
	for i := range segs {
		end, start := int(be.Uint16(ends[2*i:])), int(be.Uint16(starts[2*i:]))
		delta, off := int(be.Uint16(deltas[2*i:])), int(be.Uint16(offsets[2*i:]))
		for c := start; c <= end && c != 0xFFFF; c++ {
			gid := (c + delta) & 0xFFFF
			if off != 0 {
				if gid = int(be.Uint16(offsets[2*i+off+2*(c-start):])); gid != 0 {
					gid = (gid + delta) & 0xFFFF
				}
			}
			if gid != 0 {
				widths[rune(c)] = advance(gid)
			}
		}
	}
	return widths
}
