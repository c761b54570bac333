package wheel

import (
	"math"
	"testing"

	"phasewright/shaft/roles"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// By hand: a controller of an even four that waits T·(L−a)/180 + τ after each edge, with L − a = 40° and τ = 120 µs,
// while the crank speeds up evenly. The line gives both back; the other end of a dwell of 2 ms gives a delay of 120 −
// 2000 µs. All figures are invented.
func TestWaitObeysTheLaw(t *testing.T) {
	const wait, delay, dwell = 40.0, 120e-6, 2e-3
	at := func(deg float64) float64 { // θ = 6·(1000·t + 600·t²/2)
		return (-1000 + math.Sqrt(1000*1000+2*600*deg/6)) / 600
	}
	var edges, sparks, begins []waveform.Second
	for k := range 200 {
		now := at(180 * float64(k))
		edges = append(edges, waveform.Second(now))
		if k > 0 {
			spark := now + (now-at(180*float64(k-1)))*wait/180 + delay
			sparks = append(sparks, waveform.Second(spark))
			begins = append(begins, waveform.Second(spark-dwell))
		}
	}
	l := &Layout{Facts: &terms.Facts{}, Assigned: roles.Assignment{Vanes: 4}}
	if w := l.waitOf(edges, sparks); math.Abs(w.atRest-wait) > 1e-6 || math.Abs(w.delay-120) > 1e-3 || w.scatter > 1e-6 {
		t.Errorf("spark: %+v", w)
	}
	if w := l.waitOf(edges, begins); math.Abs(w.atRest-wait) > 1e-6 || math.Abs(w.delay-(120-2000)) > 1e-3 {
		t.Errorf("start of dwell: %+v", w)
	}
}
