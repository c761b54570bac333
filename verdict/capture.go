package verdict

import (
	"fmt"
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/words"
)

// captureClauses are the clauses that one recording speaks for, on an engine whose card is known.
func (e *Evidence) captureClauses(c Capture) Set {
	s := open()
	captureSignals(s, c.Result, e.Card)
	captureTiming(s, c.Result, e.Card)
	captureSpark(s, c.Result)
	e.captureCranking(s, c.Result)
	e.keep(s, c.After, "the recording")
	return s
}

// captureCranking compares the sparks on the starter with what the set-up sheet foresees there.
func (e *Evidence) captureCranking(s Set, r *shaft.Result) {
	want, band, ok := e.foreseenCranking()
	t := r.Timing
	if !ok || t == nil || !t.Offset.Known() || math.IsNaN(float64(t.CrankingBias)) || r.Sync == shaft.SyncNone ||
		e.Card.Engine.Cylinders < enoughVanes ||
		float64(t.CrankingRPM) > onStarter*float64(e.Card.Engine.CrankingSpeed) {
		return
	}
	e.firstCrank(s, t.Offset.Value+float64(t.CrankingBias), t.Offset.Expanded(), want, band,
		"the recording on the starter")
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
	const give = "give the job card. It holds the tolerance, the lead and the commanded advance"
	switch {
	case r.Crank != nil:
		return "an engine was read. Without a job card nothing can be judged", give
	case r.Alone != nil:
		return fmt.Sprintf("one wire alone was read: speed, evenness and dwell of %s", r.Alone.Channel),
			"record the crank and the cam pickup beside it. " + words.Capital(give)
	}
	return "no engine is in this recording. " + words.Capital(firstFinding(r)), remedy(r)
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

func captureSignals(s Set, r *shaft.Result, card *jobcard.Card) {
	if r.Crank == nil {
		s.settle(Signals, Broken, firstFinding(r))
		return
	}
	for _, f := range r.Findings {
		if f.ID == shaft.FoundVaneWidth && card.Signals.Crank.Kind == jobcard.Reluctor {
			continue // between arming and zero crossing such a pickup shows its detector, not the vane
		}
		if slices.Contains(spoils, f.ID) {
			s.settle(Signals, Broken, f.Text)
			return
		}
	}
	total, starter := disturbed(r, card)
	switch {
	case r.Sync == shaft.SyncLost:
		s.settle(Signals, Broken, fmt.Sprintf("sync was lost %d times", r.LossCount))
	case total > 0:
		s.settle(Signals, Broken, fmt.Sprintf("%s missing, extra or short pulses", quantity.Number(float64(total), 0)))
	case r.Sync == shaft.SyncNone:
		s.leave(Signals, r.SyncBecause, "record the cam pickup too")
	case starter > 0: // on the starter the reader cannot always tell a late pulse from one that is missing
		s.leave(Signals, fmt.Sprintf("clean while running. On the starter %d pulses could not be placed, where "+
			"compression bends the motion", starter), "")
	case r.Partial != "":
		s.leave(Signals, "only a part of the recording could be read: "+r.Partial,
			"save the recording again, whole. Read it again")
	case !covers(r):
		s.leave(Signals, "clean as far as recorded: "+recorded(r), "record from idle to the redline")
	case pulses(r) < enoughPulses:
		s.leave(Signals, fmt.Sprintf("clean, but only %d crank pulses were recorded", pulses(r)),
			fmt.Sprintf("record until %d crank pulses are in it", enoughPulses))
	default:
		s.settle(Signals, Shown, "sync held. No pulse was missing, extra or short, "+recorded(r))
	}
}

// disturbed counts the missing, extra and short pulses of the pickups, running and on the starter. A mark is the
// recorder's own: the controller does not know it. Sparks are the spark's business.
func disturbed(r *shaft.Result, card *jobcard.Card) (running, starter int64) {
	for _, n := range r.AnomalyCount {
		running += n
	}
	runs := float64(card.Engine.CrankingSpeed+card.Engine.IdleSpeed) / 2
	for _, a := range r.Anomalies {
		role := roleOf(r, a.Channel)
		slow := fastestAt(r, a.TimeS) < runs
		if slow || role == shaft.Mark || role == shaft.Spark {
			running--
		}
		if slow && role != shaft.Mark && role != shaft.Spark {
			starter++
		}
	}
	return running, starter
}

// fastestAt is the greatest speed about a time of the recording; +Inf where it is not known.
func fastestAt(r *shaft.Result, time float64) float64 {
	if r.Series == nil {
		return math.Inf(1)
	}
	fastest := math.Inf(1)
	for _, p := range r.Series.Speed {
		if p.TimeS > time {
			break
		}
		fastest = p.Max
	}
	return fastest
}

func roleOf(r *shaft.Result, channel string) shaft.Role {
	for _, c := range r.Channels {
		if c.Name == channel {
			return c.Role
		}
	}
	return shaft.Unknown
}

// pulses are the crank pulses of a recording.
func pulses(r *shaft.Result) int64 {
	total := int64(0)
	for _, c := range r.Channels {
		if c.Role == shaft.Crank {
			total += c.Edges / 2
		}
	}
	return total
}

// covers says whether the speeds claimed were recorded.
func covers(r *shaft.Result) bool {
	t := r.Timing
	if t == nil || math.IsNaN(float64(t.ClaimTo)) {
		return r.Speed != nil && r.Speed.Max > wideRange*r.Speed.Min // no claim is known with it
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
			"the error follows no signal delay. The controller was not held at one advance, or its allowance is "+
				"another")
	case t.Verdict == readings.NotALine:
		s.settle(Locked, Broken, fmt.Sprintf("the error follows no line. It bends by %s",
			quantity.Degrees(t.BendDeg, 1)))
	case t.Offset.Known():
		s.settle(Locked, Shown, "the wait after the edge follows one angle over the speeds recorded")
	}
	worst, u, fails, known := 0.0, 0.0, beyond(t.ErrorAt, t.Tolerance), t.Offset.Known()
	for _, e := range t.ErrorAt {
		if math.Abs(e.Value)+e.U >= math.Abs(worst)+u {
			worst, u = e.Value, e.U
		}
	}
	if fails {
		at := surest(t.ErrorAt)
		worst, u = at.Value, at.U
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

// scatterOf is the standard deviation of single sparks on the shaft, crank degrees; NaN where it is not known.
func scatterOf(r *shaft.Result) float64 {
	if r.Spark == nil {
		return math.NaN()
	}
	return float64(r.Spark.ScatterSD)
}

func captureCylinders(s Set, r *shaft.Result, card *jobcard.Card) {
	t := r.Timing
	for _, f := range r.Findings {
		if f.ID == shaft.FoundVaneBent || f.ID == shaft.FoundWobble {
			s.settle(EveryCylinder, Broken, f.Text)
			return
		}
	}
	scatter := scatterOf(r)
	if scatter > t.Tolerance*mostScatter {
		s.settle(EveryCylinder, Broken, fmt.Sprintf("single sparks scatter by %s (one standard deviation). One in "+
			"twenty falls farther from the mean than the tolerance", quantity.Degrees(scatter, 2))).
			figure(scatter, math.NaN(), t.Tolerance*mostScatter)
		return
	}
	shown := len(t.Cylinders) == card.Engine.Cylinders && s.Get(Timing).State == Shown &&
		!(scatter > t.Tolerance*wellScattered)
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
	text := fmt.Sprintf("cylinder %d is farthest out, %s° ± %s. %d of %d were "+
		"seen", c.Cylinder, quantity.Signed(c.Value, 2),
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
		if c.What == "dwell" && c.Agrees &&
			math.Abs(float64(c.Measured-c.Stated)) <= sameDwell*float64(c.Stated) {
			s.settle(Spark, Shown, fmt.Sprintf("dwell driven %s ms, set %s ms",
				quantity.Number(float64(c.Measured), 2), quantity.Number(float64(c.Stated), 2))).
				figure(float64(c.Measured), math.NaN(), float64(c.Stated))
			return
		}
	}
	s.leave(Spark, "no dwell could be compared with the one that is set",
		"record the coil driver, with the dwell on the job card")
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
