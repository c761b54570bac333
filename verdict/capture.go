package verdict

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
)

var nan = Number(math.NaN())

// Judgement is what a piece of evidence comes to.
type Judgement struct {
	Verdict readings.Verdict `json:"verdict"` // pass, adjust, read more, not a line, look elsewhere
	First   string           `json:"first"`   // what it says, in one sentence
	Next    string           `json:"next"`    // what to do now
	Clauses Set              `json:"clauses"`
	Sound   bool             `json:"-"` // every clause that this evidence can show is shown
	Cures   bool             `json:"-"` // Next turns the housing or sets the allowance
}

// OfCapture judges a recording. Without a card (nil) it has no tolerance, and shows nothing of the statement.
func OfCapture(r *shaft.Result, card *jobcard.Card) Judgement {
	s := open()
	j := Judgement{Verdict: readings.ReadMore, Clauses: s}
	if card == nil || card.Engine.Cylinders == 0 {
		j.First, j.Next = withoutCard(r)
		return j
	}
	captureSignals(s, r)
	captureTiming(s, r, card)
	captureSpark(s, r)
	j.say(r, card)
	for _, id := range canShow(r) {
		if s.Get(id).State != Shown {
			return j
		}
	}
	j.Sound = true
	return j
}

// canShow are the clauses that the channels of a recording can show; none is fewer than signals.
func canShow(r *shaft.Result) []ID {
	out := []ID{Signals}
	has := func(role shaft.Role) bool {
		return slices.ContainsFunc(r.Channels, func(c shaft.Channel) bool { return c.Role == role })
	}
	if has(shaft.Spark) {
		out = append(out, Spark)
		if has(shaft.Mark) {
			out = append(out, Locked, Timing, EveryCylinder)
		}
	}
	return out
}

// withoutCard says what a recording is without a job card.
func withoutCard(r *shaft.Result) (first, next string) {
	const give = "give the job card: it holds the tolerance, the lead and the commanded advance"
	switch {
	case r.Crank != nil:
		return "an engine was read; without a job card nothing can be judged", give
	case r.Alone != nil:
		return fmt.Sprintf("one wire alone was read: speed, evenness and dwell of %s", r.Alone.Channel),
			"record the crank and the cam pickup beside it, and " + give
	}
	return "no engine is in this recording: " + firstFinding(r), remedy(r)
}

func firstFinding(r *shaft.Result) string {
	if len(r.Findings) == 0 {
		return r.SyncBecause
	}
	return r.Findings[0].Text
}

func remedy(r *shaft.Result) string {
	if len(r.Findings) > 0 && r.Findings[0].Remedy != "" {
		return r.Findings[0].Remedy
	}
	return "record crank and cam pickup together while the engine turns"
}

// spoils are findings that break the signals.
var spoils = []string{shaft.FoundNoCrank, shaft.FoundSwapped, shaft.FoundPolarity, shaft.FoundWrongEdge,
	shaft.FoundVaneCount,
	shaft.FoundCamMargin, shaft.FoundCamPlace, shaft.FoundVaneWidth, shaft.FoundSameChannels}

func captureSignals(s Set, r *shaft.Result) {
	if r.Crank == nil {
		s.settle(Signals, Broken, firstFinding(r))
		return
	}
	for _, f := range r.Findings {
		if slices.Contains(spoils, f.ID) {
			s.settle(Signals, Broken, f.Text)
			return
		}
	}
	total := int64(0)
	for _, n := range r.AnomalyCount {
		total += n
	}
	switch {
	case r.Sync == shaft.SyncLost:
		s.settle(Signals, Broken, fmt.Sprintf("sync was lost %d times", r.LossCount))
	case total > 0:
		s.settle(Signals, Broken, fmt.Sprintf("%s missing, extra or short pulses", quantity.Number(float64(total), 0)))
	case r.Sync == shaft.SyncNone:
		s.leave(Signals, r.SyncBecause, "record the cam pickup too")
	case r.Partial != "":
		s.leave(Signals, "only a part of the recording could be read: "+r.Partial,
			"save the recording again, whole, and read it")
	case !covers(r):
		s.leave(Signals, "clean as far as recorded: "+recorded(r), "record from idle to the redline")
	default:
		s.settle(Signals, Shown, "sync held, and no pulse was missing, extra or short, "+recorded(r))
	}
}

