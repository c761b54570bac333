package verdict

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/words"
)

// Judgement is what evidence comes to.
type Judgement struct {
	Word    Word             `json:"word"`                  // on the whole statement
	Verdict readings.Verdict `json:"verdict"`               // on the timing that was measured
	First   string           `json:"first"`                 // what it says, in one sentence
	Next    string           `json:"next"`                  // what to do now
	About   ID               `json:"about,omitempty"`       // the clause that Next is for; "" where it is for all
	ReadAt  float64          `json:"read_at_rpm,omitempty"` // the speed that the light tells most at next
	Cure    *Cure            `json:"cure,omitempty"`
	Clauses Set              `json:"clauses"`
	RestsOn []string         `json:"rests_on"` // numbers of the judge's own, with range or source
	Sound   bool             `json:"-"`        // every clause that this evidence can show is shown
}

// Judge judges all evidence of one engine. The card must be one that can be used.
func Judge(e Evidence) Judgement {
	s := e.cardClauses().by(ByCard)
	e.keep(s, e.CardAfter, "the proof of the mark that the card states")
	for _, more := range []Set{e.orderClauses().by(ByOrder), e.seenClauses().by(BySeen), e.captures().by(ByRecording),
		e.lightClauses().by(ByLight)} {
		s = Join(s, more)
	}
	e.compare(s)
	e.everyCylinder(s)
	e.spoilSpark(s)
	for i := range s {
		if s[i].State == Open && e.Card.Unclaimed(s[i].ID.Title()) {
			s[i].State, s[i].Because, s[i].WouldShow, s[i].Minutes = NotClaimed, "not claimed for this job", "", 0
		}
	}
	j := Judgement{Word: s.Word(), Verdict: readings.ReadMore, Clauses: s, ReadAt: e.readAt(),
		RestsOn: restsOn()}
	j.say(&e)
	return j
}

// captures joins the recordings. Of two that speak for one clause under the same settings the newer counts, unless
// they contradict each other and nothing confirms the newer: what shows once and not again is settled by a third.
func (e *Evidence) captures() Set {
	out, before := open(), open()
	for _, c := range e.Captures {
		s := e.captureClauses(c)
		for i := range s {
			now, last := s[i], before[i]
			if now.State == Open {
				if out[i].State == Open {
					out[i] = now
				}
				continue
			}
			out[i] = now
			if last.State != Open && last.State != now.State {
				out[i] = contradiction(last, now)
				out[i].WouldShow = "record once more: two recordings under the same settings differ"
			}
			before[i] = now
		}
	}
	return out
}

// compare holds the light against the newest recording: both measure one error.
func (e *Evidence) compare(s Set) {
	if c := s.Get(Timing); c.State == Shown && e.strange() != nil {
		*c = Clause{ID: Timing, State: AtOdds, Value: nan, U: nan, Limit: nan,
			Because: c.Because + ". But by the light: " + e.strange().Because, WouldShow: e.strange().Look, Minutes: 10}
		return
	}
	if e.Light == nil || e.Light.Proof == nil || !e.Light.Proof.Is.Offset.Known() {
		return
	}
	for i := len(e.Captures) - 1; i >= 0; i-- {
		c := e.Captures[i]
		t := c.Result.Timing
		if t == nil || !t.Commanded || !t.Offset.Known() || !e.stands(c.After, Timing) {
			continue
		}
		for _, b := range t.ErrorAt {
			a, told := bandAt(e.Light.Proof.Is.ErrorAt, b.RPM)
			// both are 95 % intervals; half as much again, so that of a hundred sound pairs none is accused
			if !told || !(math.Abs(a.Value-b.Value) > apart*math.Hypot(a.U, b.U)) {
				continue
			}
			*s.Get(Timing) = Clause{ID: Timing, State: AtOdds, Value: nan, U: nan, Limit: nan,
				Because: fmt.Sprintf("the light says %s, the recording %s", errorText(a), errorText(b)),
				WouldShow: "prove the zero mark with the piston stop. Set the light's dial to zero. Read that " +
					"speed again with the recorder running", Minutes: 16}
			if c := s.Get(EveryCylinder); c.By == ByRecording && !math.IsNaN(float64(c.U)) {
				s.reopen(EveryCylinder, "it rests on the timing, where light and recording exclude each other")
			}
			return
		}
		return
	}
}

// bandAt is an error at a speed between those that it is told at; false outside them.
func bandAt(told []readings.ErrorAt, rpm float64) (readings.ErrorAt, bool) {
	for i := 1; i < len(told); i++ {
		if a, b := told[i-1], told[i]; a.RPM <= rpm && rpm <= b.RPM {
			f := (rpm - a.RPM) / (b.RPM - a.RPM)
			return readings.ErrorAt{RPM: rpm, Value: a.Value + f*(b.Value-a.Value), U: a.U + f*(b.U-a.U)}, true
		}
	}
	return readings.ErrorAt{}, false
}

