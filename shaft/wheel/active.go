package wheel

import (
	"math"

	"phasewright/jobcard"
	"phasewright/shaft/roles"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// Acts says whether the controller acts on the stated edge of the crank pickup, as its sparks show.
type Acts string

// What the sparks show of the active edge.
const (
	ActsUnknown Acts = ""
	ActsStated  Acts = "as stated"
	ActsOther   Acts = "the other edge"
)

// chooseActiveEdge decides which electrical edge of the crank pickup is the active one, and whether the controller acts
// on it. A stated edge is always taken; the sparks may show that it is the wrong one.
//
// Two signs tell. First, the wait from the edge that the sparks are timed from scatters less. Second, with a card: the
// wait from that edge is the lead less the commanded advance, and the other edge stands a vane's width from it. The
// second sign also tells where nothing scatters.
func (l *Layout) chooseActiveEdge(tick waveform.Second) {
	p := l.Profiles[l.Assigned.Crank]
	sparks := l.SparkTimes()
	seen := l.byScatter(p, sparks, tick)
	stated := l.Facts.ActiveEdge
	if stated == "" {
		l.assumeActive(p, seen)
		return
	}
	l.ActiveRising, l.ActiveBecause = stated == jobcard.Rising, "as stated"
	byWait := l.byWait(p, sparks)
	other := jobcard.Rising
	if l.ActiveRising {
		other = jobcard.Falling
	}
	switch {
	case byWait == stated, byWait == "" && seen == stated:
		l.Acts = ActsStated
	case byWait == other && seen != stated, byWait == "" && seen == other:
		l.Acts = ActsOther
		remedy := "correct the active edge in the controller, or on the job card"
		if l.Facts.Reluctor || p.Reluctance {
			remedy = "most likely the two wires of the reluctance pickup are reversed. Swap them. Else correct " +
				"the active edge in the controller, or on the job card"
		}
		l.Find(terms.FoundWrongEdge, p.Name, remedy,
			"the sparks are timed from the %s edge of %s, but the %s edge is stated as the active one", other,
			p.Name, stated)
	case byWait == other:
		l.Doubt("the wait from the %s edge of %s is the card's lead less the advance, but the sparks scatter "+
			"less about the %s edge", other, p.Name, stated)
	}
}

// byScatter is the edge from which the wait to the spark changes less from cycle to cycle; "" where the difference may
// be luck or sampling.
func (l *Layout) byScatter(p *roles.Profile, sparks []waveform.Second, tick waveform.Second) jobcard.Edge {
	r, f := l.waitOf(p.Rise, sparks), l.waitOf(p.Fall, sparks)
	n := min(r.n, f.n)
	if n < 12 || math.IsNaN(r.change) || math.IsNaN(f.change) {
		return ""
	}
	floor := 0.003 + 6*math.Max(r.speed, f.speed)*float64(tick) // one sample each way, degrees
	least := math.Max(math.Log(1.5), 4/math.Sqrt(float64(n)))   // four standard deviations of a ratio of two scatters
	switch d := math.Log((r.change + floor) / (f.change + floor)); {
	case d > least:
		return jobcard.Falling
	case d < -least:
		return jobcard.Rising
	}
	return ""
}

// byWait is the edge whose wait to the spark is the card's lead less the commanded advance, while the other edge's is
// about a vane's width from that; "" where that cannot be said.
func (l *Layout) byWait(p *roles.Profile, sparks []waveform.Second) jobcard.Edge {
	r, f := l.waitOf(p.Rise, sparks), l.waitOf(p.Fall, sparks)
	want, ok := l.waitSet()
	apart := math.Abs(r.atRest - f.atRest)
	if !ok || !(apart > 3) || r.n < 6 || f.n < 6 {
		return ""
	}
	near := math.Min(2, 0.3*apart)
	switch offRise, offFall := math.Abs(r.atRest-want), math.Abs(f.atRest-want); {
	case offRise < near && offFall > 0.6*apart:
		return jobcard.Rising
	case offFall < near && offRise > 0.6*apart:
		return jobcard.Falling
	}
	return ""
}

// assumeActive chooses the active edge where nobody stated it: the one that the sparks show, else the one that is
// spaced more evenly, else the falling one, which is then said to be assumed.
func (l *Layout) assumeActive(p *roles.Profile, seen jobcard.Edge) {
	if seen != "" {
		l.ActiveRising, l.ActiveBecause, l.Acts = seen == jobcard.Rising, "the sparks are timed from it", ActsStated
		return
	}
	r, f := roles.Unevenness(p.Rise, l.Assigned.Vanes), roles.Unevenness(p.Fall, l.Assigned.Vanes)
	switch {
	case r < f/2 && f > 2e-3:
		l.ActiveRising, l.ActiveBecause = true, "these edges are spaced more evenly"
	case f < r/2 && r > 2e-3:
		l.ActiveBecause = "these edges are spaced more evenly"
	default:
		l.ActiveBecause, l.ActiveAssumed = "assumed: both edges look alike", true
		l.Doubt("the active edge of %s cannot be told from the recording. Falling is assumed. State it on the job "+
			"card", p.Name)
	}
}
