package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/engine"
	"phasewright/quantity"
)

// Truth is how the engine really stands, whatever marks and light say.
type Truth struct {
	Housing    quantity.Shaft // off, against the rotor positive, all adjustments in
	Exhaust    bool           // cylinder 1 is fired a whole turn from where it should be: on its exhaust stroke
	Dark       bool           // cylinder 1 gets no spark at all
	OffsetDeg  float64        // timing error on cylinder 1 as speed goes to nought, within half a turn
	DelayUS    float64        // delay left over: late with speed where positive
	WorstDeg   float64        // largest |true − commanded| on cylinder 1 from idle to redline, within half a turn
	WorstRPM   float64
	Behaviour  Behaviour // at idle
	SparksRest bool      // every cylinder gets its own spark
}

// right says whether the timing holds from idle to redline on an engine that goes.
func (t Truth) right() bool {
	return !t.Exhaust && !t.Dark && t.WorstDeg <= practiceTolerance && t.SparksRest &&
		(t.Behaviour == Runs || t.Behaviour == WeakSparks)
}

// Truth works out how the engine stands, by the closed form.
func (s *Session) Truth() Truth {
	c, f := s.effective()
	f.Clamp, f.Housing = 0, f.Housing-engine.CrankToShaft(quantity.Crank(s.rig.crept))
	m := &Model{c, s.turn}
	set := s.resolved()
	set.shift += s.rig.crept
	set.housing -= s.rig.crept
	set.unlocked = false // judged at the locked advance: that is what is commanded
	e := c.Engine
	t := Truth{Housing: f.Housing, SparksRest: true, WorstRPM: float64(e.Idle), Dark: true, Behaviour: NoSpark}
	const points = 24
	var k, sn, se, snn, sne float64
	for i := 0.0; i <= points; i++ {
		n := float64(e.Idle) + (float64(e.Redline)-float64(e.Idle))*i/points
		x := m.expect(set, f, n, 1)
		if i == 0 {
			t.Behaviour = x.Behaviour
		}
		if !x.Flashes {
			continue
		}
		whole := wrap(float64(x.Truth-c.Controller.Locked), 720)
		err := wrap(whole, 360)
		t.Dark, t.Exhaust = false, t.Exhaust || math.Abs(whole-err) > 1
		if math.Abs(err) > t.WorstDeg {
			t.WorstDeg, t.WorstRPM = math.Abs(err), n
		}
		k, sn, se, snn, sne = k+1, sn+n, se+err, snn+n*n, sne+n*err
	}
	if k > 1 {
		slope := (k*sne - sn*se) / (k*snn - sn*sn)
		t.DelayUS, t.OffsetDeg = -slope/6e-6, (se-slope*sn)/k
	}
	for j, cyl := range set.wires {
		if set.steers && cyl != set.order[j] {
			t.SparksRest = false
		}
	}
	return t
}

// job is an attempt before its judge.
type job struct {
	s     *Session
	t     Truth
	named []string
	out   Outcome
}

// check writes down one thing that the work had to have, and what is missing.
func (j *job) check(what string, done bool, missing string) {
	c := Check{What: what, Done: done}
	if !done {
		c.Say = missing
	}
	j.out.Checks = append(j.out.Checks, c)
}

// Judge looks at the work as it was left, at the looks taken, and at the faults that were named, as they are written in
// the table of faults. An attempt is judged once: later calls give the same word again.
func (x Exercise) Judge(s *Session, named []string) Outcome {
	if s.judged == nil {
		if s.exercise == "" {
			s.exercise = x.Name
		}
		_ = s.Do(Act{What: ActJudge, Named: named}) // it is not refused
	}
	return *s.judged
}

// Judged is the judge's word, once there is one: the attempt is closed.
func (s *Session) Judged() (Outcome, bool) {
	if s.judged == nil {
		return Outcome{}, false
	}
	return *s.judged, true
}

func (s *Session) judge(named []string) {
	x, ok := FindExercise(s.exercise)
	if !ok || s.judged != nil {
		return
	}
	j := &job{s: s, t: s.Truth(), named: named}
	x.judge(j)
	j.check("the clamp is tight", s.clampTight, "The clamp is loose.")
	j.check("the engine stands, starter off", s.live.energy == 0 && s.starter == Off, "The engine was left turning.")
	if x.Asks != "" {
		j.names()
	}
	j.check("no unsafe act", len(s.unsafe) == 0, fmt.Sprintf("Unsafe acts: %d.", len(s.unsafe)))
	j.out.Unsafe = slices.Clone(s.unsafe)
	j.out.Passed = !slices.ContainsFunc(j.out.Checks, func(c Check) bool { return !c.Done })
	s.judged = &j.out
}

