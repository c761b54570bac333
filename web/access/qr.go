package access

import (
	"fmt"
	"html/template"
	"strings"

	"rsc.io/qr"
)

const quiet = 4 // modules of white round the symbol, ISO/IEC 18004

// qrSVG draws the address as a QR symbol: black on white by day and night, so that cameras read it.
func qrSVG(text string) (template.HTML, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", fmt.Errorf("qr – the address does not fit – use a shorter one: %w", err)
	}
	var b strings.Builder
	side := code.Size + 2*quiet
	fmt.Fprintf(&b, `<svg class="qr" viewBox="0 0 %d %[1]d" role="img" `+
		`aria-label="QR code with the address and the code" shape-rendering="crispEdges">`+
		`<path fill="#fff" d="M0 0h%[1]dv%[1]dH0z"/><path fill="#000" d="`, side)
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			from := x
			for x < code.Size && code.Black(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from+quiet, y+quiet, x-from, x-from)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String()), nil
}

// TerminalQR draws the text as a QR symbol of half-block characters, two modules to a character. Light modules are the
// foreground blocks, so that it reads on a dark terminal; the quiet zone makes it read on a light one too.
func TerminalQR(text string) (string, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", fmt.Errorf("qr – the address does not fit – use a shorter one: %w", err)
	}
	white := func(x, y int) bool {
		return x < 0 || y < 0 || x >= code.Size || y >= code.Size || !code.Black(x, y)
	}
	var b strings.Builder
	for y := -quiet; y < code.Size+quiet; y += 2 {
		for x := -quiet; x < code.Size+quiet; x++ {
			below := y+1 < code.Size+quiet && white(x, y+1)
			switch {
			case white(x, y) && below:
				b.WriteRune('█')
			case white(x, y):
				b.WriteRune('▀')
			case below:
				b.WriteRune('▄')
			default:
				b.WriteRune(' ')
			}
		}
		b.WriteByte('\n')
	}
	return b.String(), nil
}
