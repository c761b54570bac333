package verdict

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/suspects"
	"phasewright/words"
)

// Cure is a turn of the housing or a change of the allowance that the judge advises.
type Cure struct {
	Housing   readings.Housing   `json:"housing"`
	Allowance readings.Allowance `json:"allowance_us"`
	Odds      Number             `json:"odds"`     // of the explanations that it cures, together
	IfWrong   string             `json:"if_wrong"` // what it costs where another explanation is the true one
}

// rival is a fault that shows as an error of the timing and that neither housing nor allowance cures.
type rival struct {
	says string // what it would be
	look string // what tells it
}

// rivals are all faults that a turn or an allowance would hide instead of curing. Faults that are neither here nor
// named by a cure (a dead pickup, a wire in the wrong tower on another cylinder) leave the light on wire 1 as it is.
var rivals = map[string]rival{
	"damper":     {"the zero mark", "prove the zero mark with the piston stop"},
	"edge":       {"the other edge is active", "look at the pickup's lamp at rest against the active edge"},
	"tooth":      {"the unit sits a tooth out", "bring No. 1 to its mark. See where the rotor points"},
	"tower":      {"another tower", "bring No. 1 to its mark. See where the rotor points"},
	"wires":      {"wires crossed", "follow the wires against the map"},
	"lock":       {"the timing is not locked", "read the commanded advance back while the light is on"},
	"dial":       {"the light's own dial", "set the light's dial to zero. Read again"},
	"flashes":    {"the light counts two sparks a cycle", "set the light for one spark a cycle, or read another wire"},
	"lightdelay": {"the light's own delay", "read one high speed with a second light"},
	"polarity":   {"the pickup's wires are reversed", "record the crank pickup. Look at its large swing"},
	"clamp":      {"the clamp slips", "read the first speed again. Then try the clamp by hand, engine stopped"},
	"vane":       {"a vane is bent", "read the light on the companion's wire at the same speed"},
	"wobble":     {"the shaft swings in its bushing", "read the light on the companion's wire at the same speed"},
	"worn":       {"the drive is worn", "read one speed three times, or record it"},
	"lash":       {"the gear has lash", "read one speed three times, or record it"},
	"noise":      {"noise on the pickup", "record the crank pickup while it runs"},
	"crossfire":  {"crossfire into the pickup", "record the crank pickup while it runs"},
	"misread":    {"a reading is wrong", "read the same speeds once more"},
	"chain":      {"the cam chain", "rock the crankshaft. See how far it moves before the rotor does"},
	"advance": {"an advance plate left free", "feed off. Try by hand whether the advance plate turns on its " +
		"shaft"},
	"heat":       {"a pickup or box that drifts with heat", "read the first speed again, hot"},
	"cylinder":   {"another cylinder taken as No. 1", "look up in the maker's drawing which cylinder is No. 1"},
	"ordertable": {"another firing order in the controller", "read the firing order back"},
}

// excludes says which faults a clause that is shown leaves no room for.
var excludes = map[ID][]string{
	ZeroMark:      {"damper"},
	Locked:        {"lock"},
	RightCylinder: {"stroke", "wires", "tower", "cylinder", "ordertable"},
	Signals: {"noise", "crossfire", "pickup", "campickup", "leads", "polarity", "trigger", "gap", "camedge", "camnoise",
		"connector"},
	EveryCylinder: {"vane", "wobble"},
	Held:          {"clamp"},
	Spark:         {"dwell", "supply", "deadcoil", "coilpolarity", "brush", "drop", "charging", "ballast"},
}

