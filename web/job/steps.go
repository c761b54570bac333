package job

import (
	"cmp"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/verdict"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type stepsBody struct {
	NoCard   string
	CanWrite bool
	Version  int64

	Step      procedure.Step
	Plate     *page.Plate // what the step looks like on this engine
	Details   []detail    // further drawings, folded
	Picture   string      // address of the photo that proves it
	N, Of     int
	Done      int
	Mark      string // how it stands, as a shape
	Stands    string // how it stands, in words
	Why       string
	Locks     []shelf.Lock
	Branches  []branchLine
	Unsafe    []string // what stands unsafe, by an override or a changed card
	Overrides []string
	Form      stepForm
	Back      string // the step before
	Forward   string // the step after
	Next      string // the step that opens this one, else the one to do now, where this is another
	NextTitle string
	List      []stepLine
	Log       []page.LogLine // newest first
	Older     []page.LogLine
	Lost      []string // events that cannot be read
	Files     []fileLine
	Ask       string
	NoName    string // what is the matter with the name
	Accepts   string
	CanBack   bool // it can be taken back
	CanDo     bool
	CanOver   bool // a lock stands that may be overridden
	Paired    bool // another device is paired: an override takes a second person
	Looks     []shelf.Look
	Now       bool // it is the step to do now
}

type branchLine struct{ If, Why, Do, Go, Title string }

type stepLine struct{ Title, Mark, Word, Go, Part string }

type fileLine struct{ Name, SHA string }

// order is a job's order of work as it stands, and the step that a page shows.
type order struct {
	*procedure.Procedure
	job   *shelf.Job
	state procedure.State
	now   procedure.Now
	steps []procedure.Step
	stand []procedure.Standing // of each step
	at    int                  // the step shown
}

func orderOf(j *shelf.Job) (*order, error) {
	p, state, err := j.Order()
	if err != nil {
		return nil, err
	}
	return &order{Procedure: p, job: j, state: state, now: p.Next(state), steps: p.Steps(),
		stand: p.Standing(state)}, nil
}

// look chooses the step to show; "" is the one to do now, or the last where the whole job is done.
func (o *order) look(id procedure.StepID) error {
	asked := id != ""
	if !asked {
		id = o.now.Step
	}
	for i := range o.steps {
		if o.steps[i].ID == id {
			o.at = i
			return nil
		}
	}
	if asked || !o.now.Finished {
		return errNoStep
	}
	o.at = len(o.steps) - 1
	return nil
}

var errNoStep = page.Say(http.StatusNotFound, "This engine has no such step.",
	"Open the order of work and choose one from the list.")

func (o *order) step() procedure.Step { return o.steps[o.at] }

func (o *order) title(id procedure.StepID) string {
	st, _ := o.Step(id)
	return st.Title
}

// path is the address of a step.
func (o *order) path(id procedure.StepID) string { return o.job.StepPath(id) }

// next is the line at the top: what to do now.
func (o *order) next() *page.Next {
	if o.now.Finished {
		return &page.Next{Say: "The whole order of work is done. Keep the record with the engine."}
	}
	n := &page.Next{Say: o.title(o.now.Step)}
	if o.now.Act == procedure.TakeBack {
		n.Say = "Take «" + n.Say + "» back"
	}
	n.Say = page.Joined(": ", n.Say, o.now.Why) + "."
	n.Full = o.job.Path("/do?step=" + url.QueryEscape(string(o.now.Step)))
	if o.step().ID != o.now.Step {
		n.Link, n.Word = o.job.Path("/steps"), "go to it"
	}
	return n
}

// outranked says whether something is to be settled before the next step of the order of work: the judge found it, by
// more than the order itself knows.
func outranked(j *shelf.Job) bool {
	says, err := j.Judge()
	if err != nil || j.Signed != nil || says.About == "" {
		return false
	}
	settles := says.Verdict == readings.Pass || says.Verdict == readings.ReadMore
	return !settles && says.Clauses.Get(says.About).By != verdict.ByOrder
}

