package verdict

import (
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/readings"
	"phasewright/shaft"
)

// OfCapture judges a recording by itself. Sound says that every clause that its channels can show is shown. Without a
// card (nil) it has no tolerance, and shows nothing of the statement.
func OfCapture(r *shaft.Result, e Evidence) Judgement {
	if e.Card == nil || e.Card.Engine.Cylinders == 0 {
		j := Judgement{Word: NotShownYet, Verdict: readings.ReadMore, Clauses: open(), RestsOn: restsOn()}
		j.First, j.Next = withoutCard(r)
		return j
	}
	e.Captures = []Capture{{Result: r, After: len(e.Changes)}}
	j := Judge(e)
	j.Sound = true
	for _, id := range canShow(r) {
		j.Sound = j.Sound && j.Clauses.Get(id).State == Shown
	}
	return j
}

// OfReadings judges light readings by themselves. Sound says that the timing is shown on the wires that were read.
func OfReadings(l Light, e Evidence) Judgement {
	e.Light = &l
	j := Judge(e)
	j.Sound = j.Verdict == readings.Pass
	return j
}

// OntoCapture is a recording's result with the word of the judgement, and without a correction that the judgement does
// not advise. It is for showing: what is judged is the result as it was.
func (j *Judgement) OntoCapture(r *shaft.Result, card *jobcard.Card) *shaft.Result {
	if r.Timing == nil || card == nil || card.Engine.Cylinders == 0 {
		return r
	}
	out, t := *r, *r.Timing
	t.Verdict = j.Verdict
	if j.Cure != nil {
		t.Housing, t.Allowance = j.Cure.Housing, j.Cure.Allowance
	} else {
		t.Housing = readings.Housing{Direction: readings.Leave}
		t.Allowance = readings.Allow(float64(t.Allowance.Now), 0, 1)
		if t.Withheld == "" && j.Verdict != readings.Pass && j.Verdict != readings.ReadMore {
			t.Withheld = j.First
		}
	}
	out.Timing = &t
	return &out
}

// OntoProof is the same for a proof. What was read before the corrections is not judged again: of that line the figures
// stay, without word or advice.
func (j *Judgement) OntoProof(p *readings.Proof) *readings.Proof {
	out := *p
	out.Is = j.OntoReadings(p.Is)
	if p.Was != nil {
		was := *p.Was
		was.Verdict, was.Brief, was.Advice = "", "", nil
		was.Housing = readings.Housing{Direction: readings.Leave}
		was.Allowance = readings.Allow(float64(was.Allowance.Now), 0, 1)
		out.Was = &was
	}
	return &out
}

// OntoReadings is the same for a fit of light readings.
func (j *Judgement) OntoReadings(res *readings.Result) *readings.Result {
	out := *res
	out.Verdict, out.Brief, out.Next = j.Verdict, j.Next, j.ReadAt
	if j.Cure != nil {
		out.Advice = append(slices.Clone(res.Advice), j.Cure.IfWrong)
		return &out
	}
	if j.Verdict != readings.ReadMore || j.Verdict != res.Verdict { // what more to read, the fit says best
		out.Advice = []string{j.First, j.Next}
	}
	out.Housing = readings.Housing{Direction: readings.Leave}
	out.Allowance = readings.Allow(float64(res.Allowance.Now), 0, 1)
	if math.IsNaN(res.After.Value) || j.Verdict != readings.Pass {
		out.After = res.Worst
	}
	return &out
}
