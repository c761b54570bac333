package readings_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"phasewright/estimate"
	"phasewright/quantity"
	"phasewright/readings"
)

func taken(e truth, allowance, noise float64, seed uint64) []readings.Row {
	r := rand.New(rand.NewPCG(seed, 3))
	var rows []readings.Row
	for _, n := range []float64{800, 1300, 1900, 2500, 3100, 3700} {
		rows = append(rows, e.row(8, n, allowance, noise*r.NormFloat64()))
	}
	return rows
}

func TestProofStatements(t *testing.T) {
	was, now := boat(), boat()
	now.AllowanceNow = 180
	before := taken(truth{constant: 1.9, tau: 177}, 100, 0, 1)
	for _, c := range []struct {
		name  string
		after []readings.Row
		want  readings.Statement
		says  string
	}{
		{"cured", taken(truth{constant: 0, tau: 177}, 180, 0.05, 2), readings.Proven, "By the light, the spark keeps within 1° of the commanded advance from 750\u2009rpm to 4\u2009200\u2009rpm."},
		{"not cured", taken(truth{constant: 1.9, tau: 177}, 180, 0.05, 2), readings.Failed, "beyond 1° somewhere"},
		{"in between", taken(truth{constant: 0.75, tau: 177}, 180, 0.2, 2), readings.NotShownYet, "Read here: 3\u2009700\u2009rpm."},
		{"nothing read", nil, readings.NotShownYet, "Too few readings for an interval. Read here: 750\u2009rpm."},
		{"a bend", bend(0.1), readings.NotShownYet, "does not follow a line"},
	} {
		p, err := readings.Prove(before, c.after, was, now, readings.Simulation{Draws: 50_000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(p.Words, "\n")
		if p.Statement != c.want || !strings.Contains(text, c.says) {
			t.Errorf("%s: %q, want %q saying %q\n%s", c.name, p.Statement, c.want, c.says, text)
		}
		if (p.ReadHere > 0) != (c.want == readings.NotShownYet) {
			t.Errorf("%s: read here %v", c.name, p.ReadHere)
		}
		if !strings.Contains(text, "Before the corrections it was 1.55°") { // 1.9 − 6·750·77·10⁻⁶ = 1.5535
			t.Errorf("%s: does not say what it was before:\n%s", c.name, text)
		}
		if !strings.Contains(text, "not a certificate") {
			t.Errorf("%s: no caution:\n%s", c.name, text)
		}
		if strings.Contains(text+strings.Join(p.Warnings, ""), "%!") {
			t.Errorf("%s: badly made words:\n%s\n%q", c.name, text, p.Warnings)
		}
		if _, err := json.Marshal(p); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	alone, err := readings.Prove(nil, taken(truth{tau: 177}, 180, 0.05, 2), was, now, readings.Simulation{Draws: 5000})
	if err != nil || alone.Was != nil || !math.IsNaN(alone.Before.Value) || strings.Contains(strings.Join(alone.Words, ""), "Before") {
		t.Errorf("without readings from before: %v, %+v", err, alone)
	}
	if _, err := readings.Prove(nil, nil, was, readings.Settings{}, readings.Simulation{}); err == nil {
		t.Error("empty settings went through")
	}
}

// JCGM 101: the simulation agrees with the budget where it is linear and normal enough, and the
// budget's lines add up to the combined figure (JCGM 100 eq. 10).
func TestProofBudgetAndSimulationAgree(t *testing.T) {
	set := boat()
	set.Common = readings.UsualCommon()
	p, err := readings.Prove(nil, taken(truth{constant: 0.05, tau: 110}, 100, 0.15, 4), set, set, readings.Simulation{Draws: 400_000, Seed: 9})
	if err != nil {
		t.Fatal(err)
	}
	var squares float64
	for _, l := range p.Budget {
		squares += float64(l.U * l.U)
	}
	near(t, "combined u", float64(p.Combined), math.Sqrt(squares), 1e-12)
	mc := p.Check
	if mc == nil {
		t.Fatal("no simulation")
	}
	// Four degrees of freedom: t's standard deviation is √2 of its scale.
	scatter := float64(p.Budget[0].U)
	near(t, "sd of the draws", float64(mc.SD), math.Sqrt(squares-scatter*scatter+2*scatter*scatter), 0.01*math.Sqrt(squares))
	near(t, "mean of the draws", float64(mc.Mean), p.Worst.Value, 0.002)
	// Rectangular lines make the true interval a little narrower than the budget's, fat tails
	// of the scatter a little wider: within 6 % of each other here.
	near(t, "upper end", float64(mc.Hi), p.Worst.Value+p.Worst.U, 0.06*p.Worst.U)
	near(t, "lower end", float64(mc.Lo), p.Worst.Value-p.Worst.U, 0.06*p.Worst.U)
	if !mc.SameVerdict {
		t.Error("budget and simulation come to other verdicts")
	}
	again, _ := readings.Prove(nil, taken(truth{constant: 0.05, tau: 110}, 100, 0.15, 4), set, set, readings.Simulation{Draws: 400_000, Seed: 9})
	if *again.Check != *mc {
		t.Error("the same seed gave another check")
	}
	// With the scatter alone the budget is a scaled t, which the simulation draws exactly.
	set.Common = nil
	p, err = readings.Prove(nil, taken(truth{constant: 0.05, tau: 110}, 100, 0.15, 4), set, set, readings.Simulation{Draws: 1_000_000, Seed: 9})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "upper end, scatter alone", float64(p.Check.Hi), p.Worst.Value+p.Worst.U, 0.01*p.Worst.U)
	near(t, "coverage factor, t for 4", float64(p.Factor), 2.776445, 1e-5) // NIST TN 1297: 2.78
}

// A wide tachometer error is no longer linear: true speed n(1+δ) was read as n, so the delay found
// is to be divided by 1+δ. The simulation shows the lean to one side that the budget cannot.
func TestSimulationShowsTheTachometersLean(t *testing.T) {
	set := boat()
	set.Tolerance = 50
	set.Common = []readings.Common{{Name: "tachometer", Effect: readings.SpeedScale, Limit: 0.5}}
	rows := taken(truth{tau: 1100}, 100, 1e-4, 4)
	p, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 400_000, Seed: 2})
	if err != nil {
		t.Fatal(err)
	}
	e := p.Worst.Value // −25.2° at 4200
	near(t, "error found", e, -6e-6*4200*1000, 0.01)
	// δ even over ±0.5: e/(1+δ) at δ = −0.475 and 0.475.
	near(t, "lower end", float64(p.Check.Lo), e/(1-0.475), 0.3)
	near(t, "upper end", float64(p.Check.Hi), e/(1+0.475), 0.1)
	if p.Check.Agrees {
		t.Error("said to agree with a budget that is far off")
	}
	// Then the wider of the two is what the proof reports, and it says so. By hand: down to e/(1 − 0.475), 22.8°
	// below e.
	near(t, "U reported", p.Worst.U, -e*(1/(1-0.475)-1), 0.3)
	if !p.Check.Reported || !strings.Contains(strings.Join(p.Words, " "), "the larger of the two, the simulation's") {
		t.Errorf("reported %v: %q", p.Check.Reported, p.Words)
	}
}

