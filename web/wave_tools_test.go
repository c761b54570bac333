package web

import (
	"bytes"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// run is a recording that the bench makes: the Sandpiper card run up through its speeds.
type run struct {
	format  string // csv, vcd or wav
	seconds float64
	rate    float64 // samples a second, 0: 100,000
	faults  bench.Faults
}

// sandpiperBench is the bench of the Sandpiper card.
func sandpiperBench(t testing.TB) bench.Config {
	t.Helper()
	card, err := jobcard.Parse("", []byte(example(t, "sandpiper")))
	if err != nil {
		t.Fatal(err)
	}
	c, err := bench.FromCard(card)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func (r run) record(t testing.TB) []byte {
	t.Helper()
	c := sandpiperBench(t)
	rig, err := bench.NewRig(c, r.faults, bench.Sweep(750, 4000, quantity.Time(r.seconds*1e6)), 1)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	switch r.format {
	case "csv":
		err = bench.WriteCSV(&b, rig, c, bench.Sampling{Rate: r.rate})
	case "wav":
		err = bench.WriteWAV(&b, rig, c, bench.Sampling{Rate: r.rate})
	default:
		err = bench.WriteVCD(&b, rig)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// captured stores a file with a job, waits until it is read, and gives the address of its waveform.
func (s *shop) captured(job, name string, data []byte) string {
	s.t.Helper()
	return s.sent(job, name, data, nil) + "/wave"
}

// part is a piece of a page between two texts.
func between(t testing.TB, body, from, to string) string {
	t.Helper()
	_, rest, ok := strings.Cut(body, from)
	piece, _, end := strings.Cut(rest, to)
	if !ok || !end {
		t.Fatalf("page lacks %q … %q:\n%s", from, to, body)
	}
	return piece
}
