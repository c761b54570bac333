package roles

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasewright/shaft/terms"
)

// leaveOpen takes back the roles that another assignment gives differently with nearly as many points: the user is
// asked, since people act on what they read here.
func (j *Judge) leaveOpen(a Assignment) Assignment {
	out := a
	out.Sparks = nil
	for _, i := range j.who {
		own := a.Role(i)
		rival := j.rival(a, i)
		if own == terms.Unknown || rival == "" || rival == terms.Unknown && own != terms.Crank {
			if own == terms.Spark {
				out.Sparks = append(out.Sparks, i)
			}
			continue
		}
		j.unsure[i] = fmt.Sprintf("not sure: it may be %s or %s", own, rival)
		if rival == terms.Unknown {
			j.unsure[i] = fmt.Sprintf("not sure: it may be %s, or another channel is", own)
		}
		switch own {
		case terms.Crank:
			out.Crank = -1
		case terms.Cam:
			out.Cam = -1
		case terms.Mark:
			out.Mark = -1
		}
	}
	if j.facts.Cylinders == 0 && out.Cam < 0 && out.Mark < 0 {
		out.Vanes = 0 // the vanes were counted between edges of a channel that is in doubt
		if !j.sparkEach(out) && j.stated(a.Crank) != terms.Crank {
			out.Crank = -1 // it may be a mark: that too has a spark at every second pulse
		}
	}
	if out.Crank < 0 { // the other roles were judged by the crank channel
		out.Cam, out.Mark, out.Sparks = -1, -1, nil
	}
	return out
}

// rival is another role that channel i could have with nearly as many points, "" for none.
func (j *Judge) rival(a Assignment, i int) terms.Role {
	own, rival := a.Role(i), terms.Role("")
	if j.stated(i) != "" {
		return rival
	}
	best := a.score - ptDoubt
	for _, r := range []terms.Role{terms.Crank, terms.Cam, terms.Spark, terms.Mark, terms.Unknown} {
		if v, ok := j.best[pairing{i, r}]; ok && r != own && v > best {
			rival, best = r, v
		}
	}
	return rival
}

// sparkEach says whether a spark channel fires for each pulse of the crank channel.
func (j *Judge) sparkEach(a Assignment) bool {
	if a.Crank < 0 {
		return false
	}
	for _, x := range a.Sparks {
		if rateBetween(j.ps[a.Crank].Rise, j.ps[x].Rise) > 0.85 {
			return true
		}
	}
	return false
}

// Unsure is why the role of a channel was left open, "" where it was not.
func (j *Judge) Unsure(i int) string { return j.unsure[i] }

// Crosstalk is the channel whose sparks alone make channel i change; false for none.
func (j *Judge) Crosstalk(i int) (of int, echo bool) {
	of, echo = j.crosstalk[i]
	return of, echo
}

// PulsesBetween says how many pulses of a come between neighbouring ones of b, and in what share of the intervals.
func (j *Judge) PulsesBetween(a, b int) (usual int, share float64) {
	r := j.ratio(a, b, 1)
	return r.usual, r.share
}

// Explain gives the role of channel i and the reason for it.
func (j *Judge) Explain(a *Assignment, i int) (terms.Role, string) {
	role := a.Role(i)
	why := j.bornOut(a, i)
	if s := j.stated(i); s != "" {
		return s, strings.Join(append([]string{"as stated"}, why...), "; ")
	}
	p := j.ps[i]
	if role == terms.Unknown {
		return role, j.whyUnknown(a, i)
	}
	switch {
	case p.metal():
		why = append(why, "pulse width grows with the period, as metal does")
	case p.time():
		why = append(why, "pulse width stays when the period changes, as a dwell does")
	case role == terms.Crank && j.asCard(p, j.vanesTotal(), j.facts.InVane) > 0:
		why = append(why, "as wide as the card's vanes")
	}
	if p.Named == role {
		why = append(why, "its name agrees")
	} else if p.Named != terms.Unknown {
		why = append(why, fmt.Sprintf("against its name, which says %s", p.Named))
	}
	return role, strings.Join(why, "; ")
}

