package shaft

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// assignment is who carries what.
type assignment struct {
	crank, cam, mark int // channel indices; -1: none
	sparks           []int
	vanes            int // active crank edges a cycle; 0: could not be told
	score            float64
}

// Points, in the manner of log odds: about one for "rather so", three for "hardly otherwise". They were chosen by reasoning about
// the signals, not fitted.
const (
	ptMetal    = 2.0  // width grows with period, where metal is expected
	ptTime     = 1.5  // width stays with period, where time is expected
	ptWrong    = -9.0 // the opposite of what the role needs: a vane's width never stays when the period changes
	ptName     = 0.6  // the name says so
	ptCard     = 1.2  // at one speed: as wide as the card's vanes
	ptAccept   = 1.5  // least for a crank to be named
	ptDoubt    = 0.75 // a rival nearer than this leaves a role open
	ptNeedless = 4.0  // a cam pickup beside a wheel of one vane, which tells the cycle by itself
	ptNever    = -20.0
	fastest    = 25000.0 // rpm, no engine of this trade turns faster
	slowest    = 5.0     // rpm
	fewPerTurn = 0.012   // a cam vane covers more of the cycle than this
	markNarrow = 0.08    // a mark covers less of its turn than this
)

// part is a channel in a role.
type part struct {
	channel int
	role    Role
}

// casting weighs assignments over the channels that could carry a role.
type casting struct {
	s      *setup
	ps     []*profile
	who    []int // contenders
	one    [][]tally
	two    [][]tally
	fit    map[[3]int]float64 // spark points by channel, crank channel and vanes
	most   map[part]float64   // best score with a channel in a role
	unsure map[int]string     // channels whose role was taken back, and why
	near   map[[3]int]float64 // closest by channel, channel and vanes
}

// tally is the result of count for a pair of channels.
type tally struct {
	usual int
	share float64
	n     int
}

// between counts pulses of a between every stride-th rising edge of b. Where those fall together with edges of a, the slightest play
// moves pulses from one side to the other; then b's falling edges stand clear and count nearly always the same.
func between(a, b *profile, stride int) tally {
	usual, share, n := count(a.rise, b.rise, stride)
	if u, clear, m := count(a.rise, b.fall, stride); share < 0.9 && clear > 0.97 && m >= 4 {
		return tally{u, clear, m}
	}
	return tally{usual, share, n}
}

func newCasting(s *setup, ps []*profile) *casting {
	c := &casting{s: s, ps: ps, fit: map[[3]int]float64{}, most: map[part]float64{}, near: map[[3]int]float64{}}
	for i, p := range ps {
		if p.usable && (p.duplicateOf < 0 || s.given(p.name) != "") && s.given(p.name) != Unknown {
			c.who = append(c.who, i)
		}
	}
	sort.SliceStable(c.who, func(i, j int) bool { return len(ps[c.who[i]].rise) > len(ps[c.who[j]].rise) })
	if len(c.who) > contender {
		c.who = c.who[:contender]
	}
	sort.Ints(c.who)
	c.one, c.two = make([][]tally, len(ps)), make([][]tally, len(ps))
	for _, a := range c.who {
		c.one[a], c.two[a] = make([]tally, len(ps)), make([]tally, len(ps))
		for _, b := range c.who {
			if a != b {
				c.one[a][b], c.two[a][b] = between(ps[a], ps[b], 1), between(ps[a], ps[b], 2)
			}
		}
	}
	return c
}

// given is the role that the user stated for a channel, "" for none.
func (s *setup) given(name string) Role { return s.opt.Roles[name] }

func (c *casting) may(i int, r Role) bool {
	g := c.s.given(c.ps[i].name)
	if g != "" {
		return g == r
	}
	for _, j := range c.who { // a role that was stated for another channel is taken, save spark
		if r != Spark && j != i && c.s.given(c.ps[j].name) == r {
			return false
		}
	}
	return true
}

// choices are the channels that may have a role, −1 for none; where the user stated one, that alone.
func (c *casting) choices(r Role) []int {
	out := []int{-1}
	for _, i := range c.who {
		if c.s.given(c.ps[i].name) == r {
			return []int{i}
		}
		if c.may(i, r) {
			out = append(out, i)
		}
	}
	return out
}

