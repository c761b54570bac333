package readings_test

import (
	"math"
	"testing"

	"phasewright/readings"
)

// By hand: read at 3000 rpm with 100 µs allowed and 0.7° shown late; now 180 µs are allowed (1.44° earlier there) and
// the housing has since been turned 0.5° with the rotor (1° of the crank later): −0.7 + 1.44 − 1 = −0.26°.
func TestPointsAreCarried(t *testing.T) {
	rows := []readings.Row{
		{Speed: 3000, Shown: 7.3, Locked: 8, U: 0.3, Allowance: 100, AllowanceStated: true},
		{Speed: 3000, Shown: 7.7, Locked: 8, Allowance: 180, AllowanceStated: true, Housing: 0.5},
	}
	res, err := readings.Fit(rows, readings.Settings{AllowanceNow: 180, AllowanceStep: 16, Idle: 750, Redline: 4200, Tolerance: 1})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Points) != 2 {
		t.Fatalf("%d points", len(res.Points))
	}
	a, b := res.Points[0], res.Points[1]
	if math.Abs(a.Error+0.26) > 1e-9 || !a.Carried || a.U != 0.3 || a.Row != 1 {
		t.Errorf("carried point %+v, want −0.26°", a)
	}
	if math.Abs(b.Error+0.3) > 1e-9 || b.Carried || !math.IsInf(float64(b.U), 1) {
		t.Errorf("present point %+v, want −0.30° as read, u unknown", b)
	}
}
