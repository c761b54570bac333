package sheet_test

import (
	"fmt"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
)

func sandpiper(t *testing.T, ratio string) *sheet.Sheet {
	t.Helper()
	text := strings.Replace(examples.Cards()[0].YAML, "compression_ratio: 8.6", ratio, 1)
	c, err := jobcard.Parse("card.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The ratio of the parts is that worked out by hand in package engine, and the pressure at the spark rests on it.
func TestTheRatioWorkedOutIsUsed(t *testing.T) {
	const parts = "chamber: {volume: 62 cc ± 1 cc, gasket_bore: 95 mm ± 0.5 mm, gasket_thickness: 1.2 mm ± 0.1 mm, deck: 0.5 mm ± 0.05 mm, dish: 6 cc ± 0.5 cc}"
	s := sandpiper(t, parts)
	it := item(t, s, "compression_ratio")
	if it.Value < 9.4165 || it.Value > 9.4175 || it.Verdict != sheet.Fine || !strings.Contains(it.Text, "9.42 ± 0.17 to 1") {
		t.Errorf("%+v", it)
	}
	same, other := sandpiper(t, "compression_ratio: 9.417"), sandpiper(t, "compression_ratio: 8.6")
	if got, want := item(t, s, "spark_pressure").Value, item(t, same, "spark_pressure").Value; got != want || got == item(t, other, "spark_pressure").Value {
		t.Errorf("pressure at the spark %v, with the ratio stated %v", got, want)
	}
	if got, want := item(t, s, "cranking_bias").Value, item(t, same, "cranking_bias").Value; got != want {
		t.Errorf("light while cranking %v, with the ratio stated %v", got, want)
	}
	more := sandpiper(t, "compression_ratio: 9.584") // the ratio with its ±
	moved := fmt.Sprintf("The ratio's ± 0.17 moves that by ± %.1f bar", item(t, more, "spark_pressure").Value-item(t, same, "spark_pressure").Value)
	if text := item(t, s, "spark_pressure").Text; !strings.Contains(text, moved) || strings.Contains(moved, "0.0") {
		t.Errorf("%q does not say %q", text, moved)
	}
	if it := item(t, sandpiper(t, "compression_ratio: 8.6, "+parts), "compression_ratio"); it.Verdict != sheet.Caution || !strings.Contains(it.Because, "The card says 8.6, which is used") {
		t.Errorf("%+v", it)
	}
	if other.Item("compression_ratio") != nil || other.Item("cranking_pressure") != nil {
		t.Error("a card without parts and test has items of them")
	}
}

// By hand: 12 bar by the gauge. Least: outside 1.04 bar, n 1.35, the whole stroke: (13.04/1.04)^(1/1.35) = 6.51. Most:
// outside 0.85 bar, n 1.2, 0.7 of the stroke: 1 + ((12.85/0.85)^(1/1.2) − 1)/0.7 = 13.31.
func TestCompressionTestAgainstTheRatio(t *testing.T) {
	for ratio, want := range map[string]sheet.Verdict{"8.6": sheet.Fine, "6.4": sheet.Caution, "6.4 ± 0.2": sheet.Fine, "13.6": sheet.Caution, "13": sheet.Fine} {
		it := item(t, sandpiper(t, "cranking_pressure: 12 bar, compression_ratio: "+ratio), "cranking_pressure")
		if it.Verdict != want || !strings.Contains(it.Text, "from 6.5 to 13.3") || !strings.Contains(it.Text, "(174 psi)") {
			t.Errorf("ratio %s: %s, %s", ratio, it.Verdict, it.Text)
		}
	}
}
