package shelf

import (
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/web/page"
)

// Next is the one line at the top of a job's pages: what to do now.
func (j *Job) Next() *page.Next {
	to := func(say, path, word string) *page.Next { return &page.Next{Say: say, Link: j.Path(path), Word: word} }
	switch {
	case j.CardVersion == 0:
		return to("Write down what is known of the engine:", "/card", "fill in the job card")
	case j.Card == nil:
		return to("The job card holds "+page.Count(len(j.Mistakes), "mistake")+":", "/card", "correct the job card")
	case j.Signed != nil:
		return &page.Next{Say: "The proof is signed by " + j.Signed.Name +
			". Unlock the timing, and keep the record with the engine."}
	}
	if len(j.Readings) == 0 {
		if sh, err := j.Sheet(); err == nil && sh.Count(sheet.Stop) > 0 {
			return to("The set-up sheet holds "+page.Count(sh.Count(sheet.Stop), "stop")+
				". Settle that before a spanner is lifted:", "/sheet", "read the sheet")
		}
		if n := j.nextStep(); n != nil {
			return n
		}
	}
	res, err := j.Fit()
	switch {
	case err != nil:
		return &page.Next{Say: err.Error()}
	case j.Pending():
		return to("Correction recorded. Clamp tight, timing locked: read again at "+page.Figure(res.Next, 0)+
			" rpm, and at idle.", "/readings", "Enter readings")
	case res.Verdict == readings.Pass:
		return to(res.Brief, "/proof", "Sign the proof")
	case len(j.Readings) == 0:
		return to("Set up by the sheet. "+res.Brief, "/readings", "Enter readings")
	}
	return to(res.Brief, "/readings", "Enter readings") // the readings page says the rest
}

// nextStep is the step of the order of work to do now; nil where the job has no order of work or all of it is done.
func (j *Job) nextStep() *page.Next {
	p, state, err := j.Order()
	if err != nil {
		return nil
	}
	now := p.Next(state)
	step, ok := p.Step(now.Step)
	switch {
	case !ok:
		return nil
	case now.Act != procedure.Do:
		return &page.Next{Say: now.Why + ". First:", Link: j.Path("/steps"), Word: "take back " + step.Title}
	}
	return &page.Next{Say: step.Title + ".", Link: j.Path("/steps"), Word: "Order of work"}
}
