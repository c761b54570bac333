package record

import (
	"fmt"
	"math"
	"time"

	"phasewright/quantity"
	"phasewright/readings"
)

// Learnt is what a job showed of its engine, for the card of the next one like it. What is not known is left out. It is
// offered to who writes that card and never goes into it by itself: another pickup or controller has another delay.
type Learnt struct {
	Last time.Time // when the job was worked on last
	// Delay is the whole signal delay, µs: the allowance in force and what the readings say it lacks. The allowance is
	// known, so the uncertainty is that of the line.
	Delay *readings.Interval
	// Found is the constant error before anything was corrected, crank degrees, early positive.
	Found *readings.Interval
}

// Learnt is what the job showed.
func (j *Job) Learnt() Learnt {
	l := Learnt{Last: j.WorkedAt}
	p, err := j.Proof()
	if err != nil {
		return l
	}
	if a, ok := j.Allowance().Get(); ok && p.Is != nil && p.Is.Delay.Known() {
		whole := p.Is.Delay
		whole.Value, whole.Lo, whole.Hi = whole.Value+float64(a), whole.Lo+float64(a), whole.Hi+float64(a)
		l.Delay = &whole
	}
	first := p.Was
	if first == nil {
		first = p.Is
	}
	if first != nil && first.Offset.Known() {
		l.Found = &first.Offset
	}
	return l
}

// Words say it, a sentence each.
func (l Learnt) Words() []string {
	var out []string
	if d := l.Delay; d != nil {
		out = append(out, fmt.Sprintf("Signal delay found: %s %s.", quantity.Number(d.Value, 0),
			quantity.PlusMinus(d.Expanded(), 0, " µs")))
	}
	if f := l.Found; f != nil {
		way := "early"
		if f.Value < 0 {
			way = "late"
		}
		out = append(out, fmt.Sprintf("Found %s %s, %s.", quantity.Number(math.Abs(f.Value), 1),
			quantity.PlusMinus(f.Expanded(), 1, "°"), way))
	}
	return out
}
