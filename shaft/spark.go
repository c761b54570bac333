package shaft

import "math"

const (
	speedClass  = 50.0 // rpm, width of a speed class
	speedMost   = 400  // classes: to 20,000 rpm
	gridClass   = 250.0
	gridMost    = 64
	scatterBins = 81
	scatterBin  = 0.1 // degrees
)

// sparkTrack gathers the firings.
type sparkTrack struct {
	ratio   []float64 // of each vane's learnt step to its nominal one
	count   int64
	dwell   ranged // ms
	placed  int64
	adrift  int64
	run     int // firings in this run of the track
	gone    int // expected firings that did not come, in a row
	goneAt  []float64
	goneRPM float64
	endedAt float64 // sparks ceased while the crank turned on; NaN: not
	endedN  float64
	vane    []vaneFiring
	class   []speedSums
	grid    [][]gathered
	usual   float64 // running mean of the wait, all cylinders
	settled int     // firings that it rests on, at most four cycles
	share   float64 // one over that
	odd     int     // strange firings in a row
	limit   float64 // degrees from the usual beyond which a firing is strange
	last    ownView
	lastT   float64
	lastI   int64
	// the crank pickup's other edge in the interval of the last firing, and where it truly stands
	lastOtherT, lastOtherA float64
}

// ownView is a firing in the controller's own terms.
type ownView struct {
	y     float64 // S·t/T, degrees
	n     float64 // mean rpm of the last interval
	after float64 // degrees travelled since the active edge
	ok    bool
}

func (s *sparkTrack) init(tr *ledger) {
	s.ratio = make([]float64, tr.w.n)
	for k := range s.ratio {
		s.ratio[k] = tr.w.step[k] / tr.w.nomStep[k]
	}
	s.vane = make([]vaneFiring, tr.w.n)
	s.class = make([]speedSums, speedMost)
	s.grid = make([][]gathered, tr.w.n)
	for i := range s.grid {
		s.grid[i] = make([]gathered, gridMost)
	}
	s.limit = 6
	if !math.IsNaN(tr.p.scatter) {
		s.limit += 8 * tr.p.scatter
	}
	s.endedAt = math.NaN()
	s.usual = tr.p.usual
	s.lastI = -10
}

// afterAll is the degrees from the active edge to the spark over all firings.
func (s *sparkTrack) afterAll() (all gathered) {
	for i := range s.class {
		all.join(s.class[i].after)
	}
	return all
}

// afterVane is the same of the firings after one vane.
func (s *sparkTrack) afterVane(k int) (all gathered) {
	for _, g := range s.grid[k] {
		all.join(g)
	}
	return all
}

// fire counts a spark with its dwell in ms.
func (s *sparkTrack) fire(dwell float64) {
	s.count++
	if dwell > 0 && dwell < 1000 {
		s.dwell.add(dwell)
	}
}

// restart forgets what counts from vane to vane.
func (s *sparkTrack) restart() {
	s.run, s.gone, s.goneAt, s.lastI = 0, 0, s.goneAt[:0], -10
}

func (s *sparkTrack) endRun(tr *ledger) {
	if s.gone >= 2*tr.w.n && s.goneRPM > 300 && math.IsNaN(s.endedAt) {
		s.endedAt, s.endedN = s.goneAt[0], s.goneRPM
	}
	s.restart()
}

// own puts the firing at t in the interval x into the controller's terms.
func (y *ledger) own(x *stretchOf, t float64) ownView {
	v := ownView{after: x.c.at(t) - x.a.a}
	if x.early || !x.whole || y.upset > 0 {
		return v
	}
	p := y.knot(x.i - 1)
	v.y = y.w.nomStep[x.a.k] * (t - x.a.t) / (x.a.t - p.t)
	v.n = x.a.v * (1.0 / degPerRPM)
	v.ok = true
	return v
}

