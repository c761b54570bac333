package verdict

import (
	"fmt"
	"math"
	"strings"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
)

// lightClauses are the clauses that the timing light speaks for.
func (e *Evidence) lightClauses() Set {
	s := open()
	l := e.Light
	if l == nil || l.Fit == nil || len(l.Rows) == 0 {
		return s
	}
	e.lightTiming(s)
	e.lightCranking(s)
	return s
}

func (e *Evidence) lightTiming(s Set) {
	l, fit := e.Light, e.Light.Fit
	look := fmt.Sprintf("read at %s", quantity.RPM(e.readAt()))
	if l.Proof == nil {
		s.leave(Timing, "the readings were taken before the last change", look+", and at idle")
		return
	}
	worst := fit.Worst
	if l.Proof.Is.Offset.Known() && !math.IsInf(l.Proof.Is.Offset.Expanded(), 1) {
		worst = l.Proof.Worst // by the wider of budget and simulation
	}
	text := "no line through the readings yet"
	if !math.IsNaN(worst.Value) && worst.RPM > 0 {
		text = "by the light on wire 1, " + errorText(worst)
	}
	limit := fit.Tolerance
	switch {
	case fit.Verdict == readings.NotALine:
		s.settle(Locked, Broken, "the light's error follows no line over speed. The controller was not held at one "+
			"advance, or something moves")
		s.leave(Timing, text, "lock the timing. Read it back. Read again")
	case beyond(fit.ErrorAt, limit):
		at := surest(fit.ErrorAt)
		s.settle(Timing, Broken, "by the light on wire 1, "+errorText(at)).figure(at.Value, at.U, limit)
	case l.Proof.Is.Offset.Known() && math.Abs(worst.Value)+worst.U <= limit:
		s.settle(Timing, Shown, text).figure(worst.Value, worst.U, limit)
	default:
		s.leave(Timing, text, look)
		s.Get(Timing).figure(worst.Value, worst.U, limit)
	}
}

// beyond says whether |e| − U lies outside the tolerance at one of the speeds.
func beyond(at []readings.ErrorAt, limit float64) bool {
	if len(at) == 0 {
		return false
	}
	e := surest(at)
	return math.Abs(e.Value)-e.U > limit
}

// surest is the speed at which the error is most certain to be large: where |e| − U is greatest.
func surest(at []readings.ErrorAt) readings.ErrorAt {
	out := at[0]
	for _, e := range at[1:] {
		if math.Abs(e.Value)-e.U > math.Abs(out.Value)-out.U {
			out = e
		}
	}
	return out
}

// lightCranking compares the light on the starter with what the set-up sheet foresees there.
func (e *Evidence) lightCranking(s Set) {
	want, band, ok := e.foreseenCranking()
	if !ok || e.Light.Proof == nil {
		return
	}
	got := e.Light.Proof.Is.CrankingError
	if !got.Known() {
		return
	}
	u := math.Hypot(2*eye/math.Sqrt(got.DOF+1), readings.FromCard(e.Card).LeastU())
	e.firstCrank(s, got.Value, u, want, band, "the light on the starter")
}

// foreseenCranking is the error that the sheet foresees on the starter, crank degrees, with the half-width of its band.
func (e *Evidence) foreseenCranking() (err, band float64, ok bool) {
	commanded, given := e.Card.Controller.Advance.Cranking.Get()
	if e.Sheet == nil || !given {
		return 0, 0, false
	}
	for _, x := range e.Sheet.Expect {
		if x.Band > 0 {
			return x.Shown - float64(commanded), x.Band, true
		}
	}
	return 0, 0, false
}

// firstCrank holds an error seen on the starter against the one that is foreseen. Shown is one that agrees with it
// within the band and its own U, where that U is within the tolerance. The error that is allowed anywhere is allowed
// here too: between the two it stays open.
func (e *Evidence) firstCrank(s Set, got, u, want, band float64, by string) {
	text := fmt.Sprintf("%s stands %s° ± %s from the command. Foreseen are %s° ± %s", by, quantity.Signed(got, 1),
		quantity.Degrees(u, 1), quantity.Signed(want, 1), quantity.Degrees(band, 1))
	switch off, tolerance := math.Abs(got-want), float64(e.Card.Tolerance); {
	case off <= band+u && u <= tolerance:
		s.settle(FirstCrank, Shown, text).figure(got, u, want)
	case off-u > band+tolerance:
		s.settle(FirstCrank, Broken, text).figure(got, u, want)
	default:
		s.leave(FirstCrank, text, "")
	}
}

// otherWires takes what the light read on other wires as the word on every cylinder. At least the companion must have
// been read, or the next in the firing order where there is none.
func (e *Evidence) otherWires(s Set) {
	if e.Light == nil || e.Light.Proof == nil {
		return
	}
	other := 0 // the companion, where it does not share the wire; of two cylinders on one coil there is none
	if wires := sheet.WiresToRead(e.Card); len(wires) > 0 {
		other = wires[0]
	}
	var read []string
	first, second, within := false, false, s.Get(Timing).State == Shown
	limit := e.Light.Proof.Is.Tolerance
	for _, w := range e.Light.Proof.Is.Wires {
		text := fmt.Sprintf("by the light on the wire of cylinder %d, %s", w.Cylinder, errorText(w.Worst))
		if w.Beyond() && w.Cylinder != 1 {
			s.settle(EveryCylinder, Broken, text).figure(w.Surest.Value, w.Surest.U, limit)
			s.Get(EveryCylinder).By = ByLight
			return
		}
		within = within && w.Within()
		first, second = first || w.Cylinder == 1, second || w.Cylinder == other
		read = append(read, fmt.Sprint(w.Cylinder))
	}
	if within && first && second {
		s.settle(EveryCylinder, Shown, "by the light on the wires of cylinders "+strings.Join(read, ", ")).By = ByLight
		return
	}
	if len(read) > 0 {
		look := "record all cylinders"
		switch {
		case other > 0 && first && second:
			look = fmt.Sprintf("read the light on the wire of cylinder %d again, at idle and at speed, or record all "+
				"cylinders", other)
		case other > 0:
			look = fmt.Sprintf("read the light on the wire of cylinder %d too, or record all cylinders", other)
		}
		s.leave(EveryCylinder, "by the light, read were the wires of cylinders "+strings.Join(read, ", "), look)
		s.Get(EveryCylinder).By = ByLight
	}
}

// readAt is the speed that the light tells most at next: on the engine as it stands, where it was read since.
func (e *Evidence) readAt() float64 {
	switch l := e.Light; {
	case l == nil || l.Fit == nil:
		return 0
	case l.Proof != nil:
		return l.Proof.Is.Next
	}
	return e.Light.Fit.Next
}

// errorText prints an error with its U and speed.
func errorText(at readings.ErrorAt) string {
	if math.IsInf(at.U, 1) {
		return fmt.Sprintf("error %s°, U not known, at %s", quantity.Signed(at.Value, 2), quantity.RPM(at.RPM))
	}
	return fmt.Sprintf("error %s° ± %s at %s", quantity.Signed(at.Value, 2), quantity.Degrees(at.U, 2),
		quantity.RPM(at.RPM))
}
