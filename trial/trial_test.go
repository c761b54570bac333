package trial

import (
	"context"
	"os"
	"reflect"
	"strconv"
	"testing"
)

// The judge's way must be clearly ahead of common practice where it counts: fewer engines handed over as right that are
// not, fewer wrong cures, and a smaller error left on those handed over.
func TestJudgeIsAheadOfPractice(t *testing.T) {
	engines := 60
	if testing.Short() {
		engines = 30
	}
	if n, err := strconv.Atoi(os.Getenv("N")); err == nil {
		engines = n
	}
	rows, err := Run(context.Background(), engines, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		t.Logf("%-40s %v: restarts %.2f, readings %.1f, high revs %.2f min, %.1f min, worst %.2f° (95 %%: %.2f°), within %.0f %%, false pass %.1f %%, wrong cure %.1f %%",
			r.Name, r.Outcomes, r.Restarts.Mean, r.Readings.Mean, r.HighRevs.Mean, r.Minutes.Mean, r.Worst.Mean, r.Worst.P95, 100*r.Within, 100*r.FalsePass, 100*r.WrongCure)
	}
	better, ours := rows[1], rows[2]
	if !(ours.FalsePass < 0.25*better.FalsePass && ours.WrongCure < 0.25*better.WrongCure && ours.Worst.P95 < 0.75*better.Worst.P95) {
		t.Error("not clearly ahead of common practice with a second look at idle")
	}
}

// Same seed, same table, on however many processors.
func TestTrialRepeats(t *testing.T) {
	a, err := Run(context.Background(), 4, 5, 1)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Run(context.Background(), 4, 5, 1)
	if !reflect.DeepEqual(a, b) {
		t.Errorf("%+v and %+v", a, b)
	}
}
