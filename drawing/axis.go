package drawing

import (
	"fmt"
	"math"
)

// Scale is how an axis is divided.
type Scale uint8

// The scales.
const (
	Linear Scale = iota
	Log
)

// Sign says how tick numbers show their sign.
type Sign uint8

// The signs.
const (
	MinusOnly Sign = iota
	PlusMinus      // +1, 0, −1
)

// Axis is one axis of a chart. Where Min and Max are equal the range comes from
// the data, rounded outwards.
type Axis struct {
	Label    string // quantity and unit
	Min, Max float64
	Scale    Scale
	Sign     Sign
	Ticks    []float64 // own ticks; empty: round numbers
}

const tickSize = 3.0 // mm, of the tick numbers

var tickText = TextStyle{Size: tickSize}

// valueRange is the least and the largest value of an axis.
type valueRange struct {
	lo, hi float64
	fixed  bool // given; else it may be widened to round values
	scale  Scale
}

// noValues is the range before any value is known.
var noValues = valueRange{lo: math.Inf(1), hi: math.Inf(-1)}

// grow widens the range to hold the finite values of vs.
func (r *valueRange) grow(vs ...float64) {
	for _, v := range vs {
		if finite(v) {
			r.lo, r.hi = math.Min(r.lo, v), math.Max(r.hi, v)
		}
	}
}

func (r valueRange) holds(v float64) bool {
	pad := (r.hi - r.lo) * 1e-9
	return v >= r.lo-pad && v <= r.hi+pad
}

func (r valueRange) usable(where string) error {
	switch {
	case math.IsInf(r.lo, 0) || math.IsInf(r.hi, 0):
		return fmt.Errorf("%s – no data and no range – give Min and Max", where)
	case r.scale == Log && r.lo <= 0:
		return fmt.Errorf("%s – a logarithmic axis cannot start at %g – use values above 0", where, r.lo)
	case r.hi <= r.lo:
		return fmt.Errorf("%s – the range %g to %g is empty – give Min below Max", where, r.lo, r.hi)
	}
	return nil
}

// or takes the range of the axis where it has one.
func (r valueRange) or(a Axis) valueRange {
	if a.Min != a.Max {
		return valueRange{a.Min, a.Max, true, a.Scale}
	}
	r.scale = a.Scale
	if r.lo == r.hi { // one value: give it some room
		pad := math.Max(math.Abs(r.lo)*0.1, 1)
		if a.Scale == Log {
			r.lo, r.hi = r.lo/2, r.hi*2
		} else {
			r.lo, r.hi = r.lo-pad, r.hi+pad
		}
	}
	return r
}

// axisMap turns values into mm: lo stands at from, hi at to.
type axisMap struct {
	valueRange
	from, to float64
}

// linear puts the values lo to hi between the places from and to, mm.
func linear(lo, hi, from, to float64) axisMap { return axisMap{valueRange{lo: lo, hi: hi}, from, to} }

func (a axisMap) at(v float64) float64 {
	lo, hi := a.lo, a.hi
	if a.scale == Log {
		v, lo, hi = math.Log(v), math.Log(lo), math.Log(hi)
	}
	return a.from + (v-lo)/(hi-lo)*(a.to-a.from)
}

// within is the place of v, or the end of the axis that v lies beyond.
func (a axisMap) within(v float64) float64 { return a.at(math.Min(math.Max(v, a.lo), a.hi)) }

// span is what the axis shows of the values from … to, mm; nothing of it has no length.
func (a axisMap) span(from, to float64) (start, end float64) { return a.within(from), a.within(to) }

// axis is an axis with its ticks and their numbers.
type axis struct {
	axisMap
	ticks []float64
	words []string
	wide  float64 // of the widest number, mm
}

// layAxis divides the range r by about n ticks, and widens it to whole steps where it is free.
// Its place on the sheet is left open.
func layAxis(a Axis, r valueRange, n int) axis {
	x := axis{axisMap: axisMap{valueRange: r}}
	n = max(n, 2)
	switch {
	case len(a.Ticks) > 0:
		for _, t := range a.Ticks {
			if r.holds(t) {
				x.ticks = append(x.ticks, t)
			}
		}
	case a.Scale == Log:
		x.ticks = LogTicks(r.lo, r.hi, n)
	case r.fixed:
		x.ticks = Ticks(r.lo, r.hi, n)
	default:
		step := niceStep(r.hi-r.lo, n)
		x.lo, x.hi = math.Floor(r.lo/step+1e-9)*step, math.Ceil(r.hi/step-1e-9)*step
		x.ticks = stepTicks(x.lo, x.hi, step)
	}
	x.words = tickWords(x.ticks, a)
	x.wide = widest(x.words)
	return x
}

// layLevel lays a level axis with as many numbers as stand apart. ends says between which places it lies,
// mm, when its widest number is wide mm long.
func layLevel(a Axis, r valueRange, most int, ends func(wide float64) (left, right float64)) axis {
	for n := most; ; n-- {
		x := layAxis(a, r, n)
		x.from, x.to = ends(x.wide)
		if n <= 2 || len(a.Ticks) > 0 || float64(len(x.ticks)-1)*(x.wide+3) <= x.to-x.from {
			return x
		}
	}
}

// tickWords prints the ticks, all with as many decimals as the one that needs most of them.
func tickWords(ticks []float64, a Axis) []string {
	places := 0
	for _, t := range ticks {
		for places < 9 && math.Abs(t-round(t, places))*math.Pow(10, float64(places)) > 1e-6*math.Max(1, math.Abs(t)) {
			places++
		}
	}
	out := make([]string, len(ticks))
	for i, t := range ticks {
		p := places
		if a.Scale == Log {
			p = decimals(t)
		}
		if a.Sign == PlusMinus {
			out[i] = Signed(t, p)
		} else {
			out[i] = Number(t, p)
		}
	}
	return out
}

// widest is the length of the longest number, mm.
func widest(words []string) float64 {
	wide := 0.0
	for _, s := range words {
		wide = math.Max(wide, Width(s, tickText))
	}
	return wide
}

// uprights draws a grid line from top to foot at each tick of a level axis.
func (a axis) uprights(d *Drawing, top, foot float64) {
	for _, t := range a.ticks {
		d.Line(a.at(t), top, a.at(t), foot, Grid)
	}
}

// levels draws a grid line from left to right at each tick of an upright axis.
func (a axis) levels(d *Drawing, left, right float64) {
	for _, t := range a.ticks {
		d.Line(left, a.at(t), right, a.at(t), Grid)
	}
}

// numbersBelow sets the numbers of a level axis gap mm below foot, and below them its label, at the axis's end.
// Numbers without room are left out.
func (p *placer) numbersBelow(a axis, foot, gap float64, label string) {
	for i, t := range a.ticks {
		p.ifFree(a.at(t), foot+gap, a.words[i], tickText.At(Middle, Top))
	}
	p.set(a.to, foot+5, p.d.fit(label, a.to-0.5, Note), Note.At(End, Top))
}

// numbersBefore sets the numbers of an upright axis to the left of left, smaller where there is little room.
func (p *placer) numbersBefore(a axis, left float64, style TextStyle) {
	for i, t := range a.ticks {
		one := style.At(End, Centred)
		for one.Size > 1.8 && Width(a.words[i], one) > left-2 {
			one.Size -= 0.2
		}
		p.ifFree(left-1.4, a.at(t), a.words[i], one)
	}
}
