package suspects

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"phasewright/bench"
)

// table is n invented readings over the speed range: so many degrees early, the eye's error on top, and one in a
// hundred misread by twenty degrees where misreads are wanted.
func table(n int, early float64, misreads bool) *Evidence {
	rng := rand.New(rand.NewPCG(uint64(n), 5))
	ev := &Evidence{}
	for i := range n {
		shown := 8 + early + 0.35*rng.NormFloat64()
		if misreads && i%100 == 57 {
			shown += 20
		}
		ev.Light = append(ev.Light, Light{Speed: 700 + 2600*rng.Float64(), Shown: &Number{Value: shown}, Locked: &Number{Value: 8}})
	}
	return ev
}

func defaultEngine(t testing.TB) *Engine {
	t.Helper()
	e, err := NewFor(bench.Default(), DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestAnyNumberOfReadingsIsWeighed(t *testing.T) {
	e := defaultEngine(t)
	counts := []int{40, 41, 300, 2000}
	if testing.Short() {
		counts = counts[1:3]
	}
	for _, n := range counts {
		for _, early := range []float64{4, 0} {
			ev := table(n, early, n >= 300)
			items, err := e.items(ev, mostLooks)
			if err != nil {
				t.Fatal(err)
			}
			if len(items) > 3*mostLooks { // the work does not grow with the readings
				t.Errorf("%d readings became %d pieces", n, len(items))
			}
			r, err := e.Explain(ev, Limits{})
			if err != nil {
				t.Fatal(err)
			}
			first := r.Suspects[0]
			if early == 0 && first.Name != NothingWrong {
				t.Errorf("%d sound readings: %s, %.3f", n, first.Name, first.Probability)
			}
			if early != 4 {
				continue
			}
			constant := 0.0 // what moves every reading alike, whichever of them it is
			for _, s := range r.Suspects {
				if len(s.Faults) > 0 && !slices.ContainsFunc(s.Faults, func(f string) bool {
					return !slices.Contains([]string{names()[housing], names()[lead], names()[damper]}, f)
				}) {
					constant += s.Probability
				}
			}
			if !slices.Contains(first.Faults, names()[housing]) || constant < 0.9 || len(first.Because) == 0 ||
				strings.HasPrefix(first.Because[0], "nothing") {
				t.Errorf("%d readings 4° early: %s, %.3f of a constant error's %.3f, %v", n, first.Name, first.Probability,
					constant, first.Because)
			}
		}
	}
}

func TestFewReadingsAreWeighedOneByOne(t *testing.T) {
	e := defaultEngine(t)
	ev := table(mostLooks, 4, false)
	items, err := e.items(ev, mostLooks)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, it := range items {
		if it.numeric() {
			if it.y != ev.Light[seen].Shown.Value || it.rpm != ev.Light[seen].Speed || strings.Contains(it.saw, "mean") {
				t.Errorf("reading %d became %g at %g rpm, %s", seen, it.y, it.rpm, it.words)
			}
			seen++
		}
	}
	if seen != mostLooks {
		t.Errorf("%d numbers of %d readings", seen, mostLooks)
	}
}

func TestAMeanOfLooks(t *testing.T) {
	at := func(rpm, shown, u float64) look {
		return look{lightCase: lightCase{rpm: rpm, wire: 1}, number: true, y: shown, v: u * u, asked: 8, of: 1}
	}
	for name, c := range map[string]struct {
		cell  []look
		y, u  float64
		rpm   float64
		apart int
	}{
		"one alone":          {[]look{at(800, 9, 0.3)}, 9, 0.3, 800, 0},
		"two":                {[]look{at(800, 9, 0.3), at(900, 9.2, 0.3)}, 9.1, 0.3 / math.Sqrt2, 850, 0},
		"by their certainty": {[]look{at(800, 9, 0.1), at(900, 9.05, 0.2)}, 9.01, math.Sqrt(1 / 125.0), 820, 0}, // weights 100 and 25
		"across the turn":    {[]look{at(800, 179.9, 0.3), at(800, -179.9, 0.3)}, 180, 0.3 / math.Sqrt2, 800, 0},
		"one misread":        {[]look{at(800, 9, 0.3), at(800, 29, 0.3), at(800, 9.2, 0.3), at(800, 9.1, 0.3)}, 9.1, 0.3 / math.Sqrt(3), 800, 1},
		"a hundred":          {slices.Repeat([]look{at(800, 9, 0.3)}, 100), 9, 0.3 / 4, 800, 0}, // sharpened by mostAgree and no further
		"two that part":      {[]look{at(800, 9, 0.3), at(800, 19, 0.3)}, 14, 1.4826 * 5 / math.Sqrt2, 800, 0},
	} {
		mean, apart := meanOf(c.cell)
		if math.Abs(wrap(mean.y-c.y, 360)) > 1e-9 || math.Abs(math.Sqrt(mean.v)-c.u) > 1e-9 || math.Abs(mean.rpm-c.rpm) > 1e-9 || len(apart) != c.apart {
			t.Errorf("%s: %g ± %g at %g rpm, %d apart; want %g ± %g at %g, %d", name, mean.y, math.Sqrt(mean.v), mean.rpm, len(apart), c.y, c.u, c.rpm, c.apart)
		}
	}
}

// What is not alike is not taken together: wires, lights, the starter, the time at one speed; and a known shift goes
// with its number.
func TestUnlikeLooksStayApart(t *testing.T) {
	e := defaultEngine(t)
	ev := &Evidence{}
	var locked float64 = 10
	for i := range 50 {
		ev.Light = append(ev.Light,
			Light{Speed: 800, Wire: 1, Shown: &Number{Value: 8}},
			Light{Speed: 800, Wire: 1, Shown: &Number{Value: 10}, Locked: &Number{Value: locked}},
			Light{Speed: 800, Wire: 3, Shown: &Number{Value: 12}},
			Light{Speed: 800, Wire: 1, Which: "other", Shown: &Number{Value: 14}},
			Light{Speed: float64(e.c.Engine.CrankingSpeed), Wire: 1, Shown: &Number{Value: 16}},
			Light{Speed: 3000, Wire: 1, After: 60e6 * float64(i), Shown: &Number{Value: 8 - 0.2*float64(i)}},
			Light{Speed: 3000, Wire: 1, Flashes: "some elsewhere"})
	}
	items, err := e.items(ev, mostLooks)
	if err != nil {
		t.Fatal(err)
	}
	told := float64(e.c.Controller.Locked)
	seen := map[string]bool{}
	walking := 0
	for _, it := range items {
		if !it.numeric() {
			if it.words == "some elsewhere" {
				seen["elsewhere"] = true
			}
			continue
		}
		switch {
		case it.rpm == 3000:
			walking++
			continue
		case it.wire == 1 && it.double && it.rpm == 800:
			if want := 8 + (10-8-(locked-told))/2; math.Abs(it.y-it.shift-want) > 1e-9 {
				t.Errorf("wire 1: %g with shift %g", it.y, it.shift)
			}
		}
		seen[fmt.Sprintf("wire %d, %t, %.0f rpm", it.wire, it.double, it.rpm)] = true
	}
	for _, want := range []string{"wire 1, true, 800 rpm", "wire 3, true, 800 rpm", "wire 1, false, 800 rpm", fmt.Sprintf("wire 1, true, %.0f rpm", float64(e.c.Engine.CrankingSpeed)), "elsewhere"} {
		if !seen[want] {
			t.Errorf("no %s among %v", want, seen)
		}
	}
	if walking < 10 {
		t.Errorf("readings that walk over the time became %d", walking)
	}
}

func TestALongEvidenceFileIsRead(t *testing.T) {
	var text strings.Builder
	text.WriteString("light:\n")
	for i := range 2000 {
		fmt.Fprintf(&text, "  - {speed: %d rpm, shown: 9.5 deg, locked: 8 deg}\n", 700+i)
	}
	ev, err := ReadLongEvidence("long.yaml", []byte(text.String()))
	if err != nil || len(ev.Light) != 2000 {
		t.Fatalf("%v, %+v", err, ev)
	}
	lamps := "lamps:\n" + strings.Repeat("  - {crank: high}\n", 41)
	if _, err := ReadLongEvidence("lamps.yaml", []byte(lamps)); err == nil || !strings.Contains(err.Error(), "at most 40") {
		t.Errorf("41 lamps: %v", err)
	}
}

// 2,000 readings are to be answered within a few seconds.
func BenchmarkExplainManyReadings(b *testing.B) {
	e := defaultEngine(b)
	ev := table(2000, 4, true)
	for b.Loop() {
		if _, err := e.Explain(ev, Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
