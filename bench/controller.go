package bench

import "math"

// brain is the controller: it knows its settings, the edges it has seen and nothing of the engine.
//
// Law, from first principles. With active edges T apart and the spacing S between their firings, it takes the crank to
// turn S/T per µs until the spark, and fires (L − a)·T/S after the edge less its delay allowance. Sooner than its
// latency it cannot: then it fires as soon as it can, which is late. An active edge within a set share of the last
// interval is taken for noise. Where there is a cam pickup it fires only once it has counted one whole cycle: as many
// crank edges between two cam edges as there are firings.
type brain struct {
	s        *setup
	last     float64 // time of the last active crank edge
	interval float64 // between the last two
	edges    int     // seen since the start or a stop
	since    int     // since the last cam edge; −1: no cam edge yet
	held     bool    // in sync now
	ever     bool    // has been in sync
	next     int     // firing of the next crank edge while in sync
	charge   float64 // when the charge for the coming spark begins; NaN: not planned
}

// plan is what the controller does about one active edge.
type plan struct {
	firing    int     // −1: not known
	at        float64 // time of the spark command
	advance   float64 // commanded
	charge    float64 // begin of its charge
	fresh     bool    // the charge is ordered with this plan (it was not begun before)
	following float64 // begin of the charge for the spark after it, ordered now; NaN: left to the next edge
	late      bool    // the wait was too short
}

// slowest is the interval above which the engine counts as stopped: 1.5 s.
const slowest = 1.5e6

func newBrain(s *setup) brain { return brain{s: s, since: -1, charge: math.NaN()} }

// cam takes an active edge on the cam input.
func (b *brain) cam() {
	if b.since >= 0 {
		b.held = b.since == b.s.n
		b.ever = b.ever || b.held
	}
	b.since, b.next = 0, b.s.m0
}

// crank takes an active edge on the crank input at time t and says what to do.
func (b *brain) crank(t float64) (plan, bool) {
	s := b.s
	interval := t - b.last
	if b.edges > 0 && interval > slowest {
		b.edges, b.held, b.since, b.charge = 0, false, -1, math.NaN()
	}
	if b.edges > 1 && interval < s.blank*b.interval {
		return plan{}, false
	}
	firing := -1
	if b.since >= 0 {
		b.since++
		firing = b.next
		if b.next++; b.next == s.n {
			b.next = 0
		}
	}
	b.edges++
	b.last = t
	if b.edges < 2 {
		return plan{}, false
	}
	b.interval = interval
	switch {
	case s.sync && !b.ever, s.sync && !b.held && !s.steers, !s.sync && !s.steers && s.n > 1:
		return plan{}, false
	}
	spacing, following := 720/float64(s.n), 720/float64(s.n)
	if firing >= 0 && b.held {
		spacing, following = s.gap[firing], s.gap[(firing+1)%s.n]
	} else {
		firing = -1
		if s.n == 1 {
			firing = 0
		}
	}
	rate := spacing / interval
	p := plan{firing: firing, advance: s.advance(rate * (1e6 / 6)), following: math.NaN()}
	wait, dwell := (s.lead-p.advance)/rate-s.allowance, s.held(rate)
	if wait < s.latency {
		wait, p.late = s.latency, true
	}
	p.at = t + wait
	if !math.IsNaN(b.charge) { // ordered at the last edge
		p.charge = b.charge
	} else {
		p.charge, p.fresh = max(t, p.at-dwell), true
	}
	// The next charge may have to begin before the next edge is seen: then it is ordered now, on the same estimate of
	// speed.
	ahead := following / rate
	start := p.at + ahead - dwell
	if s.shared {
		start = max(start, p.at+s.off)
	}
	b.charge = math.NaN()
	if start < t+ahead {
		p.following = start
		b.charge = start
	}
	return p, true
}
