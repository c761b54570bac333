package procedure

import (
	"fmt"
	"math/bits"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// engines makes the order of work of every example card.
func engines(t testing.TB) map[string]*Procedure {
	t.Helper()
	out := map[string]*Procedure{}
	for _, e := range examples.Cards() {
		out[e.Name] = orderOf(t, e.Name)
	}
	return out
}

var made = map[string]*Procedure{}

func card(t testing.TB, name string) (*jobcard.Card, *sheet.Sheet) {
	t.Helper()
	for _, e := range examples.Cards() {
		if e.Name == name {
			return fromYAML(t, e.YAML)
		}
		if e.Name == "sandpiper" && name == "wide cam" { // a cam vane wide enough to tell the strokes apart at standstill; invented
			was := "active_edge: falling, vane_width: 40 deg}"
			if !strings.Contains(e.YAML, was) {
				t.Fatalf("the example no longer says %q", was)
			}
			return fromYAML(t, strings.Replace(e.YAML, was, "active_edge: rising, vane_width: 150 deg, edge_at: 90 deg}", 1))
		}
	}
	t.Fatalf("no example %q", name)
	return nil, nil
}

func exampleYAML(t testing.TB, name string) string {
	t.Helper()
	for _, e := range examples.Cards() {
		if e.Name == name {
			return e.YAML
		}
	}
	t.Fatalf("no example %q", name)
	return ""
}

func fromYAML(t testing.TB, yaml string) (*jobcard.Card, *sheet.Sheet) {
	t.Helper()
	c, err := jobcard.Parse("card.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	return c, s
}

func orderOf(t testing.TB, name string) *Procedure {
	t.Helper()
	if p := made[name]; p != nil {
		return p
	}
	c, s := card(t, name)
	p, err := New(c, s)
	if err != nil {
		t.Fatal(err)
	}
	made[name] = p
	return p
}

// set of plants with open addressing: several times faster than a map, which is what the search spends its time in.
type set struct {
	slots []Plant
	n     int
}

func newSet() *set { return &set{slots: make([]Plant, 1<<12)} }

// add says whether the plant is new. The word is kept with its top bit set, so that an empty slot is nought.
func (s *set) add(p Plant) bool {
	const used = 1 << 63
	if 2*s.n >= len(s.slots) {
		old := s.slots
		s.slots, s.n = make([]Plant, 2*len(old)), 0
		for _, q := range old {
			if q != 0 {
				s.add(q &^ used)
			}
		}
	}
	mask := uint64(len(s.slots) - 1)
	h := uint64(p) * 0x9e3779b97f4a7c15
	for i := bits.RotateLeft64(h, 32) & mask; ; i = (i + 1) & mask {
		switch s.slots[i] {
		case 0:
			s.slots[i] = p | used
			s.n++
			return true
		case p | used:
			return false
		}
	}
}

// search visits every plant that can be reached.
type search struct {
	p        *Procedure
	back     bool    // steps may be taken back too
	tries    bool    // taking back is judged, and not followed
	from     []Plant // where to begin; none: as the engine is found
	live     bool    // the end must stay within reach
	keep     bool    // keep what was seen
	noNeeds  bool    // the needs of the steps are not asked: the rules alone keep the fence
	forget   []Part  // parts left out of the state: only such as nothing remembered depends on; conditions on them count as met, which only adds ways
	evidence bool    // the predicates over evidence are asked too
	most     int     // give up after so many plants; 0: never

	states, moves int
	wrong         string // the first thing that must not be
	done          map[StepID]bool
	ends          bool // the whole job can be done
	cut           bool
	all           []Plant
}

func (s *search) run() *search {
	p := s.p
	var lost Plant
	for _, part := range s.forget {
		lost |= place[part]
	}
	remembered := func(all []Condition) (out []Condition) {
		for _, c := range all {
			if lost&place[c.Part] == 0 {
				out = append(out, c)
			}
		}
		return out
	}
	needs := make([]test, len(p.steps))
	for i := range p.steps {
		if !s.noNeeds {
			needs[i] = ready(remembered(append(append([]Condition(nil), p.steps[i].Due...), p.steps[i].Needs...)))
		}
	}
	s.done = map[StepID]bool{}
	did := make([]bool, len(p.steps))
	seen, queue := newSet(), append([]Plant{p.found}, s.from...)
	for _, q := range queue {
		seen.add(q)
	}
	edges := map[Plant][]Plant{} // backwards
	visit := func(before, after Plant) {
		if s.live {
			edges[after] = append(edges[after], before)
		}
		s.moves++
		after &^= lost
		if seen.add(after) {
			queue = append(queue, after)
		}
	}
	for len(queue) > 0 && s.wrong == "" {
		if s.most > 0 && seen.n > s.most {
			s.cut = true
			break
		}
		at := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		if s.keep || s.live {
			s.all = append(s.all, at)
		}
		s.ends = s.ends || at.Get(Recorded) == Yes
		for i := range p.steps {
			st := &p.steps[i]
			if needs[i].holds(at) {
				if after, against := p.tryDo(at, st); against == 0 {
					did[i] = true
					s.judge(st.ID, at, p.move(at, st.During, nil)&^lost, after&^lost)
					visit(at, after)
				}
			}
			if (s.back || s.tries) && hold(st.Once, at) && (st.main(at) || lost&place[st.After[0].Part] != 0) {
				if after, against := p.tryBack(at, st); against == 0 {
					s.judgeBack(st, at, after, lost)
					if s.back {
						visit(at, after)
					}
				}
			}
		}
	}
	s.states = seen.n
	if s.live && s.wrong == "" {
		s.wrong = stuck(s.all, edges)
	}
	for i := range did {
		if did[i] {
			s.done[p.steps[i].ID] = true
		}
	}
	return s
}

func (s *search) judge(id StepID, before, during, after Plant) {
	if s.wrong != "" {
		return
	}
	for _, at := range []Plant{during, after} {
		if w := danger(at); w != "" {
			s.wrong = fmt.Sprintf("doing «%s»: %s [%v]", id, w, at)
			return
		}
	}
	if w := atRest(after); w != "" && !s.noNeeds {
		s.wrong = fmt.Sprintf("after «%s»: %s [%v]", id, w, after)
		return
	}
	if s.evidence {
		if w := stale(s.p, id, before, during, after); w != "" {
			s.wrong = fmt.Sprintf("doing «%s»: %s [%v]", id, w, after)
			return
		}
		if w := hollow(s.p, id, before, during, after); w != "" {
			s.wrong = fmt.Sprintf("«%s» proves nothing: %s [%v]", id, w, before)
		}
	}
}

// judgeBack looks at a step taken back.
func (s *search) judgeBack(st *Step, before, after, lost Plant) {
	w := danger(after &^ lost)
	if w == "" && !s.noNeeds {
		w = atRest(after)
	}
	if w == "" && s.evidence {
		w = stale(s.p, "", before, before, after)
	}
	if w == "" && s.evidence {
		w = returned(s.p, st.ID, before, after)
	}
	if w != "" && s.wrong == "" {
		s.wrong = fmt.Sprintf("taking «%s» back: %s [%v]", st.ID, w, after)
	}
}

// stuck finds a plant from which the job cannot be brought to its end.
func stuck(all []Plant, edges map[Plant][]Plant) string {
	home := map[Plant]bool{}
	var queue []Plant
	for _, at := range all {
		if at.Get(Recorded) == Yes {
			home[at] = true
			queue = append(queue, at)
		}
	}
	for len(queue) > 0 {
		at := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		for _, b := range edges[at] {
			if !home[b] {
				home[b] = true
				queue = append(queue, b)
			}
		}
	}
	for _, at := range all {
		if !home[at] {
			return fmt.Sprintf("no way to the end from [%v]", at)
		}
	}
	return ""
}

// sinks are parts that no other part follows from: leaving them out of the state is sound.
var sinks = []Part{Plan, Noted, Lock, Idle, Range, Proven, Signed, Recorded}

// Leaving a part out is sound only where nothing that is remembered follows from it.
func TestSinksAreSinks(t *testing.T) {
	out := map[Part]bool{}
	for _, part := range sinks {
		out[part] = true
	}
	for _, f := range follows {
		if out[f.When] && !out[f.Loses] {
			t.Errorf("%v is left out of the search, and %v follows from it", words[f.When][0], words[f.Loses][0])
		}
	}
}