// stepsPage shows one step: the next one, or the one that the address names.
func (r *Room) stepsPage(q *page.Request, j *shelf.Job) error {
	ask := q.URL.Query()
	return r.showStep(q, j, 0, procedure.StepID(ask.Get("step")), stepForm{SHA: ask.Get("file")})
}

func (r *Room) showStep(q *page.Request, j *shelf.Job, status int, id procedure.StepID, form stepForm) error {
	b := stepsBody{CanWrite: q.By.CanWork(), Paired: q.By.Paired, Form: form}
	next := j.Next
	if j.Card == nil {
		b.NoCard = "The order of work needs a job card that can be used: " +
			"every step and every number in it comes from there."
	} else {
		o, err := orderOf(j)
		if err != nil {
			return err
		}
		if err := o.look(id); err != nil {
			return err
		}
		if err := r.fillFiles(q, &b, o); err != nil {
			return err
		}
		b.fillForm(o, q.Name())
		r.fillStep(&b, o)
		r.fillList(&b, o)
		if !outranked(j) {
			next = o.next
		}
	}
	p := j.Page("steps", "order of work", "Order of work", b)
	p.Status, p.Next = status, next()
	return q.Render(p)
}

// fillFiles finds the photo that the form names, and lists the recordings that would be taken as evidence of the step.
func (r *Room) fillFiles(q *page.Request, b *stepsBody, o *order) error {
	kinds := o.step().Demand.Kinds
	byRecording := slices.Contains(kinds, procedure.Capture)
	if !byRecording && (b.Form.SHA == "" || kinds[0] != procedure.Photo) {
		b.Form.SHA = ""
		return nil
	}
	files, err := r.Book.Attachments(q.Context(), o.job.ID)
	if err != nil {
		return err
	}
	for _, f := range files {
		name := f.Name
		if byRecording {
			if o.job.Captures[f.SHA256] == nil {
				continue
			}
			rec, err := o.job.Recording(f.SHA256, r.Clock())
			if err != nil {
				return err
			}
			if !rec.Takes || rec.Step.ID != o.step().ID {
				continue
			}
			name += ": " + recordingShows(rec.Shown.Value, rec.Shown.U, rec.Shown.RPM)
			b.Files = append(b.Files, fileLine{name, f.SHA256.String()})
		}
		if f.SHA256.String() == b.Form.SHA {
			b.Form.File = name
		}
	}
	if b.Form.File == "" {
		b.Form.SHA = ""
	}
	return nil
}

// recordingShows says what a recording shows in one line; u is 95 %.
func recordingShows(shown, u, rpm float64) string {
	return page.Degrees(shown) + " " + page.PlusMinus(u, 1, "°") + " at " + page.Figure(rpm, 0) + " rpm"
}

// stepMarks are the shapes of the standings: the open circle done, the filled bar locked, the hatched square to be done
// again.
var stepMarks = map[procedure.Mark]string{procedure.Done: "fine", procedure.Redo: "caution", procedure.Blocked: "stop"}