// covers says whether the speeds claimed were recorded.
func covers(r *shaft.Result) bool {
	t := r.Timing
	if t == nil || math.IsNaN(float64(t.ClaimTo)) {
		return r.Speed != nil && r.Speed.Max > 1.5*r.Speed.Min // no claim is known with it
	}
	return t.ToRPM >= shaft.CoverEnough*float64(t.ClaimTo) && t.FromRPM <= float64(t.ClaimFrom)/shaft.CoverEnough
}

// recorded prints the speeds recorded beside those claimed.
func recorded(r *shaft.Result) string {
	t := r.Timing
	switch {
	case r.Speed == nil:
		return "at speeds that are not known"
	case t == nil || math.IsNaN(float64(t.ClaimTo)):
		return fmt.Sprintf("from %s to %s", quantity.RPM(r.Speed.Min), quantity.RPM(r.Speed.Max))
	}
	return fmt.Sprintf("from %s to %s, where %s to %s are claimed", quantity.RPM(t.FromRPM), quantity.RPM(t.ToRPM),
		quantity.RPM(float64(t.ClaimFrom)), quantity.RPM(float64(t.ClaimTo)))
}

func captureTiming(s Set, r *shaft.Result, card *jobcard.Card) {
	t := r.Timing
	if t == nil || !t.Commanded || t.Tolerance <= 0 {
		return
	}
	switch {
	case r.Found(shaft.FoundNotLocked):
		s.settle(Locked, Broken,
			"the error follows no signal delay: the controller was not held at one advance, or its allowance is "+
				"another")
	case t.Verdict == readings.NotALine:
		s.settle(Locked, Broken, fmt.Sprintf("the error follows no line: it bends by %s",
			quantity.Degrees(t.BendDeg, 1)))
	case t.Offset.Known():
		s.settle(Locked, Shown, "the wait after the edge follows one angle over the speeds recorded")
	}
	worst, u, fails, known := 0.0, 0.0, false, t.Offset.Known()
	for _, e := range t.ErrorAt {
		if math.Abs(e.Value)+e.U >= math.Abs(worst)+u {
			worst, u = e.Value, e.U
		}
		fails = fails || math.Abs(e.Value)-e.U > t.Tolerance
	}
	text := fmt.Sprintf("error %s° ± %s, %s", quantity.Signed(worst, 2), quantity.Degrees(u, 2), recorded(r))
	switch {
	case fails:
		s.settle(Timing, Broken, text).figure(worst, u, t.Tolerance)
	case known && math.Abs(worst)+u <= t.Tolerance && covers(r):
		s.settle(Timing, Shown, text).figure(worst, u, t.Tolerance)
	default:
		s.leave(Timing, text, fmt.Sprintf("record near %s rpm too", quantity.Number(t.Next, 0)))
		s.Get(Timing).figure(worst, u, t.Tolerance)
	}
	captureCylinders(s, r, card)
}

