package job

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/verdict"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type readingsBody struct {
	NoCard   string // why there is no fit
	Form     readingForm
	CanWrite bool
	With     string // what the job is measured with

	Ask       askLine
	Chart     *page.Plate
	Finding   string // the chart in words
	Legend    string
	Figures   []page.Line
	Verdict   readings.Verdict
	Likely, U string   // beside the verdict: what it comes to, and how well it is known
	Heard     string   // what a screen reader is told after each reading
	More      []string // advice beside the line at the top
	Warnings  []string
	Rows      []readingLine
	Earlier   []readingLine // before the last correction
	Asked     []askedLine   // rows that wait for an answer
	Wires     bool          // there is more than one to read
	Cylinders []wireLine    // those read, where they are several
	Table     []errorLine   // the twin of the chart
	Pending   bool
	Fix       *correctionForm
	Done      []correctionLine
	Begun     bool         // the job is worked by the order of work here
	Looks     []shelf.Look // of the step that a reading at the speed asked for belongs to
	Others    []shelf.Look // of the steps that one at another speed belongs to
	FixLooks  []shelf.Look // of the corrections
}

// askLine is the one line that says what to do now: the speed to read at and the one after it, or what comes first.
type askLine struct {
	RPM, Then       string // "" where none is asked for
	Say, Link, Word string // "" where a reading is next
}

type readingLine struct {
	N                           int
	ID, RPM, Shown, Locked, Err string
	Note, State, By             string
	Version                     book.Version // of its event
	Aside, Stands               bool         // drawn back; not withdrawn
}

type askedLine struct {
	Version          book.Version
	Says, RPM, Shown string
}

type wireLine struct {
	Wire, Readings                int
	Offset, U, Worst, WorstU, RPM string
}

type errorLine struct {
	Wire          int // 0 where one alone was read
	RPM, Value, U string
}

type correctionLine struct{ What, By string }

func (r *Room) readingsPage(q *page.Request, j *shelf.Job) error {
	return r.showReadings(q, j, 0, readingForm{}, nil)
}

// showReadings shows the readings with the form for another, and with the form of a correction where one is due or was
// refused.
func (r *Room) showReadings(q *page.Request, j *shelf.Job, status int, form readingForm, fix *correctionForm) error {
	b := readingsBody{Form: form, CanWrite: q.By.CanWork(), With: calledOf(j)}
	if b.Form.Key == "" {
		b.Form.Key = page.NewKey()
	}
	if j.Card == nil {
		b.NoCard = "The readings need a job card that can be used: " +
			"idle, redline, tolerance and delay allowance come from it."
	} else if err := r.fillReadings(&b, j, fix); err != nil {
		return err
	}
	if j.Card != nil && fix != nil {
		b.Fix = fix
	}
	p := j.Page("readings", "readings", "Readings", b)
	p.Status = status
	if j.Card == nil {
		p.Next = j.Next()
	}
	return q.Render(p)
}

// asks fills in what is next, by the judge and the order of work, with the looks that the order wants for a reading and
// for a correction.
func (b *readingsBody) asks(j *shelf.Job, res *readings.Result, fix *correctionForm) error {
	says, err := j.Judge()
	if err != nil {
		return err
	}
	now, then, reads := speedsAsked(j, res)
	if p, state, err := j.Order(); err == nil && state.Begun() {
		b.Begun = true
		b.orderLooks(p, now, fix)
	}
	if now > 0 {
		b.Ask.RPM = page.Figure(now, 0)
	}
	if then > 0 && then != now {
		b.Ask.Then = page.Figure(then, 0)
	}
	if reads || says.About == verdict.Timing && says.Cure == nil && says.Verdict == readings.ReadMore {
		return nil
	}
	next := j.Next()
	b.Ask.Say = page.Whole(next.Say)
	switch {
	case says.Cure != nil && b.Fix != nil:
		b.Ask.Say = page.Whole("Engine stopped: " + correction(res) + ".")
		fallthrough
	case b.Fix != nil:
		b.Ask.Link, b.Ask.Word = "#fix", "Then say so"
	case next.Link != j.Path("/readings"):
		b.Ask.Link, b.Ask.Word = next.Link, next.Word
	}
	return nil
}

