package page

import (
	"testing"
)

func TestFiguresAsPeopleTypeThem(t *testing.T) {
	for text, want := range map[string]float64{"12,5": 12.5, "3 200": 3200, "3\u2009200": 3200, "−1.5": -1.5, "–2": -2, "+3": 3, "8": 8} {
		if got, ok := Number(text); !ok || got != want {
			t.Errorf("%q gives %v %v, want %v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "-", ".", "1.2.3", "1,2,3", "NaN", "0x1p-2", "１２", "1_000"} {
		if got, ok := Number(text); ok {
			t.Errorf("%q gives %v", text, got)
		}
	}
}
