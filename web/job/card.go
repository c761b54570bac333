package job

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type cardBody struct {
	Sections []cardSection
	Text     string
	Saved    string // by whom and when
	Version  book.Version
	Key      string
	Mistakes int
	Homeless []string
	Doubts   []jobcard.Doubt // of the saved card
	Theirs   string          // who saved meanwhile
	Remarks  bool            // the text holds remarks that the form cannot keep
	AsText   bool
	ReadOnly bool
}

// cardPage shows the card as a form, of a job without one with what is known of the job filled in.
func (r *Room) cardPage(q *page.Request, j *shelf.Job) error {
	b := cardBody{Text: j.YAML, Version: j.Version}
	if b.Text == "" {
		b.Text = cardText(map[string]string{"job.name": j.Name, "job.owner": j.Owner, "job.shop": j.Shop})
	}
	return r.showCard(q, j, 0, b, cardValues(b.Text), j.Mistakes)
}

// cardTextPage shows the card as YAML.
func (r *Room) cardTextPage(q *page.Request, j *shelf.Job) error {
	return r.showCard(q, j, 0, cardBody{AsText: true, Text: j.YAML, Version: j.Version}, nil, j.Mistakes)
}

func (r *Room) showCard(q *page.Request, j *shelf.Job, status int, b cardBody, values map[string]string,
	mistakes jobcard.Errors) error {
	b.Key, b.ReadOnly, b.Mistakes = page.NewKey(), !q.By.CanWork(), len(mistakes)
	if j.Card != nil && status == 0 {
		b.Doubts = j.Card.Doubts()
	}
	if j.CardVersion > 0 {
		b.Saved = j.CardBy + ", " + r.When(j.CardAt)
	}
	b.Remarks = strings.Contains(j.YAML, "#")
	if b.AsText {
		for _, e := range mistakes {
			b.Homeless = append(b.Homeless, e.Error())
		}
	} else {
		b.Sections, b.Homeless = cardForm(values, mistakes), homeless(mistakes)
		asked := q.URL.Query().Get("open") // by a link to one of its fields
		for i := range b.Sections {
			b.Sections[i].Open = b.Sections[i].Open || b.Sections[i].Name == asked
		}
	}
	p := j.Page("card", "job card", "Job card", b)
	p.Live, p.Status, p.Next = false, status, cardNext(j, b)
	return q.Render(p)
}

func cardNext(j *shelf.Job, b cardBody) *page.Next {
	switch {
	case b.Theirs != "":
		return &page.Next{Say: b.Theirs + " saved this card while you wrote. Yours is still here: save it over " +
			"theirs, or load the page again to drop it."}
	case b.Mistakes == 1:
		return &page.Next{Say: "One thing in the card cannot be used yet: correct it and save."}
	case b.Mistakes > 1:
		return &page.Next{Say: strconv.Itoa(b.Mistakes) +
			" things in the card cannot be used yet: correct them and save."}
	case j.CardVersion == 0:
		return &page.Next{Say: "Fill in what you know of the engine. " +
			"Write units with the figures: 98 mm, 4200 rpm, 60 deg."}
	}
	return &page.Next{Say: "The card can be used.", Link: j.Path("/sheet"), Word: "Read the set-up sheet"}
}

// cardPost saves the card from either form. A card with mistakes is saved only when asked for by the button that says
// so.
func (r *Room) cardPost(q *page.Request, j *shelf.Job) error {
	b := cardBody{AsText: q.PostForm.Has("yaml"), Version: versionOf(q)}
	values := map[string]string{}
	if b.AsText {
		b.Text = strings.ReplaceAll(q.PostForm.Get("yaml"), "\r\n", "\n")
	} else {
		values = formValues(q.PostForm)
		b.Text = cardText(values)
	}
	_, mistakes := record.ParseCard(b.Text)
	if len(mistakes) > 0 && q.PostForm.Get("as") != "unfinished" {
		return r.showCard(q, j, http.StatusUnprocessableEntity, b, values, mistakes)
	}
	draft, err := draftCard(q, q.PostForm.Get("key"), b.Text)
	if err != nil {
		return err
	}
	_, err = r.Book.Append(q.Context(), j.ID, b.Version, draft)
	var conflict *book.Conflict
	if errors.As(err, &conflict) {
		if b.Theirs = savedMeanwhile(conflict); b.Theirs == "" { // the card is as it was seen
			_, err = r.Book.Append(q.Context(), j.ID, conflict.Have, draft)
		}
	}
	if errors.As(err, &conflict) {
		if b.Theirs == "" {
			b.Theirs = "Somebody else"
		}
		b.Version = conflict.Have
		if j, err = r.Job(q.Context(), j.ID); err != nil {
			return err
		}
		return r.showCard(q, j, http.StatusConflict, b, values, mistakes)
	}
	switch {
	case err != nil:
		return err
	case len(mistakes) > 0:
		return q.Done(j.Path("/card"))
	}
	return q.Done(j.Path("/sheet"))
}

// savedMeanwhile is who saved the card in between; "" where others only added readings and the like.
func savedMeanwhile(c *book.Conflict) string {
	theirs := ""
	for _, e := range c.Since {
		if e.Kind == book.KindCardSaved {
			theirs = e.Who
		}
	}
	if theirs == "" && len(c.Since) >= book.MaxSince { // not all of them are listed
		return "Somebody else"
	}
	return theirs
}

// draftCard is the event that saves a card.
func draftCard(q *page.Request, key, text string) (book.Draft, error) {
	return shelf.Draft(q, book.KindCardSaved, key, map[string]string{"yaml": text})
}

// versionOf is the version of the job that the form's page showed. What is none gives nought, which is taken for a page
// that is out of date.
func versionOf(q *page.Request) book.Version {
	v, _ := strconv.ParseInt(q.PostForm.Get("version"), 10, 64)
	return book.Version(v)
}

// formValues picks the card's fields out of a form.
func formValues(form url.Values) map[string]string {
	values := map[string]string{}
	for name := range form {
		if path, ok := strings.CutPrefix(name, formPrefix); ok {
			values[path] = form.Get(name)
		}
	}
	return values
}