// cure says what takes the error of the timing out, where it is one that housing and allowance make; else the look
// that tells what made it.
func (e *Evidence) cure(j *Judgement) {
	b, housing, allowance, steps := e.measured()
	if p := steps.PatternOf(b.Value, b.Expanded()); p != nil {
		j.Verdict, j.First, j.Next = readings.LookElsewhere, p.Because, still(e.afterStop(j, p.Look))
		return
	}
	if t := j.Clauses.Get(Timing); float64(t.U) > max(math.Abs(float64(t.Value))/2, float64(e.Card.Tolerance)) {
		j.Verdict = readings.ReadMore
		j.Next = still(fmt.Sprintf("read again at several speeds, or record. The error is known within ± %s only",
			quantity.Degrees(t.U, 1)))
		return
	}
	var do []string
	if housing.Direction != readings.Leave && housing.TurnDeg > 0 {
		way := e.Card.Distributor.Rotation
		if housing.Direction == readings.AgainstRotor {
			way = way.Opposite()
		}
		do = append(do, fmt.Sprintf("Turn the housing %s° of shaft %s (%s). %s", quantity.Number(housing.TurnDeg, 1),
			housing.Direction, way.FromAbove(), housing.Half()))
	}
	if allowance.Changes() {
		do = append(do, words.Capital(allowance.Do("delay allowance"))+". Power-cycle. Read it back")
	}
	j.Verdict = readings.LookElsewhere
	if why := e.withheld(); len(do) == 0 && why != "" {
		j.Next = still(why)
		return
	}
	if len(do) == 0 {
		j.Next = still("neither housing nor allowance would lessen it. Read again. Look at what else was found")
		return
	}
	share, against, err := e.odds(j.Clauses)
	switch {
	case err != nil:
		j.Next = still("the suspects cannot be weighed on this card (" + err.Error() + "). First prove the zero " +
			"mark")
		return
	case share < sure:
		what := rivals[against]
		if what.look == "" {
			what = rival{"something else", "enter what else was seen under suspects"}
		}
		j.Next = fmt.Sprintf("%s. It may be %s. Housing and allowance hold %s of the odds, %s are wanted. %s",
			what.look, what.says, quantity.Chance(share), quantity.Chance(sure), doNotTurn)
		return
	}
	j.Verdict = readings.Adjust
	j.Cure = &Cure{Housing: housing, Allowance: allowance, Odds: Number(share),
		IfWrong: fmt.Sprintf("if it is wrong, a right timing stands %s off until it is undone. First scribe the "+
			"housing. Note the setting", quantity.Degrees(math.Abs(b.Value), 1))}
	j.Next = "stop the engine. " + strings.Join(do, ". ") + ". Tighten the clamp. Then read again"
}

// withheld is why the newest recording gives no correction; "" where it gives one, or where there is none.
func (e *Evidence) withheld() string {
	if r := e.newest(); r != nil && r.Timing != nil {
		return r.Timing.Withheld
	}
	return ""
}

// afterStop leaves out of a look that the zero mark be proven, where it was.
func (e *Evidence) afterStop(j *Judgement, look string) string {
	if j.Clauses.Get(ZeroMark).State == Shown {
		return strings.TrimPrefix(look, "prove the zero mark with the piston stop, then ")
	}
	return look
}

// measured is the error that a cure would take out: by the newest recording that measured it, else by the light.
func (e *Evidence) measured() (readings.Interval, readings.Housing, readings.Allowance, readings.Steps) {
	steps := readings.StepsOf(e.Card)
	for i := len(e.Captures) - 1; i >= 0; i-- {
		c := e.Captures[i]
		if t := c.Result.Timing; t != nil && t.Commanded && t.Offset.Known() && e.stands(c.After, Timing) {
			if c.Result.Crank != nil && c.Result.Crank.ActsOn == "as stated" {
				steps.Vanes = nil // the sparks show that the other edge is not the active one
			}
			step := max(float64(e.Card.Controller.DelayStep.Or(0)), 1)
			return t.Offset, t.Housing, readings.Allow(e.allowanceNow(), t.Allowance.Change, step), steps
		}
	}
	if l := e.Light; l != nil && l.Fit != nil {
		return l.Fit.Offset, l.Fit.Housing, l.Fit.Allowance, steps
	}
	return readings.Unknown(), readings.Housing{Direction: readings.Leave}, readings.Allow(0, 0, 1), steps
}

