// Package wav reads sound-card recordings: RIFF/WAVE, RIFX, RF64 and BW64 with integers of 8 to 64 bits or floats. It
// gives the values by channel, full scale as 1; a sound card has no DC, so levels are relative.
//
// Sources: RIFF (Microsoft and IBM), RF64 (EBU Tech 3306), BW64 (ITU-R BS.2088).
package wav

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"phasewright/waveform/block"
)

// Layout is what the header says.
type Layout struct {
	Channels int
	Rate     float64 // frames a second
	Body     int64   // byte where the samples begin
	Frames   int64   // -1: to the end
	Warnings []block.Warning

	bytes int // of one sample's container
	float bool
	order binary.ByteOrder
	mask  uint32 // of a short integer where it stands in the upper bits of four bytes
}

// Frame is how many bytes one sample of each channel takes.
func (l *Layout) Frame() int { return l.Channels * l.bytes }

// subFormat is the tail of a WAVE_FORMAT_EXTENSIBLE sub-format GUID whose first two bytes are a format code.
var subFormat = []byte{0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xaa, 0x00, 0x38, 0x9b, 0x71}

// refusedFormats are compressed forms that are refused by name.
var refusedFormats = map[uint16]string{2: "ADPCM", 6: "A-law", 7: "µ-law", 0x11: "IMA ADPCM", 0x31: "GSM 6.10",
	0x50: "MPEG", 0x55: "MPEG layer 3"}

// Format codes.
const (
	formatInteger    = 1
	formatFloat      = 3
	formatExtensible = 0xfffe
)

const (
	maxChannels = 1024
	copyAgain   = "copy the file again"
	saveAnew    = "copy the file again, or save it anew"
)

// header is a walk over the chunks before the samples.
type header struct {
	r     io.ReaderAt
	size  int64 // of the input; -1 unknown
	front int64 // how far r can be read where the size is unknown
	lay   *Layout
	long  uint64 // ds64: size of the samples, where 32 bits do not hold it
	has64 bool
}

// Head walks the chunks up to the samples. size is that of the input in bytes; -1 when it is not known: then no more
// than the first front bytes are looked at.
func Head(r io.ReaderAt, size, front int64) (*Layout, *block.Problem) {
	h := &header{r: r, size: size, front: front, lay: &Layout{order: binary.LittleEndian, Frames: -1}}
	first, p := h.read(0, 12, "its first header")
	if p != nil {
		return nil, p
	}
	id := string(first[:4])
	if id == "RIFX" {
		h.lay.order = binary.BigEndian
	}
	if string(first[8:12]) != "WAVE" {
		return nil, block.AtByte(block.ErrMalformed, 8, "it must be a WAVE file",
			"a RIFF file of form %q is no recording",
			first[8:12])
	}
	h.has64 = id == "RF64" || id == "BW64"
	if p := h.chunks(); p != nil {
		return nil, p
	}
	return h.lay, nil
}

// read gives n bytes at a place; what names them where the file ends before.
func (h *header) read(at int64, n int, what string) ([]byte, *block.Problem) {
	b := make([]byte, n)
	if k, _ := h.r.ReadAt(b, at); k < n {
		return nil, block.AtByte(block.ErrTruncated, at, copyAgain, "the file ends in %s", what)
	}
	return b, nil
}

func (h *header) chunks() *block.Problem {
	l, where := h.lay, "its header, before the format"
	for pos := int64(12); ; {
		c, p := h.read(pos, 8, where)
		if p != nil {
			return p
		}
		name, size := string(c[:4]), int64(l.order.Uint32(c[4:]))
		switch name {
		case "ds64":
			b, p := h.read(pos+8, 28, "its ds64 chunk")
			if p != nil {
				return p
			}
			h.long = l.order.Uint64(b[8:])
		case "fmt ":
			if size < 16 || size > 4096 {
				return block.AtByte(block.ErrMalformed, pos, saveAnew,
					"the format chunk is %d bytes long; 16, 18 or 40 are usual", size)
			}
			b, p := h.read(pos+8, int(size), "its format chunk")
			if p != nil {
				return p
			}
			if p := l.format(b, pos); p != nil {
				return p
			}
			where = "its header, before any samples"
		case "data":
			if l.Channels == 0 {
				return block.AtByte(block.ErrMalformed, pos, saveAnew, "samples stand before their format")
			}
			l.Body = pos + 8
			return h.length(size, pos)
		}
		if size > math.MaxUint32-8 {
			return block.AtByte(block.ErrMalformed, pos, saveAnew,
				"chunk %q claims %d bytes before the samples", name, size)
		}
		pos += 8 + size + size&1
		if h.size < 0 && pos > h.front {
			return block.AtByte(block.ErrImpossible, pos, "decompress it to disk first, and name the file",
				"the samples do not begin within %d MiB", h.front>>20)
		}
	}
}