// speedsAsked are the speed to read at and the one after it, rpm, 0 where none is known: by the order of work where its
// next step is a reading (byOrder), else by the fit, and idle before any reading.
func speedsAsked(j *shelf.Job, res *readings.Result) (now, then float64, byOrder bool) {
	if p, state, err := j.Order(); err == nil && state.Begun() {
		do := p.Next(state)
		if step, ok := p.Step(do.Step); ok && do.Act == procedure.Do {
			if now, then = speedsOf(p, state, step, j.Card); now > 0 {
				return now, then, true
			}
		}
	}
	if now, then = res.Next, res.Then(readings.FromCard(j.Card)); now == 0 && len(j.Readings) == 0 {
		now = float64(j.Card.Engine.IdleSpeed)
	}
	return now, then, false
}

// speedsOf are the speeds, rpm, that a step of the order wants read now and after it; 0 where it wants no reading.
func speedsOf(p *procedure.Procedure, state procedure.State, step procedure.Step, card *jobcard.Card) (now,
	then float64) {
	band := p.Speed(state, step.ID)
	rungs := step.Demand.Rungs
	switch step.ID {
	case procedure.StepBase:
		return float64(card.Engine.CrankingSpeed), float64(card.Engine.IdleSpeed)
	case procedure.StepIdle:
		if high, ok := p.Step(procedure.StepRange); ok && len(high.Demand.Rungs) > 0 {
			then = high.Demand.Rungs[0].RPM
		}
		return float64(card.Engine.IdleSpeed), then
	}
	if i := slices.IndexFunc(rungs, func(r procedure.Rung) bool { return band.Has(r.RPM) }); i >= 0 {
		if now = rungs[i].RPM; i+1 < len(rungs) {
			then = rungs[i+1].RPM
		}
	}
	return now, then
}

// orderLooks fills in what the order of work wants looked at for a reading at a speed, and for a correction.
func (b *readingsBody) orderLooks(p *procedure.Procedure, rpm float64, fix *correctionForm) {
	of := func(ticked []string, steps ...procedure.StepID) (list []shelf.Look) {
		for _, id := range steps {
			st, _ := p.Step(id)
			list = shelf.AddLooks(list, st, ticked)
		}
		return list
	}
	at, _ := p.StepOf(rpm)
	b.Looks = of(b.Form.Seen, at)
	b.Others = of(b.Form.Seen, at, procedure.StepIdle, procedure.StepRange)[len(b.Looks):]
	var ticked []string
	if fix != nil {
		ticked = fix.Seen
	}
	b.FixLooks = of(ticked, procedure.StepHousing, procedure.StepAllowance)
}

