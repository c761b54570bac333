package job

import (
	"errors"
	"net/http"

	"phasewright/leads"
	"phasewright/quantity"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type leadsBody struct {
	NoCard  string
	Minds   []string
	Asked   []leadAsked
	Leads   []leadLines
	RestsOn []string
}

// leadAsked is a figure of the input on the form.
type leadAsked struct{ Name, Words, Example, Value, Wrong string }

// leadLines is one lead as the page shows it.
type leadLines struct {
	ID, Title, Kind string
	Fails           bool
	Lines           []leads.Line
}

// leadsPage shows what stands between the engine's signals and a recorder. The input's figures stand in the query and
// are recorded nowhere.
func (r *Room) leadsPage(q *page.Request, j *shelf.Job) error {
	b := leadsBody{Minds: leads.Minds()}
	status := 0
	if j.Card == nil {
		b.NoCard = "The leads follow from the job card, once that can be used."
	} else {
		written := map[string]string{}
		for _, s := range leads.Settings() {
			written[s.Name] = q.URL.Query().Get(s.Name)
		}
		in, wrong, err := leads.SoundCard().With(written)
		if err != nil {
			status = http.StatusUnprocessableEntity
		}
		for _, s := range leads.Settings() {
			a := leadAsked{Name: s.Name, Words: s.Words, Example: s.Example, Value: written[s.Name]}
			if s.Name == wrong {
				a.Wrong = whyWrong(err)
			}
			b.Asked = append(b.Asked, a)
		}
		list, err := leads.Make(j.Card, in)
		if err != nil {
			return err
		}
		for _, l := range list {
			one := leadLines{ID: l.ID, Title: l.Title, Kind: l.Kind, Fails: l.Fails != ""}
			for _, x := range l.Lines(in) {
				one.Lines = append(one.Lines, leads.Line{Name: x.Name, Text: page.Whole(x.Text)})
			}
			b.Leads = append(b.Leads, one)
		}
		b.RestsOn = leads.RestsOn(list, in)
	}
	p := j.Page("leads", "leads for a recorder", "Leads for a recorder", b)
	p.Status = status
	return q.Render(p)
}

// whyWrong says what is the matter with a figure, and what is accepted.
func whyWrong(err error) string {
	var bad *quantity.Invalid
	if errors.As(err, &bad) {
		return page.Joined("; ", bad.Found, bad.Remedy)
	}
	return err.Error()
}
