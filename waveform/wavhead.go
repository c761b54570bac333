package waveform

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
)

// wavLayout is what a RIFF/WAVE header says (Microsoft/IBM RIFF; RF64: EBU Tech 3306; BW64: ITU-R BS.2088).
type wavLayout struct {
	channels int
	rate     float64
	bytes    int // of one sample's container
	bits     int // of them valid, left-justified
	float    bool
	order    binary.ByteOrder
	body     int64 // where samples begin
	frames   int64 // -1: to the end
	scale    float64
	warnings []Warning
}

// subFormat is the tail of a WAVE_FORMAT_EXTENSIBLE sub-format GUID whose first two bytes are a format code.
var subFormat = []byte{0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xaa, 0x00, 0x38, 0x9b, 0x71}

// refusedFormats are compressed forms that are refused by name.
var refusedFormats = map[uint16]string{2: "ADPCM", 6: "A-law", 7: "µ-law", 0x11: "IMA ADPCM", 0x31: "GSM 6.10", 0x50: "MPEG", 0x55: "MPEG layer 3"}

const (
	maxWavChannels = 1024
	maxWavHead     = 8 << 20 // of a stream: what stands before the samples must be kept
)

// wavHead walks the chunks up to the data.
func wavHead(src *source) (*wavLayout, *Problem) {
	l := &wavLayout{order: binary.LittleEndian, frames: -1}
	most := int64(maxWavHead)
	if src.at != nil {
		most = max(src.size, most)
	}
	at := func(pos int64, n int) []byte {
		if pos+int64(n) > int64(len(src.head)) {
			if src.at != nil {
				b := make([]byte, n)
				if k, _ := src.at.ReadAt(b, pos); k < n {
					return nil
				}
				return b
			}
			if pos+int64(n) < most {
				src.fillHead(int(pos) + n + 4096)
			}
		}
		if pos+int64(n) > int64(len(src.head)) {
			return nil
		}
		return src.head[pos : pos+int64(n)]
	}
	short := func(pos int64, what string) *Problem {
		return problemAtByte(ErrTruncated, pos, "copy the file again", "the file ends in %s", what)
	}
	h := at(0, 12)
	if h == nil {
		return nil, short(0, "its first header")
	}
	id := string(h[:4])
	if id == "RIFX" {
		l.order = binary.BigEndian
	}
	if string(h[8:12]) != "WAVE" {
		return nil, problemAtByte(ErrMalformed, 8, "it must be a WAVE file", "a RIFF file of form %q is no recording", h[8:12])
	}
	var ds64 uint64
	has64, haveFmt := false, false
	for pos := int64(12); ; {
		c := at(pos, 8)
		if c == nil {
			if !haveFmt {
				return nil, short(pos, "its header, before the format")
			}
			return nil, short(pos, "its header, before any samples")
		}
		name, size := string(c[:4]), int64(l.order.Uint32(c[4:]))
		switch name {
		case "ds64":
			b := at(pos+8, 28)
			if b == nil {
				return nil, short(pos, "its ds64 chunk")
			}
			ds64, has64 = l.order.Uint64(b[8:]), id != "RIFF" && id != "RIFX"
		case "fmt ":
			if size < 16 || size > 4096 {
				return nil, problemAtByte(ErrMalformed, pos, "copy the file again, or save it anew", "the format chunk is %d bytes long; 16, 18 or 40 are usual", size)
			}
			b := at(pos+8, int(size))
			if b == nil {
				return nil, short(pos, "its format chunk")
			}
			if p := l.format(b, pos); p != nil {
				return nil, p
			}
			haveFmt = true
		case "data":
			if !haveFmt {
				return nil, problemAtByte(ErrMalformed, pos, "copy the file again, or save it anew", "samples stand before their format")
			}
			l.body = pos + 8
			return l, l.length(src, size, ds64, has64, pos)
		}
		if size > math.MaxUint32-8 {
			return nil, problemAtByte(ErrMalformed, pos, "copy the file again, or save it anew", "chunk %q claims %d bytes before the samples", name, size)
		}
		pos += 8 + size + size&1
		if pos > most && src.at == nil {
			return nil, problemAtByte(ErrImpossible, pos, "decompress it to disk first, and name the file", "the samples do not begin within %d MiB", maxWavHead>>20)
		}
	}
}