// fillReadings puts the readings and their fit into words and figures.
func (r *Room) fillReadings(b *readingsBody, j *shelf.Job, fix *correctionForm) error {
	res, err := j.Fit()
	if err != nil {
		return err
	}
	if b.Chart, err = r.drawingsOf(j).fit(); err != nil {
		return err
	}
	if b.Form.Locked == "" && len(b.Form.Wrong) == 0 {
		b.Form.Locked = lockedBefore(j)
	}
	b.Finding = page.Whole(page.Sentence(res.Finding()))
	b.Legend = "Line: fit. Band: 95 %. Dotted: tolerance ± " + page.Figure(res.Tolerance, -1) + "°."
	if res.From > 0 {
		b.Legend += " Rings: read before the last correction."
	}
	b.Verdict, b.Pending = res.Verdict, j.Pending()
	if res.Verdict == readings.Adjust && !b.Pending {
		b.Fix = proposed(res.Result)
	}
	b.Likely, b.U = comesTo(res.Result)
	if err := b.asks(j, res.Result, fix); err != nil {
		return err
	}
	more := append([]string{res.Brief}, res.Advice...)
	if _, _, byOrder := speedsAsked(j, res.Result); byOrder { // the order says what to read, not the fit
		more = more[:1]
	}
	for _, s := range more {
		s = page.Whole(page.Sentence(s))
		if s != b.Ask.Say && s != "Read at "+b.Ask.RPM+" rpm." && !slices.Contains(b.More, s) {
			b.More = append(b.More, s)
		}
	}
	b.Warnings = page.WholeAll(res.Warnings)
	b.Figures, b.Table = fitFigures(res.Result), errorTable(res.Result)
	b.Wires, b.Cylinders = j.Card.Engine.Cylinders > 1, wireTable(res.Result)
	asked := map[int]readings.Doubt{}
	for _, d := range res.Asked {
		if !d.Counts {
			asked[d.Row] = d
		}
	}
	b.Warnings = slices.DeleteFunc(b.Warnings, func(s string) bool { // the page asks for the answer itself
		return slices.ContainsFunc(res.Asked, func(d readings.Doubt) bool {
			return !d.Counts && d.CanBe() && b.CanWrite &&
				strings.HasPrefix(s, "row "+strconv.Itoa(d.Row)+" is not counted")
		})
	})
	n := 0
	for i, one := range j.Readings {
		if i >= res.From && one.Counts() {
			n++
		}
		l := r.readingLine(j, res, i, n)
		late := r.CameLate(j, one.Origin)
		if late != "" && one.Counts() && one.Origin.Arrived == j.Configuration() {
			b.Warnings = append(b.Warnings, l.RPM+" rpm, "+l.Shown+"°: "+late+
				". It counts with the readings of then, under the housing and allowance of then.")
		}
		if d, waits := asked[l.N]; waits && l.N > 0 {
			l.Aside, l.State = true, page.Joined("; ", l.State, "not counted: "+d.Because)
			if d.CanBe() {
				says := "row " + strconv.Itoa(l.N) + ": " + d.Because + "; if it is a slip, withdraw it; " + d.Remedy
				b.Asked = append(b.Asked, askedLine{l.Version, page.Sentence(says), l.RPM, l.Shown})
			}
		}
		l.State = page.Joined("; ", l.State, late)
		if i < res.From {
			b.Earlier = append(b.Earlier, l)
		} else {
			b.Rows = append(b.Rows, l)
		}
		b.Heard = l.heard()
	}
	b.Heard = page.Joined(" ", b.Heard, b.said())
	told := r.Teller(j)
	for _, e := range j.Events {
		if e.Kind == book.KindCorrectionMade {
			b.Done = append(b.Done, correctionLine{told(e), e.Who + ", " + r.When(e.At)})
		}
	}
	return nil
}

// lockedBefore is the advance at which the timing was locked for the last reading, or is to be by the card.
func lockedBefore(j *shelf.Job) string {
	if all := j.Counting(); len(all) > 0 {
		return page.Figure(all[len(all)-1].Locked, -1)
	}
	if locked, given := j.Card.Controller.Advance.Locked.Get(); given {
		return page.Figure(float64(locked), -1)
	}
	return ""
}

// readingLine is one reading; n is its number in the fit, where it has one.
func (r *Room) readingLine(j *shelf.Job, res *record.Fitted, i, n int) readingLine {
	one := j.Readings[i]
	l := readingLine{ID: one.ID, Version: one.Version, RPM: page.Figure(one.RPM, 0), Shown: page.Figure(one.Shown, 1),
		Locked: page.Figure(one.Locked, 1), Err: page.Signed(one.Shown-one.Locked, 1),
		Note: one.Note, By: one.Who + ", " + r.When(one.At), Stands: one.Withdrawn == "", Aside: true}
	if one.Wire > 1 {
		l.Note = page.Joined("; ", "wire "+strconv.Itoa(one.Wire), l.Note)
	}
	switch {
	case !l.Stands:
		l.State = "withdrawn: " + one.Withdrawn
	case one.Impossible != "":
		l.State = "does not count, because it is impossible: " + one.Impossible + ". Withdraw it"
	case i < res.From:
		l.State = "before the correction"
	default:
		l.N = n
		if l.Aside = slices.Contains(res.Outliers, n); l.Aside {
			l.State = "Does not fit. Not used. Read " + l.RPM + " rpm again."
		} else if slices.Contains(res.CrankingRows, n) {
			l.State = "on the starter"
		}
	}
	return l
}

// heard is a reading as a screen reader is told of it.
func (l readingLine) heard() string {
	out := l.RPM + " rpm shows " + l.Shown + "°"
	if l.N > 0 {
		out = "Reading " + strconv.Itoa(l.N) + ": " + out
	}
	return page.Joined(". ", out, strings.TrimSuffix(l.State, ".")) + "."
}

