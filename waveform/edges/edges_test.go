package edges

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"phasewright/waveform/block"
)

// sliced feeds values to a detector in blocks of the given sizes, and checks that no edge comes earlier than was
// promised.
func sliced(t *testing.T, d detector, edges *[]block.Edge, v []float64, size func() int) []block.Edge {
	t.Helper()
	held := block.Second(math.Inf(-1))
	var before float64
	for i := 0; i < len(v); {
		n := min(size(), len(v)-i)
		least, largest := block.Extremes(v[i : i+n])
		known := len(*edges)
		feed(d, v[i:i+n], &block.Clock{Interval: 1e-5, Row: int64(i), Before: before}, least, largest)
		for _, e := range (*edges)[known:] {
			if e.At < held {
				t.Fatalf("an edge at %v, after none was to come before %v", e.At, held)
			}
		}
		i += n
		before = float64(i-1) * 1e-5
		held = max(held, d.hold(block.Second(before)))
	}
	return *edges
}

// TestSameInPieces: edges do not depend on where blocks of samples begin, whatever the method, though some are timed by
// samples on both sides of such a place. The wave is invented: teeth of changing height, slow rises, noise.
func TestSameInPieces(t *testing.T) {
	rng := rand.New(rand.NewPCG(99, 100))
	v := make([]float64, 30_000)
	for i := range v {
		if p := i % 200; p >= 80 && p < 180 {
			v[i] = (2 + 1.5*math.Sin(float64(i/200))) * float64(p-80) / 100
		}
		v[i] += 0.05 * rng.NormFloat64()
	}
	for name, make := range map[string]func(emit func(block.Edge)) detector{
		"levels": func(emit func(block.Edge)) detector { return newByLevels(0, 2, 0.3, emit, new(int64)) },
		"tooth": func(emit func(block.Edge)) detector {
			d := newByLevels(0, 2, 0.3, emit, new(int64))
			d.tooth = true
			return d
		},
		"changes":   func(emit func(block.Edge)) detector { return newByChanges(0.6, 4, emit, new(int64)) },
		"crossings": func(emit func(block.Edge)) detector { return newByZeroCrossing(0.3, 0.4, emit) },
	} {
		run := func(size func() int) []block.Edge {
			var edges []block.Edge
			return sliced(t, make(func(e block.Edge) { edges = append(edges, e) }), &edges, v, size)
		}
		want := run(func() int { return len(v) })
		if len(want) < 100 && name != "changes" || len(want) < 1 {
			t.Fatalf("%s: %d edges", name, len(want))
		}
		for _, size := range []func() int{func() int { return 1 }, func() int { return 7 }, func() int { return 256 },
			func() int { return 1 + rng.IntN(50) }} {
			if got := run(size); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s: %d edges in pieces, %d in one, or others", name, len(got), len(want))
			}
		}
	}
}

// TestWhatBreaksInTheSurveyComesHome: a broken invariant on the goroutine that judges a channel comes out of JudgeAll.
func TestWhatBreaksInTheSurveyComesHome(t *testing.T) {
	defer func() {
		if p := recover(); !strings.Contains(fmt.Sprint(p), "index out of range") {
			t.Errorf("recovered %v", p)
		}
	}()
	JudgeAll(nil, make([]Hint, 5), 3)
	t.Error("nothing broke")
}

// TestSurveyIsLetGo: what was held for judging alone does not stay in memory for the length of the recording.
func TestSurveyIsLetGo(t *testing.T) {
	f := NewFollower(make([]block.Channel, 1), 0, nil)
	f.Sampled(0, Hint{Start: make([]float64, 9)}, Finding{Method: block.MethodNone})
	if f.tracks[0].hint.Start != nil {
		t.Error("the recording's beginning is still held")
	}
}
