package web

import (
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"phasewright/procedure"
)

// stepsRoutes are the addresses of the order of work.
func (s *Server) stepsRoutes() {
	s.handle("GET /job/{job}/steps", Look, s.onJob(s.stepsPage))
	s.handle("POST /job/{job}/steps", Work, s.onJob(s.stepsPost))
	s.handle("POST /job/{job}/steps/photo", Work, s.onJob(s.stepsPhoto))
	s.handle("GET /job/{job}/steps.pdf", Look, s.onJob(s.stepsPDF))
}

type stepsBody struct {
	NoCard   string
	CanWrite bool
	Version  int64

	Step      procedure.Step
	Plate     *plate // the drawing that this step is worked by, where there is one
	N, Of     int
	Done      int
	Here      string // address of this step
	Mark      string // how it stands, as a shape
	Stands    string // how it stands, in words
	Why       string
	Locks     []lockLine
	Branches  []branchLine
	Unsafe    []string // what stands unsafe, by an override or a changed card
	Overrides []string
	Form      stepForm
	Back      string // the step before
	Forward   string // the step after
	Next      string // the step to do now, where this is another one
	NextTitle string
	List      []stepLine
	Log       []recordLine // newest first
	Older     []recordLine
	Lost      []string // events that cannot be read
	Files     []fileLine
	Ask       string
	Accepts   string
	CanBack   bool // it can be taken back
	CanDo     bool
	Now       bool // it is the step to do now
}

type lockLine struct{ What, Do, Go, Title string }

type branchLine struct{ If, Why, Do, Go, Title string }

type stepLine struct{ Title, Mark, Word, Go, Part string }

type fileLine struct{ Name, SHA string }

// stepForm is what was typed, as it was typed.
type stepForm struct {
	Key, Who, Value, RPM, Text, SHA, File string
	Reason, OverWho, BackReason           string
	Refused                               []lockLine // why it was refused
	At                                    string     // which form was refused: done, override, back
}

// stepPlate is the drawing that a step is worked by: the damper where marks are made or brought to the pointer, the cap where wires go on.
func (j *job) stepPlate(step procedure.StepID) *plate {
	plates, err := j.drawn.plates()
	if err != nil {
		return nil // the sheet's page says why; the step's figures stand in words as well
	}
	switch step {
	case procedure.StepMarks, procedure.StepZero, procedure.StepLead:
		return plates.damper
	case procedure.StepOpen, procedure.StepWires:
		return plates.cap
	case procedure.StepClose:
		return plates.rotor
	}
	return nil
}

// stepsPage shows one step: the next one, or the one that the address names.
func (s *Server) stepsPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	return s.showStep(w, r, v, j, 0, procedure.StepID(r.URL.Query().Get("step")), stepForm{SHA: r.URL.Query().Get("file")})
}

func (s *Server) showStep(w http.ResponseWriter, r *http.Request, v *visit, j *job, status int, id procedure.StepID, form stepForm) error {
	page := page{View: "steps", Title: j.Name + ", order of work", Where: "Order of work", Job: j.head(), Live: true, Version: j.Version, Status: status}
	b := stepsBody{CanWrite: v.role >= Work, Form: form}
	if j.Card == nil {
		b.NoCard = "The order of work needs a job card that can be used: every step and every number in it comes from there."
		page.Next, page.Body = s.nextFor(j), b
		return s.render(w, r, v, page)
	}
	p, state, err := j.Order(s.Clock())
	if err != nil {
		return err
	}
	now := p.Next(state)
	if id == "" {
		id = now.Step
	}
	steps := p.Steps()
	at := len(steps) - 1 // the whole job is done: the last one
	for i := range steps {
		if steps[i].ID == id {
			at = i
		}
	}
	if _, known := p.Step(id); !known && !now.Finished {
		return say(http.StatusNotFound, "This engine has no such step.", "Open the order of work and choose one from the list.")
	}
	if form.SHA != "" || steps[at].Demand.Kinds[0] == procedure.Photo || len(steps[at].Demand.Kinds) > 1 {
		files, err := s.Book.Attachments(r.Context(), j.ID)
		if err != nil {
			return err
		}
		for _, f := range files {
			b.Files = append(b.Files, fileLine{f.Name, f.SHA256.String()})
			if f.SHA256.String() == form.SHA {
				b.Form.File = f.Name
			}
		}
		if b.Form.File == "" {
			b.Form.SHA = ""
		}
	}
	s.fillStep(&b, j, p, state, now, at, v)
	page.Next = stepNext(p, state, now, at, b.Here)
	page.Body = b
	return s.render(w, r, v, page)
}

