package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/verdict"
)

// signature is one who signed, or a line for a pen.
type signature struct{ who, when string }

// notSigned stands where a signature would.
const notSigned = "NOT SIGNED"

// signatures are those who signed, each with a line for the pen, and the customer.
func (k Case) signatures(who string) []signature {
	var out []signature
	for _, s := range k.Signers {
		when := "signed " + moment(s.At)
		if s.Word != string(k.Judged.Word) {
			when += ": " + s.Word
		}
		out = append(out, signature{or(s.Role, "answers for it") + ": " + s.Name, when})
	}
	if len(out) == 0 {
		out = []signature{{"answers for it: " + who, notSigned}}
	}
	return append(out, signature{"customer: " + or(k.Customer, k.Card.Job.Owner), ""})
}

// signed sets the lines to sign on, wide mm wide, from (x, y) down, and gives the place below them.
func (f *flow) signed(list []signature, x, y, wide float64) float64 {
	t := drawing.Note.Sized(2.5)
	if len(list) > mostSigners { // the customer's line stays
		more := signature{who: fmt.Sprintf("and %d more, in the record of the job", len(list)-mostSigners+1)}
		list = append(append(slices.Clone(list[:mostSigners-2]), more), list[len(list)-1])
	}
	for _, s := range list {
		y += 9
		f.d.Line(x, y, x+wide, y, drawing.Style{Stroke: drawing.Ink, Width: 0.25})
		y = f.d.Lines(x, y+3.3, wide, clipWords(s.who, wide, t), t)
		switch {
		case s.when == notSigned:
			y = f.d.Lines(x, y+1.2, wide, s.when, t.Sized(3.6).Heavy())
		case s.when != "":
			y = f.d.Lines(x, y, wide, s.when, t)
		}
		y -= 3
	}
	return y + 2
}

// mostSigners bounds the lines beside the verdict.
const mostSigners = 6

// clipWords cuts what would take more than three lines; the names that the shop book takes do not.
func clipWords(s string, wide float64, t drawing.TextStyle) string {
	lines := drawing.Wrap(s, wide, t)
	return strings.Join(lines[:min(len(lines), 3)], " ")
}

// standing says in words what the verdict stands on: what was found, changed and is shown, what speaks against it, what
// is open, what was read, by which rule it was decided, and what is not claimed.
func (f *flow) standing(k Case) {
	f.lines([]Field{
		{"found", k.found()}, {"changed", k.changed()}, {"shown now", k.shown()},
		{"against it", k.against()}, {"not claimed", k.notClaimed()}, {"steps open", k.openSteps()},
		{"read", k.read()},
		{"decided by", "pass only where |e| + U ≤ tolerance from idle to redline (guarded acceptance, the guard band " +
			"being U; JCGM 106:2012). It fails where |e| − U > tolerance somewhere. Between them it is not shown " +
			"yet. e is the timing error, U its expanded uncertainty, 95 %"},
	})
}

// lines sets labelled sentences over the whole width.
func (f *flow) lines(list []Field) {
	const in = 24.0
	label, t := drawing.Note.Sized(2.7), drawing.Body.Sized(2.7)
	step := t.Size * 1.32
	for _, x := range list {
		lines := drawing.Wrap(strings.TrimSuffix(sentence(x.Value), "."), f.wide()-in, t)
		f.heed(x.Value)
		f.need(step*float64(min(len(lines), 4)) + 1.2)
		f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Grid)
		for i, line := range lines {
			f.need(step)
			f.y += step
			if i == 0 {
				f.d.Text(inset, f.y, x.Label, label)
			}
			f.d.Text(inset+in, f.y, line, t)
		}
		f.y += 1.2
	}
	f.y += gap
}

// largest is the error at the worst speed, with what it comes to beside the tolerance.
func largest(e readings.ErrorAt, tolerance float64) string {
	out := "largest timing error " + errorWords(e)
	if math.IsNaN(e.Value) || math.IsInf(e.U, 0) || math.IsNaN(e.U) {
		return out
	}
	return out + ": |e| + U is " + quantity.Degrees(math.Abs(e.Value)+e.U, 2) + ", the tolerance " + degrees(tolerance)
}

func constant(r *readings.Result) string {
	return "constant error " + pm(r.Offset, 2) + "°, delay left over " + pm(r.Delay, 0) + " µs"
}

func (k Case) found() string {
	switch {
	case k.Proof.Was != nil:
		return largest(k.Proof.Before, k.Proof.Tolerance) + "; " + constant(k.Proof.Was)
	case len(k.Corrections) == 0:
		return largest(k.Proof.Worst, k.Proof.Tolerance) + "; " + constant(k.Proof.Is)
	}
	return "no readings from before the corrections"
}