// fillStep says how the step stands, what locks it and where it leads.
func (r *Room) fillStep(b *stepsBody, o *order) {
	st, done := o.step(), o.state.Steps[o.at]
	b.Version, b.Step, b.Now = o.state.Version, st, st.ID == o.now.Step
	b.CanBack, b.Lost = done.Done, o.state.Unread
	b.Plate, b.Details = r.stepPlates(o)
	b.Picture = pictureOf(o.job, done.Proof)
	stands := o.stand[o.at]
	b.Mark, b.Stands, b.Why = stepMarks[stands.Mark], string(stands.Mark), page.Whole(stands.Why)
	if done.Done {
		b.Why = page.Joined(": ", "by "+done.Who+", "+r.When(done.At), proofWords(done.Proof, st.Demand))
		if done.Overridden {
			b.Why += "; against a rule"
			b.Mark = "caution"
		}
	}
	if stands.Mark == procedure.IfNeeded {
		b.Why = "" // the mark says it
	}
	b.Locks = o.job.Locks(o.Procedure, stands.Locks)
	b.CanDo = len(stands.Locks) == 0 && stands.Mark != procedure.NotDue &&
		(!done.Done || st.Again || !o.Stands(o.state, o.at))
	if done.Done && b.CanDo {
		again := procedure.Request{Act: procedure.Do, Step: st.ID, Who: "?", Seen: o.state.Version}
		b.CanDo = len(o.Decide(o.state, again).Refused) <= 1 // else not to be repeated as the plant stands
	}
	never := func(f procedure.Refusal) bool { return f.Never }
	b.CanOver = len(stands.Locks)+len(b.Form.Refused) > 0 && !st.Demand.Never &&
		!slices.ContainsFunc(stands.Locks, never)
	for _, br := range st.Branches {
		l := branchLine{If: page.Whole(br.If), Why: page.Whole(br.Why), Do: page.Whole(br.Do)}
		if br.Go != st.ID {
			l.Go, l.Title = o.path(br.Go), o.title(br.Go)
		}
		b.Branches = append(b.Branches, l)
	}
	for _, rule := range o.Broken(o.state) {
		b.Unsafe = append(b.Unsafe, rule.Reason)
	}
	for i, one := range o.stand {
		switch {
		case one.Hidden:
		case i < o.at:
			b.Back = o.path(one.Step)
		case i > o.at && b.Forward == "":
			b.Forward = o.path(one.Step)
		}
	}
	if o.now.Step != "" && !b.Now {
		b.Next, b.NextTitle = o.path(o.now.Step), o.title(o.now.Step)
		if st.OnDemand && len(b.Locks) > 0 && b.Locks[0].Go != "" { // what opens it comes first
			b.Next, b.NextTitle = b.Locks[0].Go, b.Locks[0].Title
		}
	}
}

// detail is a further drawing of a step, under its own words.
type detail struct {
	Title string
	Plate *page.Plate
}

// stepPlates is what the step looks like on this engine, and what it is looked up in: the lamp where a pickup's level
// is looked at, the rotor over its terminal, the proof as it stands. Where one cannot be drawn the sheet's page says
// why; the step's figures stand in words as well.
func (r *Room) stepPlates(o *order) (plate *page.Plate, more []detail) {
	draws := r.drawingsOf(o.job)
	plate = draws.step(o.step())
	sheet, err := draws.sheet()
	if err != nil {
		return plate, nil
	}
	add := func(title string, p *page.Plate) {
		if p != nil {
			more = append(more, detail{title, p})
		}
	}
	switch o.step().ID {
	case procedure.StepPower, procedure.StepPhase, procedure.StepCam:
		add("How the lamp is wired", sheet.lamp)
	case procedure.StepClose:
		add("Rotor tip over its terminal", sheet.rotor)
	case procedure.StepProve:
		if proof, err := draws.proof(); err == nil {
			add("The proof as it stands", proof)
		}
	}
	return plate, more
}

// fillList lists all steps, the locks that were overridden, and who did what.
func (r *Room) fillList(b *stepsBody, o *order) {
	part := ""
	for i, one := range o.stand {
		if !o.steps[i].OnDemand { // what is done only where it is asked for is no part of the count
			b.Of++
			if i <= o.at {
				b.N++
			}
			if one.Mark == procedure.Done {
				b.Done++
			}
		}
		if one.Hidden && i != o.at {
			continue // nothing asks for it
		}
		l := stepLine{Title: o.steps[i].Title, Mark: stepMarks[one.Mark], Word: string(one.Mark), Go: o.path(one.Step)}
		if o.steps[i].Part != part {
			part = o.steps[i].Part
			l.Part = part
		}
		if one.Overridden {
			l.Mark, l.Word = "caution", "done against a rule"
		}
		b.List = append(b.List, l)
	}
	for i := len(o.state.Overrides) - 1; i >= 0; i-- {
		over := o.state.Overrides[i]
		line := over.Title + ": overridden by " + over.Names() + ", " + r.When(over.At) + ": " + over.Reason
		if over.Mended {
			line += " (shown properly since)"
		}
		b.Overrides = append(b.Overrides, line)
	}
	for i := len(o.state.Log) - 1; i >= 0; i-- {
		e := o.state.Log[i]
		what := page.Joined("; ", o.told(e), r.CameLateAt(o.job, book.Version(e.Version)))
		b.Log = append(b.Log, page.LogLine{At: r.When(e.At), Who: e.Who, What: what})
	}
	b.Log, b.Older = fold(b.Log)
}