func captureCylinders(s Set, r *shaft.Result, card *jobcard.Card) {
	t := r.Timing
	for _, f := range r.Findings {
		if f.ID == shaft.FoundVaneBent || f.ID == shaft.FoundWobble {
			s.settle(EveryCylinder, Broken, f.Text)
			return
		}
	}
	shown := len(t.Cylinders) == card.Engine.Cylinders && s.Get(Timing).State == Shown
	worst := -1
	for i, c := range t.Cylinders {
		if worst < 0 || math.Abs(c.Value) > math.Abs(t.Cylinders[worst].Value) {
			worst = i
		}
		shown = shown && math.Abs(c.Value)+float64(c.U) <= t.Tolerance
	}
	if worst < 0 {
		return
	}
	c := t.Cylinders[worst]
	text := fmt.Sprintf("cylinder %d is farthest out, %s° ± %s; %d of %d seen", c.Cylinder, quantity.Signed(c.Value, 2),
		quantity.Degrees(float64(c.U), 2), len(t.Cylinders), card.Engine.Cylinders)
	switch {
	case math.Abs(c.Value)-float64(c.U) > t.Tolerance:
		s.settle(EveryCylinder, Broken, text).figure(c.Value, float64(c.U), t.Tolerance)
	case shown:
		s.settle(EveryCylinder, Shown, text).figure(c.Value, float64(c.U), t.Tolerance)
	default:
		s.leave(EveryCylinder, text, "")
	}
}

func captureSpark(s Set, r *shaft.Result) {
	if r.Spark == nil || r.Spark.Count == 0 {
		if r.Crank != nil && r.Found(shaft.FoundNoSpark) {
			s.leave(Spark, "no spark was recorded", "")
		}
		return
	}
	for _, f := range r.Findings {
		if f.ID == shaft.FoundDwell || f.ID == shaft.FoundSparkSpread {
			s.settle(Spark, Broken, f.Text)
			return
		}
	}
	for _, c := range r.Stated {
		if c.What == "dwell" && c.Agrees {
			s.settle(Spark, Shown, fmt.Sprintf("dwell driven %s ms, set %s ms",
				quantity.Number(float64(c.Measured), 2), quantity.Number(float64(c.Stated), 2))).
				figure(float64(c.Measured), math.NaN(), float64(c.Stated))
			return
		}
	}
	s.leave(Spark, "no dwell could be compared with the one that is set",
		"record the coil driver, with the dwell on the job card")
}

// say makes the two first lines and the word of the evidence.
func (j *Judgement) say(r *shaft.Result, card *jobcard.Card) {
	s, t := j.Clauses, r.Timing
	broken := s.In(Broken)
	switch {
	case r.Crank == nil:
		j.Verdict, j.First, j.Next = readings.ReadMore, "nothing can be judged: "+firstFinding(r), remedy(r)
	case s.Get(Locked).State == Broken:
		j.Verdict, j.First = readings.NotALine, s.Get(Locked).Because
		j.Next = "lock the timing, read it back from the controller, and record again; do not turn anything yet"
	case len(broken) > 0 && !(len(broken) <= 2 && s.Get(Timing).State == Broken && onlyTiming(broken)):
		j.Verdict = readings.LookElsewhere
		first := broken[0]
		for _, c := range broken {
			if c.ID == Signals {
				first = c
			}
		}
		j.First = first.ID.Title() + ": " + first.Because
		j.Next = "put this right first, then record again; do not turn anything yet"
		if i := slices.IndexFunc(r.Findings,
			func(f shaft.Finding) bool { return f.Text == first.Because }); i >= 0 && r.Findings[i].Remedy != "" {
			j.Next = r.Findings[i].Remedy
			if !strings.Contains(j.Next, "no turn of the housing") {
				j.Next += "; do not turn anything yet"
			}
		}
	case t == nil || !t.Commanded || t.Tolerance <= 0:
		j.First, j.Next = "the timing is not shown: "+whyNoTiming(r), nextFor(s)
	case t.Withheld != "":
		j.First, j.Next = t.Withheld, nextFor(s)
	case s.Get(Timing).State == Broken || s.Get(EveryCylinder).State == Broken:
		j.cure(r, card)
	case s.Get(Timing).State == Shown:
		j.Verdict = readings.Pass
		j.First = fmt.Sprintf("the timing is within ± %s on every cylinder seen: %s",
			quantity.Degrees(t.Tolerance, 1), s.Get(Timing).Because)
		j.Next = nextFor(s)
	default:
		j.First, j.Next = "the timing is not shown yet: "+s.Get(Timing).Because, s.Get(Timing).WouldShow
	}
}