// A proof that the budget alone would pass and the wider simulated interval does not is no pass: e ± U of the test
// above, with a tolerance between the two.
func TestTheWiderIntervalJudges(t *testing.T) {
	set := boat()
	set.Common = []readings.Common{{Name: "tachometer", Effect: readings.SpeedScale, Limit: 0.5}}
	set.Tolerance = 44 // |e| + U is 25.2 + 14.3 by the budget, 25.2 + 22.8 by simulation
	rows := taken(truth{tau: 1100}, 100, 1e-4, 4)
	p, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 400_000, Seed: 2})
	if err != nil {
		t.Fatal(err)
	}
	if p.Is.Verdict != readings.Pass || p.Statement != readings.NotShownYet || !(p.ReadHere > 0) {
		t.Errorf("fit %s, proof %q, worst %+v, read at %v", p.Is.Verdict, p.Statement, p.Worst, p.ReadHere)
	}
}

func TestProofSaysWhatIsAssumed(t *testing.T) {
	set := boat()
	set.Common = []readings.Common{
		{Name: "zero mark", Effect: readings.Constant, Limit: 0.3, Assumed: true},
		{Name: "mark placement", Effect: readings.Constant, Limit: 0.2},
	}
	p, err := readings.Prove(nil, taken(truth{tau: 100}, 100, 0.05, 2), set, set, readings.Simulation{Draws: 5000})
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(p.Warnings, "\n")
	if !strings.Contains(text, "zero mark: 0.17° is assumed") || strings.Contains(text, "mark placement") {
		t.Errorf("warnings: %s", text)
	}
	if p.Budget[0].Kind != estimate.TypeA || p.Budget[1].Kind != estimate.TypeB {
		t.Errorf("kinds: %+v", p.Budget)
	}
}