// best finds the assignment that explains the channels best; crank is -1 where nothing is good enough.
func (c *casting) best() assignment {
	top := assignment{crank: -1, cam: -1, mark: -1, score: math.Inf(-1)}
	cams, marks := c.choices(Cam), c.choices(Mark)
	for _, crank := range c.who {
		if !c.may(crank, Crank) {
			continue
		}
		for _, cam := range cams {
			if cam == crank {
				continue
			}
			for _, mark := range marks {
				if mark >= 0 && (mark == crank || mark == cam) {
					continue
				}
				a := c.weigh(crank, cam, mark)
				c.note(a)
				if a.score > top.score {
					top = a
				}
			}
		}
	}
	if top.crank >= 0 && top.score < ptAccept && c.s.given(c.ps[top.crank].name) != Crank {
		return c.withoutCrank()
	}
	if top.crank < 0 {
		return c.withoutCrank()
	}
	return c.settle(top)
}

// withoutCrank names cam and mark where two marks come for one cam pulse, though there is no crank signal to follow.
func (c *casting) withoutCrank() assignment {
	a := assignment{crank: -1, cam: -1, mark: -1}
	best := 0.8
	for _, cam := range c.choices(Cam) {
		for _, mark := range c.choices(Mark) {
			if cam < 0 || mark < 0 || cam == mark {
				continue
			}
			t := c.one[mark][cam]
			sound := c.own(c.ps[cam], Cam) > -1 && c.own(c.ps[mark], Mark) > -1
			if t.usual == 2 && t.n >= 3 && t.share > best && sound && smooth(c.ps[cam].rise, 1) > 0.75 {
				a.cam, a.mark, best = cam, mark, t.share
			}
		}
	}
	return a
}

func (c *casting) weigh(crank, cam, mark int) assignment {
	a := assignment{crank: crank, cam: cam, mark: mark}
	p := c.ps[crank]
	a.score = c.own(p, Crank)
	related := false
	if cam >= 0 {
		t := c.one[crank][cam]
		a.score += c.own(c.ps[cam], Cam)
		switch {
		case t.n < 1 || t.usual < 1 || t.share < 0.5:
			a.score -= 3
		case t.usual == 1:
			a.score += t.share
			if !c.s.camStated && c.s.given(c.ps[cam].name) != Cam {
				a.score -= ptNeedless
			}
			a.vanes = 1
		default:
			a.score += 4*t.share - 1 - few(t.n)
			a.vanes, related = t.usual, true
		}
	}
	if mark >= 0 {
		t := c.two[crank][mark]
		a.score += c.own(c.ps[mark], Mark)
		if t.n < 1 || t.usual < 1 || t.share < 0.5 {
			a.score -= 3
		} else {
			a.score += 2.5*t.share - few(t.n)
			related = true
			if a.vanes == 0 {
				a.vanes = t.usual
			}
		}
		if cam >= 0 {
			if m := c.one[mark][cam]; m.n >= 1 && m.usual == 2 && m.share >= 0.6 {
				a.score += 3 * m.share
			} else {
				a.score -= 4
			}
		}
	}
	counted := a.vanes > 0
	if counted && cam < 0 && a.vanes == 1 && c.s.cylinders != 1 && c.s.given(p.name) != Crank {
		a.score += ptNever // one pulse for two of the mark, and no cam: that is the cam
	}
	if !counted {
		a.vanes = c.s.cylinders
	}
	stride := max(1, a.vanes)
	if c.s.cylinders > 0 && counted {
		switch {
		case a.vanes == c.s.cylinders:
			a.score += 3
		case cam < 0: // counted by the mark alone: a cam signal looks like that
			a.score += ptNever
		default:
			a.score -= 5
		}
	}
	if a.vanes > mostVanes {
		a.score += ptNever
	}
	if sm := bestSmooth(p.rise, stride, a.vanes == 0); sm < 0.75 || math.IsNaN(sm) {
		a.score -= 8
	}
	most := fastest
	if a.vanes == 0 {
		most *= 16
	}
	if rpm := 120 / (float64(stride) * p.period); rpm > most || (rpm < slowest && a.vanes > 0) {
		a.score -= 8
	}
	for _, x := range c.who {
		if x == crank || x == cam || x == mark || !c.may(x, Spark) {
			continue
		}
		if v := c.spark(x, crank, stride); v > 0 || c.s.given(c.ps[x].name) == Spark {
			a.sparks = append(a.sparks, x)
			a.score += math.Max(v, 0)
			related = related || v > 1
		}
	}
	if !related {
		a.score--
	}
	for _, x := range c.who { // a channel that pulses for no reason given
		if x != crank && x != cam && x != mark && !slices.Contains(a.sparks, x) {
			a.score -= 0.75
		}
	}
	return a
}

