package shaft

import (
	"math"
	"sort"
	"testing"

	"phasewright/waveform"
)

// By hand, as in TestSpacingErrorShowsPerCylinder: a third edge 0.9° late makes its spark 1.3° late and the next 0.4°
// early, so that the mean of all stands at −0.9/8 = −0.1125°.
func TestFiringsStandAgainstTheMeanOfAll(t *testing.T) {
	d, deg, _ := legs(1000, point{4000, 4}, point{1000, 4})
	s := eight(d, 0.5, deg-0.5)
	s.pickup, s.delay, s.allowance = 0, 100, 100
	s.off = []float64{0, 0, 0.9, 0, 0, 0, 0, 0}
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8, Commanded: locked(9)})
	want := []float64{0, 0, -1.3, 0.4, 0, 0, 0, 0}
	if len(r.Series.Firings) != 8 {
		t.Fatal(r.Series.Firings)
	}
	for i, c := range r.Series.Firings {
		w := want[i] + 0.1125
		if c.Cylinder != i+1 || math.Abs(c.Mean-w) > 0.02 {
			t.Errorf("cylinder %d: %.4f° early, by hand %.4f°", c.Cylinder, c.Mean, w)
		}
		if len(c.BySpeed) < 10 {
			t.Errorf("cylinder %d: %d classes from 1 000 to 4 000 rpm", c.Cylinder, len(c.BySpeed))
		}
		for _, p := range c.BySpeed {
			if math.Abs(p.Mean-w) > 0.15 { // a class is crossed in a third of a second: each cylinder fires at speeds of its own in it
				t.Errorf("cylinder %d at %v rpm: %.3f° early, by hand %.3f°", c.Cylinder, p.RPM, p.Mean, w)
			}
		}
	}
}

// Scatter that is put in at each crank edge comes back as scatter, and not as places of the cylinders.
func TestFiringsKeepScatterAndPlaceApart(t *testing.T) {
	d, deg, _ := legs(1000, point{4000, 8}, point{1000, 8})
	s := eight(d, 0.5, deg-0.5)
	s.jitter = 0.2
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8, Commanded: locked(9)})
	if len(r.Series.Firings) != 8 {
		t.Fatal(r.Series.Firings)
	}
	for _, c := range r.Series.Firings {
		if math.Abs(c.Mean) > 0.06 { // 350 firings each: 0.3/√350 = 0.016
			t.Errorf("cylinder %d stands %.3f° off, none was put in", c.Cylinder, c.Mean)
		}
		// A sound engine stays below 0.05°; the jitter enters through the edge before the spark and the speed
		// around it.
		if sd := float64(c.SD); sd < 0.1 || sd > 0.35 {
			t.Errorf("cylinder %d scatters by %.3f°, each edge by 0.2°", c.Cylinder, sd)
		}
		for _, p := range c.BySpeed {
			if p.SD > 0.6 {
				t.Errorf("cylinder %d at %v rpm scatters by %.3f°", c.Cylinder, p.RPM, p.SD)
			}
		}
	}
	s.jitter = 0
	r = analyse(t, s.run(), fourNames, Options{Cylinders: 8, Commanded: locked(9)})
	for _, c := range r.Series.Firings {
		if sd := float64(c.SD); sd > 0.05 {
			t.Errorf("cylinder %d of a sound engine scatters by %.3f°", c.Cylinder, sd)
		}
	}
}

// Cranking has an advance and a motion of its own: where the engine ran, its classes are left out.
func TestFiringsBySpeedBeginWhereItRan(t *testing.T) {
	d, deg, _ := legs(0, point{200, 0.8}, point{200, 6}, point{800, 1}, point{3000, 6})
	s := eight(d, 0.5, deg-0.5)
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8})
	if len(r.Series.Firings) != 8 || len(r.Series.Firings[0].BySpeed) == 0 || r.Series.Firings[0].BySpeed[0].RPM < 500 {
		t.Errorf("%+v", r.Series.Firings)
	}
	d, deg, _ = legs(0, point{200, 0.8}, point{200, 6})
	s = eight(d, 0.5, deg-0.5)
	r = analyse(t, s.run(), fourNames, Options{Cylinders: 8})
	if len(r.Series.Firings) != 8 || len(r.Series.Firings[0].BySpeed) == 0 {
		t.Errorf("cranking alone: %+v", r.Series.Firings)
	}
}

// Without a cam the cylinders cannot be told apart: no places are given for them.
func TestNoFiringsWithoutCam(t *testing.T) {
	d, deg, _ := legs(1000, point{3000, 3})
	s := eight(d, 0.5, deg-0.5)
	s.camWidth = 0
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8})
	if r.Series == nil || len(r.Series.Firings) > 0 || r.Zero != ZeroSome {
		t.Errorf("zero %q, %+v", r.Zero, r.Series)
	}
}

