package estimate

import (
	"math"
	"math/rand/v2"
)

// Shape is the distribution that an input is taken to have.
type Shape string

const (
	// Normal is the bell curve.
	Normal Shape = "normal"
	// Rectangular is even between two limits: nothing but the limits is known.
	Rectangular Shape = "rectangular"
	// Triangular falls off in a line from the middle to two limits.
	Triangular Shape = "triangular"
	// Arcsine is heavy near two limits: something that swings to and fro.
	Arcsine Shape = "arcsine"
	// Student is the scaled and shifted t that a Type A figure from few readings earns.
	Student Shape = "student t"
)

// FromLimit is the standard uncertainty of an input known to lie within ±limit:
// limit/√3 rectangular, limit/√6 triangular, limit/√2 arcsine (JCGM 100 4.3.7, 4.3.9;
// JCGM 101 6.4.6), and limit/2 for the shapes without limits, where the limit is read
// as two sigma. A negative or NaN limit is unknown: +Inf.
func (s Shape) FromLimit(limit float64) float64 {
	if math.IsNaN(limit) || limit < 0 {
		return math.Inf(1)
	}
	return limit / s.spread()
}

func (s Shape) spread() float64 {
	switch s {
	case Rectangular:
		return math.Sqrt(3)
	case Triangular:
		return math.Sqrt(6)
	case Arcsine:
		return math.Sqrt2
	}
	return 2
}

// Input is one quantity that a simulation draws: mean Value, standard uncertainty U.
// For Student, U is the scale s/√n of JCGM 101 6.4.9 (not the standard deviation, which is
// U·√(ν/(ν−2)) and exists for ν > 2 only), with DOF degrees of freedom.
type Input struct {
	Name  string
	Shape Shape
	Value float64
	U     float64
	DOF   float64
}

// fill writes draws of the input into block.
func (in Input) fill(r *rand.Rand, block []float64) {
	v, u := in.Value, in.U
	switch in.Shape {
	case Rectangular:
		a := u * math.Sqrt(3)
		for i := range block {
			block[i] = v + a*(2*r.Float64()-1)
		}
	case Triangular:
		a := u * math.Sqrt(6)
		for i := range block {
			block[i] = v + a*(r.Float64()-r.Float64())
		}
	case Arcsine:
		a := u * math.Sqrt2
		for i := range block {
			block[i] = v + a*math.Sin(2*math.Pi*r.Float64())
		}
	case Student:
		if in.DOF > 1e6 {
			fillNormal(r, v, u, block)
			return
		}
		fillStudent(r, v, u, in.DOF, block)
	default:
		fillNormal(r, v, u, block)
	}
}

func fillNormal(r *rand.Rand, v, u float64, block []float64) {
	for i := range block {
		block[i] = v + u*r.NormFloat64()
	}
}

// fillStudent draws z/√(g/(ν/2)), z normal and g gamma of shape ν/2. The gamma is by
// Marsaglia and Tsang, "A simple method for generating gamma variables", ACM TOMS 26
// (2000) 363, with their step for shapes under one.
func fillStudent(r *rand.Rand, v, u, nu float64, block []float64) {
	half := nu / 2
	shape := half
	if half < 1 {
		shape++
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for i := range block {
		var g float64
		for {
			x := r.NormFloat64()
			w := 1 + c*x
			if w <= 0 {
				continue
			}
			w = w * w * w
			q := r.Float64()
			if q < 1-0.0331*x*x*x*x || math.Log(q) < 0.5*x*x+d*(1-w+math.Log(w)) {
				g = d * w
				break
			}
		}
		if half < 1 {
			g *= math.Pow(1-r.Float64(), 1/half)
		}
		block[i] = v + u*r.NormFloat64()*math.Sqrt(half/g)
	}
}