// everyCylinder takes the light on other wires into account, and the engine that has one cylinder alone.
func (e *Evidence) everyCylinder(s Set) {
	c, timing := s.Get(EveryCylinder), s.Get(Timing)
	if c.State != Open {
		return
	}
	if e.Card.Engine.Cylinders == 1 {
		if timing.State == Shown || timing.State == Broken {
			c.State, c.Because, c.Value, c.U, c.Limit = timing.State, "the engine has one "+
				"cylinder. "+words.Capital(timing.Because),
				timing.Value, timing.U, timing.Limit
			c.WouldShow, c.Minutes = "", 0
		}
		return
	}
	e.otherWires(s)
	if c.State == Open && timing.State == Shown {
		e.recordedCylinders(c)
	}
}

// recordedCylinders takes a recording of all cylinders at some speeds beside a timing that is shown over all of them:
// how far the cylinders stand from each other is in the metal, and the same at every speed.
func (e *Evidence) recordedCylinders(c *Clause) {
	for i := len(e.Captures) - 1; i >= 0; i-- {
		r := e.Captures[i]
		if !e.stands(r.After, EveryCylinder) || r.Result.Timing == nil || !r.Result.Timing.Commanded ||
			len(r.Result.Timing.Cylinders) != e.Card.Engine.Cylinders {
			continue
		}
		limit, worst, u := float64(e.Card.Tolerance), 0.0, 0.0
		if scatterOf(r.Result) > limit*wellScattered {
			return
		}
		for _, one := range r.Result.Timing.Cylinders {
			if math.Abs(one.Value)+float64(one.U) > math.Abs(worst)+u {
				worst, u = one.Value, float64(one.U)
			}
		}
		if math.Abs(worst)+u <= limit {
			*c = Clause{ID: c.ID, State: Shown, By: ByRecording, Because: fmt.Sprintf("every cylinder was "+
				"recorded, the farthest out by %s° ± %s. The timing is shown", quantity.Signed(worst, 2),
				quantity.Degrees(u, 2))}
			c.figure(worst, u, limit)
		}
		return
	}
}

// say makes the two first lines and the word on the timing.
func (j *Judgement) say(e *Evidence) {
	s := j.Clauses
	if odds := s.In(AtOdds); len(odds) > 0 {
		j.First = odds[0].ID.Title() + ": two looks exclude each other. Neither is " +
			"believed. " + words.Capital(odds[0].Because)
		j.Next, j.About = still(odds[0].WouldShow), odds[0].ID
		j.Verdict = readings.LookElsewhere
		return
	}
	for _, id := range []ID{Signals, Locked, ZeroMark, RightCylinder, Held, Spark} {
		if c := s.Get(id); c.State == Broken {
			j.Verdict, j.First, j.Next = readings.LookElsewhere, id.Title()+": "+c.Because, e.remedyOf(c)
			j.About = id
			if id == Locked {
				j.Verdict, j.First = readings.NotALine, c.Because
			}
			if e.nothingRead() {
				j.Verdict, j.First = readings.ReadMore, "nothing can be judged. "+words.Capital(c.Because)
			}
			return
		}
	}
	timing, all := s.Get(Timing), s.Get(EveryCylinder)
	if p := e.strange(); p != nil && timing.State != Shown {
		j.Verdict, j.First, j.Next, j.About = readings.LookElsewhere, p.Because, still(e.afterStop(j, p.Look)), Timing
		return
	}
	switch {
	case timing.State == Broken:
		j.First = fmt.Sprintf("the timing is outside ± "+
			"%s. %s", quantity.Degrees(e.Card.Tolerance, 1), words.Capital(timing.Because))
		j.About = Timing
		e.cure(j)
		return
	case all.State == Broken:
		j.Verdict = readings.LookElsewhere
		j.First = fmt.Sprintf("one cylinder is outside ± "+
			"%s. %s", quantity.Degrees(e.Card.Tolerance, 1), words.Capital(all.Because))
		j.Next, j.About = e.remedyOf(all), EveryCylinder
		return
	case timing.State == Shown:
		j.Verdict = readings.Pass
	}
	if c := s.Get(FirstCrank); c.State == Broken {
		j.Verdict, j.First, j.Next = readings.LookElsewhere, c.ID.Title()+": "+c.Because, e.remedyOf(c)
		j.About = FirstCrank
		return
	}
	switch {
	case j.Word == Pass:
		j.First = fmt.Sprintf("from first crank to redline the spark falls within ± %s of the command. It does so "+
			"on every cylinder and on the right one", quantity.Degrees(e.Card.Tolerance, 1))
		j.Next = "sign the proof"
		if not := s.Titles(NotClaimed); len(not) > 0 {
			j.First = "not claimed: " + strings.Join(not, ", ") + ". For the rest: " + j.First
		}
	default:
		j.First = e.whatIsOpen(s)
		j.Next, j.About = e.nextLook(s)
	}
}