// closeInterval takes the firings of an interval; fourth is the fourth divided difference around it, if the edges there are whole.
func (s *sparkTrack) closeInterval(tr *ledger, x *stretchOf, fourth float64, whole bool) {
	if len(tr.p.a.sparks) == 0 {
		return
	}
	k := x.a.k
	numbered := x.numbered
	if numbered && x.whole {
		s.watch(tr, x)
	}
	if x.fired == 0 {
		return
	}
	s.run++
	f := &x.sparks[0]
	v := tr.own(x, f.t)
	if !v.ok {
		return
	}
	s.placed++
	if numbered && tr.p.occupied[k] < 0.05 && tr.p.perSlot > 0 {
		s.adrift++ // no firing belongs here: noted as an extra pulse
		return
	}
	off := tr.w.pos[k] - tr.w.nominal[k]
	own := v.after + off
	steady := v.y*s.ratio[k] + off // as if the crank had kept the speed of the last interval
	if s.strange(tr, steady) {
		s.adrift++
		return
	}
	s.last, s.lastT, s.lastI = v, f.t, x.i
	s.lastOtherT, s.lastOtherA = tr.otherPlace(x)
	told := tr.s.command(v.n)
	s.class[min(int(v.n*(1/speedClass)), speedMost-1)].add(v, told, f.dwell)
	if numbered {
		q := &s.vane[k]
		if v.n >= tr.s.fitFrom {
			q.running.add(v.n, steady, told)
		} else {
			q.slow.add(v.n, steady, told)
		}
		s.grid[k][min(int(v.n*(1/gridClass)), gridMost-1)].add(v.after)
		if s.settled > 2*tr.w.n {
			q.scatter.add(s.usual - steady)
		}
		if whole {
			tr.shown.fire(tr, x, own, v.y, fourth)
		}
	}
	if s.settled == 0 {
		s.usual = steady
	}
	if most := 4 * tr.w.n; s.settled < most {
		s.settled++
		s.share = 1 / float64(s.settled)
	}
	s.usual += (steady - s.usual) * s.share
	if x.c.jerk(x.c.x[1]) < mostJerk || v.n < tr.s.fitFrom { // else an edge beside it stands in a wrong place, and the angle by the shaft is not known
		tr.timing.fire(tr, v, own, told)
	}
}

// strange says whether a firing is so far from those before it that it tells of a disturbed controller rather than of timing. When a whole two cycles
// are strange, the timing has changed, and they are the new usual.
func (s *sparkTrack) strange(tr *ledger, steady float64) bool {
	if s.settled > 0 && math.Abs(steady-s.usual) > s.limit {
		if s.odd++; s.odd <= 2*tr.w.n {
			return true
		}
		s.settled = 0
	}
	s.odd = 0
	return false
}

// watch finds firings that are missing or too many.
func (s *sparkTrack) watch(tr *ledger, x *stretchOf) {
	k := x.a.k
	if x.fired == 1 && s.gone == 0 && tr.p.occupied[k] >= 0.05 {
		return
	}
	ch := tr.p.a.sparks[0]
	due := tr.p.occupied[k] >= 0.7
	if x.fired == 0 {
		if due && s.run >= 2 {
			if s.gone == 0 {
				s.goneRPM = x.n
			}
			s.gone++
			if len(s.goneAt) < 3 {
				s.goneAt = append(s.goneAt, x.a.t+(x.b.t-x.a.t)*math.Min(1, tr.p.usual/(x.b.a-x.a.a)))
			}
		}
		return
	}
	switch {
	case s.gone >= 3:
		tr.log.add(Dropout, s.goneAt[0], ch)
	case s.gone > 0:
		for _, t := range s.goneAt {
			tr.log.add(MissingPulse, t, ch)
		}
	}
	s.gone, s.goneAt = 0, s.goneAt[:0]
	if tr.p.perSlot < 1.5 {
		from := 1
		if tr.p.occupied[k] < 0.05 {
			from = 0
		}
		for i := from; i < min(x.fired, len(x.sparks)); i++ {
			tr.log.add(ExtraPulse, x.sparks[i].t, int(x.sparks[i].ch))
		}
	}
}
