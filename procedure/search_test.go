package procedure

import (
	"fmt"
	"os"
	"testing"
	"time"

	"phasewright/jobcard"
)

// pair is a plant as recorded and the world as it truly is.
type pair struct {
	p Plant
	w world
}

// search visits every pair that can be reached by doing, failing at, breaking off and taking back steps, by corrections
// beside the order and by nights in which somebody makes everything live.
type search struct {
	p     *Procedure
	c     *jobcard.Card
	slips int  // how often something else may be done than what is advised; −1: as often as you like
	over  bool // locks are overridden too

	seen   map[pair]int32 // place in way
	way    []move
	queue  [][]pair // by how many slips led there
	at     int
	states int
	moves  int
	plants map[Plant]bool
	wrong  string
}

// move is how a pair was come by.
type move struct {
	from int32
	what string
}

func cardOf(t testing.TB, name string) *jobcard.Card {
	t.Helper()
	c, err := jobcard.Parse("card.yaml", []byte(yamlOf(t, name)))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func newSearch(t testing.TB, name string) *search { return newSearchOf(t, orderOf(t, name), name) }

func newSearchOf(t testing.TB, p *Procedure, name string) *search {
	s := &search{p: p, c: cardOf(t, name), slips: -1, seen: map[pair]int32{}, plants: map[Plant]bool{}, queue: make([][]pair, 1)}
	s.visit(pair{s.p.found, asItCame(s.c)}, -1, "", 0)
	return s
}

func (s *search) visit(at pair, from int32, what string, slip int) {
	s.moves++
	if s.slips >= 0 && s.at+slip > s.slips {
		return
	}
	if s.slips < 0 {
		slip = 0
	}
	if _, known := s.seen[at]; known {
		return
	}
	s.seen[at] = int32(len(s.way))
	s.way = append(s.way, move{from, what})
	for len(s.queue) <= s.at+slip {
		s.queue = append(s.queue, nil)
	}
	s.queue[s.at+slip] = append(s.queue[s.at+slip], at)
	s.plants[at.p] = true
}

// path is how the pair at a place in way was come by, the last steps of it.
func (s *search) path(at int32) string {
	out := ""
	for n := 0; at >= 0 && n < 60; n++ {
		out = s.way[at].what + " " + out
		at = s.way[at].from
	}
	return out
}

// run goes through what few slips reach before what more slips reach.
func (s *search) run() *search {
	for s.at = 0; s.at < len(s.queue); s.at++ {
		for len(s.queue[s.at]) > 0 && s.wrong == "" {
			q := s.queue[s.at]
			at := q[len(q)-1]
			s.queue[s.at] = q[:len(q)-1]
			s.from(at, s.seen[at])
		}
	}
	s.states = len(s.seen)
	return s
}

// see lets the world do something and judges it.
func (s *search) see(at pair, here int32, st *Step, what string, does func(*witness)) (world, bool) {
	x := &witness{world: at.w, c: s.c}
	if st != nil {
		x.looks = st.Demand.Also
	}
	does(x)
	if x.said != "" && (!s.over || x.never) && s.wrong == "" {
		s.wrong = fmt.Sprintf("%s: %s\n  after %s\n  plant: %v", what, x.said, s.path(here), at.p)
	}
	return x.world, s.wrong == ""
}

func (s *search) from(at pair, here int32) {
	p := s.p
	due, more := p.due(at.p)
	for i := range p.steps {
		st := &p.steps[i]
		s.forwards(at, here, i, due, more)
		if !st.OnDemand && st.main(at.p) && hold(st.Once, at.p) && (i <= p.at[StepDrop] || at.p.Get(Unit) == NewIn) {
			if after, broken := p.tryBack(at.p, st); broken == 0 {
				if w, ok := s.see(at, here, nil, "take back "+string(st.ID), func(x *witness) { x.takenBack(st.ID) }); ok {
					s.visit(pair{after, w}, here, "−"+string(st.ID), 1)
				}
			}
		}
	}
	if at.p.Get(Signed) == Yes {
		return
	}
	if w, ok := s.see(at, here, nil, "a night", (*witness).away); ok {
		s.visit(pair{p.pause(at.p), w}, here, "NIGHT", 1)
	}
	if at.p.Get(Engine) != Running {
		besides := p.move(at.p, append([]Effect{to(Base, No), to(Settings, No)}, fears(at.p)...), nil)
		if w, ok := s.see(at, here, nil, "a correction beside the order", func(x *witness) { x.moved(); x.settings = false }); ok {
			s.visit(pair{besides, w}, here, "BESIDE", 1)
		}
	}
}

// forwards does a step where the order lets it.
func (s *search) forwards(at pair, here int32, i, due int, more bool) {
	p := s.p
	st := &p.steps[i]
	if p.stands(at.p, st) && !st.OnDemand && (!st.Anytime || st.main(at.p)) {
		return
	}
	after, against := p.tryDo(at.p, st)
	inLine := (st.OnDemand || !more || due >= i) && hold(st.Needs, at.p) && hold(st.Once, at.p)
	for k := range p.rules {
		if s.over && !p.rules[k].Never {
			against &^= 1 << k
		}
	}
	if against != 0 || !inLine {
		return
	}
	slip := 1
	if i == due || st.ID == StepStop {
		slip = 0
	}
	if w, ok := s.see(at, here, st, "do "+string(st.ID), func(x *witness) { x.perform(st.ID) }); ok {
		s.visit(pair{after, w}, here, string(st.ID), slip)
	}
	if s.over && !st.Demand.Never && !st.OnDemand { // overridden: all looked at, but the figure was wrong
		w, ok := s.see(at, here, st, "override "+string(st.ID), func(x *witness) {
			was := x.world
			x.perform(st.ID)
			x.zero, x.marks, x.oiled, x.settings, x.idle, x.speeds, x.proof, x.oilSeen = was.zero, was.marks, was.oiled, was.settings, was.idle, was.speeds, was.proof, was.oilSeen
		})
		if ok {
			s.visit(pair{after, w}, here, "!"+string(st.ID), 1)
		}
	}
	if st.Failed != nil {
		w, ok := s.see(at, here, st, "fail at "+string(st.ID), func(x *witness) {
			was := x.world
			x.perform(st.ID)
			x.base, x.idle, x.speeds, x.oilSeen, x.proof, x.signed = was.base, was.idle, was.speeds, was.oilSeen, was.proof, was.signed
			if st.ID == StepStart {
				x.off()
			}
			if st.ID == StepIdle {
				x.locked, x.free = false, false
			}
		})
		if ok {
			s.visit(pair{p.tried(at.p, st), w}, here, "✗"+string(st.ID), 1)
		}
	}
	x := &witness{world: at.w, c: s.c}
	if x.brokenOff(st.ID) {
		s.visit(pair{at.p, x.world}, here, "…"+string(st.ID), 1)
	}
}

// long says whether the searches that take minutes are wanted.
func long() bool { return os.Getenv("PHASEWRIGHT_LONG") != "" }

// Nothing unsafe can be reached on any card, whatever is done, failed at, broken off, taken back or left overnight.
func TestNothingUnsafeIsReached(t *testing.T) {
	for name := range kinds(t) {
		if unsearched[name] {
			continue
		}
		t.Run(name, func(t *testing.T) {
			began := time.Now()
			s := newSearch(t, name)
			switch {
			case testing.Short():
				s.slips = 2
			case !long():
				s.slips = 3
			}
			s.run()
			if s.wrong != "" {
				t.Fatal(s.wrong)
			}
			t.Logf("%d pairs of plant and world, %d plants, %d moves, %v", s.states, len(s.plants), s.moves, time.Since(began).Round(time.Millisecond))
		})
	}
}