// onlyTiming says that nothing but the timing, of all or of single cylinders, is broken.
func onlyTiming(broken []Clause) bool {
	for _, c := range broken {
		if c.ID != Timing && c.ID != EveryCylinder {
			return false
		}
	}
	return true
}

// cure says what takes the error out, where the error is one that housing and allowance make.
func (j *Judgement) cure(r *shaft.Result, card *jobcard.Card) {
	t := r.Timing
	j.First = "the timing is outside ± " + quantity.Degrees(t.Tolerance, 1) + ": " + j.Clauses.Get(Timing).Because
	if c := j.Clauses.Get(EveryCylinder); j.Clauses.Get(Timing).State != Broken {
		j.Verdict, j.First = readings.LookElsewhere, "one cylinder is outside ± "+quantity.Degrees(t.Tolerance,
			1)+": "+c.Because
		j.Next = "look at that cylinder's vane, and record for longer; no turn of the housing cures one cylinder"
		return
	}
	steps := readings.StepsOf(card)
	if r.Crank.ActsOn == "as stated" {
		steps.Vanes = nil // the sparks show that the other edge is not the active one
	}
	if p := steps.PatternOf(t.Offset.Value, t.Offset.Expanded()); p != nil {
		j.Verdict, j.First, j.Next = readings.LookElsewhere, p.Because, p.Look
		return
	}
	var do []string
	if t.Housing.Direction != readings.Leave {
		do = append(do, fmt.Sprintf("turn the housing %s° of shaft %s", quantity.Number(t.Housing.TurnDeg, 2),
			t.Housing.Direction))
	}
	if t.Allowance.Changes() {
		do = append(do, t.Allowance.Do("delay allowance")+", power-cycle, read it back")
	}
	if len(do) == 0 {
		j.Verdict, j.Next = readings.LookElsewhere,
			"neither housing nor allowance would lessen it: look at what is found, and record again"
		return
	}
	j.Verdict, j.Cures = readings.Adjust, true
	j.Next = "engine stopped: " + strings.Join(do, "; ") + "; tighten the clamp, then record again"
}

// whyNoTiming says what is missing for the timing.
func whyNoTiming(r *shaft.Result) string {
	for _, id := range []string{shaft.FoundNoSpark, shaft.FoundNoMark} {
		for _, f := range r.Findings {
			if f.ID == id {
				return f.Text
			}
		}
	}
	if r.Timing != nil && !r.Timing.Commanded {
		return "no commanded advance is known"
	}
	return "too few marks and firings"
}

// nextFor is the cheapest look that an open clause wants.
func nextFor(s Set) string {
	best := Clause{Minutes: math.MaxInt}
	for _, c := range s {
		if (c.State == Open || c.State == AtOdds) && c.Minutes < best.Minutes {
			best = c
		}
	}
	if best.ID == "" {
		return "nothing is open"
	}
	return fmt.Sprintf("%s (for the clause %s, about %d min)", best.WouldShow, best.ID.Title(), best.Minutes)
}

// Onto is the result with the word of the judgement, and without a correction that the judgement does not advise. It is
// for showing: what is judged is the result as it was.
func (j *Judgement) Onto(r *shaft.Result, card *jobcard.Card) *shaft.Result {
	if r.Timing == nil || card == nil || card.Engine.Cylinders == 0 {
		return r
	}
	out, t := *r, *r.Timing
	t.Verdict = j.Verdict
	if !j.Cures {
		t.Housing = readings.Housing{Direction: readings.Leave}
		t.Allowance = readings.Allow(float64(t.Allowance.Now), 0, 1)
		if t.Withheld == "" && j.Verdict != readings.Pass && j.Verdict != readings.ReadMore {
			t.Withheld = j.First
		}
	}
	out.Timing = &t
	return &out
}