func (k Case) changed() string {
	var out []string
	for _, c := range k.Corrections {
		line := c.What
		if c.From != "" {
			line += " from " + c.From
		}
		out = append(out, line+" to "+c.To+", by "+or(c.By, ""))
	}
	if turned := k.unrecorded(); turned != "" {
		out = append(out, turned)
	}
	if len(out) == 0 {
		return "nothing recorded"
	}
	if len(out) > 5 {
		out = append(out[:4:4], fmt.Sprintf("and %d more, in the table of corrections", len(out)-4))
	}
	return strings.Join(out, "; ")
}

// unrecorded is a turn of the housing that the readings prove and nobody recorded; "" where there is none. The constant
// error moves by two crank degrees for one of the shaft, late where the housing goes with the rotor.
func (k Case) unrecorded() string {
	was, is := k.Proof.Was, k.Proof.Is
	if was == nil || k.Rebuilt || !was.Offset.Known() || !is.Offset.Known() {
		return ""
	}
	moved := is.Offset.Value - was.Offset.Value
	for _, c := range k.Corrections {
		moved += 2 * c.Turn
	}
	u := math.Hypot(was.Offset.Expanded(), is.Offset.Expanded())
	if math.IsNaN(moved) || !(math.Abs(moved) > u) {
		return ""
	}
	way := readings.AgainstRotor
	if moved < 0 {
		way = readings.WithRotor
	}
	return "changed, not recorded: the constant error moved by " + quantity.Signed(moved, 1) + "° ± " +
		quantity.Degrees(u, 1) + " of the crank beyond what was recorded, as a turn of the housing by " +
		quantity.Degrees(math.Abs(moved)/2, 1) + " " + way + " would move it"
}

func (k Case) shown() string {
	if k.Proof.Was == nil && len(k.Corrections) == 0 {
		return "as found: nothing was changed since"
	}
	return largest(k.Proof.Worst, k.Proof.Tolerance) + "; " + constant(k.Proof.Is)
}

// against lists the contrary evidence.
func (k Case) against() string {
	var out []string
	for _, state := range []verdict.State{verdict.Broken, verdict.AtOdds} {
		for _, c := range k.Judged.Clauses.In(state) {
			out = append(out, c.ID.Title()+" "+string(state)+": "+strings.TrimPrefix(c.Because, c.ID.Title()+": "))
		}
	}
	for _, r := range k.Recordings {
		if r.Against {
			out = append(out, "recording "+r.Name+": "+r.Says)
		}
	}
	for _, n := range aside(k.Proof.Is) {
		if n <= len(k.After) {
			r := k.After[n-1]
			out = append(out, fmt.Sprintf("reading %d, %s at %s, was not used", n,
				quantity.Signed(float64(r.TimingError()), 2)+"°", quantity.RPM(r.Speed)))
		}
	}
	if m := k.Proof.Check; m != nil && !m.Agrees {
		line := "the check by simulation differs from the budget by " + figureOf(m.Difference, 3) + "°, where two " +
			"digits of U allow " + figureOf(m.Delta, 3) + "° (JCGM 101, clause 8)"
		if m.SameVerdict {
			line += ", to the same verdict"
		} else {
			line += ", and by it the verdict would be another"
		}
		out = append(out, line)
	}
	for _, o := range k.Overrides {
		out = append(out, "«"+o.Step+"» was passed with a reason")
	}
	switch {
	case len(out) == 0:
		return "nothing in this job"
	case len(out) > 5:
		out = append(out[:4:4], fmt.Sprintf("and %d more, further on", len(out)-4))
	}
	return strings.Join(out, "; ")
}

// aside are the readings that do not count: those that do not fit, and those that were asked back.
func aside(r *readings.Result) []int {
	out := slices.Clone(r.Outliers)
	for _, d := range r.Asked {
		if !d.Counts && !slices.Contains(out, d.Row) {
			out = append(out, d.Row)
		}
	}
	slices.Sort(out)
	return out
}

func (k Case) notClaimed() string {
	titles := k.Judged.Clauses.Titles(verdict.NotClaimed)
	out := "this is a calculation from what was read and recorded, not a certificate of road or emission law"
	if len(titles) > 0 {
		return "nothing is claimed of: " + strings.Join(titles, ", ") + "; " + out
	}
	if open := k.Judged.Clauses.Titles(verdict.Open); len(open) > 0 {
		return "what is open above: " + strings.Join(open, ", ") + "; " + out
	}
	return out
}

func (k Case) openSteps() string {
	switch {
	case !k.Ordered:
		return "no order of work was kept with this paper"
	case len(k.OpenSteps) == 0:
		return "none: the order of work is done"
	case len(k.OpenSteps) > 9:
		return strings.Join(k.OpenSteps[:8], "; ") + fmt.Sprintf("; and %d more", len(k.OpenSteps)-8)
	}
	return strings.Join(k.OpenSteps, "; ")
}

