package shelf

import (
	"regexp"
	"slices"
	"strings"

	"phasewright/procedure"
	"phasewright/sheet"
	"phasewright/verdict"
	"phasewright/web/page"
)

// Next is the one line at the top of a job's pages: what to do now.
func (j *Job) Next() *page.Next {
	n := j.next()
	say := strings.TrimSuffix(n.Say, ":")
	j.told.Store(&say)
	if j.Card != nil && n.Link != "" {
		n.Full = j.Path("/do")
	}
	return n
}

func (j *Job) next() *page.Next {
	to := func(say, path, word string) *page.Next { return &page.Next{Say: say, Link: j.Path(path), Word: word} }
	switch {
	case j.CardVersion == 0:
		return to("Write down what is known of the engine:", "/card", "fill in the job card")
	case j.Card == nil:
		return to("The job card holds "+page.Count(len(j.Mistakes), "mistake")+":", "/card", "correct the job card")
	case j.Signed != nil:
		say := "The proof is signed by " + j.Signed.Name + ". "
		if p, state, err := j.Order(); err == nil && p.Next(state).Finished {
			return &page.Next{Say: say + "Keep the record with the engine."}
		}
		return &page.Next{Say: say + "Unlock the timing, and keep the record with the engine."}
	}
	if len(j.Readings) == 0 && len(j.Captures) == 0 {
		if sh, err := j.Sheet(); err == nil && sh.Count(sheet.Stop) > 0 {
			return to("The set-up sheet holds "+page.Count(sh.Count(sheet.Stop), "stop")+
				". Settle that before a spanner is lifted:", "/sheet", "read the sheet")
		}
	}
	says, err := j.Judge()
	if err != nil {
		return &page.Next{Say: err.Error()}
	}
	switch path, word := WhereTo(says); {
	case says.Word == verdict.Pass:
		return shortened(to(page.Sentence(says.Next), "/proof", "To the proof"))
	case says.About == "":
		if n := j.nextStep(); n != nil {
			return n
		}
		fallthrough
	default:
		n := shortened(to(page.Sentence(says.Next), path, word))
		if c := clauseOf(says); says.Cure == nil && c != nil && c.Minutes > 0 {
			n.Say = strings.TrimSuffix(n.Say, ".") + ", " + page.Count(c.Minutes, "minute") + "."
		}
		return n
	}
}

// clauseOf is the open clause that a judgement's next look is for; nil where there is none.
func clauseOf(says *verdict.Judgement) *verdict.Clause {
	if c := says.Clauses.Get(says.About); c.State == verdict.Open {
		return c
	}
	return nil
}

// kept is what an advice must not fold away: what is moved, and that nothing is.
var kept = []string{"do not turn", "Do not turn", "no turn of the housing", "urn the housing ",
	"et the delay allowance", "aise the delay allowance", "ower the delay allowance"}

// shortened leaves the first sentence of what is next, what is moved and what must not be, on its line; all of it
// stands in Why.
func shortened(n *page.Next) *page.Next {
	all := sentences(n.Say)
	keep := all[:1]
	for _, s := range all[1:] {
		if slices.ContainsFunc(kept, func(part string) bool { return strings.Contains(s, part) }) {
			keep = append(keep, s)
		}
	}
	if len(keep) < len(all) {
		n.Say, n.Why = page.Sentence(strings.Join(keep, " ")), n.Say
	}
	return n
}

// between is where a sentence ends and the next begins; "No. 1" is none.
var between = regexp.MustCompile(`\. [A-Z]`)

func sentences(text string) []string {
	var all []string
	for at := between.FindStringIndex(text); at != nil; at = between.FindStringIndex(text) {
		all, text = append(all, text[:at[0]+1]), text[at[1]-1:]
	}
	return append(all, text)
}

// Standing is Next below how the whole statement stands, for the pages that lead with it.
func (j *Job) Standing() *page.Next {
	n := j.Next()
	if j.Card == nil {
		return n
	}
	if says, err := j.Judge(); err == nil {
		n.Stands, n.Mark = says.Headline(), string(says.Word)
	}
	return n
}

// ways are the pages on which a clause is shown, where nothing speaks for it yet, with the link's words.
var ways = map[verdict.ID][2]string{
	verdict.ZeroMark: {"/steps", "Order of work"}, verdict.Locked: {"/steps", "Order of work"},
	verdict.Timing: {"/readings", "Enter readings"}, verdict.EveryCylinder: {"/readings", "Enter readings"},
	verdict.RightCylinder: {"/steps", "Order of work"}, verdict.FirstCrank: {"/steps", "Order of work"},
	verdict.Signals: {"/captures", "Captures"}, verdict.Spark: {"/captures", "Captures"},
	verdict.Held: {"/steps", "Order of work"},
}

// WhereTo is the page for what a judgement says is next, with the link's words.
func WhereTo(says *verdict.Judgement) (path, word string) {
	to, known := ways[says.About]
	if !known {
		return "/steps", "Order of work"
	}
	if says.Cure == nil && says.Clauses.Get(says.About).By == verdict.ByRecording {
		return "/captures", "Captures"
	}
	return to[0], to[1]
}

// ShownAt is the page that shows why a clause stands as it does.
func ShownAt(c verdict.Clause) string {
	switch c.By {
	case verdict.ByCard:
		return "/card"
	case verdict.ByOrder:
		return "/steps"
	case verdict.BySeen:
		return "/suspects"
	case verdict.ByLight:
		return "/readings"
	case verdict.ByRecording:
		return "/captures"
	case verdict.BySheet:
		return "/sheet"
	}
	return ways[c.ID][0]
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
