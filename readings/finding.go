package readings

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Finding is what the chart of the timing error shows, in words, for who does not see it: "2.3° early at idle, falling
// to 0.5° at 4 200 rpm, ± 0.9°". Angles are crank degrees to a tenth, ± is the larger of the 95 % half-widths at both
// ends. Readings that are drawn and not used are counted behind it.
func (res *Result) Finding() string {
	out := res.run()
	odd := len(res.Outliers)
	for _, d := range res.Asked {
		if !d.Counts {
			odd++
		}
	}
	if odd > 0 {
		out += "; " + plural(odd, "1 reading is", "%d readings are") + " not used"
	}
	return out
}

// run is how the error of the line runs from idle to the redline.
func (res *Result) run() string {
	if len(res.ErrorAt) == 0 || math.IsNaN(res.ErrorAt[0].Value) {
		return "no reading at a steady speed yet"
	}
	first, last := res.ErrorAt[0], res.ErrorAt[len(res.ErrorAt)-1]
	if first.RPM == last.RPM {
		return fmt.Sprintf("%s at %s, the only speed read", aside(first.Value), rpm(first.RPM))
	}
	if !res.Offset.Known() {
		return "the readings do not tell yet how the error runs over speed"
	}
	from, to, end := tenth(first.Value), tenth(last.Value), rpm(last.RPM)
	var out string
	switch size := quantity.Degrees(math.Abs(to), 1); {
	case from == to:
		out = fmt.Sprintf("%s from idle to %s", aside(from), end)
	case from*to < 0 || from == 0:
		out = fmt.Sprintf("%s at idle, %s at %s", aside(from), aside(to), end)
	case math.Abs(to) < math.Abs(from):
		out = fmt.Sprintf("%s at idle, falling to %s at %s", aside(from), size, end)
	default:
		out = fmt.Sprintf("%s at idle, growing to %s at %s", aside(from), size, end)
	}
	if u := math.Max(first.U, last.U); !math.IsInf(u, 1) {
		return out + ", ±\u2009" + quantity.Degrees(u, 1)
	}
	return out + ", uncertainty not known yet"
}

// aside is an error with the side that it lies on: "2.3° early".
func aside(deg float64) string {
	size := quantity.Degrees(math.Abs(tenth(deg)), 1)
	switch deg = tenth(deg); {
	case deg > 0:
		return size + " early"
	case deg < 0:
		return size + " late"
	}
	return size
}

// tenth rounds as the words print it, so that what reads the same counts as the same.
func tenth(deg float64) float64 { return math.Round(deg*10) / 10 }
