package drawing

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"

	"codeberg.org/go-pdf/fpdf"
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

// picture embeds the photograph. The page's own transformation turns y downwards; the writer of the file places an
// image by the page itself, so that it is undone around it.
func (w *pdfWriter) picture(p *picture, m matrix) {
	name := short(string(p.JPEG))
	if w.pdf.GetImageInfo(name) == nil {
		w.pdf.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPEG"}, bytes.NewReader(p.JPEG))
	}
	at := m.apply(Point{p.X, p.Y})
	w.raw("q %s 0 0 -%s 0 %s cm", f6(1/mm), f6(1/mm), f6(w.height))
	w.pdf.ImageOptions(name, at.X, at.Y, p.W, p.H, false, fpdf.ImageOptions{ImageType: "JPEG"}, 0, "")
	w.raw("Q")
}
