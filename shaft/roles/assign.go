package roles

import (
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/terms"
)

// Assignment gives channels their roles.
type Assignment struct {
	Crank, Cam, Mark int // channel indices; -1: none
	Sparks           []int
	Vanes            int // active crank edges in a cycle; 0: not known
	score            float64
}

// Role is the role of channel i.
func (a *Assignment) Role(i int) terms.Role {
	switch {
	case i == a.Crank:
		return terms.Crank
	case i == a.Cam:
		return terms.Cam
	case i == a.Mark:
		return terms.Mark
	case slices.Contains(a.Sparks, i):
		return terms.Spark
	}
	return terms.Unknown
}

// Points count for or against a role like log odds: 1 means "rather so", 3 "hardly otherwise". They were chosen by
// reasoning about the signals, not fitted to recordings.
const (
	ptMetal    = 2.0   // pulse width grows with the period, as of metal, where the role needs metal
	ptTime     = 1.5   // pulse width stays when the period changes, where the role needs a fixed time
	ptWrong    = -9.0  // the opposite of what the role needs: the width of metal never stays when the period changes
	ptName     = 0.6   // the channel's name says so
	ptCard     = 1.8   // as wide as the card's vane, at the level that the card says
	ptUpside   = -0.4  // as wide, but at the other level
	ptNotCard  = -3.0  // far from the width of the card's vanes
	ptAccept   = 1.5   // an assignment with fewer points is not taken: no crank signal
	ptDoubt    = 0.75  // where another assignment is this close, the role is left open
	ptNeedless = -4.0  // a cam pickup beside a wheel of one vane, which tells the cycle by itself
	ptApart    = -12.0 // its edges do not keep their place between those of the crank channel
	ptNever    = -20.0

	fastest       = 25000.0 // rpm; no engine of this trade turns faster
	slowest       = 5.0     // rpm
	fewPerTurn    = 0.012   // a vane covers more of its cycle than this
	markNarrow    = 0.085   // a mark covers less of its turn than this share: about 30°
	heldWell      = 0.8     // see func held: below it, two channels run by clocks of their own
	mostCylinders = 16      // most cylinders of an engine of this trade, where nothing says how many it has
	mostBusy      = 24      // most channels that are weighed for one of the roles crank, cam and mark
)

// pairing is a channel with a role.
type pairing struct {
	channel int
	role    terms.Role
}

// Judge weighs all assignments of roles to the channels of a recording. What it works out about pairs of channels is
// remembered in the maps.
type Judge struct {
	facts     *terms.Facts
	ps        []*Profile
	who       []int // channels that may have a role
	apart     map[[3]int]ratio
	heldBy    map[[3]int]float64
	sparkFit  map[[3]int]float64 // points by channel, crank channel and vanes
	tightness map[[3]int]float64
	best      map[pairing]float64 // best score of any assignment that gives a channel this role
	unsure    map[int]string      // why a channel's role was left open
	crosstalk map[int]int         // channels that change only when a spark jumps on another, with that one
	clocks    bool                // the channels look like clocks from one source, not like a shaft
}

// NewJudge makes a Judge of the channels' profiles. Left out are channels without enough pulses, second copies of
// another's edges, and those stated to be unknown.
func NewJudge(facts *terms.Facts, ps []*Profile) *Judge {
	j := &Judge{facts: facts, ps: ps, apart: map[[3]int]ratio{}, heldBy: map[[3]int]float64{},
		sparkFit:  map[[3]int]float64{},
		tightness: map[[3]int]float64{}, best: map[pairing]float64{}, unsure: map[int]string{},
		crosstalk: map[int]int{}}
	for i, p := range ps {
		stated := j.stated(i)
		if p.Usable && (p.DuplicateOf < 0 || stated != "") && stated != terms.Unknown {
			j.who = append(j.who, i)
		}
	}
	j.findCrosstalk()
	return j
}

// stated is the role that the user gave a channel, "" for none.
func (j *Judge) stated(i int) terms.Role { return j.facts.Roles[j.ps[i].Name] }

// may says whether channel i may have role r by what the user stated. A role stated for another channel is taken,
// except spark, which several channels may have.
func (j *Judge) may(i int, r terms.Role) bool {
	if s := j.stated(i); s != "" {
		return s == r
	}
	for _, k := range j.who {
		if r != terms.Spark && k != i && j.stated(k) == r {
			return false
		}
	}
	return true
}

