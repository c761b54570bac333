package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/quantity"
	"phasewright/words"
)

// rpm prints a speed for a sentence, with its unit: 3 200 rpm with thin spaces.
func rpm(n float64) string { return quantity.Number(n, 0) + "\u2009rpm" }

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return fmt.Sprintf(many, n)
}

func list(rows []int) string {
	const most = 12
	var b strings.Builder
	for i, r := range rows {
		switch {
		case i == most:
			fmt.Fprintf(&b, " and %d more", len(rows)-most)
			return b.String()
		case i > 0 && i == len(rows)-1:
			b.WriteString(" and ")
		case i > 0:
			b.WriteString(", ")
		}
		fmt.Fprint(&b, r)
	}
	return b.String()
}

func (res *Result) say(format string, a ...any) {
	res.Advice = append(res.Advice, fmt.Sprintf(format, a...))
}
func (res *Result) warn(format string, a ...any) {
	res.Warnings = append(res.Warnings, fmt.Sprintf(format, a...))
}

// advise puts the result into words.
func (res *Result) advise(m model, set Settings, rows []Row) {
	switch res.Verdict {
	case Pass:
		worst, named := res.worst()
		w := worst.Worst
		res.say("Leave the housing and the allowance as they are. The error stays within %s over %s to %s. At "+
			"worst it is %s ± %s at %s%s.",
			quantity.Degrees(res.Tolerance, -1), rpm(float64(set.Idle)), rpm(float64(set.Redline)),
			quantity.Degrees(w.Value, 2), quantity.Degrees(w.U, 2), rpm(w.RPM), named)
	case NotALine:
		res.say("Change nothing yet. The error does not follow a line. No housing turn and no allowance would cure " +
			"it.")
		res.say("Prove that the timing is locked and that the readings repeat. Then read again. The list of " +
			"suspects says what else bends the line.")
	case Adjust:
		res.corrections(set)
		if !res.beyondTolerance() {
			res.warn("the error is not certain to be beyond the tolerance. Marks, pointer and tachometer leave ± "+
				"%s whatever is read. Centring it is what can be done. Proving the zero mark with a piston stop "+
				"would narrow it",
				quantity.Degrees(m.commonOnly(res.Worst.RPM), 2))
		}
		res.say("Read again at %s.", rpm(res.Next))
	case LookElsewhere:
		res.say("Do not turn anything yet. %s.", words.Capital(res.pattern.Because))
		res.say("%s.", words.Capital(res.pattern.Look))
	case ReadMore:
		res.readMore(m, set)
	}
	res.Brief = res.brief()
	res.caution(m, set, rows)
}

// brief is the advice for the head of a page: the corrections in one line, the rest by its first sentence.
func (res *Result) brief() string {
	if res.Verdict != Adjust {
		return res.Advice[0]
	}
	var parts []string
	if res.Allowance.Changes() {
		parts = append(parts, words.Capital(res.Allowance.Do("allowance")))
	}
	if res.Housing.Direction != Leave {
		parts = append(parts, fmt.Sprintf("Turn the housing %s %s", quantity.Degrees(res.Housing.TurnDeg, 1),
			res.Housing.Direction))
	}
	if len(parts) == 0 {
		return res.Advice[0]
	}
	return fmt.Sprintf("Stop the engine. %s. Then read again at %s.", strings.Join(parts, ". "), rpm(res.Next))
}

// corrections says what to turn and what to set, in a safe order.
func (res *Result) corrections(set Settings) {
	changed := res.Allowance.Changes()
	if changed || res.Housing.Direction != Leave {
		res.say("Stop the engine before anything is changed.")
	}
	if changed {
		res.say("%s. Then switch the controller off and on. Read the setting back.",
			words.Capital(res.Allowance.Do("delay allowance")))
	}
	if res.Housing.Direction != Leave {
		view := ""
		if set.RotorTurns != "" {
			view = " The rotor turns " + set.RotorTurns + "."
		}
		res.say("Turn the housing %s %s. %s.%s Then tighten the clamp.", quantity.Degrees(res.Housing.TurnDeg, 1),
			res.Housing.Direction, res.Housing.Half(), view)
	}
	if !changed && res.Housing.Direction == Leave {
		res.say("Neither the housing nor a whole step of the allowance cures this error. Check the marks, the " +
			"light and that the timing is locked.")
	}
}

