package shaft

import (
	"math"
	"testing"

	"phasewright/waveform"
)

// One clamp on wire 1, nothing else: by hand, a pulse every 0.1 s is one in two turns of 1200 rpm. Two of them do not come.
func TestOneWire(t *testing.T) {
	var edges []waveform.Edge
	for i := range 60 {
		if i == 20 || i == 41 {
			continue
		}
		at := waveform.Second(0.1 * float64(i))
		edges = append(edges, waveform.Edge{At: at, Kind: waveform.Rise}, waveform.Edge{At: at + 80e-6, Kind: waveform.Fall})
	}
	r := analyse(t, edges, []string{"A"}, Options{Card: card()})
	a := r.Alone
	if a == nil || r.Crank != nil {
		t.Fatalf("alone %+v, crank %+v", a, r.Crank)
	}
	if math.Abs(a.Speed.Mean-1200) > 1 || math.Abs(a.Speed.Min-1200) > 1 || math.Abs(a.Speed.Max-1200) > 1 || a.Lost != 2 || a.Uneven > 0.01 {
		t.Errorf("%+v", a)
	}
	if !r.Found(FoundNoCrank) {
		t.Error("it is not said that there is no crank signal")
	}
}
