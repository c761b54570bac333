package verdict

import (
	"fmt"
	"math"

	"phasewright/quantity"
	"phasewright/readings"
)

// OfReadings judges light readings on wire 1.
func OfReadings(res *readings.Result) Judgement {
	s := open()
	j := Judgement{Verdict: res.Verdict, First: res.Brief, Clauses: s, Sound: res.Verdict == readings.Pass,
		Cures: res.Verdict == readings.Adjust}
	if len(res.Advice) > 0 {
		j.First, j.Next = res.Advice[0], res.Advice[len(res.Advice)-1]
	}
	w := res.Worst
	text := "no line yet"
	if !math.IsNaN(w.Value) && w.RPM > 0 {
		text = fmt.Sprintf("error %s° ± %s at %s, on wire 1", quantity.Signed(w.Value, 2), quantity.Degrees(w.U,
			2), quantity.RPM(w.RPM))
	}
	switch res.Verdict {
	case readings.Pass:
		s.settle(Timing, Shown, text).figure(w.Value, w.U, res.Tolerance)
	case readings.Adjust, readings.LookElsewhere:
		s.settle(Timing, Broken, text).figure(w.Value, w.U, res.Tolerance)
	case readings.NotALine:
		s.settle(Locked, Broken, "the error follows no line")
		s.leave(Timing, text, "prove that the timing is locked, and read again")
	default:
		s.leave(Timing, text, fmt.Sprintf("read at %s", quantity.RPM(res.Next)))
	}
	s.leave(EveryCylinder, "wire 1 alone was read",
		"read the light on the companion's wire too, or record all cylinders")
	return j
}
