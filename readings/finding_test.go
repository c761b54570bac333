package readings_test

import (
	"math"
	"strings"
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
)

// The words for what the chart shows. Cases made by hand: what a person would say of the two ends of such a line.
func TestFindingInWords(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	line := func(idle, redline, u float64) *readings.Result {
		return &readings.Result{Offset: readings.Interval{Value: idle},
			ErrorAt: []readings.ErrorAt{{RPM: 750, Value: idle, U: u}, {RPM: 2000, Value: (idle + redline) / 2, U: u / 2},
				{RPM: 4200, Value: redline, U: u}}}
	}
	flat := func(v float64) *readings.Result {
		return &readings.Result{Offset: readings.Unknown(), ErrorAt: []readings.ErrorAt{{RPM: 800, Value: v, U: inf}}}
	}
	wild := line(30, -80, 400)
	wild.Offset = readings.Unknown()
	odd := line(2.3, 0.5, 0.9)
	odd.Outliers, odd.Asked = []int{5}, []readings.Doubt{{Row: 6}, {Row: 7, Counts: true}}
	one := line(0, 0, 0.3)
	one.Outliers = []int{2}
	for _, c := range []struct {
		res  *readings.Result
		want string
	}{
		{line(2.3, 0.5, 0.9), "2.3° early at idle, falling to 0.5° at 4 200 rpm, ± 0.9°"},
		{line(-0.5, -2.3, 0.9), "0.5° late at idle, growing to 2.3° at 4 200 rpm, ± 0.9°"},
		{line(1.2, -1.6, 0.4), "1.2° early at idle, 1.6° late at 4 200 rpm, ± 0.4°"},
		{line(0.02, -1.6, 0.4), "0.0° at idle, 1.6° late at 4 200 rpm, ± 0.4°"},
		{line(-1.6, -0.02, 0.4), "1.6° late at idle, falling to 0.0° at 4 200 rpm, ± 0.4°"},
		{line(1.23, 1.19, 0.4), "1.2° early from idle to 4 200 rpm, ± 0.4°"},
		{line(0.04, -0.04, 0.4), "0.0° from idle to 4 200 rpm, ± 0.4°"},
		{line(2.3, 0.5, inf), "2.3° early at idle, falling to 0.5° at 4 200 rpm, uncertainty not known yet"},
		{flat(-1.5), "1.5° late at 800 rpm, the only speed read"},
		{wild, "the readings do not tell yet how the error runs over speed"},
		{&readings.Result{ErrorAt: []readings.ErrorAt{{RPM: 750, Value: nan}}}, "no reading at a steady speed yet"},
		{&readings.Result{}, "no reading at a steady speed yet"},
		{odd, "2.3° early at idle, falling to 0.5° at 4 200 rpm, ± 0.9°; 2 readings are not used"},
		{one, "0.0° from idle to 4 200 rpm, ± 0.3°; 1 reading is not used"},
	} {
		if got := strings.ReplaceAll(c.res.Finding(), "\u2009", " "); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// The speed after the next is the next one of a fit that has the next reading in it already, on the line, where the
// scatter does not move.
func TestThenIsWhatAFitWithOneMoreSays(t *testing.T) {
	set := readings.Settings{AllowanceNow: 85, Idle: 750, Redline: 4200, Tolerance: 1}
	row := func(rpm, shown float64) readings.Row {
		return readings.Row{Speed: quantity.Speed(rpm), Shown: quantity.Crank(shown), Locked: 8}
	}
	for _, speeds := range [][]float64{{800, 1500, 2200}, {800, 900, 1000, 1100}, {800, 3700, 800, 3700}, {3000, 3700, 2500}} {
		var rows []readings.Row
		for i, n := range speeds {
			rows = append(rows, row(n, 9-n/4000+[]float64{0.1, -0.1}[i%2]))
		}
		res, err := readings.Fit(rows, set)
		if err != nil {
			t.Fatal(err)
		}
		if res.Next == 0 || res.Then(set) == 0 {
			t.Fatalf("%v: next %g, then %g", speeds, res.Next, res.Then(set))
		}
		more, err := readings.Fit(append(rows, row(res.Next, 9-res.Next/4000)), set)
		if err != nil {
			t.Fatal(err)
		}
		if got := res.Then(set); got != more.Next {
			t.Errorf("%v: next %g, then %g; a fit with it says %g", speeds, res.Next, got, more.Next)
		}
	}
	one, err := readings.Fit([]readings.Row{row(800, 9)}, set)
	if err != nil || one.Then(set) != 0 {
		t.Errorf("one reading: then %g, %v; want none", one.Then(set), err)
	}
}