// format reads the format chunk and refuses what it contradicts.
func (l *Layout) format(b []byte, pos int64) *block.Problem {
	tag := l.order.Uint16(b)
	l.Channels = int(l.order.Uint16(b[2:]))
	l.Rate = float64(l.order.Uint32(b[4:]))
	align := int(l.order.Uint16(b[12:]))
	bits := int(l.order.Uint16(b[14:]))
	l.bytes = (bits + 7) / 8
	if tag == formatExtensible {
		if len(b) < 40 || !bytes.Equal(b[26:40], subFormat) {
			return block.AtByte(block.ErrMalformed, pos, "save it as plain PCM",
				"the extensible format has a sub-format that is not known")
		}
		tag = l.order.Uint16(b[24:])
	}
	refused := func(kind error, remedy, format string, args ...any) *block.Problem {
		return block.AtByte(kind, pos, remedy, format, args...)
	}
	switch name := refusedFormats[tag]; {
	case name != "":
		return refused(block.ErrMalformed, "save it as PCM", "the samples are %s, which cannot be timed", name)
	case tag != formatInteger && tag != formatFloat:
		return refused(block.ErrMalformed, "save it as PCM", "sample format 0x%04x is not read", tag)
	case l.Channels == 0 || l.Channels > maxChannels:
		return refused(block.ErrImpossible, saveAnew, "the header claims %d channels", l.Channels)
	case l.Rate == 0:
		return refused(block.ErrImpossible, saveAnew, "the sample rate is 0")
	case bits == 0 || l.bytes > 8:
		return refused(block.ErrMalformed, "save it as 16, 24 or 32 bit", "%d bits a sample are not read", bits)
	case tag == formatFloat && l.bytes != 4 && l.bytes != 8:
		return refused(block.ErrMalformed, "save it as 32 or 64 bit float", "%d bits a float sample are not read", bits)
	case align != l.Channels*l.bytes:
		return refused(block.ErrMalformed, "the header contradicts itself; save the recording again",
			"block alignment is %d bytes, but %d channels of %d bytes need %d", align, l.Channels, l.bytes, l.Frame())
	}
	l.float = tag == formatFloat
	l.mask = maskOf(l.bytes)
	return nil
}

// length finds how many frames there are. A size of 0, of 2³²-1 or beyond the end of the file means: read to the end,
// and say so.
func (h *header) length(size, pos int64) *block.Problem {
	l := h.lay
	warn := func(format string, args ...any) {
		l.Warnings = append(l.Warnings, block.Warning{Byte: pos, Channel: -1, Text: fmt.Sprintf(format, args...)})
	}
	known := size != 0 && size != math.MaxUint32
	if size == math.MaxUint32 && h.has64 {
		if h.long > math.MaxInt64/2 {
			return block.AtByte(block.ErrImpossible, pos, saveAnew, "the header claims %d bytes of samples", h.long)
		}
		size, known = int64(h.long), h.long != 0
	}
	left := h.size - l.Body
	switch {
	case h.size < 0 && !known:
		warn("the header does not say how long the recording is: read to the end")
	case h.size >= 0 && known && size > left:
		warn("the header claims %d bytes of samples, %d are there: read to the end", size, left)
		known = false
	case h.size >= 0 && !known && left > 0:
		warn("the header does not say how long the recording is (cut off?): read to the end")
	}
	if frame := int64(l.Frame()); known {
		l.Frames = size / frame
		if size%frame != 0 {
			warn("%d bytes of samples are no whole number of %d-byte frames: the rest is left out", size, frame)
		}
	}
	return nil
}