// How often the proof passes an engine that is truly beyond its tolerance, marks and all, over
// whole simulated jobs: find, correct, prove.
func TestProofOfSimulatedJobs(t *testing.T) {
	const jobs = 1500
	r := rand.New(rand.NewPCG(12, 1))
	var passed, wrong, corrected int
	for range jobs {
		set := boat()
		set.Common = []readings.Common{{Name: "marks", Effect: readings.Constant, Limit: 0.4}}
		e := truth{constant: 6*r.Float64() - 3, tau: 250 * r.Float64()}
		marks := 0.4 * (2*r.Float64() - 1) // what the light shows too much, on every reading
		take := func() []readings.Row {
			var rows []readings.Row
			for _, n := range []float64{800, 1100, 1600, 2200, 2800, 3300, 3700} {
				rows = append(rows, e.row(8, n, float64(set.AllowanceNow), 0.15*r.NormFloat64()+marks))
			}
			return rows
		}
		before, was := take(), set
		res := fit(t, before, set)
		if res.Verdict == readings.Adjust {
			corrected++
			set.AllowanceNow = quantity.Time(res.Allowance.Set)
			turn := res.Housing.TurnDeg
			if res.Housing.Direction == readings.AgainstRotor {
				turn = -turn
			}
			e.housing += turn
		}
		p, err := readings.Prove(before, take(), was, set, readings.Simulation{Draws: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		truly := math.Max(math.Abs(e.shows(0, 750, float64(set.AllowanceNow))), math.Abs(e.shows(0, 4200, float64(set.AllowanceNow))))
		if p.Statement == readings.Proven {
			passed++
			if truly > 1 {
				wrong++
			}
		}
	}
	t.Logf("%d jobs: %d corrected, %d proven, %d of these truly beyond the tolerance", jobs, corrected, passed, wrong)
	if passed < jobs/2 {
		t.Errorf("only %d of %d jobs could be proven", passed, jobs)
	}
	if wrong > passed*25/1000 { // one side of 95 %
		t.Errorf("%d of %d proofs are wrong", wrong, passed)
	}
}

// Default draws; the check is run once for each proof.
func BenchmarkProve(b *testing.B) {
	set := boat()
	set.Common = readings.UsualCommon()
	before, after := taken(truth{constant: 1.9, tau: 177}, 100, 0.1, 1), taken(truth{tau: 110}, 100, 0.1, 2)
	for b.Loop() {
		if _, err := readings.Prove(before, after, set, set, readings.Simulation{Seed: 1}); err != nil {
			b.Fatal(err)
		}
	}
}