// allowanceNow is the delay allowance in force as somebody read it in the controller, µs: NaN where nobody did. What
// the card says is not that: a recording measures how much is missing, not what was set.
func (e *Evidence) allowanceNow() float64 {
	if e.Seen != nil && e.Seen.Evidence != nil && e.Seen.Settings.Allowance != nil && e.stands(e.Seen.After, Held) {
		return e.Seen.Settings.Allowance.Value
	}
	if l := e.Light; l != nil && l.Fit != nil && slices.ContainsFunc(l.Rows, func(r readings.Row) bool {
		return r.AllowanceStated
	}) {
		return float64(l.Fit.Allowance.Now)
	}
	return math.NaN()
}

// odds is the share of the explanations that housing and allowance cure, and the likeliest fault that they do not.
func (e *Evidence) odds(s Set) (share float64, against string, err error) {
	if e.Engine == nil {
		if e.Engine, err = suspects.New(e.Card, suspects.DefaultPriors()); err != nil {
			return 0, "", err
		}
	}
	explained, none, err := e.Engine.Odds(e.asSuspects(s.Get(ZeroMark).State == Shown))
	if err != nil {
		return 0, "", err
	}
	var out []string
	for id, faults := range excludes {
		if s.Get(id).State == Shown {
			out = append(out, faults...)
		}
	}
	if e.Card.Light.Checked == "yes" || e.Light == nil {
		out = append(out, "dial", "flashes", "lightdelay")
	}
	all, cured, weight := none, 0.0, map[string]float64{}
	for _, x := range explained {
		if slices.ContainsFunc(x.Faults, func(f string) bool { return slices.Contains(out, f) }) {
			continue
		}
		all += x.Probability
		harmless := true
		for _, f := range x.Faults {
			if _, rivals := rivals[f]; rivals {
				weight[f] += x.Probability
				harmless = false
			}
		}
		if harmless {
			cured += x.Probability
		}
	}
	for _, f := range slices.Sorted(maps.Keys(weight)) {
		if against == "" || weight[f] > weight[against] {
			against = f
		}
	}
	return cured / all, against, nil
}

// asSuspects is the evidence as the ranking takes it.
// proven says that the zero mark is.
func (e *Evidence) asSuspects(proven bool) *suspects.Evidence {
	ev := suspects.Evidence{}
	if e.Seen != nil && e.Seen.Evidence != nil {
		ev = *e.Seen.Evidence
		ev.Light = slices.Clone(ev.Light)
	}
	if l := e.Light; l != nil {
		var rows []readings.Row // what the line set aside as misread is to be read again: it explains nothing
		for i, r := range l.Rows {
			if l.Fit == nil || !slices.Contains(l.Fit.Outliers, i+1) {
				rows = append(rows, r)
			}
		}
		ev.FromReadings(rows)
	}
	if r := e.newest(); r != nil {
		ev.FromCapture(r)
		if !proven {
			offTheMark(&ev, r, float64(e.Card.Controller.Advance.Locked.Or(0)))
		}
	}
	return &ev
}

// offTheMark takes the timing of a recording as readings off the damper: the mark that it was measured by is the
// damper's own, and stands as wrong as that does. The ranking takes a measured offset for one against true TDC.
func offTheMark(ev *suspects.Evidence, r *shaft.Result, locked float64) {
	ev.Capture.Offset, ev.Capture.Delay = nil, nil
	t := r.Timing
	if t == nil || len(t.ErrorAt) < 2 {
		return
	}
	for _, at := range []readings.ErrorAt{t.ErrorAt[0], t.ErrorAt[len(t.ErrorAt)/2], t.ErrorAt[len(t.ErrorAt)-1]} {
		if !math.IsNaN(at.Value) && !math.IsInf(at.U, 1) {
			ev.Light = append(ev.Light, suspects.Light{Speed: at.RPM, Wire: 1,
				Shown: &suspects.Number{Value: locked + at.Value, U: math.Max(at.U/2, leastU)}})
		}
	}
}

// newest is the last recording that a later change does not touch.
func (e *Evidence) newest() *shaft.Result {
	for i := len(e.Captures) - 1; i >= 0; i-- {
		if c := e.Captures[i]; e.stands(c.After, Timing) {
			return c.Result
		}
	}
	return nil
}