// bornOut says which other channels confirm the role of channel i.
func (j *Judge) bornOut(a *Assignment, i int) []string {
	switch a.Role(i) {
	case terms.Crank:
		if a.Cam >= 0 {
			r := j.ratio(i, a.Cam, 1)
			return []string{fmt.Sprintf("%d pulses between cam edges in %s of cycles", r.usual, percent(r.share))}
		} else if a.Mark >= 0 {
			return []string{fmt.Sprintf("%d pulses in two turns of the mark", j.ratio(i, a.Mark, 2).usual)}
		}
	case terms.Cam:
		if a.Crank >= 0 {
			return []string{fmt.Sprintf("one pulse for %d of the crank channel", j.ratio(a.Crank, i, 1).usual)}
		}
		return []string{"one pulse for two of the mark"}
	case terms.Mark:
		return []string{"one narrow pulse a crank turn"}
	case terms.Spark:
		rate := rateBetween(j.ps[a.Crank].Rise, j.ps[i].Rise)
		if math.Abs(rate-1) < 0.15 {
			return []string{"a pulse for each of the crank channel, timed from it"}
		}
		return []string{strconv.FormatFloat(rate, 'g', 3, 64) + " pulses for one of the crank channel, timed from it"}
	}
	return nil
}

// whyUnknown says why channel i has no role.
func (j *Judge) whyUnknown(a *Assignment, i int) string {
	p := j.ps[i]
	if of, echo := j.crosstalk[i]; echo {
		return fmt.Sprintf("crosstalk of %s: it changes only when a spark jumps there; connect it, or leave it "+
			"out", j.ps[of].Name)
	}
	switch {
	case p.Reason != "":
		return p.Reason
	case j.unsure[i] != "":
		return j.unsure[i] + "; state its role"
	case p.DuplicateOf >= 0:
		return "carries the same edges as " + j.ps[p.DuplicateOf].Name
	case a.Crank < 0 && p.time():
		return "its pulse width stays when the period changes, as a spark's does; without a crank signal it " +
			"cannot be placed"
	case a.Crank < 0 && len(j.unsure) > 0:
		return "it is judged by the crank signal, which is open"
	case a.Crank < 0:
		return "its edges follow no shaft that another channel bears out"
	}
	return "its edges fit neither cam, mark nor spark of this crank signal"
}

// WhyNoCrank says why no channel was taken for the crank signal.
func (j *Judge) WhyNoCrank(a *Assignment) string {
	var open []string
	usable, sparks := 0, 0
	for i, p := range j.ps {
		if j.unsure[i] != "" {
			open = append(open, p.Name)
		}
		if p.Usable {
			usable++
			if p.time() {
				sparks++
			}
		}
	}
	switch {
	case j.clocks:
		return "the channels keep one period throughout, as clocks do and hardly an engine; record while the " +
			"speed changes, or " + terms.StateRole(terms.Unknown)
	case len(open) > 0:
		return strings.Join(open, " and ") +
			" could be it or be something else, and the recording bears out both nearly as well"
	case len(j.ps) == 1:
		return j.whyNotThis(j.ps[0])
	case a.Cam >= 0 && a.Mark >= 0:
		return fmt.Sprintf("%s and %s look like cam and mark, and no other channel follows them",
			j.ps[a.Cam].Name, j.ps[a.Mark].Name)
	case usable == 0:
		return "no channel has enough pulses"
	case sparks == usable:
		return "all pulses keep their width when the period changes, as sparks do"
	}
	return "no channel's pulses follow a turning shaft that another channel bears out"
}

// whyNotThis says why the only channel is not taken for the crank signal.
func (j *Judge) whyNotThis(p *Profile) string {
	switch {
	case !p.Usable:
		return fmt.Sprintf("the one channel, %s, %s", p.Name, p.Reason)
	case p.time():
		return fmt.Sprintf("the one channel, %s, keeps its pulse width when the period changes, as a spark "+
			"does", p.Name)
	}
	return fmt.Sprintf("the one channel, %s, has pulses, but nothing to tell their number a turn by", p.Name)
}

func percent(share float64) string {
	if share > 0.999 {
		return "100 %"
	}
	return strconv.FormatFloat(100*share, 'f', 0, 64) + " %"
}
