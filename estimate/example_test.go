package estimate_test

import (
	"fmt"
	"math"

	"phasewright/estimate"
)

// The end gauge of JCGM 100:2008 H.1, in nanometres.
func ExampleBudget_Combine() {
	b := estimate.Budget{
		{Name: "standard", Kind: estimate.TypeB, U: 25, Sensitivity: 1, DOF: 18},
		{Name: "difference", Kind: estimate.TypeA, U: 9.7, Sensitivity: 1, DOF: 25.6},
		{Name: "expansion", Kind: estimate.TypeB, U: 2.9, Sensitivity: 1, DOF: 50},
		{Name: "temperature", Kind: estimate.TypeB, U: 16.6, Sensitivity: 1, DOF: 2},
	}
	c := b.Combine(0.99)
	fmt.Printf("u = %.0f nm, %.1f degrees of freedom, t = %.2f, U = %.0f nm\n", c.U, math.Floor(c.DOF*10)/10, c.K, c.Expanded)
	// Output: u = 32 nm, 16.7 degrees of freedom, t = 2.92, U = 93 nm
}

// The thermometer of JCGM 100:2008 H.3: correction at 30 °C from a line about 20 °C.
func ExampleLine() {
	t := []float64{1.521, 2.012, 2.512, 3.003, 3.507, 3.999, 4.513, 5.002, 5.503, 6.010, 6.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	f, err := estimate.Line(t, b, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	value, u := f.At([]float64{1, 30 - 20}, f.SD())
	fmt.Printf("%.4f °C, u = %.4f °C\n", value, u)
	// Output: -0.1494 °C, u = 0.0041 °C
}