// names holds what was named against what was hidden.
func (j *job) names() {
	var want, got []string
	for _, h := range j.s.Reveal() {
		name, _, _ := strings.Cut(h, "=")
		want = append(want, name)
	}
	for _, n := range j.named {
		if name, _, _ := strings.Cut(strings.TrimSpace(n), "="); name != "" {
			got = append(got, name)
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	j.check("what is wrong is named", slices.Equal(want, slices.Compact(got)),
		"What was named is not what the engine has, no more and no less.")
}

const readTo = 1.0 // degrees that a figure may stand off what was shown: two eyes agree to half of it

// figure holds a figure that was written down against what the light showed last, since the last adjustment.
func (j *job) figure(a Asked, g *glimpses) {
	shown, seen := g.read()
	written, given := j.s.figures[a.Key]
	what := "written down: " + a.Label
	switch {
	case !seen:
		j.check(what, false, "No steady reading was taken there since the last change, with the clamp tight.")
	case !given:
		j.check(what, false, "The figure was not written down.")
	default:
		j.check(what, math.Abs(wrap(written-shown, 360)) <= readTo, "The figure is not what the light showed.")
	}
}

// inForce says whether what is on the screen was stored and power-cycled.
func (j *job) inForce() {
	s := j.s
	j.check("settings stored and in force", s.active == s.edited && s.active == s.stored,
		"What is on the screen is not in force: store it, then off and on.")
}

func (j *job) timing() {
	j.check("timing within 1° from idle to redline", j.t.right(), "The engine was not left right.")
}

func judgeProof(j *job) {
	j.timing()
	j.inForce()
	j.figure(atIdle, &j.s.seen.idle)
	j.figure(atHigh, &j.s.seen.high)
}

func judgeStroke(j *job) {
	j.felt()
	judgeProof(j)
}

func (j *job) felt() {
	j.check("compression of cylinder 1 felt", j.s.seen.pushed == 1,
		"No thumb felt the compression of cylinder 1 while the crank was turned.")
}

func judgeLamps(j *job) {
	const limit = 0.25
	j.felt()
	j.check("the lamp was seen to change", j.s.seen.lamp, "The housing was not turned until the crank lamp changed.")
	j.check("housing within 0.25° of the shaft", quantity.Abs(j.t.Housing) <= limit, "The housing stands off.")
}

func judgeBase(j *job) {
	s := j.s
	j.figure(onStarter, &s.seen.starter)
	bias := s.c.onStarter().BiasOn(s.turn)
	j.check("the housing was left alone", quantity.Abs(j.t.Housing) <= 0.25,
		fmt.Sprintf("On the starter this engine reads %+.1f off because compression slows and speeds the crank, with "+
			"nothing wrong. The housing was turned for it.", bias))
}

func judgeWires(j *job) {
	j.check("a wire other than No. 1 was read", j.s.seen.elsewhere(), "No other wire was read since the last change.")
	j.check("every cylinder gets its own spark", j.t.right(), "The engine was not left right.")
	j.figure(atIdle, &j.s.seen.idle)
}

// stopped holds the piston stop's work.
func (j *job) stopped() {
	j.check("the piston stop was met both ways", j.s.seen.stops == [2]bool{true, true},
		"True TDC was not proven: turn against the stop both ways.")
}

func judgeSlipped(j *job) {
	j.stopped()
	k := &j.s.seen
	written, given := j.s.figures[ofZeroMark.Key]
	mid := wrap(k.stop[0]+wrap(k.stop[1]-k.stop[0], 360)/2, 360)
	j.check("written down: where true TDC stands", given && math.Abs(wrap(written-mid, 180)) <= readTo,
		"It lies midway between the two marks at the stop.")
	j.check("timing left as it was", j.t.right(), "The engine was not left right.")
}

func judgeTwo(j *job) {
	h, k := j.s.hidden, &j.s.seen
	proven := !h.HalfTurn || k.pushed == 1
	if h.Damper != 0 || h.Housing != 0 { // a constant error either way: only the stop tells them apart
		proven = proven && k.stops == [2]bool{true, true}
	}
	if h.Swapped[0] != 0 {
		proven = proven && k.elsewhere()
	}
	// one check, and words that do not tell which: what was hidden is not the judge's to say
	j.check("both were proven by looks", proven, "A look that tells one of them from its likes is missing.")
	judgeProof(j)
}