// read says on which wires the light was read, at which speeds, and where the line is only carried on.
func (k Case) read() string {
	var wires []string
	seen := map[int]bool{}
	for _, r := range k.After {
		if n := r.Cylinder(); !seen[n] {
			seen[n] = true
		}
	}
	for n := 1; n <= k.Card.Engine.Cylinders; n++ {
		if seen[n] {
			wires = append(wires, strconv.Itoa(n))
		}
	}
	out := "the light on the wire of cylinder " + strings.Join(wires, ", ")
	if len(wires) > 1 {
		out = "the light on the wires of cylinders " + strings.Join(wires, ", ")
	}
	from, to := span(k.Proof.Is, k.After)
	if from > to {
		return out + "; no reading counts"
	}
	if len(k.Readers) > 0 {
		out += ", by " + strings.Join(k.Readers[:min(len(k.Readers), 4)], ", ")
	}
	out += ", from " + quantity.Number(from, 0) + " to " + rpmWords(to)
	var beyond []string
	if from > k.Proof.Idle {
		beyond = append(beyond, "down to idle, "+rpmWords(k.Proof.Idle))
	}
	if to < k.Proof.Redline {
		beyond = append(beyond, "up to the redline, "+rpmWords(k.Proof.Redline))
	}
	if len(beyond) > 0 {
		out += "; beyond, " + strings.Join(beyond, " and ") + ", the line is carried on and dashed"
	}
	return out
}

// span is the lowest and the highest speed of the readings that a line goes through.
func span(res *readings.Result, rows []readings.Row) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	off := aside(res)
	for i, r := range rows {
		if !slices.Contains(off, i+1) && !slices.Contains(res.CrankingRows, i+1) {
			from, to = math.Min(from, float64(r.Speed)), math.Max(to, float64(r.Speed))
		}
	}
	return from, to
}

// recordings lists the recordings of the job, each with what it shows.
func (f *flow) recordings(list []Recorded) {
	if len(list) == 0 {
		return
	}
	f.heading("Recordings, and what each shows")
	var rows [][]string
	for _, r := range list {
		rows = append(rows, []string{r.Name, r.When, r.Says})
	}
	f.table([]column{{"recording", 1.6, left}, {"when", 1.3, left}, {"shows", 5, left}}, rows)
}

// instruments lists what the job was measured with.
func (f *flow) instruments(list []Instrument) {
	if len(list) == 0 {
		return
	}
	f.heading("Instruments used")
	var rows [][]string
	for _, i := range list {
		rows = append(rows, []string{i.Kind, i.Name, i.Number, i.Checked, i.Uncertainty, i.Known})
	}
	f.table([]column{{"instrument", 1.4, left}, {"name", 1.6, left}, {"own number", 1, left},
		{"last checked", 1, left}, {"its uncertainty", 1.3, left}, {"known by", 1.7, left}}, rows)
}

// errors sets the main figures: the error over the speed range before and after, to four digits.
func (f *flow) errors(k Case) {
	was := map[float64]readings.ErrorAt{}
	if k.Proof.Was != nil {
		for _, e := range k.Proof.Was.ErrorAt {
			was[e.RPM] = e
		}
	}
	before, after := k.sides()
	cols := []column{{"rpm", 1, figure}}
	if len(was) > 0 {
		cols = append(cols, column{"error " + before + ", °", 1.2, figure}, column{"U, °", 1, figure})
	}
	cols = append(cols, column{"error " + after + ", °", 1.2, figure}, column{"U, °", 1, figure})
	var rows [][]string
	for _, e := range k.Proof.Is.ErrorAt {
		row := []string{quantity.Number(e.RPM, 0)}
		if len(was) > 0 {
			b, ok := was[e.RPM]
			if !ok {
				b = readings.ErrorAt{Value: math.NaN(), U: math.NaN()}
			}
			row = append(row, fourDigits(b.Value), fourDigits(b.U))
		}
		rows = append(rows, append(row, fourDigits(e.Value), fourDigits(e.U)))
	}
	if len(rows) == 0 {
		return
	}
	f.close = true
	f.headingOf("Error over the speed range", min(12+f.rowHeight()*float64(len(rows)), mostTogether))
	f.table(cols, rows)
	f.close = false
	f.y -= gap
	f.text("Early is positive. U: 95 %. Four digits; job.json, in this file, has all figures with all their digits.",
		drawing.Note.Sized(2.5))
	f.y += gap
}

// fourDigits prints four significant digits.
func fourDigits(v float64) string {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "not known"
	case v == 0:
		return "0"
	}
	places := 3 - int(math.Floor(math.Log10(math.Abs(v))))
	return quantity.Number(v, min(max(places, 0), 6))
}
