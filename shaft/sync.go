package shaft

import (
	"math"
	"sort"
)

// log keeps the first anomalies and counts all.
type log struct {
	most  int
	list  []noted
	count map[Kind]int64
}

type noted struct {
	kind Kind
	t    float64
	ch   int
}

func newLog(most int) *log { return &log{most: most, count: map[Kind]int64{}} }

func (l *log) add(k Kind, t float64, ch int) {
	l.count[k]++
	if len(l.list) < l.most {
		l.list = append(l.list, noted{k, t, ch})
	}
}

// join adds what another log holds.
func (l *log) join(o *log) {
	for k, n := range o.count {
		l.count[k] += n
	}
	l.list = append(l.list, o.list...)
}

func (l *log) sorted(names func(int) string) []Anomaly {
	sort.SliceStable(l.list, func(i, j int) bool { return l.list[i].t < l.list[j].t })
	l.list = l.list[:min(len(l.list), l.most)]
	out := make([]Anomaly, len(l.list))
	for i, a := range l.list {
		out[i] = Anomaly{a.kind, a.t, names(a.ch)}
	}
	return out
}

const mostLosses = 1000

// syncState is whether the place on the 720° cycle is known.
type syncState struct {
	on     bool
	ever   bool
	from   float64
	losses []Loss
	count  int64
	open   int // index+1 of the loss not yet regained
}

// lose notes a loss at t. Without a cam there was nothing to lose.
func (s *syncState) lose(t float64, because string, hadCam bool) {
	if !hadCam || !s.ever {
		return
	}
	s.on = false
	s.count++
	s.open = 0
	if len(s.losses) < mostLosses {
		s.losses = append(s.losses, Loss{TimeS: t, RegainedS: Number(math.NaN()), Because: because})
		s.open = len(s.losses)
	}
}

func (s *syncState) gain(t float64) {
	if !s.ever {
		s.ever, s.from = true, t
	}
	s.on = true
	if s.open > 0 {
		s.losses[s.open-1].RegainedS = Number(t)
		s.open = 0
	}
}
