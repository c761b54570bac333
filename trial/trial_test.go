package trial

import (
	"math"
	"testing"
)

// Our advice must be clearly ahead of common practice on everything at once, or it is wrong: fewer restarts, no more
// minutes at high revs, smaller errors left. The better practice, which sets the housing again at idle, is beaten on
// errors and restarts.
func TestAdviceIsAheadOfPractice(t *testing.T) {
	engines := 2000
	if testing.Short() {
		engines = 300
	}
	rows, err := Run(engines, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		t.Logf("%-40s %d engines: restarts %.2f, readings %.1f, high revs %.2f min, %.1f min, worst %.2f° (95 %%: %.2f°), within 1°: %.0f %%",
			r.Name, r.Engines, r.Restarts.Mean, r.Readings.Mean, r.HighRevs.Mean, r.Minutes.Mean, r.Worst.Mean, r.Worst.P95, 100*r.Within)
		if r.Failed > 0 || r.Engines < engines*9/10 || math.IsNaN(r.Worst.Mean) {
			t.Errorf("%s: %d of %d engines not finished, %d asked for", r.Name, r.Failed, r.Engines, engines)
		}
	}
	practice, better, ours := rows[0], rows[1], rows[2]
	if !(ours.Worst.Mean < 0.25*practice.Worst.Mean && ours.Restarts.Mean < practice.Restarts.Mean && ours.HighRevs.Mean < practice.HighRevs.Mean && ours.Minutes.Mean < practice.Minutes.Mean) {
		t.Error("not clearly ahead of common practice")
	}
	if !(ours.Worst.Mean < 0.75*better.Worst.Mean && ours.Worst.P95 < 0.75*better.Worst.P95 && ours.Restarts.Mean < 0.5*better.Restarts.Mean && ours.Within > better.Within+0.2) {
		t.Error("not clearly ahead of common practice with a second look at idle")
	}
}

// Same seed, same table.
func TestTrialRepeats(t *testing.T) {
	a, err := Run(20, 5, 1)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Run(20, 5, 1)
	for i := range a {
		if a[i] != b[i] {
			t.Errorf("%+v and %+v", a[i], b[i])
		}
	}
}

func BenchmarkTrial(b *testing.B) {
	for b.Loop() {
		if _, err := Run(50, 1, 1); err != nil {
			b.Fatal(err)
		}
	}
}
