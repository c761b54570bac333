package drawing

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"image/color"
	"image/jpeg"
)

// picture is a photograph in a drawing.
type picture struct {
	X, Y, W, H float64
	Alt        string
	JPEG       []byte
}

// Picture sets a photograph, a baseline JPEG, with its upper left corner at (x, y), w by h mm. alt says what it shows.
func (d *Drawing) Picture(x, y, w, h float64, jpeg []byte, alt string) {
	d.add(&picture{x, y, w, h, alt, jpeg})
}

// picture writes the photograph as data, so that the file needs nothing beside it.
func (s *svgWriter) picture(p *picture) {
	alt, _ := Clean(p.Alt)
	fmt.Fprintf(&s.b, "<image x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\" preserveAspectRatio=\"none\" "+
		"role=\"img\" aria-label=\"%s\" href=\"data:image/jpeg;base64,%s\"/>\n", num(p.X), num(p.Y), num(p.W),
		num(p.H), html.EscapeString(alt), base64.StdEncoding.EncodeToString(p.JPEG))
}

// picture sets the photograph as a figure of its own, or as a part of the one around it. One that is no picture is left
// out.
func (w *pdfWriter) picture(p *picture, m matrix) {
	name := w.image(p.JPEG)
	if name == "" {
		return
	}
	e := markedAside
	switch {
	case w.apart:
	case w.around != nil:
		e = w.around
	default:
		e = w.tree.element(&Tag{Role: RolePicture, Alt: p.Alt}, w.in)
		w.place(e, RectPath(p.X, p.Y, p.W, p.H), m)
	}
	foot, top := m.apply(Point{p.X, p.Y + p.H}), m.apply(Point{p.X, p.Y})
	right := m.apply(Point{p.X + p.W, p.Y + p.H})
	w.endMark()
	w.raw("q")
	w.raw("%s %s %s %s %s %s cm", f6(right.X-foot.X), f6(right.Y-foot.Y), f6(top.X-foot.X), f6(top.Y-foot.Y),
		f6(foot.X), f6(foot.Y))
	w.mark(e)
	w.raw("/%s Do", name)
	w.endMark()
	w.raw("Q")
}

// image puts a photograph into the file once, however often it is shown (ISO 32000-1, 8.9.5).
func (w *pdfWriter) image(data []byte) string {
	key := string(data)
	if name := w.images[key]; name != "" {
		return name
	}
	dots, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return ""
	}
	space := "/DeviceRGB"
	if dots.ColorModel == color.GrayModel {
		space = "/DeviceGray"
	}
	number := w.file.stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /BitsPerComponent 8 "+
		"/ColorSpace %s /Filter /DCTDecode", dots.Width, dots.Height, space), data)
	name := fmt.Sprintf("P%d", len(w.images)+1)
	w.images[key] = name
	w.imageList += fmt.Sprintf("/%s %d 0 R ", name, number)
	return name
}