// readMore says why there is no verdict and what would bring one.
func (res *Result) readMore(m model, set Settings) {
	steady := len(m.n)
	switch {
	case steady == 0 && len(res.CrankingRows) > 0:
		res.say("The housing stays. Readings on the starter say nothing about it. First read at a steady idle, %s.",
			rpm(res.Next))
	case steady == 0:
		res.say("No readings yet. Lock the timing. Let the engine idle. Read at %s.", rpm(res.Next))
	case steady == 1:
		res.say("One reading gives the error at %s only: %s%s. It cannot tell housing from delay. Read again at %s.",
			rpm(m.n[0]), quantity.Degrees(m.mean().Value, 2), plusMinus(m.mean()), rpm(res.Next))
	case !m.slope && len(m.read) > 1:
		res.say("No wire was read at two speeds. The error of cylinder %d is %s%s at %s. One speed cannot tell "+
			"housing from delay. Read again at %s.", m.read[0], quantity.Degrees(m.mean().Value, 2),
			plusMinus(m.mean()), rpm(res.Worst.RPM), rpm(res.Next))
	case !m.slope:
		res.say("All readings are at %s. The error there is %s%s. One speed cannot tell housing from delay. Read "+
			"again at %s.",
			rpm(res.Worst.RPM), quantity.Degrees(m.mean().Value, 2), plusMinus(m.mean()), rpm(res.Next))
	case m.wild:
		res.say("The readings lie too near together, or scatter too much, to tell housing from delay. Somewhere "+
			"from idle to redline the line is known within ± %s at best. Read again at %s.",
			quantity.Degrees(widestSense, 0), rpm(res.Next))
	case res.Scale == "none":
		few, need := "Two readings", 3
		if k := len(m.fit.Coef); k > 2 {
			few, need = fmt.Sprintf("%d readings on %d wires", steady, len(m.read)), k+1
		}
		res.say("%s give values but no honest interval. Offset %s, delay left over %s µs. An interval needs at "+
			"least %d. Read again at %s.", few,
			quantity.Degrees(res.Offset.Value, 2), quantity.Number(res.Delay.Value, 0), need, rpm(res.Next))
	case m.commonStops(res):
		res.say("More readings alone will not settle it. Marks, pointer and tachometer leave ± %s at %s. Prove the "+
			"zero mark with a piston stop. Or mark more finely.",
			quantity.Degrees(m.commonOnly(res.Worst.RPM), 2), rpm(res.Worst.RPM))
	default:
		worst, named := res.worst()
		w := worst.Worst
		res.say("Not shown yet. At %s the error%s is %s ± %s, against a tolerance of %s. Read again at %s%s.",
			rpm(w.RPM), named, quantity.Degrees(w.Value, 2), quantity.Degrees(w.U, 2),
			quantity.Degrees(res.Tolerance, -1), rpm(res.Next), named)
	}
}

func plusMinus(v Interval) string {
	if math.IsInf(v.Expanded(), 1) {
		return ", uncertainty not known"
	}
	return " ± " + quantity.Degrees(v.Expanded(), 2)
}

// caution fills the warnings.
func (res *Result) caution(m model, set Settings, rows []Row) {
	if out := res.Outliers; len(out) > 0 {
		var again []string
		for _, row := range out {
			if n := rpm(float64(rows[row-1].Speed)); !slices.Contains(again, n) {
				again = append(again, n)
			}
		}
		res.warn("%s. Not used. Read %s again", plural(len(out), "reading "+list(out)+" does not fit",
			"%d readings do not fit (rows "+list(out)+")"), strings.Join(again, " and "))
	}
	for _, d := range res.Asked {
		if d.Counts {
			res.warn("row %d is unlikely, and was confirmed: %s", d.Row, d.Because)
			continue
		}
		res.warn("row %d is not counted: %s. %s", d.Row, d.Because, d.answer())
	}
	if k := res.reference(); k > 1 {
		res.warn("nobody read the wire of cylinder 1. The line is that of cylinder %d", k)
	}
	if k := len(res.CrankingRows); k > 0 {
		res.warn("%s below %s not used for the line. Compression slows the crankshaft there. Do not turn the "+
			"housing for it.",
			plural(k, "row "+list(res.CrankingRows), "%d rows ("+list(res.CrankingRows)+")"),
			rpm(math.Ceil(float64(set.crankingBelow()))))
	}
	if m.scale == "stated" {
		res.warn("too few readings to show their own scatter. The intervals rest on the stated uncertainty alone")
	}
	if m.chi.P < significance && res.Verdict != NotALine {
		res.warn("the readings scatter more than the stated uncertainty allows. A loose clamp, a worn drive, or a " +
			"stated figure too small may do it. The intervals follow the scatter")
	}
	if m.bent() && res.Verdict != NotALine {
		res.warn("the error strays from a line by %s (root mean square). That is too little to matter against the "+
			"tolerance",
			quantity.Degrees(m.stray(), 2))
	}
	if res.Verdict == NotALine && m.lack.Name == m.chi.Name && m.chi.Name != "" {
		res.warn("this rests on the stated uncertainty. Were that too small, a line might do. Repeat one speed " +
			"three times to see the scatter")
	}
	if m.factor > m.raw*(1+1e-9) && m.scale == "scatter" {
		how := "stated"
		if m.inferred {
			how = "taken from the digits written"
		}
		res.warn("the readings agree better than their %s resolution allows (%s). The uncertainty is kept at that",
			quantity.Degrees(m.resolution, -1), how)
	}
	if len(set.Common) == 0 {
		res.warn("no uncertainty of marks, zero mark or tachometer was given. The intervals hold the scatter of " +
			"the readings alone")
	}
	if set.AllowanceStep == 0 {
		res.warn("the step of the delay allowance is not given. Changes are to the microsecond. Set what your " +
			"controller has nearest to it")
	}
	if exact := set.allowanceNow() + res.Delay.Value; exact < -float64(set.step())/2 && (res.Verdict == Adjust ||
		res.Verdict == ReadMore) {
		res.warn("the readings ask for an allowance of %s µs, below nothing. 0 is the least. An error of %s at "+
			"redline stays", quantity.Number(exact, 0), quantity.Degrees(res.RoundingDeg, 2))
	}
	if k := len(rows); k > 0 && rows[k-1].AllowanceStated && !set.AllowanceOpen &&
		rows[k-1].Allowance != set.AllowanceNow {
		res.warn("the last reading was taken under an allowance of %s µs. The present one is given as %s µs. "+
			"Results are for the present one",
			quantity.Number(float64(rows[k-1].Allowance), -1), quantity.Number(float64(set.AllowanceNow), -1))
	}
	if set.HousingTravel > 0 && res.Housing.TurnDeg > float64(set.HousingTravel) {
		res.warn("the housing may turn %s either way only. The unit may sit a tooth out",
			quantity.Degrees(set.HousingTravel, -1))
	}
}