// format reads the format chunk and refuses what it contradicts.
func (l *wavLayout) format(b []byte, pos int64) *Problem {
	tag := l.order.Uint16(b)
	l.channels = int(l.order.Uint16(b[2:]))
	l.rate = float64(l.order.Uint32(b[4:]))
	align := int(l.order.Uint16(b[12:]))
	l.bits = int(l.order.Uint16(b[14:]))
	l.bytes = (l.bits + 7) / 8
	if tag == 0xfffe {
		if len(b) < 40 || !bytes.Equal(b[26:40], subFormat) {
			return problemAtByte(ErrMalformed, pos, "save it as plain PCM", "the extensible format has a sub-format that is not known")
		}
		if valid := int(l.order.Uint16(b[18:])); valid > 0 && valid <= l.bits {
			l.bits = valid
		}
		tag = l.order.Uint16(b[24:])
	}
	if name, bad := refusedFormats[tag]; bad {
		return problemAtByte(ErrMalformed, pos, "save it as PCM", "the samples are %s, which cannot be timed", name)
	}
	switch {
	case tag != 1 && tag != 3:
		return problemAtByte(ErrMalformed, pos, "save it as PCM", "sample format 0x%04x is not read", tag)
	case l.channels == 0 || l.channels > maxWavChannels:
		return problemAtByte(ErrImpossible, pos, "copy the file again, or save it anew", "the header claims %d channels", l.channels)
	case l.rate == 0:
		return problemAtByte(ErrImpossible, pos, "copy the file again, or save it anew", "the sample rate is 0")
	case l.bits == 0 || l.bytes > 8:
		return problemAtByte(ErrMalformed, pos, "save it as 16, 24 or 32 bit", "%d bits a sample are not read", l.bits)
	case tag == 3 && l.bytes != 4 && l.bytes != 8:
		return problemAtByte(ErrMalformed, pos, "save it as 32 or 64 bit float", "%d bits a float sample are not read", l.bits)
	case align != l.channels*l.bytes:
		return problemAtByte(ErrMalformed, pos, "the header contradicts itself; save the recording again", "block alignment is %d bytes, but %d channels of %d bytes need %d", align, l.channels, l.bytes, l.channels*l.bytes)
	}
	l.float = tag == 3
	l.scale = 1
	if !l.float {
		l.scale = math.Ldexp(1, -(8*l.bytes - 1)) // full scale is 1, whatever bits are valid
	}
	return nil
}

// length settles how many frames there are. A size of 0, of 2³²-1 or beyond the end of the file means: read to the end, and say so.
func (l *wavLayout) length(src *source, size int64, ds64 uint64, has64 bool, pos int64) *Problem {
	frame := int64(l.channels * l.bytes)
	known := size != 0 && size != math.MaxUint32
	if size == math.MaxUint32 && has64 {
		if ds64 > math.MaxInt64/2 {
			return problemAtByte(ErrImpossible, pos, "copy the file again, or save it anew", "the header claims %d bytes of samples", ds64)
		}
		size, known = int64(ds64), ds64 != 0
	}
	if src.at != nil {
		left := src.size - l.body
		if known && size > left {
			l.warnings = append(l.warnings, Warning{Byte: pos, Channel: -1, Text: fmt.Sprintf("the header claims %d bytes of samples, %d are there: read to the end", size, left)})
			known = false
		} else if !known && left > 0 {
			l.warnings = append(l.warnings, Warning{Byte: pos, Channel: -1, Text: "the header does not say how long the recording is (cut off?): read to the end"})
		}
	} else if !known {
		l.warnings = append(l.warnings, Warning{Byte: pos, Channel: -1, Text: "the header does not say how long the recording is: read to the end"})
	}
	if known {
		l.frames = size / frame
		if size%frame != 0 {
			l.warnings = append(l.warnings, Warning{Byte: pos, Channel: -1, Text: fmt.Sprintf("%d bytes of samples are no whole number of %d-byte frames: the rest is left out", size, frame)})
		}
	}
	return nil
}
