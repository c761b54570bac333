package page

import (
	"html/template"

	"phasewright/drawing"
)

// Plate is a drawing in the two widths that pages use; the style sheet shows the one that fits.
type Plate struct{ Phone, Desk template.HTML }

// Widths of drawings in mm: the first fills a phone, the second a column on the desk.
const (
	PhoneWidth = 90
	DeskWidth  = 150
)

// Draw makes both sizes of a drawing. Its width is in mm; prefix goes before every id in it.
func Draw(prefix string, make func(width float64, prefix string) (*drawing.Drawing, error)) (*Plate, error) {
	return DrawAt(DeskWidth, prefix, make)
}

// DrawAt is Draw with a width on the desk of its own.
func DrawAt(desk float64, prefix string, make func(float64, string) (*drawing.Drawing, error)) (*Plate, error) {
	small, err := make(PhoneWidth, prefix+"-p")
	if err != nil {
		return nil, err
	}
	large, err := make(desk, prefix+"-d")
	if err != nil {
		return nil, err
	}
	return &Plate{InPage(small), InPage(large)}, nil
}

// DrawChart makes both sizes of a chart.
func DrawChart(prefix string, chart drawing.Chart) (*Plate, error) {
	return Draw(prefix, func(width float64, prefix string) (*drawing.Drawing, error) {
		c := chart
		c.Width, c.Prefix = width, prefix
		return c.Draw()
	})
}

// InPage is the drawing's SVG. The drawing room escapes every word in it.
func InPage(d *drawing.Drawing) template.HTML { return template.HTML(d.SVG(drawing.InPage)) }
