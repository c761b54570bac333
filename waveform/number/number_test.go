package number

import (
	"encoding/binary"
	"fmt"
	"testing"
)

// Whatever stands behind the digits, and however many there are, they are read as fmt wrote them.
func TestLeading(t *testing.T) {
	for _, value := range []uint64{0, 1, 9, 10, 4711, 90_000_009, 12_345_678, 99_999_999} {
		for width := 0; width <= 8; width++ {
			want := value
			for limit := len(fmt.Sprint(want)); limit > width; limit-- {
				want /= 10
			}
			digits := fmt.Sprintf("%0*d", width, want)[:width]
			for behind := range 256 {
				if c := byte(behind); c >= '0' && c <= '9' {
					continue
				}
				text := []byte(digits + "........")
				for i := width; i < len(text); i++ {
					text[i] = byte(behind)
				}
				got, n := Leading(binary.LittleEndian.Uint64(text))
				if got != want || n != width {
					t.Fatalf("%q: %d, %d digits; want %d, %d", text[:8], got, n, want, width)
				}
			}
		}
	}
}