// choices are the channels that may have role r, and −1 for "none"; only the stated one where the user stated one.
func (j *Judge) choices(r terms.Role) []int {
	out := []int{-1}
	for _, i := range j.who {
		if j.stated(i) == r {
			return []int{i}
		}
		if _, echo := j.crosstalk[i]; !echo && j.may(i, r) && j.own(j.ps[i], r) > ptWrong/2 {
			out = append(out, i)
		}
	}
	if len(out) > mostBusy { // keep the least busy for cam and mark, the busiest for crank
		slices.SortStableFunc(out[1:], func(a, b int) int { return len(j.ps[a].Rise) - len(j.ps[b].Rise) })
		if r == terms.Crank {
			slices.Reverse(out[1:])
		}
		out = out[:mostBusy]
	}
	return out
}

// Best finds the assignment with the most points. Crank is −1 where none is good enough.
func (j *Judge) Best() Assignment {
	top := Assignment{Crank: -1, Cam: -1, Mark: -1, score: math.Inf(-1)}
	cams, marks := j.choices(terms.Cam), j.choices(terms.Mark)
	for _, crank := range j.choices(terms.Crank) {
		for _, cam := range cams {
			for _, mark := range marks {
				if crank < 0 || cam == crank || mark == crank || mark >= 0 && mark == cam {
					continue
				}
				a := j.weigh(crank, cam, mark)
				for _, i := range j.who {
					k := pairing{i, a.Role(i)}
					if v, seen := j.best[k]; !seen || a.score > v {
						j.best[k] = a.score
					}
				}
				if a.score > top.score {
					top = a
				}
			}
		}
	}
	if top.Crank < 0 || top.score < ptAccept && j.stated(top.Crank) != terms.Crank {
		return j.withoutCrank()
	}
	if j.plainClock(top) {
		j.clocks = true
		return Assignment{Crank: -1, Cam: -1, Mark: -1}
	}
	return j.leaveOpen(top)
}

// withoutCrank finds cam and mark where there is no crank signal: two marks come for one cam pulse.
func (j *Judge) withoutCrank() Assignment {
	a := Assignment{Crank: -1, Cam: -1, Mark: -1}
	best := 0.8
	for _, cam := range j.choices(terms.Cam) {
		for _, mark := range j.choices(terms.Mark) {
			if cam < 0 || mark < 0 || cam == mark {
				continue
			}
			r := j.ratio(mark, cam, 1)
			sound := j.own(j.ps[cam], terms.Cam) > -1 && j.own(j.ps[mark], terms.Mark) > -1
			if r.usual == 2 && r.n >= 3 && r.share > best && sound && smooth(j.ps[cam].Rise, 1) > 0.75 &&
				j.held(mark, cam, 1) > heldWell {
				a.Cam, a.Mark, best = cam, mark, r.share
			}
		}
	}
	return a
}

// ratio is between(a, b) of two channels, worked out once.
func (j *Judge) ratio(a, b, stride int) ratio {
	key := [3]int{a, b, stride}
	r, ok := j.apart[key]
	if !ok {
		r = between(j.ps[a], j.ps[b], stride)
		j.apart[key] = r
	}
	return r
}

// held is func held for channel b between the rising edges of channel a, by the edges of b that keep their place
// better.
func (j *Judge) held(a, b, stride int) float64 {
	key := [3]int{a, b, stride}
	v, ok := j.heldBy[key]
	if !ok {
		v = math.Max(held(j.ps[a].Rise, j.ps[b].Rise, stride), held(j.ps[a].Rise, j.ps[b].Fall, stride))
		j.heldBy[key] = v
	}
	return v
}

