package capture

import (
	"encoding/json"
	"testing"

	"phasewright/quantity"
)

func quantityCrank(d float64) quantity.Crank { return quantity.Crank(d) }

func TestLook(t *testing.T) {
	d, deg, _ := legs(0, point{200, 1}, point{200, 2}, point{900, 1}, point{900, 2}, point{5500, 6}, point{5500, 1}, point{800, 5}, point{0, 1.5})
	s := eight(d, 0.1, deg-0.1)
	r := analyse(t, s.run(), fourNames, Options{Commanded: locked(10), Cylinders: 8})
	ser := r.Series
	r.Series = nil
	if r.Spark != nil {
		for i := range r.Spark.ByCylinder {
			r.Spark.ByCylinder[i].Scatter = nil
		}
	}
	b, _ := json.MarshalIndent(r, "", " ")
	t.Logf("%s", b)
	t.Log(len(ser.Cycle), len(ser.BySpeed), len(ser.Speed), len(ser.Cylinders))
	for _, c := range ser.Cycle {
		t.Log(c)
	}
}
