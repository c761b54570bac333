package drawing_test

import (
	"fmt"
	"strings"
	"time"

	"phasewright/drawing"
)

// A tape for a work boat's damper, as a PDF.
func ExampleTape() {
	tape := drawing.Tape{
		Name: "Sandpiper, main engine", Diameter: 168, Turn: drawing.Clockwise, From: -10, To: 70,
		Marks: []drawing.TapeMark{{Before: 60, Label: "trigger lead 60°"}},
	}
	pages, err := tape.Pages()
	if err != nil {
		fmt.Println(err)
		return
	}
	pdf, err := drawing.PDF(drawing.Document{Title: "Timing tape", Date: time.Date(2031, 5, 4, 0, 0, 0, 0, time.UTC), Pages: pages})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d sheet, %s…, the lead lies %.1f mm from zero\n", len(pages), pdf[:5], tape.Distance(60))
	// Output: 1 sheet, %PDF-…, the lead lies 88.0 mm from zero
}

// A wrong value says what is wrong and what to do.
func ExampleTape_refused() {
	_, err := drawing.Tape{Diameter: 5, Turn: drawing.Clockwise, To: 60}.Pages()
	fmt.Println(err)
	// Output: timing tape – a diameter of 5 mm leaves no room for a scale – give the rim's diameter, 30 mm or more
}

// A chart for a page: classes instead of colours, no styles.
func ExampleChart() {
	d, err := drawing.Chart{
		Width: 90, Title: "Timing error", X: drawing.Axis{Label: "rpm", Min: 0, Max: 4000},
		Panels: []drawing.Panel{{Y: drawing.Axis{Label: "° (early +)", Sign: drawing.PlusMinus}, Marks: []drawing.Mark{{X: 750, Y: 1.5, U: 0.3}, {X: 3000, Y: 0.5, U: 0.3}}}},
	}.Draw()
	if err != nil {
		fmt.Println(err)
		return
	}
	svg := d.SVG(drawing.InPage)
	fmt.Println(strings.Contains(svg, "4\u2009000"), strings.Contains(svg, "<style"))
	// Output: true false
}