// weigh gives an assignment of crank, cam and mark (−1: none) its points. Every other channel becomes a spark where
// that adds points.
func (j *Judge) weigh(crank, cam, mark int) Assignment {
	a := Assignment{Crank: crank, Cam: cam, Mark: mark}
	p := j.ps[crank]
	a.score = j.own(p, terms.Crank)
	related := false
	if cam >= 0 {
		points, vanes := j.weighCam(crank, cam)
		a.score += points
		a.Vanes, related = vanes, vanes > 1
	}
	if mark >= 0 {
		points, vanes := j.weighMark(crank, cam, mark)
		a.score += points
		if related = related || vanes > 0; a.Vanes == 0 {
			a.Vanes = vanes
		}
	}
	counted := a.Vanes > 0
	if counted && cam < 0 && a.Vanes == 1 && j.facts.Cylinders != 1 && j.stated(crank) != terms.Crank {
		a.score += ptNever // one pulse for two of the mark, and no cam: it is the cam itself
	}
	if !counted {
		a.Vanes = j.facts.Cylinders
	}
	if n := j.facts.Cylinders; n > 0 && counted {
		switch {
		case a.Vanes == n:
			a.score += 3
		case cam < 0: // the mark alone gave the count: a cam signal would give such a one
			a.score += ptNever
		default:
			a.score -= 5
		}
	}
	if a.Vanes > terms.MostVanes || j.facts.Cylinders == 0 && a.Vanes > mostCylinders &&
		j.stated(crank) != terms.Crank {
		a.score += ptNever
	}
	stride := max(1, a.Vanes)
	if sm := smoothest(p.Rise, stride, a.Vanes == 0); sm < 0.75 || math.IsNaN(sm) && !j.facts.OnCard {
		a.score -= 8
	}
	most := fastest
	if a.Vanes == 0 {
		most *= 16
	}
	if rpm := 120 / (float64(stride) * p.Period); rpm > most || rpm < slowest && a.Vanes > 0 {
		a.score -= 8
	}
	sparks := 0.0
	for _, x := range j.who {
		if _, echo := j.crosstalk[x]; echo || x == crank || x == cam || x == mark || !j.may(x, terms.Spark) {
			continue
		}
		if v := j.spark(x, crank, stride); v > 0 || j.stated(x) == terms.Spark {
			a.Sparks = append(a.Sparks, x)
			a.score += math.Max(v, 0)
			sparks = math.Max(sparks, v)
		}
	}
	if related = related || sparks > 1; !related {
		a.score--
	}
	if j.facts.Cylinders == 0 && a.Vanes == 1 && len(a.Sparks) == 0 && j.stated(crank) != terms.Crank {
		a.score += ptNever // one pulse in a cycle may be anything that turns
	}
	for _, x := range j.who { // a channel with pulses that the assignment does not explain
		if _, echo := j.crosstalk[x]; !echo && a.Role(x) == terms.Unknown {
			a.score -= 0.75
		}
	}
	return a
}

// weighCam gives points for cam as the cam pickup of crank, and how many crank pulses come between its edges.
func (j *Judge) weighCam(crank, cam int) (points float64, vanes int) {
	r := j.ratio(crank, cam, 1)
	points = j.own(j.ps[cam], terms.Cam)
	switch {
	case r.n < 1 || r.usual < 1 || r.share < 0.5:
		return points - 3, 0
	case r.usual == 1:
		points += r.share
		if !j.facts.Cam.Stated && j.stated(cam) != terms.Cam {
			points += ptNeedless
		}
		vanes = 1
	default:
		points += 4*r.share - 1 - few(r.n)
		vanes = r.usual
	}
	if j.held(crank, cam, 1) < heldWell {
		points += ptApart
	}
	if j.facts.OnCard && !j.facts.Cam.Stated && r.usual > 1 && j.stated(cam) != terms.Cam {
		points += ptNotCard // the card says that no cam pickup is fitted
	}
	return points, vanes
}

// weighMark gives points for mark as the mark beside crank and cam, and how many crank pulses come in two turns of it.
func (j *Judge) weighMark(crank, cam, mark int) (points float64, vanes int) {
	r := j.ratio(crank, mark, 2)
	points = j.own(j.ps[mark], terms.Mark)
	if r.n < 1 || r.usual < 1 || r.share < 0.5 {
		points -= 3
	} else {
		points += 2.5*r.share - few(r.n)
		vanes = r.usual
	}
	if cam >= 0 {
		if m := j.ratio(mark, cam, 1); m.n >= 1 && m.usual == 2 && m.share >= 0.6 {
			points += 3 * m.share
		} else {
			points -= 4
		}
	}
	if j.held(crank, mark, 2) < heldWell {
		points += ptApart
	}
	return points, vanes
}

