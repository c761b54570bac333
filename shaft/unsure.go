package shaft

import (
	"fmt"
	"math"
	"slices"

	"phasewright/jobcard"
)

// role is what an assignment makes of a channel.
func (a *assignment) role(i int) Role {
	switch {
	case i == a.crank:
		return Crank
	case i == a.cam:
		return Cam
	case i == a.mark:
		return Mark
	case slices.Contains(a.sparks, i):
		return Spark
	}
	return Unknown
}

// note remembers how well each channel does in the role that an assignment gives it.
func (c *casting) note(a assignment) {
	for _, i := range c.who {
		k := part{i, a.role(i)}
		if v, ok := c.most[k]; !ok || a.score > v {
			c.most[k] = a.score
		}
	}
}

// rivals is the role that a channel could have nearly as well as the one it is given, "" for none.
func (c *casting) rivals(a assignment, i int) Role {
	own, rival := a.role(i), Role("")
	if c.s.given(c.ps[i].name) != "" {
		return rival
	}
	best := a.score - ptDoubt
	for _, r := range []Role{Crank, Cam, Spark, Mark, Unknown} {
		if v, ok := c.most[part{i, r}]; ok && r != own && v > best {
			rival, best = r, v
		}
	}
	return rival
}

// settle takes back the roles that another casting would give differently and nearly as well: a guess would be acted upon. What is left says why.
func (c *casting) settle(a assignment) assignment {
	c.unsure = map[int]string{}
	if a.crank < 0 {
		return a
	}
	out := a
	out.sparks = nil
	for _, i := range c.who {
		own := a.role(i)
		rival := c.rivals(a, i)
		if own == Unknown || rival == "" || rival == Unknown && own != Crank {
			if own == Spark {
				out.sparks = append(out.sparks, i)
			}
			continue
		}
		c.unsure[i] = fmt.Sprintf("not sure: it may be %s or %s", own, rival)
		if rival == Unknown {
			c.unsure[i] = fmt.Sprintf("not sure: it may be %s, or another channel is", own)
		}
		switch own {
		case Crank:
			out.crank = -1
		case Cam:
			out.cam = -1
		case Mark:
			out.mark = -1
		}
	}
	if c.s.cylinders == 0 && out.cam < 0 && out.mark < 0 {
		out.vanes = 0 // they were counted by what is in doubt
		if !c.sparkEach(out) && c.s.given(c.ps[a.crank].name) != Crank {
			out.crank = -1 // a mark, once a turn, has a spark at every other pulse too
		}
	}
	if out.crank < 0 { // the others were judged by it
		out.cam, out.mark, out.sparks = -1, -1, nil
	}
	return out
}

// sparkEach says whether a spark channel fires for each pulse of the crank channel.
func (c *casting) sparkEach(a assignment) bool {
	return slices.ContainsFunc(a.sparks, func(x int) bool { return rateBetween(c.ps[a.crank].rise, c.ps[x].rise) > 0.85 })
}

// asCard says that a channel is high for the share of the time that the card's vanes take up, or low where they are low: at one speed, where a vane's width and a
// dwell look alike, the card tells them apart.
func (c *casting) asCard(p *profile) bool {
	s := c.s
	if p.growthKnown || p.zero || s.reluctor || len(s.vane) == 0 {
		return false
	}
	share := 0.0
	for i := range max(s.cylinders, len(s.vane)) {
		share += s.vane[i%len(s.vane)] / cycle
	}
	within := func(want float64) bool { return math.Abs(p.duty-want) < 0.01+0.04*math.Min(want, 1-want) }
	switch s.inVane {
	case jobcard.High:
		return within(share)
	case jobcard.Low:
		return within(1 - share)
	}
	return within(share) || within(1-share)
}
