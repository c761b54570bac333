package shaft

import "math"

// The follower explains active crank edges as vanes. A path is one explanation: each edge is the next vane, the next but m (m missing),
// or an extra pulse. Its cost is the sum of squared second differences of ln(speed), a measure of jerk that is free of scale, plus a charge for every
// missing and extra pulse. A start from rest at constant acceleration costs about 0.4 in all, a vane taken for missing that was there, or the
// other way round, 1.9 and more; the charge of 1 lies between. Combustion and cranking ripple of an even wheel leave equal intervals.
const (
	plain       = 0.08 // second difference that needs no second thought
	costMissing = 1.0
	costMore    = 0.25 // each further vane missing in a row
	costExtra   = 1.0
	mostBridged = 4    // vanes missing in a row that are bridged
	patience    = 6    // edges looked ahead before the cheapest path must do
	tooDear     = 4.0  // paths so much dearer than the best are dropped
	paths       = 24   // kept at most, plus one for each vane at the start of an uneven wheel
	overreach   = 1.12 // an interval so many times what mostBridged missing vanes explain ends the stretch
	longest     = 20   // seconds: an interval longer than this is standstill
	thinShare   = 0.35
)

// The bounds of plain as ratios of speeds, e^±plain, so that an even run needs no logarithm: s·s₂/s₁², where s are the last three speeds, newest first.
const (
	quicker = 1.0832870676749586
	slower  = 0.9231163463866358
)

// crankEdge is an active edge with the other edge that began its pulse.
type crankEdge struct {
	t, start float64
}

// act is one decision not yet handed on.
type act struct {
	t, start float64
	k        int32 // vane; extra pulses carry the vane before them
	miss     int8  // vanes missing before this one; −1: an extra pulse
}

type path struct {
	t     float64 // last accepted edge
	from  float64 // start of the first extra pulse since; −Inf: none
	v, dv float64 // ln(degrees a second) over the last interval, its change
	cost  float64
	k     int32
	age   int32 // intervals known, at most 2
	n     int32
	acts  [patience + 2]act

	// degrees a second over the last three intervals, 0 where not known: an even run is followed by these alone, and v and dv are made when they are wanted
	s    [3]float64
	lazy bool

	// as it was before the last accepted edge
	wasT, wasV, wasDV float64
	wasK, wasAge      int32
}

// accept takes the edge at t as vane k at ln speed v.
func (p *path) accept(e crankEdge, k int32, v float64, miss int8) {
	p.wasT, p.wasV, p.wasDV, p.wasK, p.wasAge = p.t, p.v, p.dv, p.k, p.age
	if p.age > 0 {
		p.dv = v - p.v
	}
	p.t, p.k, p.v, p.age, p.from = e.t, k, v, min(p.age+1, 2), math.Inf(-1)
	p.acts[p.n] = act{e.t, e.start, k, miss}
	p.n++
	p.s = [3]float64{0, p.s[0], p.s[1]}
}

// glide is accept for an edge just where it should be, at s degrees a second.
func (p *path) glide(e crankEdge, k int32, s float64) {
	p.acts[0] = act{e.t, e.start, k, 0}
	p.wasT, p.wasK, p.wasAge = p.t, p.k, p.age
	p.t, p.k, p.from = e.t, k, math.Inf(-1)
	p.s = [3]float64{s, p.s[0], p.s[1]}
	p.lazy = true
}

// wake makes the logarithms that glide left out.
func (p *path) wake() {
	if !p.lazy {
		return
	}
	p.lazy = false
	a, b, c := math.Log(p.s[0]), math.Log(p.s[1]), math.Log(p.s[2])
	p.v, p.dv = a, a-b
	p.wasV, p.wasDV = b, b-c
}

// without is the path with its last accepted edge, the only one not handed on, taken for an extra pulse.
func (p *path) without() (path, bool) {
	if p.n != 1 || p.acts[0].miss != 0 || p.wasAge < 2 || p.t != p.acts[0].t {
		return path{}, false
	}
	q := *p
	q.t, q.v, q.dv, q.k, q.age = p.wasT, p.wasV, p.wasDV, p.wasK, p.wasAge
	q.from = p.acts[0].start
	q.cost += costExtra
	q.acts[0] = act{p.acts[0].t, p.acts[0].start, p.wasK, -1}
	q.wasAge, q.s = 0, [3]float64{}
	return q, true
}

type follower struct {
	w     *wheel
	live  []path
	spare []path
}

func newFollower(w *wheel) follower {
	most := paths + w.n
	return follower{w: w, live: make([]path, 0, most), spare: make([]path, 0, most*(mostBridged+2))}
}

// started is where the state before an edge began, extra pulses since the last vane taken out.
func (p *path) started(e *crankEdge) float64 {
	if p.from > math.Inf(-1) {
		return p.from
	}
	return e.start
}

// thin says whether a vane dt after the last would have far too narrow a pulse before it, or the last one after it.
func (f *follower) isThin(p *path, e *crankEdge, next int32, dt float64) bool {
	start := p.started(e)
	return e.t-start < f.w.thin[next]*dt || start-p.t < f.w.thinAfter[p.k]*dt && start > p.t
}

