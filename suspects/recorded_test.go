package suspects_test

import (
	"bytes"
	"slices"
	"testing"

	"phasewright/bench"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/shaft"
	"phasewright/suspects"
	"phasewright/waveform"
)

// From the bench's signals through a recorded file and the decoder to the suspects: the fault is first on the recording
// alone. (Above some 20 % of crossfire the decoder no longer tells the channels apart by itself.)
func TestSuspectsFromARecording(t *testing.T) {
	card, err := jobcard.Parse("sandpiper.yaml", []byte(examples.Cards()[0].YAML))
	if err != nil {
		t.Fatal(err)
	}
	c, err := bench.FromCard(card)
	if err != nil {
		t.Fatal(err)
	}
	e, err := suspects.New(card, suspects.DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ fault, want string }{
		{"housing=3deg", "housing"}, {"delay=150us", "delay"}, {"edge=inverted", "edge"}, {"leads=swapped", "leads"}, {"pickup=off", "pickup"},
		{"noise=8%", "noise"}, {"crossfire=15%", "crossfire"}, {"worn=1.5deg", "worn"}, {"wobble=2deg", "wobble"}, {"vane=1deg", "vane"}, {"housing=0deg", ""},
	} {
		f, err := bench.ParseFaults(c, tc.fault)
		if err != nil {
			t.Fatal(err)
		}
		p, err := bench.ParseProfile("sweep 800..3800 rpm in 10 s")
		if err != nil {
			t.Fatal(err)
		}
		rig, err := bench.NewRig(c, f, p, 5)
		if err != nil {
			t.Fatal(err)
		}
		var file bytes.Buffer
		if err := bench.WriteVCD(&file, rig); err != nil {
			t.Fatal(err)
		}
		in := bytes.NewReader(file.Bytes())
		res, err := shaft.Run(t.Context(), shaft.Recording{Input: waveform.File("run.vcd", in, int64(file.Len()))}, shaft.Options{Card: card})
		if err != nil {
			t.Fatalf("%s: %v", tc.fault, err)
		}
		var ev suspects.Evidence
		ev.FromCapture(res)
		r, err := e.Explain(&ev, suspects.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		first := r.Suspects[0]
		if tc.want == "" && first.Name != suspects.NothingWrong || tc.want != "" && !slices.Contains(first.Faults, tc.want) {
			t.Errorf("%s: first is %s", tc.fault, top(r, 4))
		}
	}
}
