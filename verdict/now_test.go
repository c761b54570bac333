package verdict

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/readings"
	"phasewright/suspects"
)

// The judge and the ranking speak with one voice: no turn that the judge does not advise, and nothing called right that
// he finds broken (rows: our own rule).
func TestNowIsOneVoice(t *testing.T) {
	housing := suspects.Suspect{Name: "housing off", Faults: []string{"housing"}, Probability: 0.97,
		Cure: "loosen the clamp"}
	coil := suspects.Suspect{Name: "coil dead", Faults: []string{"deadcoil"}, Probability: 0.97, Cure: "renew the coil",
		Mind: "feed off"}
	fine := suspects.Suspect{Name: suspects.NothingWrong, Probability: 0.97, Cure: "leave it"}
	looks := []suspects.Advice{{ID: "a"}, {ID: "b"}, {ID: "c"}}
	for _, row := range []struct {
		name    string
		first   suspects.Suspect
		settled bool
		word    Word
		cure    *Cure
		want    Now
	}{
		{"settled on a fault", coil, true, Fails, nil, Now{Settled: true, Do: "renew the coil", Mind: "feed off"}},
		{"settled on the timing, judge not sure", housing, true, Fails, nil, Now{Do: "the judge's next"}},
		{"settled on the timing, judge sure", housing, true, Fails, &Cure{}, Now{Settled: true, Do: "the judge's next"}},
		{"not settled, judge sure", housing, false, Fails, &Cure{}, Now{Settled: true, Do: "the judge's next"}},
		{"nothing wrong", fine, true, NotShownYet, nil, Now{Settled: true, Do: "leave it"}},
		{"nothing wrong, but the judge finds something", fine, true, Fails, nil, Now{Do: "the judge's next"}},
		{"not settled", coil, false, Fails, nil, Now{Looks: looks[:2]}},
	} {
		r := &suspects.Result{Suspects: []suspects.Suspect{row.first}, Settled: row.settled, Observations: looks}
		if !row.settled {
			r.Next = &looks[0]
		}
		j := &Judgement{Word: row.word, Verdict: readings.ReadMore, Next: "the judge's next", Cure: row.cure}
		got := j.Now(r)
		if got.Settled != row.want.Settled || got.Do != row.want.Do || got.Mind != row.want.Mind ||
			len(got.Looks) != len(row.want.Looks) {
			t.Errorf("%s: %+v, want %+v", row.name, got, row.want)
		}
	}
}

// Whole per cents of shares that add to at most one add to at most a hundred, each within one of its own.
func TestSharesNeverAddToMoreThanAHundred(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 12).Draw(t, "p")
		sum := 0.0
		for _, x := range p {
			sum += x
		}
		all := 0.0
		for i := range p {
			p[i] /= max(sum, 1)
		}
		for i, x := range wholes(p) {
			all += 100 * x
			if d := 100 * (x - p[i]); d > 1.0001 || d < -1.0001 {
				t.Fatalf("%g was rounded to %g", p[i], x)
			}
		}
		if all > 100.0001 {
			t.Fatalf("%v add to %g", p, all)
		}
	})
}

// What says the same is said once; a look that says the same whatever is seen says nothing.
func TestTellsSaysTheSameOnce(t *testing.T) {
	for said, want := range map[string]string{
		"none: plug wire; intake: fuel; exhaust: fuel": "none: plug wire; intake or exhaust: fuel",
		"dry: track; damp: track":                      "",
		"":                                             "",
	} {
		if got := Tells(&suspects.Advice{Tells: said}); got != want {
			t.Errorf("%q became %q, want %q", said, got, want)
		}
	}
	why, against := Reasons(&suspects.Suspect{Faults: []string{"plug"}, Because: []string{
		"for: cylinder 3 misfires (foreseen in 90 %, with nothing wrong in 5 %)",
		"against: spark: strong (foreseen in 3 %)"}})
	if strings.Join(why, "|") != "cylinder 3 misfires" || strings.Join(against, "|") != "spark: strong" {
		t.Errorf("why %q, against %q", why, against)
	}
}
