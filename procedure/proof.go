package procedure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/quantity"
)

// badProof says why a proof cannot be one for this step, whatever it shows: the wrong kind, no number, an impossible
// one.
func (p *Procedure) badProof(st *Step, f Proof) *Refusal {
	d := st.Demand
	bad := func(want, have, remedy string) *Refusal {
		return &Refusal{Kind: Input, Step: st.ID, Want: want, Have: have, Remedy: remedy, Never: true}
	}
	if !slices.Contains(d.Kinds, f.Kind) {
		var kinds []string
		for _, k := range d.Kinds {
			kinds = append(kinds, string(k))
		}
		return bad(strings.Join(kinds, " or ")+": "+d.Ask, fmt.Sprintf("a proof of kind %q", f.Kind),
			"give one of the kinds that the step asks for")
	}
	if len([]rune(f.Text)) > longestReason {
		return bad(tooLong("words", longestReason, f.Text))
	}
	for _, v := range []*float64{f.Value, f.RPM, f.U} {
		if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
			return bad("a finite number", "none", "write a plain figure")
		}
	}
	switch f.Kind {
	case Photo, Capture:
		if !digest(f.SHA256) {
			return bad("the SHA-256 of a file in the shop book: 64 digits 0-9 a-f", fmt.Sprintf("%q", clip(f.SHA256)),
				"store the file with the job first. Then give its digest")
		}
		if f.Kind == Capture && (f.RPM == nil || f.Value == nil) {
			return bad("what the recording shows: degrees BTDC and rpm", "no figures",
				"read the recording first: the next speed goes by its figures")
		}
	case Written:
		if !worded(f.Text) {
			return bad(d.Ask, "no words", "write what was seen")
		}
	case Number:
		if len(d.Options) > 0 {
			if !slices.Contains(d.Options, f.Text) {
				return bad(strings.Join(d.Options, " or "), fmt.Sprintf("%q", clip(f.Text)), "choose one of them")
			}
			return nil
		}
		return badNumber(bad, d, f)
	case Reading:
		if len(d.Wires) > 0 && !slices.Contains(d.Wires, f.Wire) {
			return bad("the wire that was read: that of cylinder "+cylinders(d.Wires),
				fmt.Sprintf("cylinder %d", f.Wire), "choose the cylinder whose wire carries the light's clamp")
		}
		if f.RPM == nil {
			return bad("the speed of the reading in rpm", "none", "write the speed beside what the light shows")
		}
		if *f.RPM <= 0 || *f.RPM > 20000 {
			return bad("a speed from 1 to 20000 rpm", number(*f.RPM, "rpm"), "look at the tachometer again")
		}
		return badNumber(bad, d, f)
	}
	return nil
}

// cylinders lists numbers as words do: 4, 2 or 3.
func cylinders(list []int) string {
	out := ""
	for i, c := range list {
		switch {
		case i == 0:
		case i == len(list)-1:
			out += " or "
		default:
			out += ", "
		}
		out += fmt.Sprint(c)
	}
	return out
}

func badNumber(bad func(want, have, remedy string) *Refusal, d Demand, f Proof) *Refusal {
	switch {
	case f.Value == nil:
		return bad("a number in "+d.Unit+": "+d.Ask, "none", "write the figure")
	case d.Possible.Set() && !d.Possible.Has(*f.Value):
		return bad(within(d.Possible, d.Unit)+": "+d.Ask, number(*f.Value, d.Unit),
			"that cannot be. Look again. Write what is there")
	case d.Whole > 0 && math.Abs(math.Remainder(*f.Value-d.From, d.Whole)) > 1e-6*d.Whole:
		return bad("whole steps of "+number(d.Whole, d.Unit)+" from "+number(d.From, d.Unit),
			number(*f.Value, d.Unit), "the controller takes whole steps only")
	}
	return nil
}

