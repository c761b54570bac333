package job

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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
	cardPanels
	Text     string
	Saved    string // by whom and when
	Version  book.Version
	Key      string
	Mistakes int
	Homeless []string
	Doubts   []jobcard.Doubt // of the saved card
	Both     *bothCards      // somebody else saved meanwhile
	Learnt   *learntBody     // from the job whose card this one began with
	Remarks  bool            // the text holds remarks that the form cannot keep
	AsText   bool
	ReadOnly bool
}

// cardPage shows the card as a form, of a job without one with what is known of the job filled in.
func (r *Room) cardPage(q *page.Request, j *shelf.Job) error {
	b, a := cardBody{Text: j.YAML, Version: j.Version}, asked{mistakes: j.Mistakes}
	a.values = cardValues(b.Text)
	for field, now := range namesOf(j) {
		if now != "" {
			a.values[field] = now
		}
	}
	if b.Text == "" {
		a.values = map[string]string{"job.name": j.Name, "job.owner": j.Owner, "job.shop": j.Shop}
		unit, err := r.shopUnit(q.Context())
		if err != nil {
			return err
		}
		a.values["job.units"] = unit
	}
	return r.showCard(q, j, 0, b, a)
}

// recentCards is how many jobs are looked through for the unit that the shop works in.
const recentCards = 5

// shopUnit is the unit that the card worked on last names; "" where none does.
func (r *Room) shopUnit(ctx context.Context) (string, error) {
	found, err := r.Book.Jobs(ctx, book.Query{Limit: recentCards, Shelf: book.Both})
	if err != nil {
		return "", err
	}
	for _, line := range found.Jobs {
		j, err := r.Job(ctx, line.ID)
		if err != nil {
			return "", err
		}
		if j.Card != nil && j.Card.Job.Units != 0 {
			return j.Card.Job.Units.String(), nil
		}
	}
	return "", nil
}

// cardTextPage shows the card as YAML.
func (r *Room) cardTextPage(q *page.Request, j *shelf.Job) error {
	return r.showCard(q, j, 0, cardBody{AsText: true, Text: j.YAML, Version: j.Version}, asked{mistakes: j.Mistakes})
}

func (r *Room) showCard(q *page.Request, j *shelf.Job, status int, b cardBody, a asked) error {
	b.Key, b.ReadOnly, b.Mistakes = page.NewKey(), !q.By.CanWork(), len(a.mistakes)
	if j.Card != nil && status == 0 {
		b.Doubts = j.Card.Doubts()
	}
	if j.CardVersion > 0 {
		b.Saved = j.CardBy + ", " + r.When(j.CardAt)
	}
	b.Learnt = r.learnt(q, j)
	b.Remarks = strings.Contains(j.YAML, "#")
	if b.AsText {
		for _, e := range a.mistakes {
			b.Homeless = append(b.Homeless, e.Error())
		}
	} else {
		if b.Both != nil {
			a.leave = b.Both.clashes
		}
		b.cardPanels, b.Homeless = cardForm(a), homeless(a.mistakes)
		want := q.URL.Query().Get("open") // by a link to one of its fields
		for i := range b.Sections {
			s := &b.Sections[i]
			s.Open = s.Open || s.Name == want || alone[want] == s.Name
		}
	}
	title, next := "job card", cardNext(j, b)
	if status >= http.StatusBadRequest {
		title = "to correct, job card"
	}
	p := j.Page("card", title, "Job card", b)
	p.Live, p.Status, p.Next = false, status, next
	return q.Render(p)
}

func cardNext(j *shelf.Job, b cardBody) *page.Next {
	switch {
	case b.Both != nil:
		return b.Both.next()
	case b.Mistakes > 0 && b.Left == b.Mistakes, j.CardVersion == 0 && b.Left > 0 && b.Mistakes == 0:
		return &page.Next{Say: "Fill in what every card needs. The rest may stay as assumed."}
	case b.Mistakes == 1:
		return &page.Next{Say: "One thing in the card cannot be used yet: correct it and save."}
	case b.Mistakes > 1:
		return &page.Next{Say: strconv.Itoa(b.Mistakes) +
			" things in the card cannot be used yet: correct them and save."}
	case j.CardVersion == 0:
		return &page.Next{Say: "Look through the card and save it."}
	}
	return &page.Next{Say: "The card can be used.", Link: j.Path("/sheet"), Word: "Read the set-up sheet"}
}

// savesTried bounds how often a save is tried again while others record at the same moment.
const savesTried = 5

