package coil_test

import (
	"fmt"

	"phasewright/coil"
	"phasewright/quantity"
)

// What dwell does an invented coil need on a charged and on a weak battery? (Currents after 2 ms as the circuit
// simulator has them, times as Simpson’s rule over L/(V − R·i) has them.)
func Example() {
	iron, err := coil.NewSaturating(5.2e-3, 8)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, supply := range []quantity.Voltage{13.8, 8} {
		c := coil.Circuit{Drive: supply, Resistance: 0.55, Iron: iron}
		s := c.After(quantity.Milliseconds(2))
		fmt.Printf("%g V: %.3f A after 2 ms, 7 A after %.2f ms\n", float64(supply), float64(s.Current), c.TimeTo(7).Milliseconds())
	}
	// Output:
	// 13.8 V: 5.400 A after 2 ms, 7 A after 2.50 ms
	// 8 V: 2.883 A after 2 ms, 7 A after 4.94 ms
}