// stepNext is the line at the top: what to do now.
func stepNext(p *procedure.Procedure, state procedure.State, now procedure.Now, at int, here string) *next {
	if now.Finished {
		return &next{Say: "The whole order of work is done. Keep the record with the engine."}
	}
	st, _ := p.Step(now.Step)
	n := &next{Say: st.Title + "."}
	if now.Act == procedure.TakeBack {
		n.Say = "Take «" + st.Title + "» back."
	}
	if now.Why != "" {
		n.Say = strings.TrimSuffix(n.Say, ".") + ": " + now.Why + "."
	}
	if p.Steps()[at].ID != now.Step {
		n.Link, n.Word = strings.SplitN(here, "?", 2)[0], "go to it"
	}
	return n
}

// marks are the shapes of the standings: the open circle done, the filled bar locked, the hatched square to be done again.
var stepMarks = map[procedure.Mark]string{procedure.Done: "fine", procedure.Redo: "caution", procedure.Blocked: "stop"}

func (s *Server) fillStep(b *stepsBody, j *job, p *procedure.Procedure, state procedure.State, now procedure.Now, at int, v *visit) {
	steps := p.Steps()
	to := func(id procedure.StepID) string { return "/job/" + j.ID + "/steps?step=" + url.QueryEscape(string(id)) }
	title := func(id procedure.StepID) string { st, _ := p.Step(id); return st.Title }
	st := steps[at]
	b.Now = st.ID == now.Step
	b.Version, b.Step, b.N, b.Of, b.Here = state.Version, st, at+1, len(steps), to(st.ID)
	if b.Form.Key == "" {
		b.Form.Key = s.newKey()
	}
	if b.Form.Who == "" {
		b.Form.Who = v.who
	}
	if b.Form.OverWho == "" {
		b.Form.OverWho = v.who
	}
	stands := p.StandingOf(state, at)
	b.Mark, b.Stands, b.Why = stepMarks[stands.Mark], string(stands.Mark), whole(stands.Why)
	rec := state.Steps[at]
	if rec.Done {
		b.Why = "by " + rec.Who + ", " + s.when(rec.At)
		if proof := proofWords(rec.Proof, st.Demand); proof != "" {
			b.Why += ": " + proof
		}
		if rec.Overridden {
			b.Why += "; against a lock"
			b.Mark = "caution"
		}
	}
	b.CanBack = rec.Done
	b.Plate = j.stepPlate(st.ID)
	b.Locks = lockLines(stands.Locks, to, title)
	b.CanDo = len(stands.Locks) == 0 && stands.Mark != procedure.NotDue && (!rec.Done || st.Again || !p.Stands(state, at))
	if rec.Done && b.CanDo {
		if o := p.Decide(state, procedure.Request{Act: procedure.Do, Step: st.ID, Who: "?", Seen: state.Version}); len(o.Refused) > 1 {
			b.CanDo = false // done, and not to be repeated as the plant stands
		}
	}
	for _, br := range st.Branches {
		l := branchLine{If: whole(br.If), Why: whole(br.Why), Do: whole(br.Do)}
		if br.Go != st.ID {
			l.Go, l.Title = to(br.Go), title(br.Go)
		}
		b.Branches = append(b.Branches, l)
	}
	for _, rule := range p.Broken(state) {
		b.Unsafe = append(b.Unsafe, rule.Reason)
	}
	for i := range state.Overrides {
		o := state.Overrides[len(state.Overrides)-1-i]
		line := o.Title + ": overridden by " + o.Who + ", " + s.when(o.At) + ": " + o.Reason
		if o.Mended {
			line += " (done properly since)"
		}
		b.Overrides = append(b.Overrides, line)
	}
	if at > 0 {
		b.Back = to(steps[at-1].ID)
	}
	if at+1 < len(steps) {
		b.Forward = to(steps[at+1].ID)
	}
	if now.Step != "" && now.Step != st.ID {
		b.Next, b.NextTitle = to(now.Step), title(now.Step)
	}
	part := ""
	for i, one := range p.Standing(state) {
		l := stepLine{Title: steps[i].Title, Mark: stepMarks[one.Mark], Word: string(one.Mark), Go: to(one.Step)}
		if steps[i].Part != part {
			part = steps[i].Part
			l.Part = part
		}
		if one.Overridden {
			l.Mark, l.Word = "caution", "done against a lock"
		}
		if one.Mark == procedure.Done {
			b.Done++
		}
		b.List = append(b.List, l)
	}
	for i := range state.Log {
		e := state.Log[len(state.Log)-1-i]
		line := recordLine{At: s.when(e.At), Who: e.Who, What: logWords(e, title)}
		if k := int(e.Version) - 1; k < len(j.Events) { // versions count from 1 without gaps
			line.What = joinedBy("; ", line.What, s.cameLate(j, j.Origin(j.Events[k])))
		}
		if i < unfolded {
			b.Log = append(b.Log, line)
		} else {
			b.Older = append(b.Older, line)
		}
	}
	b.Lost = state.Unread
	b.Ask = string(st.Demand.Kinds[0])
	d := st.Demand
	switch {
	case len(d.Options) > 0 || !d.Possible.Set():
	case !d.AsSet && d.Passes.Set() && strings.HasPrefix(d.Unit, "°"):
		b.Accepts = "wants " + span(d.Passes) + d.Unit
	case !d.AsSet && d.Passes.Set():
		b.Accepts = "wants " + span(d.Passes) + " " + d.Unit
	}
	if d.Speed.Set() {
		b.Accepts += ", at " + figure(d.Speed.From, 0) + " to " + figure(d.Speed.To, 0) + " rpm"
	}
	s.prefill(b, j, st.ID)
}

