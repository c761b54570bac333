package suspects_test

import (
	"math"
	"testing"
)

// tenths are first lines of rankings by the tenth that their odds lie in. A line comes true where what it names is
// truly there (cameTrue), as a technician takes it who does its cure.
type tenths [10]tenth

type tenth struct{ n, said, true float64 }

func (x *tenths) add(said float64, true bool) {
	in := &x[min(int(said*10), 9)]
	in.n, in.said, in.true = in.n+1, in.said+said, in.true+b2f(true)
}

func (x *tenths) join(others *tenths) {
	for i, o := range others {
		x[i].n, x[i].said, x[i].true = x[i].n+o.n, x[i].said+o.said, x[i].true+o.true
	}
}

// chance is one binomial standard deviation of the share that comes true where what is said is so.
func (x tenth) chance() float64 {
	p := x.said / x.n
	return math.Sqrt(p * (1 - p) / x.n)
}

func (x *tenths) print(t *testing.T) {
	t.Helper()
	for i, e := range x {
		if e.n > 0 {
			t.Logf("first line at %.1f to %.1f: %4.0f cases, stated %.2f, true %.2f, by chance ± %.2f", float64(i)/10,
				float64(i+1)/10, e.n, e.said/e.n, e.true/e.n, 2*e.chance())
		}
	}
	off, by, n := x.error()
	t.Logf("calibration error %.3f over %.0f lines, %.3f by chance", off, n, by)
}

// error is the mean distance of what is said from what comes true, how much of it chance would make, and the lines.
func (x *tenths) error() (off, chance, n float64) {
	for _, e := range x {
		if e.n > 0 {
			n += e.n
			off += math.Abs(e.said - e.true)
			chance += math.Sqrt(2/math.Pi) * e.chance() * e.n // the mean distance of a normal value
		}
	}
	return off / n, chance / n, n
}

// check wants what is said to lie within five points of what comes true, in every tenth and over all. Of fewer than
// forty lines chance alone makes more than that of it.
func (x *tenths) check(t *testing.T) {
	t.Helper()
	const points, enough = 0.05, 40
	for i, e := range x {
		if e.n < enough {
			continue
		}
		if off := math.Abs(e.said-e.true) / e.n; off > points+2*e.chance() {
			t.Errorf("first lines at %.1f to %.1f say %.3f, %.3f of %.0f come true", float64(i)/10, float64(i+1)/10,
				e.said/e.n, e.true/e.n, e.n)
		}
	}
	if off, chance, _ := x.error(); off > points+chance {
		t.Errorf("calibration error %.3f, wanted at most %g beside what chance makes", off, points)
	}
}
