package shaft

import (
	"math"
	"testing"

	"phasewright/jobcard"
	"phasewright/waveform"
)

// One clamp on wire 1, nothing else: by hand, a pulse every 0.1 s is one in two turns of 1200 rpm. Two of them do
// not come.
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

// What the card states is set beside what was measured; a pickup that is upside down differs in its level.
func TestMeasuredBesideStated(t *testing.T) {
	s := running()
	c := card()
	c.Signals.Crank.Kind = jobcard.Hall
	r := analyse(t, s.run(), fourNames, Options{Card: c})
	seen := map[string]Compared{}
	for _, v := range r.Stated {
		seen[v.What] = v
	}
	// By hand: vanes of 30° of crank, eight a cycle, low in the vane: high for two thirds. The cam enters 60° before
	// the active edge; the crank pickup answers 40 µs late, 0.6° at 2500 rpm.
	for what, want := range map[string]float64{"trigger lead": 49, "vane width": 15, "cam window": 80, "cam edge before cylinder 1's": 60,
		"crank high": 200.0 / 3} {
		if v, ok := seen[what]; !ok || !v.Agrees || math.Abs(float64(v.Measured)-want) > 0.8 || math.Abs(float64(v.Stated)-want) > 0.5 {
			t.Errorf("%s: %+v, by hand %v", what, v, want)
		}
	}
	c.Signals.Crank.InVane = jobcard.High
	for _, v := range analyse(t, s.run(), fourNames, Options{Card: c}).Stated {
		if v.What == "crank high" && v.Agrees {
			t.Errorf("upside down, and said to agree: %+v", v)
		}
	}
}
