package report

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	_ "image/gif" // photos may come in this form
	"image/jpeg"
	_ "image/png" // or in this one

	"phasewright/drawing"
)

// Photographs as they are printed: two abreast, at 250 dots an inch, which is what a page printer shows of one.
const (
	photoDots    = 900      // the most along its longer side
	photoQuality = 82       // of JPEG
	photoPixels  = 64 << 20 // of what is opened: a phone's photo has 12 to 50 million
	photoHigh    = 62.0     // mm, the most that one stands high
)

var errPhoto = errors.New("not a picture that can be printed: take it as JPEG or PNG")

// photos prints the pictures that prove steps, two abreast.
func (f *flow) photos(list []Photo) {
	if len(list) == 0 {
		return
	}
	f.headingOf("Photographs", photoHigh+12)
	wide := f.columnWidth()
	words := drawing.Note.Sized(2.5)
	for i := 0; i < len(list); i += 2 {
		row := list[i:min(i+2, len(list))]
		high := 0.0
		var blocks []block
		for _, p := range row {
			says := drawing.Wrap(p.Title+"; "+or(p.By, "")+", "+or(p.When, ""), wide, words)
			f.heed(p.Title + p.By)
			data, w, h, err := printable(p.Data)
			if err != nil {
				says = append(says, drawing.Wrap(p.File+" is not printed: it is "+err.Error(), wide, words)...)
			} else {
				scale := min(wide/w, photoHigh/h)
				w, h = w*scale, h*scale
			}
			high = max(high, h+float64(len(says))*words.Size*1.3+3)
			blocks = append(blocks, block{draw: func(x, y float64) {
				if data != nil {
					f.d.Picture(x, y, w, h, data, p.Title)
					y += h + 0.8
				}
				for _, line := range says {
					y += words.Size * 1.3
					f.d.Text(x, y, line, words)
				}
			}})
		}
		f.need(high)
		for k, b := range blocks {
			b.draw(inset+float64(k)*(wide+6), f.y)
		}
		f.y += high
	}
	f.y += gap
}

// printable makes a small upright JPEG of a photo, and says how wide and high it is, in dots.
func printable(data []byte) (out []byte, w, h float64, err error) {
	c, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || c.Width <= 0 || c.Height <= 0 || c.Width > photoPixels/c.Height {
		return nil, 0, 0, errPhoto
	}
	src, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, 0, 0, errPhoto
	}
	turn := 1
	if kind == "jpeg" {
		turn = orientation(data)
	}
	small := shrunk(src, turn)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: photoQuality}); err != nil {
		return nil, 0, 0, errPhoto
	}
	return b.Bytes(), float64(small.Rect.Dx()), float64(small.Rect.Dy()), nil
}

// shrunk makes each dot the mean of those that it covers, on white, the picture turned as its camera says.
func shrunk(src image.Image, turn int) *image.RGBA {
	in := src.Bounds()
	w, h := in.Dx(), in.Dy()
	if turn >= 5 {
		w, h = h, w
	}
	scale := max(1, float64(max(w, h))/photoDots)
	out := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(w)/scale)), max(1, int(float64(h)/scale))))
	step := max(1, int(scale/3)) // nine of the dots that it covers tell enough
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			var r, g, b, n uint64
			for v := y * h / out.Rect.Dy(); v < max((y+1)*h/out.Rect.Dy(), y*h/out.Rect.Dy()+1); v += step {
				for u := x * w / out.Rect.Dx(); u < max((x+1)*w/out.Rect.Dx(), x*w/out.Rect.Dx()+1); u += step {
					px, py := unturned(u, v, in.Dx(), in.Dy(), turn)
					cr, cg, cb, ca := src.At(in.Min.X+px, in.Min.Y+py).RGBA()
					white := uint64(0xffff - ca)
					r, g, b, n = r+uint64(cr)+white, g+uint64(cg)+white, b+uint64(cb)+white, n+1
				}
			}
			out.SetRGBA(x, y, color.RGBA{uint8(r / n >> 8), uint8(g / n >> 8), uint8(b / n >> 8), 0xff})
		}
	}
	return out
}

// unturned says which dot of a w by h picture stands at (u, v) once it is upright (Exif 2.3, tag 274: 1 upright,
// 2 mirrored, 3 half a turn, 4 upside down, 5 to 8 lying).
func unturned(u, v, w, h, turn int) (x, y int) {
	switch turn {
	case 2:
		return w - 1 - u, v
	case 3:
		return w - 1 - u, h - 1 - v
	case 4:
		return u, h - 1 - v
	case 5:
		return v, u
	case 6:
		return v, h - 1 - u
	case 7:
		return w - 1 - v, h - 1 - u
	case 8:
		return w - 1 - v, u
	}
	return u, v
}

// orientation is how a JPEG's camera was held (Exif 2.3, tag 274); 1 where it does not say.
func orientation(data []byte) int {
	for i := 2; i+4 <= len(data) && data[i] == 0xff && data[i+1] != 0xda; {
		size := int(binary.BigEndian.Uint16(data[i+2:]))
		if size < 2 || i+2+size > len(data) {
			return 1
		}
		if part := data[i+4 : i+2+size]; data[i+1] == 0xe1 && bytes.HasPrefix(part, []byte("Exif\x00\x00")) {
			return exifTurn(part[6:])
		}
		i += 2 + size
	}
	return 1
}

// exifTurn finds the tag in the first directory of a TIFF header.
func exifTurn(t []byte) int {
	if len(t) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if t[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(t[4:]))
	if at+2 > int64(len(t)) {
		return 1
	}
	n := int64(order.Uint16(t[at:]))
	for i := range n {
		e := at + 2 + 12*i
		if e+12 > int64(len(t)) {
			break
		}
		if order.Uint16(t[e:]) == 274 {
			if v := int(order.Uint16(t[e+8:])); v >= 1 && v <= 8 {
				return v
			}
		}
	}
	return 1
}