// A worn drive moves the edge that the controller times from: the spark follows it, so in the controller's own terms
// nearly nothing is seen. By hand, for edges that scatter independently by σ and a wait of a share r of the interval:
// σ·√((1+r)² + r²), here with σ = 0.2°, r = (50 − 10)/90.
func TestScatterOnTheShaft(t *testing.T) {
	d, deg, _ := legs(1000, point{4000, 20}, point{1000, 20})
	s := eight(d, 0.5, deg-0.5)
	s.pickup, s.delay, s.allowance, s.jitter = 0, 100, 100, 0.2
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8, Commanded: locked(9)})
	wait := 40.0 / 90
	want := 0.2 * math.Sqrt((1+wait)*(1+wait)+wait*wait)
	if got := float64(r.Spark.ScatterSD); math.Abs(got-want) > 0.03*want {
		t.Errorf("%.4f° on the shaft, by hand %.4f°", got, want)
	}
	for _, c := range r.Spark.ByCylinder {
		if got := float64(c.ScatterSD); math.Abs(got-want) > 0.12*want {
			t.Errorf("cylinder %d: %.4f°, by hand %.4f°", c.Cylinder, got, want)
		}
		var n, sum int64
		for i, k := range c.Scatter {
			n += k
			sum += int64(i-scatterBins/2) * k
		}
		if n < c.Count/2 || math.Abs(float64(sum)/float64(n))*scatterBin > 0.05 {
			t.Errorf("cylinder %d: %d of %d firings in the bins, their middle %.2f°", c.Cylinder, n, c.Count, float64(sum)/float64(n)*scatterBin)
		}
	}
	if got := float64(r.Spark.TimedSD); got > 0.1*want {
		t.Errorf("%.4f° in the controller's own terms: the law put in is without fault", got)
	}
	if got := float64(r.Crank.ScatterDeg); math.Abs(got-0.2) > 0.006 {
		t.Errorf("edges scatter by %.4f°, put in 0.2°", got)
	}
}

// A starter that lets go, or a speed that is dialled in one step on a test rig, is no scatter: no smooth motion leads
// through it.
func TestJumpsAreNoScatter(t *testing.T) {
	d, deg, _ := legs(220, point{220, 2}, point{900, 0.03}, point{3000, 5}, point{1500, 0.03}, point{1500, 4})
	s := eight(d, 0.5, deg-0.5)
	s.pickup, s.delay, s.allowance, s.jitter = 0, 100, 100, 0.05
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 8, Commanded: locked(9)})
	if got := float64(r.Crank.ScatterDeg); math.Abs(got-0.05) > 0.01 {
		t.Errorf("edges scatter by %.4f°, put in 0.05°", got)
	}
	if got := float64(r.Spark.ScatterSD); got > 0.15 {
		t.Errorf("sparks scatter by %.4f° on the shaft, by hand 0.08°", got)
	}
}

// A burst of extra pulses is taken for vanes for a while, at many times the speed: that is not how fast the
// engine turned.
func TestWrongPulsesAreNoSpeed(t *testing.T) {
	d, deg, _ := legs(1000, point{3000, 10})
	edges := eight(d, 0.5, deg-0.5).run()
	clean := analyse(t, edges, fourNames, Options{Cylinders: 8})
	var wrong []waveform.Edge
	for i, e := range edges {
		wrong = append(wrong, e)
		if i%211 == 100 && e.Channel == 0 {
			for k := range 2 + i%5 {
				at := e.At + waveform.Second(k)*5e-4
				wrong = append(wrong, waveform.Edge{At: at + 2e-4, Channel: 0, Kind: waveform.Fall - e.Kind}, waveform.Edge{At: at + 4e-4, Channel: 0, Kind: e.Kind})
			}
		}
	}
	sort.SliceStable(wrong, func(i, j int) bool { return wrong[i].At < wrong[j].At })
	r := analyse(t, wrong, fourNames, Options{Cylinders: 8})
	if r.AnomalyCount[string(ExtraPulse)]+r.AnomalyCount[string(ShortPulse)] < 10 {
		t.Fatal(r.AnomalyCount)
	}
	if r.Speed.Max > 1.02*clean.Speed.Max || r.Speed.Min < 0.98*clean.Speed.Min {
		t.Errorf("%v to %v rpm, without the pulses %v to %v", r.Speed.Min, r.Speed.Max, clean.Speed.Min, clean.Speed.Max)
	}
	for i, p := range r.Series.Speed {
		if at := min(i, len(clean.Series.Speed)-1); math.Abs(p.Mean-clean.Series.Speed[at].Mean) > 0.15*p.Mean {
			t.Errorf("%.0f rpm at %.2f s", p.Mean, p.TimeS)
		}
	}
}
