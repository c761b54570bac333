package trial

import (
	"cmp"
	"slices"

	"phasewright/bench"
	"phasewright/verdict"
)

// What the judge is held to, as shares of all engines; of Passed, of the sound ones of which everything was seen.
const (
	MostFalsePass = 0.002
	MostWrongCure = 0.005
	LeastPassed   = 0.99
)

// Count is how the judge came out on some of the engines.
type Count struct {
	Name      string `json:"name"`
	Engines   int    `json:"engines"`
	Sound     int    `json:"sound"` // no clause is false in truth
	Passed    int    `json:"passed"`
	FalsePass int    `json:"false_pass"`
	// Curable are those whose timing is out by nothing but what housing and allowance cure; CuredRight, for how many of
	// them the right cure was advised.
	Curable    int `json:"curable"`
	CuredRight int `json:"cured_right"`
	Advised    int `json:"cures_advised"`
	WrongCure  int `json:"wrong_cures"`
	Disagree   int `json:"surfaces_disagree"`
}

func (c *Count) add(s *Scored) {
	one := func(n *int, is bool) {
		if is {
			*n++
		}
	}
	c.Engines++
	one(&c.Sound, s.Sound)
	one(&c.Passed, s.Word == verdict.Pass)
	one(&c.FalsePass, s.FalsePass)
	one(&c.Curable, s.Curable)
	one(&c.CuredRight, s.Curable && s.Advised && s.WrongCure == "")
	one(&c.Advised, s.Advised)
	one(&c.WrongCure, s.WrongCure != "")
	one(&c.Disagree, s.Disagree != "")
}

// Tally is what a sweep comes to.
type Tally struct {
	All     Count   `json:"all"`
	ByKind  []Count `json:"by_evidence"`
	ByFault []Count `json:"by_fault"` // the worst first; an engine with two faults stands in two rows
	// FullSound are the sound engines of which everything was seen, FullPassed those of them that pass.
	FullSound  int `json:"sound_fully_seen"`
	FullPassed int `json:"sound_fully_seen_passed"`
}

// Sum tallies what a sweep gave.
func Sum(rows []Scored) Tally {
	t := Tally{All: Count{Name: "all"}}
	kinds, faults := map[string]*Count{}, map[string]*Count{}
	for _, k := range Kinds() {
		t.ByKind = append(t.ByKind, Count{Name: string(k.Kind)})
	}
	t.ByFault = append(t.ByFault, Count{Name: "none"})
	for _, f := range bench.FaultTable() {
		t.ByFault = append(t.ByFault, Count{Name: f.Name})
	}
	for i := range t.ByKind {
		kinds[t.ByKind[i].Name] = &t.ByKind[i]
	}
	for i := range t.ByFault {
		faults[t.ByFault[i].Name] = &t.ByFault[i]
	}
	for i := range rows {
		s := &rows[i]
		t.All.add(s)
		kinds[string(s.Kind)].add(s)
		for _, f := range s.Faults {
			faults[f].add(s)
		}
		if len(s.Faults) == 0 {
			faults["none"].add(s)
		}
		if s.Sound && len(s.Faults) == 0 && s.Kind == Full {
			t.FullSound++
			if s.Word == verdict.Pass {
				t.FullPassed++
			}
		}
	}
	slices.SortStableFunc(t.ByFault, func(a, b Count) int {
		return cmp.Or(cmp.Compare(b.FalsePass+b.WrongCure, a.FalsePass+a.WrongCure), cmp.Compare(b.Engines, a.Engines))
	})
	return t
}

// Share is a part of a whole; 0 of nothing.
func Share(part, whole int) float64 { return float64(part) / max(float64(whole), 1) }

// Holds says whether every figure is met.
func (t *Tally) Holds() bool {
	return Share(t.All.FalsePass, t.All.Engines) <= MostFalsePass &&
		Share(t.All.WrongCure, t.All.Engines) <= MostWrongCure &&
		(t.FullSound == 0 || Share(t.FullPassed, t.FullSound) >= LeastPassed) && t.All.Disagree == 0
}
