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
	Query   string // of the paper for the same input
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
		b.NoCard = "The test leads follow from the job card, once that can be used."
	} else {
		written := writtenInput(q)
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
		b.RestsOn, b.Query = leads.RestsOn(list, in), q.URL.RawQuery
	}
	p := j.Page("leads", "test leads for a recorder", "Test leads for a recorder", b)
	p.Status = status
	return q.Render(p)
}

// leadsPDF is the page on paper, for the input in the query; one that cannot be is answered by the page.
func (r *Room) leadsPDF(q *page.Request, j *shelf.Job) error {
	in, _, err := leads.SoundCard().With(writtenInput(q))
	if err != nil {
		return r.leadsPage(q, j)
	}
	paper, err := j.LeadsPaper(in, q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("leads.pdf"))
}

// writtenInput is what the query says of the input.
func writtenInput(q *page.Request) map[string]string {
	written := map[string]string{}
	for _, s := range leads.Settings() {
		written[s.Name] = q.URL.Query().Get(s.Name)
	}
	return written
}

// whyWrong says what is the matter with a figure, and what is accepted.
func whyWrong(err error) string {
	var bad *quantity.Invalid
	if errors.As(err, &bad) {
		return page.Joined("; ", bad.Found, bad.Remedy)
	}
	return err.Error()
}
