//go:build !amd64

package waveform

const wide = false

func minmax(data []byte, blocks, size int, out [][8]int16) { minmaxPlain(data, blocks, size, out) }

// extremes gives the least and largest of finite values.
func extremes(v []float64) (least, largest float64) { return extremesPlain(v) }

func endsAVX2(text *byte, from, to int, sep byte, out *int32) int { panic("no such registers") }

// wideCells has no meaning here.
type wideCells struct{}

func wideShape(dec byte, places int) (w wideCells) { return w }

func (a *cellsAt) cells(col []float64, i int, shapes *[maxPlaces + 1]wideCells) int {
	panic("no such registers")
}
