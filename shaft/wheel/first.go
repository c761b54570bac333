package wheel

import (
	"fmt"
	"math"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/terms"
)

// findFirst finds the vane of cylinder 1: by the card's cam edge, else by the one firing that is seen, else it assumes
// the first vane after the cam's reference edge. FirstBy says how.
func (l *Layout) findFirst() {
	step := motion.Cycle / quantity.Crank(l.N)
	if k := l.byCam(l.Pos); k >= 0 {
		l.First, l.FirstBy = k, "the job card's cam edge"
		at := l.Cam.At[Index(l.Facts.Cam.Active == jobcard.Rising)]
		if off := motion.Near(l.Pos[k]-at-l.Facts.Cam.After, motion.Cycle); quantity.Abs(off) > 0.3*step {
			l.Find(terms.FoundCamPlace, l.Name(l.Assigned.Cam),
				"check the cam vane, its cable and polarity. Cylinder numbers may be off by one firing",
				"the cam's %s edge stands %s from where the job card has it against the crank edges",
				l.Facts.Cam.Active, quantity.Degrees(off, 0))
		}
		return
	}
	if !l.Cam.On {
		l.FirstBy = "not known: no cam signal"
		l.firstByMark()
		return
	}
	only, n := -1, 0
	for k, o := range l.Occupied {
		if o > 0.7 {
			only = k
			n++
		}
	}
	if n == 1 && l.N > 1 {
		l.First, l.FirstBy = only, "the one firing that the spark channel shows is taken for wire 1"
		l.Doubt("cylinder 1 is taken to be the one firing that the spark channel shows")
		return
	}
	l.FirstBy = fmt.Sprintf("assumed: the first active crank edge after the cam's %s edge",
		terms.EdgeName(l.Cam.RefRising))
	if l.firstByMark() {
		l.FirstBy += ", of those that a mark follows"
	}
	l.Doubt("cylinder 1: %s", l.FirstBy)
}

// usualAdvance is about the middle of what engines are timed at, crank degrees (assumed).
const usualAdvance = 15

// firstByMark takes the vane that stands before the mark by the card's lead. Without a card it takes the one that makes
// the spark come nearest to usualAdvance before the mark. As a mark comes once a turn, that is cylinder 1's vane or its
// companion's, a turn later.
func (l *Layout) firstByMark() bool {
	if !l.Mark.On {
		return false
	}
	want := l.Facts.Lead
	if !(want > 0) {
		want = usualAdvance
		if !math.IsNaN(l.Usual) {
			want += quantity.Crank(l.Usual)
		}
	}
	least := quantity.Crank(math.Inf(1))
	for k := range l.N {
		if off := quantity.Abs(motion.Near(l.Mark.At-l.Nominal[k]-want, motion.Turn)); off < least-1e-6 {
			l.First, least = k, off
		}
	}
	return true
}

// Cylinder is the number of the cylinder that fires that many firings after cylinder 1: from the card's firing order,
// else its place in the order.
func (l *Layout) Cylinder(firing int) int {
	if o := l.Facts.Order; len(o) == l.N {
		return o[firing]
	}
	return firing + 1
}

// Lead is how far before the mark, that is before TDC, cylinder 1's active edge stands, 0 ≤ lead < 360; NaN without a
// mark.
func (l *Layout) Lead() quantity.Crank {
	if !l.Mark.On {
		return terms.NotStated
	}
	return motion.Wrap(l.Mark.At-l.Nominal[l.First], motion.Turn)
}

// checkPolarity compares the share of the time that a pickup is high with the share of the cycle that the job card's
// vanes cover: where it is that of the gaps instead, the signal is upside down.
func (l *Layout) checkPolarity() {
	judge := func(channel int, width quantity.Crank, inVane jobcard.Level) {
		p := l.Profiles[channel]
		if !(width > 0) || inVane == "" || p.Reluctance {
			return
		}
		want := float64(width / motion.Cycle)
		if inVane == jobcard.Low {
			want = 1 - want
		}
		if math.Abs(want-0.5) < 0.04 {
			return // vanes and gaps are equally wide: upside down looks the same
		}
		upsideDown := math.Abs(p.Duty - (1 - want))
		if math.Abs(p.Duty-want) > upsideDown && upsideDown < 0.25*math.Min(want, 1-want)+0.02 {
			l.Find(terms.FoundPolarity, p.Name,
				"check the pickup's wiring and the level in the vane on the job card. Acting on the wrong edge "+
					"shifts timing by the vane's width",
				"%s is upside down. It is high for %.0f %% of the cycle where the job card's vanes give %.0f %%",
				p.Name, 100*p.Duty, 100*want)
		}
	}
	total := quantity.Crank(0)
	switch v := l.Facts.Vanes; len(v) {
	case 1:
		total = v[0] * quantity.Crank(l.N)
	case l.N:
		for _, w := range v {
			total += w
		}
	}
	if !l.Facts.Reluctor { // a reluctance pickup has no level in the vane
		judge(l.Assigned.Crank, total, l.Facts.InVane)
	}
	if l.Cam.On {
		judge(l.Assigned.Cam, l.Facts.Cam.Width, l.Facts.Cam.InVane)
	}
}