// told says an entry of the log.
func (o *order) told(e procedure.Entry) string {
	what := o.title(e.Step)
	if e.Proof != nil && e.Proof.RPM != nil {
		what += ": " + proofWords(e.Proof, procedure.Demand{})
	}
	switch e.Act {
	case procedure.TakeBack:
		what = "taken back: " + what + ": " + e.Reason
	case procedure.Tried:
		what = "tried and failed: " + what
	case procedure.Break, procedure.History:
		what = page.Joined(": ", e.Title, e.Reason)
	case procedure.Override:
		what = "RULE OVERRIDDEN: " + what + ": " + e.Reason
	}
	if len(e.Expired) > 0 {
		var again []string
		for _, x := range e.Expired {
			again = append(again, x.Title)
		}
		what += ". To be done again: " + strings.Join(again, ", ")
	}
	return what
}

// fillForm says what the form asks for, and puts in what is known already: figures from the proof and the fit, which
// whoever does the step sees.
func (b *stepsBody) fillForm(o *order, who string) {
	f, d := &b.Form, o.step().Demand
	f.Key, f.Who, f.OverWho = cmp.Or(f.Key, page.NewKey()), cmp.Or(f.Who, who), cmp.Or(f.OverWho, who)
	b.Ask = string(d.Kinds[0])
	if d.Possible.Set() && !d.AsSet && d.Limits() {
		b.Accepts = "wants " + span(d.Passes) + " " + d.Unit
		if strings.HasPrefix(d.Unit, "°") {
			b.Accepts = "wants " + span(d.Passes) + d.Unit
		}
	}
	if speed := o.Speed(o.state, o.step().ID); speed.Set() {
		at := "at " + page.Figure(speed.From, 0) + " to " + page.Figure(speed.To, 0) + " rpm"
		b.Accepts = page.Joined(", ", b.Accepts, at)
	}
	if f.At == "done" && f.Who == "" && len(f.Refused) > 0 {
		b.NoName = "write the name of whoever does this step"
	}
	b.Looks = shelf.AddLooks(nil, o.step(), f.Seen)
	if f.Value != "" || len(o.job.Counting()) == 0 {
		return
	}
	switch o.step().ID {
	case procedure.StepProve:
		if proof, err := o.job.Proof(); err == nil {
			if most := math.Abs(proof.Worst.Value) + proof.Worst.U; !math.IsInf(most, 0) && !math.IsNaN(most) {
				f.Value = page.Figure(most, 2)
			}
		}
	case procedure.StepAllowance:
		if res, err := o.job.Fit(); err == nil {
			f.Value = page.Figure(float64(res.Allowance.Set), -1)
		}
	}
}

func span(b procedure.Band) string {
	if b.From == b.To {
		return page.Figure(b.From, -1)
	}
	return page.Figure(b.From, 1) + " to " + page.Figure(b.To, 1)
}

// proofWords says a proof in one line.
func proofWords(f *procedure.Proof, d procedure.Demand) string {
	switch {
	case f == nil:
		return ""
	case f.Kind == procedure.Capture && f.RPM != nil && f.Value != nil && f.U != nil:
		return "recording shows " + recordingShows(*f.Value, 2**f.U, *f.RPM)
	case f.RPM != nil && f.Value != nil:
		said := "light shows " + page.Degrees(*f.Value) + " at " + page.Figure(*f.RPM, 0) + " rpm"
		if f.Wire > 0 {
			said += " on the wire of cylinder " + strconv.Itoa(f.Wire)
		}
		return said
	case f.Value != nil:
		return page.Figure(*f.Value, -1) + " " + d.Unit
	case f.SHA256 != "":
		return strings.TrimSpace(string(f.Kind) + " kept with the job. " + f.Text)
	}
	return f.Text
}
