package web

import (
	"strconv"

	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/sheet"
)

// nextFor is the one line at the top of a job's pages: what to do now.
func (s *Server) nextFor(j *job) *next {
	to := func(path string) string { return "/job/" + j.ID + path }
	switch {
	case j.CardVersion == 0:
		return &next{Say: "Write down what is known of the engine:", Link: to("/card"), Word: "fill in the job card"}
	case j.Card == nil:
		return &next{Say: "The job card holds " + count(len(j.Mistakes), "mistake") + ":", Link: to("/card"), Word: "correct the job card"}
	case j.Signed != nil:
		return &next{Say: "The proof is signed by " + j.Signed.Name + ". Unlock the timing, and keep the record with the engine."}
	}
	if len(j.Readings) == 0 {
		if sh, err := j.Sheet(); err == nil && sh.Count(sheet.Stop) > 0 {
			return &next{Say: "The set-up sheet holds " + count(sh.Count(sheet.Stop), "stop") + ". Settle that before a spanner is lifted:", Link: to("/sheet"), Word: "read the sheet"}
		}
	}
	if n := s.nextStep(j); n != nil {
		return n
	}
	if j.Pending() {
		res, err := j.Fit()
		if err != nil {
			return &next{Say: err.Error()}
		}
		return &next{Say: "Correction recorded. Clamp tight, timing locked: read again at " + figure(res.Next, 0) + " rpm, and at idle.", Link: to("/readings"), Word: "Enter readings"}
	}
	res, err := j.Fit()
	if err != nil {
		return &next{Say: err.Error()}
	}
	if res.Verdict == readings.Pass {
		return &next{Say: res.Brief, Link: to("/proof"), Word: "Sign the proof"}
	}
	if len(j.Readings) == 0 {
		return &next{Say: "Set up by the sheet. " + res.Brief, Link: to("/readings"), Word: "Enter readings"}
	}
	return &next{Say: res.Brief, Link: to("/readings"), Word: "Enter readings"} // the readings page says the rest
}

// nextStep is the step of the order of work to do now, while the job is worked by it and the readings have not begun; nil otherwise.
func (s *Server) nextStep(j *job) *next {
	if len(j.Readings) > 0 {
		return nil
	}
	p, state, err := j.Order(s.Clock())
	if err != nil {
		return nil
	}
	now := p.Next(state)
	step, ok := p.Step(now.Step)
	if !ok {
		return nil
	}
	if now.Act != procedure.Do {
		return &next{Say: now.Why + ". First:", Link: "/job/" + j.ID + "/steps", Word: "take back " + step.Title}
	}
	return &next{Say: step.Title + ".", Link: "/job/" + j.ID + "/steps", Word: "Order of work"}
}

// ordered is the order of work on the job's front.
func (s *Server) ordered(j *job) jobLine {
	l := jobLine{Path: "/steps", Word: "Order of work", State: "follows from the sheet"}
	if j.Card == nil {
		return l
	}
	p, state, err := j.Order(s.Clock())
	if err != nil {
		return l
	}
	done := 0
	for _, one := range p.Standing(state) {
		if one.Mark == procedure.Done {
			done++
		}
	}
	l.State = strconv.Itoa(done) + " of " + strconv.Itoa(len(p.Steps())) + " steps done"
	switch {
	case len(state.Overrides) > 0:
		l.State, l.Mark = l.State+", "+count(len(state.Overrides), "lock")+" passed", "caution"
	case done > 0:
		l.Mark = "fine"
	}
	return l
}

// standing is how each view of the job stands, for its front.
func (s *Server) standing(j *job) []jobLine {
	card := jobLine{Path: "/card", Word: "Job card", State: "not written yet", Mark: ""}
	switch {
	case j.CardVersion > 0 && j.Card != nil:
		card.State, card.Mark = "saved by "+j.CardBy+", "+s.when(j.CardAt), "fine"
	case j.CardVersion > 0:
		card.State, card.Mark = count(len(j.Mistakes), "mistake")+" to correct", "stop"
	}
	plan := jobLine{Path: "/sheet", Word: "Set-up sheet", State: "follows from the card"}
	if j.Card != nil {
		if sh, err := j.Sheet(); err == nil {
			stop, caution := sh.Count(sheet.Stop), sh.Count(sheet.Caution)
			plan.State = strconv.Itoa(sh.Count(sheet.Fine)) + " fine, " + strconv.Itoa(caution) + " caution, " + strconv.Itoa(stop) + " stop"
			plan.Mark = string(sheet.Fine)
			if caution > 0 {
				plan.Mark = string(sheet.Caution)
			}
			if stop > 0 {
				plan.Mark = string(sheet.Stop)
			}
		}
	}
	taken := jobLine{Path: "/readings", Word: "Readings", State: "none yet"}
	proof := jobLine{Path: "/proof", Word: "Proof", State: "not signed yet"}
	if j.Card != nil && len(j.Readings) > 0 {
		if res, err := j.Fit(); err == nil {
			taken.State = count(len(j.Counting()), "reading") + ": " + string(res.Verdict)
			taken.Mark = string(res.Verdict)
		}
	}
	if j.Signed != nil {
		proof.State, proof.Mark = "signed by "+j.Signed.Name+", "+s.when(j.Signed.At)+": "+j.Signed.Verdict, j.Signed.Verdict
	}
	recorded := jobLine{Path: "/captures", Word: "Captures", State: "none yet"}
	if j.Attachments > 0 {
		recorded.State, recorded.Mark = count(j.Attachments, "file")+", "+strconv.Itoa(len(j.Captures))+" read", "fine"
	}
	return []jobLine{card, plan, s.ordered(j), taken, recorded, proof}
}

// suspectsNext says what to do with the page.
func suspectsNext(b *suspectsBody) *next {
	switch {
	case b.NoCard != "":
		return &next{Say: "Make the job card usable first:", Link: "/job/" + b.ID + "/card", Word: "job card"}
	case b.Wrong != "":
		return &next{Say: "Correct the evidence that is marked."}
	}
	return &next{Say: "Enter what was seen: the ranking follows. What to look at next stands below it."}
}
