package procedure

import (
	"testing"

	"pgregory.net/rapid"
)

// From every plant that can be reached, the advice leads to a signed job, and never in a circle: it is followed on the
// plant alone, as the decision is taken on nothing else.
func TestAdviceLeadsHomeFromEverywhere(t *testing.T) {
	longest := 0
	for name := range kinds(t) {
		if unsearched[name] {
			continue
		}
		s := newSearch(t, name)
		s.slips = 2
		switch {
		case testing.Short():
			s.slips = 1
		case long():
			s.slips = 4
		}
		s.run()
		p := s.p
		home := map[Plant]int{} // steps to the end
		for at := range s.plants {
			way := []Plant{at}
			on := map[Plant]bool{at: true}
			for home[at] == 0 && at.Get(Signed) != Yes {
				st := State{Plant: at, Steps: make([]Record, len(p.steps))}
				now := p.Next(st)
				step := &p.steps[p.at[now.Step]]
				after, against := p.tryDo(at, step)
				if against != 0 || !hold(step.Needs, at) || !hold(step.Once, at) || after == at {
					t.Fatalf("%s: the advice «%s» (for «%s») cannot be done, or changes nothing: %v\n%v", name, now.Step, now.For, p.locks(st, step), at)
				}
				at = after
				if on[at] {
					t.Fatalf("%s: the advice goes in a circle at «%s»: %v", name, now.Step, at)
				}
				on[at] = true
				way = append(way, at)
			}
			for i := range way {
				n := home[at] + len(way) - 1 - i
				home[way[i]] = n
				longest = max(longest, n)
			}
		}
		t.Logf("%-20s %d plants", name, len(s.plants))
	}
	t.Logf("the longest way home takes %d steps", longest)
}

// Random walks of doing, failing, taking back, overriding and being away: what is never to be overridden is never
// reached, folding in one go gives the same as one by one, and the advice finds the way home from wherever the
// walk ends.
func TestRandomWalksWithOverrides(t *testing.T) {
	var names []string
	for name := range kinds(t) {
		if !unsearched[name] {
			names = append(names, name)
		}
	}
	all := kinds(t)
	rapid.Check(t, func(t *rapid.T) {
		p := all[rapid.SampledFrom(names).Draw(t, "engine")]
		w := newWork(p)
		any := func() StepID { return StepID(rapid.SampledFrom(p.ids()).Draw(t, "step")) }
		for range rapid.IntRange(0, 70).Draw(t, "moves") {
			switch k := rapid.IntRange(0, 11).Draw(t, "what"); {
			case k < 7:
				w.step(p.Next(w.s))
			case k < 8:
				w.do(any())
			case k < 9:
				w.back(any())
			case k < 10:
				w.override(any())
			case k < 11:
				id := any()
				w.show(id, func(f *Proof) {
					if f.Value != nil {
						*f.Value += 30
					}
				})
			default:
				w.wait(longestBreak + 1)
			}
			for _, r := range p.Broken(w.s) {
				if r.Never {
					t.Fatalf("%s stands broken: %v", r.ID, w.s.Plant)
				}
			}
		}
		again := p.Fold(w.events, w.now)
		if again.Plant != w.s.Plant || again.Version != w.s.Version || len(again.Log) != len(w.s.Log) {
			t.Fatalf("folding again gives %v, was %v", again.Plant, w.s.Plant)
		}
		if took, ok := w.home(); !ok {
			now := p.Next(w.s)
			t.Fatalf("no way home after %v: %+v: %v\n%v", took, now, p.locks(w.s, &p.steps[p.at[now.Step]]), w.s.Plant)
		}
	})
}

// Overriding every lock that may be overridden, in any order, reaches nothing of what nobody may override, by the
// test's own eyes.
func TestNothingWorstIsReachedByOverrides(t *testing.T) {
	cards := []string{"carburettor boat", "tern-single", "sandpiper", "ember-twelve"}
	if testing.Short() {
		cards = cards[:2]
	}
	for _, name := range cards {
		s := newSearch(t, name)
		s.over, s.slips = true, 2
		s.run()
		if s.wrong != "" {
			t.Errorf("%s: %s", name, s.wrong)
		}
		t.Logf("%s: %d pairs of plant and world", name, s.states)
	}
}