// push takes the next active edge and hands on what has become certain.
func (f *follower) push(e crankEdge, tr *tracker) {
	if len(f.live) == 1 {
		p := &f.live[0]
		if dt := e.t - p.t; p.age == 2 && p.n == 1 && dt > 0 {
			k := f.w.next(p.k)
			s := f.w.step[k] / dt
			if r, m := s*p.s[1], p.s[0]*p.s[0]; r < quicker*m && r > slower*m && !f.isThin(p, &e, k, dt) {
				a := p.acts[0]
				p.cost = 0
				p.glide(e, k, s)
				tr.take(a)
				return
			}
			p.wake()
			v := f.w.lnStep[k] - math.Log(dt)
			if d2 := v - p.v - p.dv; d2 < plain && d2 > -plain && !f.isThin(p, &e, k, dt) {
				a := p.acts[0]
				p.n, p.cost = 0, 0
				p.accept(e, k, v, 0)
				p.s[0] = s
				tr.take(a)
				return
			}
		}
	}
	f.ponder(e, tr)
}

func (f *follower) ponder(e crankEdge, tr *tracker) {
	if len(f.live) == 0 {
		f.begin(e)
		return
	}
	best := &f.live[0]
	best.wake()
	dt := e.t - best.t
	if dt <= 0 {
		return
	}
	if dt > longest || best.age > 0 && dt*math.Exp(best.v) > f.w.reach[best.k] {
		f.flush(tr)
		tr.gapAt(e.t)
		f.begin(e)
		return
	}
	if len(f.live) == 1 { // the edge before, which looked well, may have been a stray just before this one
		if q, ok := f.live[0].without(); ok {
			f.live = append(f.live, q)
		}
	}
	out := f.spare[:0]
	for i := range f.live {
		out = f.branch(out, &f.live[i], e)
	}
	f.prune(out)
	f.settle(tr)
}

func (f *follower) begin(e crankEdge) {
	f.live = f.live[:0]
	starts := 1
	if f.w.uneven {
		starts = f.w.n
	}
	for k := range starts {
		p := path{t: e.t, k: int32(k), n: 1, from: math.Inf(-1)}
		p.acts[0] = act{e.t, e.start, int32(k), 0}
		f.live = append(f.live, p)
	}
}

func (f *follower) branch(out []path, p *path, e crankEdge) []path {
	dt := e.t - p.t
	if dt <= 0 {
		return append(out, *p)
	}
	lnT := math.Log(dt)
	if p.age == 2 { // an edge just where it should be raises no other thought
		next := f.w.next(p.k)
		v := f.w.lnStep[next] - lnT
		if d2 := v - p.v - p.dv; d2 < plain && d2 > -plain && !f.isThin(p, &e, next, dt) {
			q := *p
			q.cost += d2 * d2
			q.accept(e, next, v, 0)
			return append(out, q)
		}
	}
	k := p.k
	angle := 0.0
	most := mostBridged
	if p.age == 0 {
		most = 0
	}
	for m := 0; m <= most; m++ {
		k = f.w.next(k)
		angle += f.w.step[k]
		v := math.Log(angle) - lnT
		q := *p
		switch p.age {
		case 0:
		case 1:
			d := v - p.v
			q.cost += 0.5 * d * d
		default:
			d2 := v - p.v - p.dv
			q.cost += d2 * d2
		}
		if m > 0 {
			q.cost += costMissing + costMore*float64(m-1)
		}
		q.accept(e, k, v, int8(m))
		out = append(out, q)
	}
	if p.age > 0 {
		q := *p
		q.cost += costExtra
		q.from = p.started(&e)
		q.acts[q.n] = act{e.t, e.start, p.k, -1}
		q.n++
		out = append(out, q)
	}
	return out
}

// prune keeps the cheapest paths, cheapest first.
func (f *follower) prune(all []path) {
	most := paths
	if f.w.uneven {
		most += f.w.n
	}
	f.live = f.live[:0]
	for len(f.live) < most && len(all) > 0 {
		b := 0
		for i := range all {
			if all[i].cost < all[b].cost {
				b = i
			}
		}
		if len(f.live) > 0 && all[b].cost > f.live[0].cost+tooDear {
			break
		}
		f.live = append(f.live, all[b])
		all[b] = all[len(all)-1]
		all = all[:len(all)-1]
	}
	base := f.live[0].cost
	for i := range f.live {
		f.live[i].cost -= base
	}
}

// settle hands on what all paths agree about, and the best path's oldest decision when it has waited long enough. The newest decision of a lone
// path waits for one more edge: a stray just before a true edge looks well until then.
func (f *follower) settle(tr *tracker) {
	for {
		best := &f.live[0]
		if best.n <= 1 {
			return
		}
		a := best.acts[0]
		agreed := true
		for i := 1; i < len(f.live); i++ {
			if f.live[i].acts[0] != a {
				agreed = false
				break
			}
		}
		if !agreed {
			if best.n < patience {
				return
			}
			kept := f.live[:1]
			for i := 1; i < len(f.live); i++ {
				if f.live[i].acts[0] == a {
					kept = append(kept, f.live[i])
				}
			}
			f.live = kept
		}
		for i := range f.live {
			p := &f.live[i]
			copy(p.acts[:], p.acts[1:p.n])
			p.n--
		}
		tr.take(a)
	}
}

// flush hands on all that the best path holds; the next edge begins anew.
func (f *follower) flush(tr *tracker) {
	if len(f.live) == 0 {
		return
	}
	best := f.live[0]
	f.live = f.live[:0]
	for _, a := range best.acts[:best.n] {
		tr.take(a)
	}
}

// turn renumbers the vanes: k becomes k + d.
func (f *follower) turn(d int32) {
	n := int32(f.w.n)
	for i := range f.live {
		p := &f.live[i]
		p.k = (p.k + d) % n
		for j := range p.acts[:p.n] {
			p.acts[j].k = (p.acts[j].k + d) % n
		}
	}
}
