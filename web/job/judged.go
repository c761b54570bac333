package job

import (
	"math"
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

	Shown, Broken, Open int
	Tolerance           string
}

// clauseLine is one of the nine clauses: how it stands, by what, and the page that shows it.
type clauseLine struct{ Title, State, Value, Because, Look, Path string }

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
		switch c.State {
		case verdict.Shown:
			b.Shown++
			l.Value = decided(c)
			l.Because = ""
		case verdict.Broken:
			b.Broken++
		case verdict.Open, verdict.AtOdds:
			b.Open++
		}
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
	b.Tolerance = page.PlusMinus(float64(j.Card.Tolerance), 1, "°")
	return b, nil
}

// decided is the figure by which a clause is shown; "" where none did.
func decided(c verdict.Clause) string {
	value, u := float64(c.Value), float64(c.U)
	if math.IsNaN(value) || math.IsInf(value, 0) || math.IsNaN(u) || math.IsInf(u, 0) {
		return ""
	}
	return page.Signed(value, 1) + "° " + page.PlusMinus(u, 1, "°")
}
