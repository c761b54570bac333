package webtest

import (
	"bytes"
	"testing"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Run is a recording that the bench makes: the Sandpiper card run up through its speeds.
type Run struct {
	Format  string // csv, vcd or wav
	Seconds float64
	Rate    float64 // samples a second, 0: 100,000
	Faults  bench.Faults
}

// SandpiperBench is the bench of the Sandpiper card.
func SandpiperBench(t testing.TB) bench.Config {
	t.Helper()
	card, err := jobcard.Parse("", []byte(Example(t, "sandpiper")))
	if err != nil {
		t.Fatal(err)
	}
	c, err := bench.FromCard(card)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func (r Run) Record(t testing.TB) []byte {
	t.Helper()
	c := SandpiperBench(t)
	rig, err := bench.NewRig(c, r.Faults, bench.Sweep(750, 4000, quantity.Time(r.Seconds*1e6)), 1)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	switch r.Format {
	case "csv":
		err = bench.WriteCSV(&b, rig, c, bench.Sampling{Rate: r.Rate})
	case "wav":
		err = bench.WriteWAV(&b, rig, c, bench.Sampling{Rate: r.Rate})
	default:
		err = bench.WriteVCD(&b, rig)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