// strange is what the readings show that neither housing nor allowance make; nil where they show none.
func (e *Evidence) strange() *readings.Pattern {
	if e.Light == nil || e.Light.Fit == nil || e.Light.Proof == nil {
		return nil
	}
	return e.Light.Fit.Pattern()
}

// whatIsOpen says what was shown of the timing, and that it is not the whole.
func (e *Evidence) whatIsOpen(s Set) string {
	timing, left := s.Get(Timing), len(s.In(Open))
	switch c := e.alone(); {
	case timing.State == Shown:
		return fmt.Sprintf("the timing is within ± %s. "+
			"%s. %s", quantity.Degrees(e.Card.Tolerance, 1), words.Capital(timing.Because),
			counted(left, "clause is", "clauses are")+" open")
	case c != nil && c.Timing != nil && c.Timing.Withheld != "":
		return c.Timing.Withheld
	case c != nil && (c.Timing == nil || !c.Timing.Commanded || c.Timing.Tolerance <= 0):
		return "the timing is not shown. " + words.Capital(whyNoTiming(c))
	}
	if !timing.Touched() {
		return "nothing shows the timing yet. " + counted(left, "clause is", "clauses are") + " open"
	}
	return "the timing is not shown yet. " + words.Capital(timing.Because)
}

// alone is the recording where nothing else is there to judge by.
func (e *Evidence) alone() *shaft.Result {
	if len(e.Captures) == 1 && e.Light == nil {
		return e.Captures[0].Result
	}
	return nil
}

// nothingRead says whether the recording is all there is and no engine is in it.
func (e *Evidence) nothingRead() bool { c := e.alone(); return c != nil && c.Crank == nil }

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// nextLook is the step of the order of work that is due, where one was begun or nothing was seen yet; else what was
// begun of the timing, else the cheapest look that an open clause wants.
func (e *Evidence) nextLook(s Set) (string, ID) {
	blank := e.Light == nil && len(e.Captures) == 0 && e.Seen == nil
	if o := e.Order; o != nil && (blank || o.State.Begun()) {
		if now := o.Next(o.State); !now.Finished {
			if st, ok := o.Step(now.Step); ok && now.Step != procedure.StepProve {
				return "order of work: " + st.Title, ""
			}
		}
	}
	if c := s.Get(Timing); c.State == Open && !math.IsNaN(float64(c.Value)) {
		return c.WouldShow, Timing
	}
	return nextFor(s)
}

// nextFor is the cheapest look that an open clause wants.
func nextFor(s Set) (string, ID) {
	best := Clause{Minutes: math.MaxInt}
	for _, c := range s.In(Open) {
		if c.Minutes < best.Minutes {
			best = c
		}
	}
	if best.ID == "" {
		return "nothing is open", ""
	}
	return fmt.Sprintf("%s. That shows the clause %s, in about %d "+
		"min", best.WouldShow, best.ID.Title(), best.Minutes), best.ID
}

const doNotTurn = "Do not turn anything yet"

// still adds that nothing is to be turned, where the text does not say so.
func still(text string) string {
	low := strings.ToLower(text)
	if strings.Contains(low, strings.ToLower(doNotTurn)) || strings.Contains(low, "no turn of the housing") {
		return text
	}
	return text + ". " + doNotTurn
}

// remedies are what puts a broken clause right, where the evidence that broke it names nothing better.
var remedies = map[ID]string{
	ZeroMark:      "mark true TDC again where the piston stop puts it. Then read the timing again",
	Locked:        "lock the timing. Read it back from the controller. Read again",
	EveryCylinder: "look at that cylinder's vane and at the drive. No turn of the housing cures one cylinder",
	RightCylinder: "stop it, feed out and metered dead. Follow the wires against the map. See where the rotor " +
		"points at No. 1's mark on compression",
	FirstCrank: "fuel off. Look at edge, trigger lead and the rotor at No. 1's mark",
	Signals:    "look at supply, ground, gap and cables of the pickups. Record again",
	Spark:      "put right what the set-up sheet stops at, or the dwell that is set",
	Held: "tighten the clamp. Store the settings. Power off and on. Read them back. Then read the timing " +
		"again",
}

// remedyOf is what to do about a broken clause: by the finding of the recording that broke it, else by the table.
func (e *Evidence) remedyOf(c *Clause) string {
	for i := len(e.Captures) - 1; i >= 0; i-- {
		r := e.Captures[i].Result
		if at := slices.IndexFunc(r.Findings, func(f shaft.Finding) bool { return f.Text == c.Because }); at >= 0 &&
			r.Findings[at].Remedy != "" {
			return still(r.Findings[at].Remedy)
		}
	}
	return still(remedies[c.ID])
}
