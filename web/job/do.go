package job

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"phasewright/drawing"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/verdict"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// doBody is one thing to do, to be read from two metres.
type doBody struct {
	Huge   string // the number; "" where there is none
	Size   string // how large the number can be: "", "long", "longer"
	Way    string // the movement in words
	Hazard string
	Plate  *page.Plate
	Then   []doLine     // the figures beside it, in order
	Words  []string     // the whole in plain sentences, which are read aloud as well
	Link   string       // where it is recorded
	Word   string       // of the link
	Locks  []shelf.Lock // the first that stands against it
}

// doLine is a figure, large, and what it is of.
type doLine struct{ Big, Small string }

// doPage shows the one thing to do: the step that the address names, else what is next for the job.
func (r *Room) doPage(q *page.Request, j *shelf.Job) error {
	b, err := r.doing(j, procedure.StepID(q.URL.Query().Get("step")))
	if err != nil {
		return err
	}
	b.Size = sizeOf(b.Huge)
	p := j.Page("do", "do this", "Do this", b)
	p.Title = j.Name + ", do this: " + page.Joined(" ", b.Huge, b.Way)
	return q.Render(p)
}

// sizeOf says how large a number can be set so that it stays on one line of a phone.
func sizeOf(huge string) string {
	switch n := len([]rune(huge)); {
	case n <= 5:
		return ""
	case n <= 9:
		return "long"
	}
	return "longer"
}

// doing is what to do as the judge or the order of work says it: no figure is worked out here.
func (r *Room) doing(j *shelf.Job, id procedure.StepID) (*doBody, error) {
	next := j.Next()
	if j.Card == nil {
		if id != "" {
			return nil, errNoStep
		}
		return plainly(next), nil
	}
	o, err := orderOf(j)
	if err != nil {
		return nil, err
	}
	if id != "" {
		if err := o.look(id); err != nil {
			return nil, err
		}
		return r.doStep(o), nil
	}
	if next.Link == j.Path("/steps") && o.state.Begun() || next.Link == j.Path("/steps") && !judgeAsks(j) {
		if o.now.Finished {
			return plainly(next), nil
		}
		if err := o.look(o.now.Step); err != nil {
			return nil, err
		}
		return r.doStep(o), nil
	}
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	switch {
	case next.Link == j.Path("/sheet") || j.Signed != nil || says.Word == verdict.Pass:
		return plainly(next), nil
	case says.Cure != nil:
		return r.doCure(j, says), nil
	case next.Link == j.Path("/readings") && says.ReadAt > 0:
		return r.doReading(j, says), nil
	}
	b := plainly(next)
	if step, known := shownBy[says.About]; known {
		if st, ok := o.Step(step); ok {
			b.Plate = r.drawingsOf(j).step(st)
		}
	}
	return b, nil
}

// judgeAsks says whether the judge asks for something of one clause.
func judgeAsks(j *shelf.Job) bool {
	says, err := j.Judge()
	return err == nil && says.About != ""
}

// shownBy are the steps that show a clause, where the order of work is not begun.
var shownBy = map[verdict.ID]procedure.StepID{
	verdict.ZeroMark: procedure.StepZero, verdict.Locked: procedure.StepIdle, verdict.Timing: procedure.StepRange,
	verdict.EveryCylinder: procedure.StepOther, verdict.RightCylinder: procedure.StepWires,
	verdict.FirstCrank: procedure.StepBase, verdict.Held: procedure.StepClamp, verdict.Spark: procedure.StepSettings,
	verdict.Signals: procedure.StepPower,
}

// plainly is the next line alone, large.
func plainly(n *page.Next) *doBody {
	say := strings.TrimSuffix(page.Whole(n.Say), ":")
	return &doBody{Way: say, Words: []string{page.Sentence(say)}, Link: n.Link, Word: page.Sentence(n.Word)}
}

// doCure is the correction that the judge advises: the turn of the housing, the new allowance, then a reading.
func (r *Room) doCure(j *shelf.Job, says *verdict.Judgement) *doBody {
	b := &doBody{Link: j.Path("/readings#fix"), Word: "It is done",
		Hazard: "Engine stopped, all dead by meter."}
	h, a := says.Cure.Housing, says.Cure.Allowance
	b.Words = append(b.Words, "Stop the engine.", "Make the ignition dead, by meter, before a hand goes to it.")
	turns := h.Direction != readings.Leave && h.TurnDeg > 0
	if turns {
		way := j.Card.Distributor.Rotation
		if h.Direction == readings.AgainstRotor {
			way = way.Opposite()
		}
		b.Huge = page.Degrees(h.TurnDeg)
		b.Way = "housing, " + h.Direction
		b.Words = append(b.Words, "Turn the housing "+b.Huge+" "+h.Direction+".",
			"Seen from above, that is "+way.String()+".", "Go no further.")
		b.Plate = housingPlate(j, h)
	}
	if a.Changes() {
		set := page.Whole(a.String())
		b.Words = append(b.Words, page.Sentence(page.Whole(a.Do("delay allowance"))), "Power off and on.",
			"Read it back.")
		if turns {
			b.Then = append(b.Then, doLine{set, "delay allowance; power off and on, read it back"})
		} else {
			b.Huge, b.Way = set, "delay allowance"
			b.Then = append(b.Then, doLine{"power off and on", "then read it back"})
			if st, err := stepOf(j, procedure.StepAllowance); err == nil {
				b.Plate = r.drawingsOf(j).step(st)
			}
		}
	}
	then, read := "then read again", "Then read the light again."
	if says.ReadAt > 0 && !math.IsNaN(says.ReadAt) {
		at := page.Figure(says.ReadAt, 0) + " rpm"
		then, read = "then read at "+at, "Then read the light at "+at+"."
	}
	b.Then = append(b.Then, doLine{"clamp tight", then})
	b.Words = append(b.Words, "Tighten the clamp.", read)
	return b
}

