package capture

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

func (l *log) sorted(names func(int) string) []Anomaly {
	sort.SliceStable(l.list, func(i, j int) bool { return l.list[i].t < l.list[j].t })
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

// beacon is an event that comes once in a period at a fixed place, such as the mark. Places count on through all cycles.
type beacon struct {
	period, at, tol float64
	seen            bool
	last            float64 // period number of the last one met
	lastT, lastA    float64
}

func (b *beacon) reset() { b.seen = false }

// end notes those left out up to the end of the run, and forgets the series.
func (b *beacon) end(tr *tracker, ch int) {
	if b.seen && tr.head > tr.first {
		k := tr.knot(tr.head - 1)
		b.absent(tr, math.Floor((k.a-b.tol-b.at)/b.period)+1, k.a, k.t, ch)
	}
	b.seen = false
}

// meet takes an event of channel ch at the angle a: it gives the distance from its place and whether it is one of the series. Ones left out and ones
// that do not belong are noted.
func (b *beacon) meet(tr *tracker, a, t float64, ch int) (off float64, fits bool) {
	q := math.Round((a - b.at) / b.period)
	off = a - b.at - q*b.period
	if math.Abs(off) > b.tol || b.seen && q <= b.last {
		tr.log.add(ExtraPulse, t, ch)
		return off, false
	}
	if b.seen {
		b.absent(tr, q, a, t, ch)
	}
	b.seen, b.last, b.lastT, b.lastA = true, q, t, a
	return off, true
}

// absent notes those between the last one met and number q.
func (b *beacon) absent(tr *tracker, q, a, t float64, ch int) {
	gone := int(q-b.last) - 1
	if gone <= 0 {
		return
	}
	when := func(j int) float64 {
		return tr.timeAt(b.at+(b.last+float64(j))*b.period, b.lastA, b.lastT, a, t)
	}
	if gone >= 3 {
		tr.log.add(Dropout, when(1), ch)
		return
	}
	for j := 1; j <= gone; j++ {
		tr.log.add(MissingPulse, when(j), ch)
	}
}

// timeAt is when the shaft passed the angle x: between knots still held, else in proportion between two known points.
func (tr *tracker) timeAt(x, a0, t0, a1, t1 float64) float64 {
	for i := tr.head - 1; i > tr.first && i > tr.head-int64(len(tr.ring)); i-- {
		if p, q := tr.knot(i-1), tr.knot(i); p.a <= x && x <= q.a && q.a > p.a {
			return p.t + (q.t-p.t)*(x-p.a)/(q.a-p.a)
		}
	}
	if a1 > a0 {
		return t0 + (t1-t0)*(x-a0)/(a1-a0)
	}
	return t0
}
