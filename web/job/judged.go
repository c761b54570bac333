package job

import (
	"strings"

	"phasewright/verdict"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// judgedBody is the judgement on a job as its pages show it.
type judgedBody struct {
	Word    string // on the whole statement
	First   string
	IfWrong string // of a cure that is advised
	Clauses []clauseLine
}

// clauseLine is one of the nine clauses: how it stands, by what, and the page that shows it.
type clauseLine struct{ Title, State, Because, Look, Path string }

// judged is the judgement on a job; nil without a card that can be used.
func judged(j *shelf.Job) (*judgedBody, error) {
	if j.Card == nil {
		return nil, nil
	}
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	b := &judgedBody{Word: string(says.Word), First: page.Whole(page.Sentence(says.First))}
	if says.Cure != nil {
		b.IfWrong = page.Whole(page.Sentence(says.Cure.IfWrong))
	}
	for _, c := range says.Clauses {
		l := clauseLine{Title: c.ID.Title(), State: string(c.State),
			Because: page.Whole(strings.TrimPrefix(c.Because, c.ID.Title()+": ")), // once beside the title is enough
			Path:    j.Path(shelf.ShownAt(c))}
		if c.State == verdict.Open || c.State == verdict.AtOdds {
			l.Look = page.Whole(c.WouldShow)
			if c.Minutes > 0 {
				l.Look += ", about " + page.Figure(float64(c.Minutes), 0) + " min"
			}
			l.Look = page.Sentence(l.Look)
			if !c.Touched() { // "open" says that already
				l.Because = ""
			}
		}
		b.Clauses = append(b.Clauses, l)
	}
	return b, nil
}
