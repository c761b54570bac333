package drawing

import (
	"math"
	"strconv"
)

// timeAxis is an axis of time, s, and what its numbers count in.
type timeAxis struct {
	axis
	unit string // "ms", or "µs after 812.3456 s" where whole times would be long
}

type timeUnit struct {
	name string
	size float64 // s
}

// timeUnits are the units of time that an axis counts in.
var timeUnits = [...]timeUnit{{"s", 1}, {"ms", 1e-3}, {"µs", 1e-6}, {"ns", 1e-9}, {"ps", 1e-12}}

// unitOf is the largest unit that d seconds hold at least part times.
func unitOf(d, part float64) timeUnit {
	for _, u := range timeUnits {
		if d >= u.size*part {
			return u
		}
	}
	return timeUnits[len(timeUnits)-1]
}

// longestTick is how many characters a tick's number may have before a datum is taken off.
const longestTick = 8

// timeTicks divides a stretch of time by round steps, the finest of which fits says that the words have room. Deep
// inside a long recording the numbers would not: they then count from a round time before the stretch, which the unit
// names.
func timeTicks(from, to float64, fits func(words []string) bool) timeAxis {
	var a timeAxis
	for most := 12; most >= 2; most-- {
		a = ticksOf(from, to, niceStep(to-from, most))
		if fits(a.words) {
			break
		}
	}
	return a
}

func ticksOf(from, to, step float64) timeAxis {
	unit := unitOf(step, 0.0999)
	a := timeAxis{axis{axisMap: linear(from, to, 0, 0)}, unit.name}
	places := decimals(step / unit.size)
	first, last := math.Ceil(from/step-1e-6), math.Floor(to/step+1e-6)
	word := func(k float64) string { return Number(k*step/unit.size, places) }
	datum := 0.0
	if len([]rune(word(first))) > longestTick || len([]rune(word(last))) > longestTick {
		round := math.Pow(10, math.Ceil(math.Log10(to-from)-1e-9))
		n := math.Floor(from / round)
		datum = math.Round(n * (round / step))
		a.unit = unit.name + " after " + exactSeconds(n*round, round) + " s"
	}
	for k := first; k <= last && len(a.ticks) < 100; k++ {
		a.ticks, a.words = append(a.ticks, k*step), append(a.words, word(k-datum))
	}
	return a
}

// exactSeconds prints a multiple of a power of ten in full.
func exactSeconds(v, power float64) string { return Number(v, decimals(power)) }

// spanWords prints a length of time with four figures and the unit that suits it.
func spanWords(d float64) string {
	u := unitOf(d, 0.9999)
	v := d / u.size
	places := max(0, 3-int(math.Floor(math.Log10(math.Max(v, 1e-9)))))
	if v >= 1000 {
		places = 0
	}
	text := strconv.FormatFloat(v, 'f', places, 64)
	if whole, err := strconv.ParseFloat(text, 64); err == nil { // no empty decimals: 20 ms, not 20.00 ms
		for places > 0 && math.Abs(whole-round(whole, places-1)) < 1e-9*math.Max(1, whole) {
			places--
		}
	}
	return Number(v, places) + " " + u.name
}

func round(v float64, places int) float64 {
	p := math.Pow(10, float64(places))
	return math.Round(v*p) / p
}