// doReading is the speed at which the light is read next.
func (r *Room) doReading(j *shelf.Job, says *verdict.Judgement) *doBody {
	at := page.Figure(says.ReadAt, 0)
	b := &doBody{Huge: at + " rpm", Way: "read the light here", Link: j.Path("/readings"), Word: "It is done",
		Hazard: "Wires and sleeves clear. A strobe makes a fan look still: hands away.",
		Words:  []string{page.Sentence(page.Whole(says.Next)), "Hold " + at + " rpm steady.", "Read the damper."}}
	locked, given := j.Card.Controller.Advance.Locked.Get()
	if given {
		b.Then = append(b.Then, doLine{quantity.Degrees(locked, 1), "before TDC, locked: every correction off"})
	}
	if sh, err := j.Sheet(); err == nil {
		b.Plate, _ = page.Draw("do", func(width float64, prefix string) (*drawing.Drawing, error) {
			return report.LightAt(j.Card, sh, float64(locked), width, prefix)
		})
	}
	return b
}

func stepOf(j *shelf.Job, id procedure.StepID) (procedure.Step, error) {
	p, _, err := j.Order()
	if err != nil {
		return procedure.Step{}, err
	}
	st, ok := p.Step(id)
	if !ok {
		return st, errNoStep
	}
	return st, nil
}

// housingPlate is the housing from above and the way that it is turned.
func housingPlate(j *shelf.Job, h readings.Housing) *page.Plate {
	sh, err := j.Sheet()
	if err != nil {
		return nil
	}
	plate, _ := page.Draw("do", func(width float64, prefix string) (*drawing.Drawing, error) {
		return report.HousingTurned(j.Card, sh, h, width, prefix)
	})
	return plate
}

// mainFigure names the figure of a step that is set huge: the one that the hand works to.
var mainFigure = map[procedure.StepID]string{
	procedure.StepZero: "marks apart along the rim, about", procedure.StepFit: "gap on the card",
	procedure.StepDrop: "turns as it drops", procedure.StepSettings: "trigger lead",
	procedure.StepPhase: "lamp or logic state", procedure.StepCam: "on compression",
	procedure.StepClose: "plug gap", procedure.StepBase: "light must show", procedure.StepIdle: "locked",
	procedure.StepRange: "locked", procedure.StepOther: "locked", procedure.StepProve: "tolerance",
	procedure.StepAllowance: "allowance on the card", procedure.StepHousing: "housing can turn",
	procedure.StepUnitOut: "the crank stays at",
}

// longestFigure is how many characters of a figure are set large; longer ones are words.
const longestFigure = 26

// doStep is a step of the order of work.
func (r *Room) doStep(o *order) *doBody {
	st := o.step()
	b := &doBody{Way: page.Whole(st.Title), Hazard: page.Whole(st.Hazard), Plate: r.drawingsOf(o.job).step(st),
		Link: o.path(st.ID) + "#step", Word: "It is done"}
	switch st.ID { // these stand on the sheet, not among the step's figures
	case procedure.StepMarks, procedure.StepLead:
		if sh, err := o.job.Sheet(); err == nil && len(sh.Marks) > 0 {
			lead := sh.Marks[0]
			b.Huge = quantity.Degrees(lead.AngleDeg, 1)
			if st.ID == procedure.StepMarks {
				b.Huge = o.job.Card.Job.Units.Tool(quantity.Length(lead.ArcMM), 1)
			}
		}
	}
	for _, f := range st.Show {
		value, small := page.Whole(f.Value), f.Name
		switch {
		case f.Name == mainFigure[st.ID]:
			b.Huge = value
		case len(b.Then) == mostBeside || strings.HasPrefix(f.Name, "lamp, ") && len([]rune(value)) > longestFigure:
		case len([]rune(value)) > longestFigure:
			b.Then = append(b.Then, doLine{small, value})
		default:
			b.Then = append(b.Then, doLine{value, small})
		}
	}
	if speed := o.Speed(o.state, st.ID); speed.Set() {
		at := page.Figure(speed.From, 0) + " to " + page.Figure(speed.To, 0) + " rpm"
		b.Then = slices.Insert(b.Then, 0, doLine{at, "hold it there"})
	}
	b.Words = append(b.Words, page.WholeAll(st.Do)...)
	if st.Expect != "" {
		b.Words = append(b.Words, "Look for: "+page.Whole(st.Expect)+".")
	}
	if st.ID == o.now.Step && o.now.Act == procedure.TakeBack {
		b.Way = "Take «" + b.Way + "» back"
		b.Then, b.Huge, b.Words = nil, "", []string{page.Sentence(page.Whole(cmp.Or(o.now.Why, b.Way)))}
	}
	if locks := o.stand[o.at].Locks; len(locks) > 0 {
		b.Locks, b.Word = o.job.Locks(o.Procedure, locks[:1]), "See all that is missing"
	}
	return b
}

// mostBeside is how many figures stand beside the huge one: more are read on the step's own page.
const mostBeside = 3
