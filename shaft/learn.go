package shaft

import (
	"fmt"
	"math"
	"sort"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/waveform"
)

// edgesOf are a profile's edges of one kind.
func (p *profile) edgesOf(rising bool) []float64 {
	if rising {
		return p.rise
	}
	return p.fall
}

// learn takes the wheel and the places of everything else on it from the first stretch.
func (p *plan) learn(channels []waveform.Channel) {
	n := p.a.vanes
	q := p.ps[p.a.crank]
	active := q.edgesOf(p.activeRising)
	var refs []float64
	switch {
	case p.a.cam >= 0:
		p.cam.on = true
		p.cam.narrowHigh = p.ps[p.a.cam].narrowHigh
		p.cam.refRising = p.farther(active)
		refs = p.ps[p.a.cam].edgesOf(p.cam.refRising)
	case p.a.mark >= 0:
		for i, t := range p.ps[p.a.mark].edgesOf(p.ps[p.a.mark].narrowHigh) {
			if i%2 == 0 {
				refs = append(refs, t)
			}
		}
	default:
		for i := 0; i < len(active); i += n {
			refs = append(refs, active[i])
		}
	}
	l := newLesson(active, refs, n)
	pos, rough := l.vanes()
	learnt := pos != nil
	if !learnt {
		if p.s.intervals == nil && p.s.cylinders == 0 {
			p.doubt("no undisturbed cycle in the first stretch of %s: even vanes assumed", q.name)
		}
		pos = make([]float64, n)
		for k := range pos {
			pos[k] = cycle * float64(k) / float64(n)
		}
	}
	p.placeCam(l)
	intervals := p.intervals(pos, learnt)
	if !learnt {
		for k := 1; k < n; k++ {
			pos[k] = pos[k-1] + intervals[k-1]
		}
	}
	p.w = newWheel(pos, intervals)
	p.w.learnt, p.w.rough = learnt, rough
	shift := p.w.pos[0] // from places after vane 0's edge to places after its nominal place
	for i := range p.cam.at {
		p.cam.at[i] = wrap(p.cam.at[i]+shift, cycle)
	}
	p.placeOthers(l, q.edgesOf(!p.activeRising), shift)
	p.placeMark(l, shift)
	p.placeSparks(l, active)
	p.findFirst()
	if rough > 0.1*cycle/float64(n) {
		p.doubt("the edges of %s wander by %s from cycle to cycle: noise, or not a crank signal", q.name, quantity.Degrees(rough, 1))
	}
}

// farther says which cam edge stands farther from active crank edges: that one tells cycles apart.
func (p *plan) farther(active []float64) (rising bool) {
	margin := func(t []float64) float64 {
		var m []float64
		for _, x := range t {
			j := sort.SearchFloat64s(active, x)
			if j > 0 && j < len(active) {
				f := (x - active[j-1]) / (active[j] - active[j-1])
				m = append(m, math.Min(f, 1-f))
			}
		}
		if len(m) == 0 {
			return -1
		}
		sort.Float64s(m)
		return m[len(m)/20]
	}
	c := p.ps[p.a.cam]
	return margin(c.rise) > margin(c.fall)
}

// intervals are the nominal intervals from each vane to the next: the card's, turned so that they fit, else by the book.
func (p *plan) intervals(pos []float64, learnt bool) []float64 {
	n := len(pos)
	if card := p.s.intervals; len(card) == n {
		best, misfit := 0, math.Inf(1)
		for turn := range n { // cylinder 1's edge is vane `turn`
			sum, at := 0.0, 0.0
			first := wrap(pos[turn]-0, cycle)
			for i := range n {
				d := near(pos[(turn+i)%n]-first-at, cycle)
				sum += d * d
				at += card[i]
			}
			if c := p.camCandidate(pos); c >= 0 && c != turn {
				sum += 1e-3 // equal otherwise: the cam decides
			}
			if sum < misfit {
				best, misfit = turn, sum
			}
		}
		if learnt && misfit > 25*float64(n) {
			p.doubt("the vanes stand %s (rms) from the card's firing intervals", quantity.Degrees(math.Sqrt(misfit/float64(n)), 1))
		}
		out := make([]float64, n)
		for i, v := range card {
			out[(best+i)%n] = v
		}
		return out
	}
	if !learnt {
		return evenly(n)
	}
	out, even := bookIntervals(pos)
	if !even {
		p.doubt("no card gives the firing intervals: the nearest whole degrees are taken as nominal")
	}
	return out
}

func evenly(n int) []float64 {
	out := make([]float64, n)
	for k := range out {
		out[k] = cycle / float64(n)
	}
	return out
}