// few takes points off what rests on a handful of intervals.
func few(n int) float64 { return 1.5 / float64(n) }

// bestSmooth tries strides where the number of vanes is not known.
func bestSmooth(t []float64, stride int, open bool) float64 {
	s := smooth(t, stride)
	if open {
		for _, k := range []int{2, 3, 4, 6, 8} {
			s = math.Max(s, smooth(t, k))
		}
	}
	return s
}

func (c *casting) own(p *profile, r Role) float64 {
	v := 0.0
	switch {
	case p.named == r:
		v += ptName
	case p.named != Unknown:
		v -= ptName
	}
	if p.growthKnown {
		switch {
		case r == Spark && p.growth <= 0.45:
			v += ptTime
		case r == Spark && p.growth >= 0.7:
			v -= ptTime
		case r != Spark && p.growth >= 0.7:
			v += ptMetal
		case r == Crank && p.growth <= 0.45:
			v += ptNever
		case r != Spark && p.growth <= 0.45:
			v += ptWrong
		}
	}
	narrow := math.Min(p.duty, 1-p.duty)
	switch r {
	case Cam:
		if narrow < fewPerTurn {
			v -= 0.7
		}
	case Mark:
		if narrow < markNarrow {
			v += 0.5
		} else {
			v -= 1.5
		}
	case Crank:
		if p.beganLate < 0.02 {
			v += 0.2
		}
		if c.asCard(p) {
			v += ptCard
		}
		if narrow < fewPerTurn && !p.zero {
			v -= 8 // a vane is wider than a mark
		}
	}
	return v
}

// explain writes the reason beside each channel's role.
func (c *casting) explain(a assignment, i int) (Role, string) {
	p := c.ps[i]
	role := Unknown
	var why []string
	switch {
	case i == a.crank:
		role = Crank
		if a.cam >= 0 {
			t := c.one[i][a.cam]
			why = append(why, fmt.Sprintf("%d pulses between cam edges in %s of cycles", t.usual, percent(t.share)))
		} else if a.mark >= 0 {
			t := c.two[i][a.mark]
			why = append(why, fmt.Sprintf("%d pulses in two turns of the mark", t.usual))
		}
	case i == a.cam:
		role = Cam
		if a.crank >= 0 {
			why = append(why, fmt.Sprintf("one pulse for %d of the crank channel", c.one[a.crank][i].usual))
		} else {
			why = append(why, "one pulse for two of the mark")
		}
	case i == a.mark:
		role = Mark
		why = append(why, "one narrow pulse a crank turn")
	default:
		for _, s := range a.sparks {
			if s == i {
				role = Spark
				rate := rateBetween(c.ps[a.crank].rise, p.rise)
				text := fmt.Sprintf("%s pulses for one of the crank channel, timed from it", trim(rate))
				if math.Abs(rate-1) < 0.15 {
					text = "a pulse for each of the crank channel, timed from it"
				}
				why = append(why, text)
			}
		}
	}
	g := c.s.given(p.name)
	switch {
	case g != "":
		return g, strings.Join(append([]string{"as stated"}, why...), "; ")
	case role == Unknown && p.reason != "":
		return role, p.reason
	case role == Unknown && c.unsure[i] != "":
		return role, c.unsure[i] + "; state its role"
	case role == Unknown && p.duplicateOf >= 0:
		return role, fmt.Sprintf("carries the same edges as %s", c.ps[p.duplicateOf].name)
	case role == Unknown && a.crank < 0 && p.growthKnown && p.growth <= 0.45:
		return role, "its pulse width stays when the period changes, as a spark's does; without a crank signal it cannot be placed"
	case role == Unknown && a.crank < 0 && len(c.unsure) > 0:
		return role, "it is judged by the crank signal, which is open"
	case role == Unknown && a.crank < 0:
		return role, "its edges follow no shaft that another channel bears out"
	case role == Unknown:
		return role, "its edges fit neither cam, mark nor spark of this crank signal"
	}
	if p.growthKnown && role != Unknown {
		if p.growth >= 0.7 {
			why = append(why, "pulse width grows with the period, as metal does")
		} else if p.growth <= 0.45 {
			why = append(why, "pulse width stays when the period changes, as a dwell does")
		}
	} else if role == Crank && c.asCard(p) {
		why = append(why, "as wide as the card's vanes")
	}
	if p.named == role {
		why = append(why, "its name agrees")
	} else if p.named != Unknown {
		why = append(why, fmt.Sprintf("against its name, which says %s", p.named))
	}
	return role, strings.Join(why, "; ")
}
