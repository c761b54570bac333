package suspects_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/suspects"
)

// scale multiplies the size of the trials: SUSPECTS_TRIALS=10 for a long run.
func scale() int {
	if n, err := strconv.Atoi(os.Getenv("SUSPECTS_TRIALS")); err == nil && n > 0 {
		return n
	}
	return 1
}

// few is n, or half of it with -short.
func few[N int | uint64](n N) N {
	if testing.Short() {
		return n / 2
	}
	return n
}

// fresh shifts every draw: SUSPECTS_FRESH=1 takes engines that nobody has looked at while the ranking was made.
func fresh() uint64 {
	n, _ := strconv.ParseUint(os.Getenv("SUSPECTS_FRESH"), 10, 32)
	return n * 1000000
}

func explain(t testing.TB, d sampleEngine, ev *suspects.Evidence) (*suspects.Engine, *suspects.Result) {
	t.Helper()
	e, err := suspects.NewFor(d.c, suspects.DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	r, err := e.Explain(ev, suspects.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return e, r
}

func top(r *suspects.Result, n int) string {
	var out []string
	for _, s := range r.Suspects[:min(n, len(r.Suspects))] {
		name := strings.Join(s.Faults, "|")
		if name == "" {
			name = s.Name
		}
		out = append(out, fmt.Sprintf("%s %.2f", name, s.Probability))
	}
	return strings.Join(out, ", ")
}

// within says whether a share of n trials may stand beside the share that many trials had: no more than two standard
// deviations of the count lie between them.
func within(share, measured float64, n int) bool {
	return share >= measured-2*math.Sqrt(measured*(1-measured)/float64(n))
}

// Single faults, every row of the table as often as the next, with a usual set of evidence from the bench's events: the
// fault stands in the first line of the ranking, alone or with what cannot be told from it at odds within two to one.
func TestSingleFaults(t *testing.T) {
	// Measured over 20 engines a fault, 600 in all: first in 496, in the first three in 588. Those that come second are
	// mostly delays of the light, damper marks, reversed reluctors and bent vanes, which the usual evidence cannot tell
	// from likelier faults: lines that stand apart by more than two to one no longer count as one.
	// Since each light of a unit a tooth out may lie 4° off by itself (lightprobe.go) all 20 of those come second to a
	// housing: 472 and 578 of 600, outside these limits when all are tried.
	const measuredFirst, measuredThree = 496. / 600, 588. / 600
	rounds := 2 * scale()
	first, three, all := 0, 0, 0
	missed := map[string]int{}
	for _, r := range bench.FaultTable() {
		for i, n := uint64(0), 0; n < rounds && i < uint64(20*rounds); i++ {
			d, ok := drawEngine(fresh()+1000+i, r.Name)
			if !ok {
				continue
			}
			s, err := newShop(d.c, d.f, d.seed)
			if err != nil {
				t.Fatal(err)
			}
			n++
			all++
			ev := s.usual()
			_, res := explain(t, d, ev)
			at := slices.IndexFunc(res.Suspects, func(x suspects.Suspect) bool { return slices.Contains(x.Faults, r.Name) })
			if at >= 0 && at < 3 {
				three++
			}
			if at == 0 {
				first++
				continue
			}
			missed[r.Name]++
			if testing.Verbose() {
				t.Logf("%v (engine %d): %s; %s %s %v", d.f.List(), d.seed, top(res, 4), ev.Engine.Starting,
					ev.Engine.Running, ev.Engine.Misfire)
			}
		}
	}
	share, shareThree := float64(first)/float64(all), float64(three)/float64(all)
	t.Logf("single faults: first in %d of %d (%.1f %%), in the first three in %d (%.1f %%); not first %v", first, all,
		100*share, three, 100*shareThree, missed)
	if !within(share, measuredFirst, all) {
		t.Errorf("first in %.1f %% of single faults, %.1f %% were measured", 100*share, 100*measuredFirst)
	}
	if !within(shareThree, measuredThree, all) {
		t.Errorf("in the first three in %.1f %% of single faults, %.1f %% were measured", 100*shareThree,
			100*measuredThree)
	}
}

// Sound engines must not be accused.
func TestSoundEngines(t *testing.T) {
	rounds := 50 * scale()
	accused := 0
	for i := range rounds {
		d, _ := drawEngine(fresh() + uint64(5000+i))
		s, err := newShop(d.c, d.f, d.seed)
		if err != nil {
			t.Fatal(err)
		}
		_, res := explain(t, d, s.usual())
		if res.Suspects[0].Name != suspects.NothingWrong {
			accused++
			t.Logf("engine %d: %s", d.seed, top(res, 4))
		}
	}
	t.Logf("sound engines accused: %d of %d", accused, rounds)
	if float64(accused) > 0.02*float64(rounds)+1e-9 {
		t.Errorf("%d of %d sound engines accused, wanted at most 2 %%", accused, rounds)
	}
}

// hides says whether one fault keeps all sign of another from showing.
func hides(names []string) bool {
	for _, n := range names {
		if slices.Contains([]string{"pickup", "leads", "campickup", "stroke", "edge"}, n) {
			return true
		}
	}
	return false
}

// Pairs by frequency: both in the first three lines (explanations that stand together at odds within two to one are
// one line).
func TestPairs(t *testing.T) {
	rounds := few(50 * scale())
	rng := rand.New(rand.NewPCG(9, 9+fresh()))
	both, all, hidden, hiddenBoth := 0, 0, 0, 0
	for i := uint64(0); all < rounds; i++ {
		a, b := pickFault(rng), pickFault(rng)
		if a == b {
			continue
		}
		stops := hides([]string{a, b})
		if stops && scale() == 1 {
			continue
		}
		d, ok := drawEngine(fresh()+20000+i, a, b)
		if !ok {
			continue
		}
		s, err := newShop(d.c, d.f, d.seed)
		if err != nil {
			continue
		}
		_, res := explain(t, d, s.usual())
		found := 0
		for _, n := range d.names {
			for _, x := range res.Suspects[:3] {
				if slices.Contains(x.Faults, n) {
					found++
					break
				}
			}
		}
		if stops { // the other fault may leave no sign at all: told apart, not judged
			hidden++
			if found == 2 {
				hiddenBoth++
			}
			continue
		}
		all++
		if found == 2 {
			both++
		} else if testing.Verbose() {
			t.Logf("%d %v: %s", d.seed, d.f.List(), top(res, 4))
		}
	}
	share := float64(both) / float64(all)
	t.Logf("pairs: both in the first three in %d of %d (%.1f %%); with a fault that stops the engine in %d of %d, not judged", both, all, 100*share, hiddenBoth, hidden)
	// Measured over 500 pairs: 383. A second fault that the evidence gains less than twelve to one by is not named.
	const measured = 383. / 500
	if !within(share, measured, all) {
		t.Errorf("both in the first three in %.1f %% of pairs, %.1f %% were measured", 100*share, 100*measured)
	}
}

// Following its own advice from bare light readings.
func TestAdviceLeadsToTheCause(t *testing.T) {
	rounds := few(24 * scale())
	rng := rand.New(rand.NewPCG(3, 3+fresh()))
	sheets := readSheets(t)
	var steps []int
	const give = 8
	for i := uint64(0); len(steps) < rounds; i++ {
		name := pickFault(rng)
		d, ok := drawEngine(fresh()+40000+i, name)
		if !ok {
			continue
		}
		s, err := newShop(d.c, d.f, d.seed)
		if err != nil {
			continue
		}
		ev := s.bare()
		n := 0
		var path []string
		for ; n <= give; n++ {
			_, res := explain(t, d, ev)
			if with(res, name) >= 0.9 || curesFirst(res, name) { // the fault itself, or one cure for it and its group
				break
			}
			if res.Next == nil || n == give {
				path = append(path, "stuck: "+top(res, 3))
				n = give
				break
			}
			// a look that nobody can answer is not made: then the next that is advised
			made := slices.IndexFunc(res.Observations, func(a suspects.Advice) bool {
				return s.answer(ev, a.ID) || bySheet(t, sheets, ev, &a, d.names)
			})
			if made < 0 {
				path = append(path, "no answer: "+top(res, 3))
				n = give
				break
			}
			path = append(path, res.Observations[made].ID)
		}
		steps = append(steps, n)
		if testing.Verbose() && n > 3 {
			t.Logf("%v: %d steps: %v", d.f.List(), n, path)
		}
	}
	slices.Sort(steps)
	t.Logf("further observations to 90 %%: %v, median %d", steps, steps[len(steps)/2])
	if steps[len(steps)/2] > 3 {
		t.Errorf("median of %d further observations, wanted 3 at most", steps[len(steps)/2])
	}
}

// curesFirst says whether the matter is settled by a cure that is that of a fault.
func curesFirst(r *suspects.Result, name string) bool {
	return r.Settled && slices.ContainsFunc(r.Suspects, func(s suspects.Suspect) bool {
		return slices.Contains(s.Faults, name) && s.Cure == r.Suspects[0].Cure
	})
}

// with is the probability of a fault itself, alone or beside another.
func with(r *suspects.Result, name string) float64 {
	p := 0.0
	for _, x := range r.Explanations {
		if slices.Contains(x.Faults, name) {
			p += x.Probability
		}
	}
	return p
}

// isTrue says whether an explanation came true: all its faults are there, or there are none and it says so.
func isTrue(said, names []string) bool {
	if len(said) == 0 {
		return len(names) == 0
	}
	return !slices.ContainsFunc(said, func(f string) bool { return !slices.Contains(names, f) })
}

// Stated probabilities against how often they were true, over engines drawn by frequency: nothing, one fault, two. Each
// line of the ranking is a statement, and each explanation of a line where several stand together.
func TestCalibration(t *testing.T) {
	rounds := few(60 * scale())
	rng := rand.New(rand.NewPCG(8, 1+fresh()))
	type bin struct{ n, stated, true, vary float64 }
	var bins, firsts [10]bin
	score := 0.0
	for i, n := uint64(0), 0; n < rounds; i++ {
		var names []string
		switch u := rng.Float64(); {
		case u < 0.2:
		case u < 0.82:
			names = []string{pickFault(rng)}
		default:
			a, b := pickFault(rng), pickFault(rng)
			if a == b {
				continue
			}
			names = []string{a, b}
		}
		d, ok := drawEngine(fresh()+60000+i, names...)
		if !ok {
			continue
		}
		s, err := newShop(d.c, d.f, d.seed)
		if err != nil {
			continue
		}
		n++
		ev := s.usual()
		if n%3 == 0 {
			ev = s.bare()
		}
		_, res := explain(t, d, ev)
		for k, x := range res.Suspects {
			if x.Name == suspects.NoneOfThese {
				continue
			}
			members := x.Members
			if len(members) == 0 {
				members = []suspects.Member{{Faults: x.Faults, Probability: x.Probability}}
			}
			for j, m := range members {
				if m.Probability < 0.01 {
					continue
				}
				is := isTrue(m.Faults, names)
				b := &bins[min(int(10*m.Probability), 9)]
				b.n++
				b.stated += m.Probability
				b.true += b2f(is)
				b.vary += m.Probability * (1 - m.Probability)
				if k == 0 && j == 0 {
					b := &firsts[min(int(10*m.Probability), 9)]
					b.n++
					b.stated += m.Probability
					b.true += b2f(is)
				}
				score += (m.Probability - b2f(is)) * (m.Probability - b2f(is))
			}
		}
	}
	ece, chance, total := 0.0, 0.0, 0.0
	for _, b := range bins {
		total += b.n
	}
	for i, b := range bins {
		if b.n > 0 {
			t.Logf("stated %.1f–%.1f: %4.0f statements, mean %.3f, true %.3f", float64(i)/10, float64(i+1)/10, b.n, b.stated/b.n, b.true/b.n)
			ece += math.Abs(b.stated-b.true) / total
			chance += math.Sqrt(b.vary) / total
		}
	}
	first, n := 0.0, 0.0
	for _, b := range firsts {
		n += b.n
		first += math.Abs(b.stated - b.true)
	}
	t.Logf("first places alone: expected calibration error %.3f over %.0f", first/n, n)
	t.Logf("expected calibration error %.3f, Brier score %.3f over %.0f statements", ece, score/total, total)
	// Measured over 300 engines, 592 statements: 0.078; it was 0.053 with one power of 1.8 for all evidence. The power is
	// fitted to evidence written by hand; of the bench's engines what is said is too sure. Were every statement exactly
	// right, chance would still part each bin's count from what was stated by a standard deviation of √Σp(1−p).
	if limit := 0.078 + chance; ece > limit {
		t.Errorf("expected calibration error %.3f, wanted at most %.3f", ece, limit)
	}
}