// camCandidate is the vane that the card's cam edge points to; −1: not known.
func (p *plan) camCandidate(pos []float64) int {
	if !p.cam.on || !p.s.camStated {
		return -1
	}
	at := p.cam.at[bit(p.s.camActive == jobcard.Rising)]
	if math.IsNaN(at) {
		return -1
	}
	best, least := -1, math.Inf(1)
	for k, v := range pos {
		if d := math.Abs(near(v-at-p.s.camAfter, cycle)); d < least {
			best, least = k, d
		}
	}
	return best
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// placeCam finds both cam edges on the cycle.
func (p *plan) placeCam(l *lesson) {
	p.cam.at = [2]float64{math.NaN(), math.NaN()}
	if !p.cam.on {
		return
	}
	for i := range p.cam.at {
		a, _, _ := l.places(p.ps[p.a.cam].edgesOf(i == 1), l.limit)
		p.cam.at[i] = middlePlace(a, cycle)
	}
	if r := bit(p.cam.refRising); math.IsNaN(p.cam.at[r]) {
		p.cam.at[r] = cycle - 0.25*cycle/float64(l.n)
	}
}

// placeOthers finds the crank pickup's other edges.
func (p *plan) placeOthers(l *lesson, t []float64, shift float64) {
	angle, vane, _ := l.places(t, l.limit)
	at := make([][]float64, l.n)
	for i, k := range vane {
		at[k] = append(at[k], angle[i])
	}
	other := make([]float64, l.n)
	for k := range other {
		other[k] = median(at[k])
	}
	// Metal stays where it is; the other edge of a reluctance pickup's pulse moves with speed.
	angle, vane, n := l.places(t, l.wide)
	var m [moments]float64
	lo, hi := math.Inf(1), 0.0
	for i, k := range vane {
		if d := angle[i] - other[k]; math.Abs(d) < 30 {
			x := n[i] / 1000
			addMoments(m[:], x, 1/(x*x), d)
			lo, hi = math.Min(lo, x), math.Max(hi, x)
		}
	}
	p.w.firm = !p.ps[p.a.crank].zero
	if c, _, ok := solve(m[:], basis{true, true, hi > 3*lo}); ok && hi > 1.3*lo && math.Abs(c[1])*(hi-lo) > 1.5 {
		p.w.firm = false
	}
	if !p.w.firm {
		if q := p.ps[p.a.crank]; q.zero && q.relative {
			p.doubt("%s is a reluctance pickup, and a sound card's input moves its zero crossings: they come early by some tenths of a degree near idle, less as speed rises; record it with a scope for the last tenths", q.name)
		}
		p.doubt("the pulses of %s change their width in degrees with speed, as of a reluctance pickup: no vane width is given", p.name(p.a.crank))
	}
	for k := range other {
		other[k] += shift
	}
	p.w.setOther(other)
}

// placeMark finds the mark on the turn.
func (p *plan) placeMark(l *lesson, shift float64) {
	if p.a.mark < 0 {
		return
	}
	q := p.ps[p.a.mark]
	start, _, nStart := l.places(q.edgesOf(q.narrowHigh), l.wide)
	end, _, nEnd := l.places(q.edgesOf(!q.narrowHigh), l.wide)
	if len(start) == 0 || len(end) == 0 {
		p.doubt("no mark of %s in an undisturbed cycle of the first stretch: absolute timing is left out", q.name)
		return
	}
	a, drift := placeAtRest(start, nStart, turn)
	b, driftEnd := placeAtRest(end, nEnd, turn)
	p.mark = markPlan{on: true, topRising: q.narrowHigh, at: wrap(a+shift, turn), drift: drift, width: wrap(b-a, turn)}
	if p.s.opt.MarkAt == PulseOff {
		p.mark.topRising, p.mark.at, p.mark.drift = !q.narrowHigh, wrap(b+shift, turn), driftEnd
	} else if p.mark.width > 1 && p.s.opt.MarkAt == Found {
		p.doubt("the start of the pulse on %s is taken as TDC; the pulse is %s wide", q.name,
			quantity.Degrees(p.mark.width, 1))
	}
}

// placeSparks finds which vanes are followed by a spark, and the usual wait in the controller's own terms.
func (p *plan) placeSparks(l *lesson, active []float64) {
	sparks := p.sparkTimes()
	p.occupied = make([]float64, l.n)
	var y []float64
	if len(sparks) == 0 {
		return
	}
	slots, held := make([]float64, l.n), make([]float64, l.n)
	count := make([]float64, l.n)
	i := sort.SearchFloat64s(sparks, active[0])
	last := sparks[len(sparks)-1]
	for s := range l.first {
		if !l.good[s] {
			continue
		}
		for k := range l.n {
			j := l.first[s] + k
			if j+1 >= len(active) || active[j] < sparks[0] || active[j+1] > last {
				continue
			}
			for i < len(sparks) && sparks[i] < active[j] {
				i++
			}
			slots[k]++
			here := 0
			for m := i; m < len(sparks) && sparks[m] < active[j+1]; m++ {
				here++
			}
			if here > 0 {
				held[k]++
				count[k] += float64(here)
				if j > 0 && len(y) < lookedAt {
					y = append(y, p.w.nomStep[k]*(sparks[i]-active[j])/(active[j]-active[j-1]))
				}
			}
		}
	}
	all, per := 0.0, 0.0
	for k := range slots {
		if slots[k] > 0 {
			p.occupied[k] = held[k] / slots[k]
			all += held[k]
			per += count[k]
		}
	}
	if all > 0 {
		p.perSlot = per / all
	}
	p.usual, _ = spread(y)
	var d []float64
	for i := l.n; i < len(y); i++ {
		d = append(d, y[i]-y[i-l.n])
	}
	_, p.scatter = spread(d)
}

// findFirst settles which vane belongs to cylinder 1.
func (p *plan) findFirst() {
	step := cycle / float64(p.w.n)
	if c := p.camCandidate(p.w.pos); c >= 0 {
		p.first, p.firstBy = c, "the job card's cam edge"
		at := p.cam.at[bit(p.s.camActive == jobcard.Rising)]
		if off := near(p.w.pos[c]-at-p.s.camAfter, cycle); math.Abs(off) > 0.3*step {
			p.find(FoundCamPlace, p.name(p.a.cam), fmt.Sprintf("the cam's %s edge stands %s from where the job card has it against the crank edges", p.s.camActive, quantity.Degrees(off, 0)),
				"check the cam vane, its lead and polarity; cylinder numbers may be off by one firing")
		}
		return
	}
	if !p.cam.on {
		p.firstBy = "not known: no cam signal"
		p.firstByMark()
		return
	}
	only, n := -1, 0
	for k, o := range p.occupied {
		if o > 0.7 {
			only = k
			n++
		}
	}
	if n == 1 && p.w.n > 1 {
		p.first, p.firstBy = only, "the one firing that the spark channel shows is taken for wire 1"
		p.doubt("cylinder 1 is taken to be the one firing that the spark channel shows")
		return
	}
	p.firstBy = fmt.Sprintf("assumed: the first active crank edge after the cam's %s edge", edgeName(p.cam.refRising))
	if p.firstByMark() {
		p.firstBy += ", of those that a mark follows"
	}
	p.doubt("cylinder 1: %s", p.firstBy)
}

// firstByMark takes the first vane whose usual spark comes up to 15° after, or less than a firing interval before, a mark: cylinder 1's
// or its companion's.
func (p *plan) firstByMark() bool {
	if !p.mark.on {
		return false
	}
	usual := p.usual
	if math.IsNaN(usual) {
		usual = 15
	}
	for k := range p.w.n {
		lead := wrap(p.mark.at-p.w.nominal[k], turn)
		if lead > usual-15 && lead <= usual-15+p.w.nomStep[(k+1)%p.w.n] {
			p.first = k
			return true
		}
	}
	return false
}

// checkPolarity compares the share of the cycle at high with what the job card's vanes give.
func (p *plan) checkPolarity() {
	judge := func(channel int, width float64, inVane jobcard.Level) {
		q := p.ps[channel]
		if width <= 0 || inVane == "" {
			return
		}
		want := width / cycle
		if inVane == jobcard.Low {
			want = 1 - want
		}
		if math.Abs(want-0.5) < 0.04 {
			return // both ways look alike
		}
		if math.Abs(q.duty-want) > math.Abs(q.duty-(1-want)) && math.Abs(q.duty-(1-want)) < 0.25*math.Min(want, 1-want)+0.02 {
			p.find(FoundPolarity, q.name, fmt.Sprintf("%s is upside down: high for %s of the cycle where the job card's vanes give %s", q.name, percent(q.duty), percent(want)),
				"check the pickup's wiring and the level in the vane on the job card; acting on the wrong edge shifts timing by the vane's width")
		}
	}
	total := 0.0
	if len(p.s.vane) == 1 {
		total = p.s.vane[0] * float64(p.w.n)
	} else if len(p.s.vane) == p.w.n {
		for _, v := range p.s.vane {
			total += v
		}
	}
	if !p.s.reluctor && !p.ps[p.a.crank].zero { // those have no level in the vane
		judge(p.a.crank, total, p.s.inVane)
	}
	if p.cam.on {
		judge(p.a.cam, p.s.camVane, p.s.camInVane)
	}
}