// said is the verdict and what is next, as a screen reader is told.
func (b *readingsBody) said() string {
	word := string(b.Verdict)
	if b.Pending {
		word = "corrected: read again"
	}
	next := b.Ask.Say
	if next == "" {
		next = "Read at " + b.Ask.RPM + " rpm."
	}
	return page.Sentence(page.Joined(", ", word, b.Likely, b.U)) + " " + next
}

// correction is what to turn and to set, in one line.
func correction(res *readings.Result) string {
	var turn, set string
	if res.Housing.Direction != readings.Leave {
		turn = "turn the housing " + page.Degrees(res.Housing.TurnDeg) + " " + res.Housing.Direction
	}
	if res.Allowance.Changes() {
		set = res.Allowance.Do("allowance")
	}
	return page.Joined(", ", turn, set)
}

// comesTo is what the readings come to in a few figures, and how well the worst error is known: the cure where one is
// advised, else the worst error.
func comesTo(res *readings.Result) (likely, u string) {
	if w := res.Worst; !math.IsNaN(w.Value) {
		likely = page.Signed(w.Value, 1) + "° at " + page.Figure(w.RPM, 0) + " rpm"
		if !math.IsInf(w.U, 1) {
			u = "U " + page.Figure(w.U, 1) + "°"
		}
	}
	var cure []string
	if res.Housing.Direction != readings.Leave {
		cure = append(cure, page.Degrees(res.Housing.TurnDeg))
	}
	if res.Allowance.Changes() {
		to := res.Allowance.Set
		if math.IsNaN(float64(to)) {
			cure = append(cure, page.Signed(res.Allowance.Change, -1)+" µs")
		} else {
			cure = append(cure, page.Figure(float64(to), -1)+" µs")
		}
	}
	if len(cure) > 0 {
		likely = strings.Join(cure, ", ")
	}
	return likely, u
}

// fitFigures are the figures of a fit, what is not known yet among them.
func fitFigures(res *readings.Result) []page.Line {
	line := func(name string, i readings.Interval, places int, unit string) page.Line {
		if !i.Known() {
			return page.Line{Name: name, Value: "not known yet"}
		}
		return page.Line{Name: name, Value: page.Signed(i.Value, places) + unit,
			U: page.PlusMinus(i.Expanded(), places, unit)}
	}
	out := []page.Line{line("housing, constant", res.Offset, 1, "°"), line("delay left over", res.Delay, 0, " µs"),
		{Name: "allowance: now → set", Value: res.Allowance.String()}}
	if res.Housing.Direction != readings.Leave {
		turn := page.Degrees(res.Housing.TurnDeg) + " " + res.Housing.Direction
		out = append(out, page.Line{Name: "turn the housing", Value: turn})
	}
	if v := float64(res.ResidualSD); !math.IsNaN(v) {
		out = append(out, page.Line{Name: "scatter of one reading", Value: page.Figure(v, 2) + "°"})
	}
	if w := res.Worst; !math.IsNaN(w.Value) {
		out = append(out, page.Line{Name: "worst, at " + page.Figure(w.RPM, 0) + " rpm",
			Value: page.Signed(w.Value, 1) + "°", U: page.PlusMinus(w.U, 1, "°")})
	}
	return out
}

// wireTable is how the cylinders that were read stand, where they are several.
func wireTable(res *readings.Result) []wireLine {
	if len(res.Wires) < 2 {
		return nil
	}
	var out []wireLine
	for i, w := range res.Wires {
		c := res.Cylinders[i]
		out = append(out, wireLine{w.Cylinder, c.Readings, page.Signed(c.Offset.Value, 2),
			page.PlusMinus(c.Offset.Expanded(), 2, ""), page.Signed(w.Worst.Value, 2),
			page.PlusMinus(w.Worst.U, 2, ""), page.Figure(w.Worst.RPM, 0)})
	}
	return out
}

// errorTable is the twin of the chart.
func errorTable(res *readings.Result) []errorLine {
	var out []errorLine
	for _, w := range res.Wires {
		wire := w.Cylinder
		if len(res.Wires) == 1 {
			wire = 0
		}
		for _, e := range w.ErrorAt {
			out = append(out, errorLine{wire, page.Figure(e.RPM, 0), page.Signed(e.Value, 2),
				page.PlusMinus(e.U, 2, "")})
		}
	}
	return out
}