// prefill puts the figures in that the proof and the fit already know; they come from there, and whoever does the step sees them.
func (s *Server) prefill(b *stepsBody, j *job, id procedure.StepID) {
	if b.Form.Value != "" || len(j.Counting()) == 0 {
		return
	}
	switch id {
	case procedure.StepProve:
		if proof, err := j.Proof(); err == nil && !math.IsInf(proof.Worst.U, 0) && !math.IsNaN(proof.Worst.Value+proof.Worst.U) {
			b.Form.Value = figure(math.Abs(proof.Worst.Value)+proof.Worst.U, 2)
		}
	case procedure.StepAllowance:
		if res, err := j.Fit(); err == nil {
			b.Form.Value = figure(float64(res.Allowance.Set), -1)
		}
	}
}

func span(b procedure.Band) string {
	if b.From == b.To {
		return figure(b.From, -1)
	}
	return figure(b.From, 1) + " to " + figure(b.To, 1)
}

func lockLines(refused []procedure.Refusal, to, title func(procedure.StepID) string) []lockLine {
	var out []lockLine
	for _, f := range refused {
		l := lockLine{What: whole("wants " + f.Want + "; there is " + f.Have), Do: whole(f.Remedy)}
		if f.Kind == procedure.Unsafe {
			l.What = "unsafe: " + f.Have
		}
		if f.Go != "" && f.Go != f.Step {
			l.Go, l.Title = to(f.Go), title(f.Go)
		}
		out = append(out, l)
	}
	return out
}

// proofWords says a proof in one line.
func proofWords(f *procedure.Proof, d procedure.Demand) string {
	if f == nil {
		return ""
	}
	switch {
	case f.RPM != nil && f.Value != nil:
		return "light shows " + deg(*f.Value) + " at " + figure(*f.RPM, 0) + " rpm"
	case f.Value != nil:
		return figure(*f.Value, -1) + " " + d.Unit
	case f.SHA256 != "":
		return strings.TrimSpace(string(f.Kind) + " kept with the job. " + f.Text)
	}
	return f.Text
}

func logWords(e procedure.Entry, title func(procedure.StepID) string) string {
	what := title(e.Step)
	switch e.Act {
	case procedure.TakeBack:
		what = "taken back: " + what + ": " + e.Reason
	case procedure.Override:
		what = "LOCK OVERRIDDEN: " + what + ": " + e.Reason
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

func versionOf(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return -1 // stale, and that is shown
	}
	return n
}
