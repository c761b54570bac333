package verdict

import "testing"

// What the headline says of some sets, written by hand.
func TestHeadline(t *testing.T) {
	all := func(state State) Set {
		s := open()
		for i := range s {
			s[i].State = state
		}
		return s
	}
	with := func(s Set, state State, ids ...ID) Set {
		for _, id := range ids {
			s.Get(id).State = state
		}
		return s
	}
	for _, row := range []struct {
		set  Set
		want string
	}{
		{all(Shown), "Passes: all nine clauses are shown."},
		{with(all(Shown), NotClaimed, FirstCrank), "Passes in all that is claimed."},
		{open(), "Not shown yet; nine clauses open."},
		{with(all(Shown), Open, Held), "Not shown yet; one clause open."},
		{with(with(all(Shown), Broken, Spark), Open, Held, EveryCylinder), "Fails on spark; two clauses open."},
		{with(all(Shown), Broken, Timing, Signals, Spark), "Fails on timing, signals and spark."},
		{with(with(all(Shown), AtOdds, ZeroMark), Broken, Held), "Fails on held; at odds: zero mark."},
	} {
		j := Judgement{Clauses: row.set}
		if got := j.Headline(); got != row.want {
			t.Errorf("the headline is %q, want %q", got, row.want)
		}
	}
}