// proofLock says why a step is not proven: no proof, a look that was not ticked, or a figure that fails. It names the
// branch to take.
func (p *Procedure) proofLock(s State, st *Step, f *Proof) *Refusal {
	d := st.Demand
	out := &Refusal{Kind: Unproven, Step: st.ID, Never: d.Never}
	if f == nil {
		out.Want, out.Have, out.Remedy = d.Ask, "no proof", fmt.Sprintf("give it as %s", d.Kinds[0])
		return out
	}
	switch {
	case f.Kind == Number && len(d.Options) > 0:
		if f.Text == d.Right {
			break
		}
		out.Want, out.Have, out.Remedy = d.Right+": "+d.Ask, f.Text, "it must be "+d.Right
		for _, b := range st.Branches {
			if b.Says == f.Text {
				out.Remedy, out.Go = sentence(b.Why)+" "+b.Do, b.Go
			}
		}
		return out
	case f.Value != nil:
		if f.RPM != nil {
			if speed := p.speed(s, st); speed.Set() && !speed.Has(*f.RPM) {
				out.Want, out.Have, out.Remedy = within(speed, "rpm"), number(*f.RPM, "rpm"),
					"read again at a speed within it"
				if *f.RPM > speed.To {
					out.Remedy = "that is faster than this step allows. Let it idle. Then read within it"
				}
				return out
			}
		}
		passes := d.Passes
		if d.AsSet {
			passes = around(p.allowanceNow(s), (passes.To-passes.From)/2)
		}
		if passes.Has(*f.Value) {
			break
		}
		out.Want, out.Have, out.Remedy = within(passes, d.Unit)+": "+d.Ask, number(*f.Value, d.Unit), "look again"
		p.branch(st, *f.Value, out)
		return out
	}
	return nil
}

// lookLock names the first look that a proof does not tick. A look is never overridden.
func lookLock(st *Step, f *Proof) *Refusal {
	for _, a := range st.Demand.Also {
		if f == nil || !slices.Contains(f.Seen, a.ID) {
			return &Refusal{Kind: Unproven, Step: st.ID, Want: a.Ask, Have: "not ticked",
				Remedy: "look, then tick it", Never: true}
		}
	}
	return nil
}

// Unlooked is the refusal of a proof that does not tick every look of a step; nil where it does.
func (p *Procedure) Unlooked(id StepID, f *Proof) *Refusal {
	i, ok := p.at[id]
	if !ok {
		return nil
	}
	return lookLock(&p.steps[i], f)
}

// Speed is the band in which the next reading for a step must lie, rpm; the zero Band where it takes none.
func (p *Procedure) Speed(s State, id StepID) Band {
	i, ok := p.at[id]
	if !ok {
		return Band{}
	}
	return p.speed(s, &p.steps[i])
}

// speed is the band in which the next reading of a step must lie.
func (p *Procedure) speed(s State, st *Step) Band {
	if len(st.Demand.Rungs) == 0 {
		return st.Demand.Speed
	}
	if rung, more := st.nextRung(s.Ladder); more && s.Plant.Get(Range) == No {
		return rung.band()
	}
	out := Band{st.Demand.Speed.From, st.Demand.Rungs[len(st.Demand.Rungs)-1].RPM * rungAbove}
	if math.Abs(foretold(s.Ladder, st.Demand.Speed.To)) <= p.bound {
		out.To = max(out.To, st.Demand.Speed.To) // one more reading, where the proof asks for it
	}
	return out
}

// branch takes the first branch that a number means.
func (p *Procedure) branch(st *Step, v float64, out *Refusal) {
	for _, b := range st.Branches {
		if b.When.Set() && b.When.Has(v) {
			out.Remedy, out.Go = sentence(b.Why)+" "+b.Do, b.Go
			return
		}
	}
}

// digest says whether a text is 64 lower-case hexadecimal digits.
func digest(t string) bool {
	if len(t) != 64 {
		return false
	}
	for _, r := range t {
		if (r < '0' || r > '9') && (r < 'a' || r > 'f') {
			return false
		}
	}
	return true
}

func clip(t string) string {
	if r := []rune(t); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return t
}

// number prints a figure with its unit, as many decimals as it needs, at most three.
func number(v float64, unit string) string {
	n := 0
	for n < 3 && math.Abs(v-math.Round(v*math.Pow10(n))/math.Pow10(n)) > 1e-9 {
		n++
	}
	t := quantity.Number(v, n)
	if strings.HasPrefix(unit, "°") {
		return t + unit
	}
	return t + " " + unit
}

func within(b Band, unit string) string {
	if b.From == b.To {
		return number(b.From, unit)
	}
	if b.From == -b.To {
		return "± " + number(hundredth(b.To), unit)
	}
	return fmt.Sprintf("%s to %s", number(hundredth(b.From), unit), number(hundredth(b.To), unit))
}

func hundredth(v float64) float64 { return math.Round(v*100) / 100 }