// few is how many points to take off a count that rests on n intervals only.
func few(n int) float64 { return 1.5 / float64(n) }

// Signs of a clock: its period changes less than a running engine's, whose mean over blocks of pulses differs by more
// than the share clockWander, and it is high for half of the time, within clockDuty, as no vane wheel and no cam vane
// is (assumed).
const (
	clockWander = 3e-4
	clockDuty   = 0.03
)

// plainClock says that what would be crank, cam and mark are clocks from one source: all keep one period throughout,
// and either all are high for half of the time, or there is neither a number of cylinders nor a cam with mark or spark
// to confirm a shaft.
func (j *Judge) plainClock(a Assignment) bool {
	missing := j.facts.Cylinders == 0 || j.facts.Cam.Stated && a.Cam < 0
	if len(a.Sparks) > 0 && !missing {
		return false
	}
	square := true
	for _, i := range []int{a.Crank, a.Cam, a.Mark} {
		if i < 0 {
			continue
		}
		p := j.ps[i]
		if j.stated(i) != "" || !(p.Wander < clockWander) {
			return false
		}
		square = square && math.Abs(p.Duty-0.5) < clockDuty
	}
	bornOut := a.Cam >= 0 && (a.Mark >= 0 || len(a.Sparks) > 0)
	return square || !bornOut && missing
}

// own gives points for role r by the channel's own pulses and name, without the other channels.
func (j *Judge) own(p *Profile, r terms.Role) float64 {
	v := 0.0
	switch {
	case p.Named == r:
		v += ptName
	case p.Named != terms.Unknown:
		v -= ptName
	}
	switch {
	case r == terms.Spark && p.time():
		v += ptTime
	case r == terms.Spark && p.metal():
		v -= ptTime
	case r != terms.Spark && p.metal():
		v += ptMetal
	case r == terms.Crank && p.time():
		v += ptNever
	case r != terms.Spark && p.time():
		v += ptWrong
	}
	if r != terms.Spark && p.Train.Gap > 0 {
		v += ptWrong
	}
	switch r {
	case terms.Cam:
		if p.narrow() < fewPerTurn {
			v -= 0.7
		}
		v += j.asCard(p, j.facts.Cam.Width, j.facts.Cam.InVane)
	case terms.Mark:
		if p.narrow() < markNarrow {
			v += 0.5
		} else {
			v -= 6
		}
	case terms.Crank:
		if p.began < 0.02 {
			v += 0.2
		}
		v += j.asCard(p, j.vanesTotal(), j.facts.InVane)
		if p.narrow() < fewPerTurn && !p.Reluctance {
			v -= 8 // too narrow for a vane
		}
	}
	return v
}

// vanesTotal is how many degrees of the cycle the card's vanes cover together; 0 where it does not say.
func (j *Judge) vanesTotal() quantity.Crank {
	total := quantity.Crank(0)
	if len(j.facts.Vanes) > 0 && !j.facts.Reluctor {
		for i := range max(j.facts.Cylinders, len(j.facts.Vanes)) {
			total += j.facts.Vanes[i%len(j.facts.Vanes)]
		}
	}
	return total
}

// asCard gives points for how well the share of time at high agrees with the share of the cycle that the card's vanes
// cover (width, crank degrees), upright or upside down.
func (j *Judge) asCard(p *Profile, width quantity.Crank, inVane jobcard.Level) float64 {
	if !(width > 0) || p.Reluctance {
		return 0
	}
	share := float64(width / motion.Cycle)
	off := math.Abs(p.Duty - share)
	upsideDown := math.Abs(p.Duty - (1 - share))
	switch inVane {
	case jobcard.Low:
		off, upsideDown = upsideDown, off
	case jobcard.High:
	default:
		off = math.Min(off, upsideDown)
	}
	narrow := math.Min(share, 1-share)
	switch least := math.Min(off, upsideDown); {
	case off < 0.01+0.04*narrow:
		return ptCard
	case off > upsideDown && upsideDown < 0.02+0.2*narrow:
		return ptUpside
	case least < 0.02+0.2*narrow:
		return 0
	case least > 0.05+0.5*narrow:
		return ptNotCard
	}
	return 0
}