// cardPost saves the card from either form. A card with mistakes is saved only when asked for by the button that says
// so. What others saved meanwhile is merged in; where both changed the same field, somebody chooses.
func (r *Room) cardPost(q *page.Request, j *shelf.Job) error {
	b := cardBody{AsText: q.PostForm.Has("yaml"), Version: versionOf(q)}
	var a asked
	if b.AsText {
		b.Text = strings.ReplaceAll(q.PostForm.Get("yaml"), "\r\n", "\n")
	} else {
		a.values, a.units = formValues(q.PostForm)
		b.Text = cardText(a.values)
	}
	if left := unchosen(q.PostForm); len(left) > 0 {
		return r.chooseAgain(q, j, b, a, left)
	}
	key := q.PostForm.Get("key")
	for range savesTried {
		_, a.mistakes = record.ParseCard(b.Text)
		if len(a.mistakes) > 0 && q.PostForm.Get("as") != "unfinished" {
			return r.showCard(q, j, http.StatusUnprocessableEntity, b, a)
		}
		draft, err := draftCard(q, key, b.Text, "")
		if err != nil {
			return err
		}
		drafts := []book.Draft{draft}
		if names := renamed(j, b.Text); len(names) > 0 {
			described, err := shelf.Draft(q, book.KindJobDescribed, key+"-names", names)
			if err != nil {
				return err
			}
			drafts = append(drafts, described)
		}
		_, err = r.Book.AppendAll(q.Context(), j.ID, b.Version, drafts)
		var conflict *book.Conflict
		switch {
		case err == nil && len(a.mistakes) > 0:
			return q.Done(j.Path("/card"))
		case err == nil:
			return q.Done(j.Path("/sheet"))
		case !errors.As(err, &conflict):
			return err
		}
		who := savedMeanwhile(conflict)
		if who == "" { // the card is as it was seen
			b.Version = conflict.Have
			continue
		}
		if j, err = r.Job(q.Context(), j.ID); err != nil {
			return err
		}
		was, err := r.cardAt(q.Context(), j.ID, b.Version)
		if err != nil {
			return err
		}
		b.Both = bringTogether(was, b.Text, j.YAML, who, b.AsText)
		b.Both.Was, b.Version = b.Version, j.Version
		b.AsText = b.Both.AsText
		if !b.Both.Merged {
			a.values = b.Both.values
			return r.showCard(q, j, http.StatusConflict, b, a)
		}
		b.Text, a.values, b.Both = b.Both.Text, b.Both.values, nil
	}
	return fmt.Errorf("the card of job %s was saved by others %d times meanwhile: save it again", j.ID, savesTried)
}

// cardAt is the text of the card as a page at a version of the job showed it.
func (r *Room) cardAt(ctx context.Context, job string, at book.Version) (string, error) {
	events, err := r.Book.Events(ctx, job, 0)
	if err != nil {
		return "", err
	}
	text := ""
	for _, e := range events {
		var p struct {
			YAML string `json:"yaml"`
		}
		if e.Version <= at && e.Kind == book.KindCardSaved && json.Unmarshal(e.Payload, &p) == nil {
			text = p.YAML
		}
	}
	return text, nil
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

// draftCard is the event that saves a card. from is the job whose card it begins with; "" for none.
func draftCard(q *page.Request, key, text, from string) (book.Draft, error) {
	payload := map[string]string{"yaml": text}
	if from != "" {
		payload["from"] = from
	}
	return shelf.Draft(q, book.KindCardSaved, key, payload)
}

// versionOf is the version of the job that the form's page showed. What is none gives nought, which is taken for a page
// that is out of date.
func versionOf(q *page.Request) book.Version { return versionIn(q, "version") }

func versionIn(q *page.Request, field string) book.Version {
	v, _ := strconv.ParseInt(q.PostForm.Get(field), 10, 64)
	return book.Version(v)
}

// formValues picks the card's fields out of a form, as texts with their units and as the units chosen beside them.
// Fields that somebody ticked as looked at are confirmed.
func formValues(form url.Values) (values, units map[string]string) {
	values, units = map[string]string{}, map[string]string{}
	for _, f := range jobcard.Fields() {
		e := jobcard.Entry{Figure: form.Get(formPrefix + f.Path), Limit: form.Get(limitPrefix + f.Path),
			Unit: form.Get(unitPrefix + f.Path)}
		if text := f.Text(e); text != "" {
			values[f.Path] = text
		}
		if e.Unit != "" {
			units[f.Path] = e.Unit
		}
	}
	if looked := form["confirm"]; len(looked) > 0 {
		said := strings.Trim(values["job.confirmed"], "[] ")
		values["job.confirmed"] = page.Joined(", ", append([]string{said}, looked...)...)
	}
	return values, units
}
