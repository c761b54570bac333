package job

import (
	"context"
	"net/http"

	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type newBody struct {
	Name, Owner, Engine, YAML, From, Key string
	NameWrong, YAMLWrong                 string
	Mistakes                             []string
	Earlier                              []listLine
	Templates                            []shelf.Template
}

func (r *Room) newPage(q *page.Request) error {
	return r.newForm(q, 0, newBody{Key: page.NewKey(), From: "blank"})
}

func (r *Room) newForm(q *page.Request, status int, b newBody) error {
	found, err := r.Book.Jobs(q.Context(), book.Query{Limit: 20})
	if err != nil {
		return err
	}
	for _, j := range found.Jobs {
		b.Earlier = append(b.Earlier, listLine{ID: j.ID, Name: j.Name, About: page.Joined(", ", j.Engine, j.Owner)})
	}
	b.Templates = r.Templates
	return q.Render(page.Page{View: "new", Title: "New job", Where: "New job", Status: status, Body: b,
		Next: &page.Next{Say: "Name the job and choose what its card begins with."}})
}

// newPost starts a job, with a card where one was chosen or pasted.
func (r *Room) newPost(q *page.Request) error {
	f := q.PostForm
	b := newBody{Name: page.CleanName(f.Get("name")), Owner: page.CleanName(f.Get("owner")),
		Engine: page.CleanName(f.Get("engine")), YAML: f.Get("yaml"), From: f.Get("from"), Key: f.Get("key")}
	text, err := r.beginning(q.Context(), b)
	if err != nil {
		return err
	}
	if b.From == "paste" {
		card, mistakes := record.ParseCard(text)
		if len(mistakes) > 0 {
			b.YAMLWrong = "This card cannot be used yet. Correct it here, or begin blank and fill in the form."
			for _, e := range mistakes {
				b.Mistakes = append(b.Mistakes, e.Error())
			}
			return r.newForm(q, http.StatusUnprocessableEntity, b)
		}
		if b.Name == "" {
			b.Name = page.CleanName(card.Job.Name)
		}
	}
	if b.Name == "" {
		b.NameWrong = "A job needs a name – write what the engine is called in the shop."
		return r.newForm(q, http.StatusUnprocessableEntity, b)
	}
	j := book.NewJob{Who: q.By.Who, Name: b.Name, Owner: b.Owner, Engine: b.Engine, Key: b.Key}
	if text != "" {
		key := ""
		if b.Key != "" {
			key = b.Key + "-card"
		}
		draft, err := draftCard(q, key, text)
		if err != nil {
			return err
		}
		j.Then = []book.Draft{draft} // a job whose card was lost on the way would ask for it all again
	}
	made, err := r.Book.CreateJob(q.Context(), j)
	if err != nil {
		return err
	}
	if text == "" {
		return q.Done("/job/" + made.Job + "/card")
	}
	return q.Done("/job/" + made.Job)
}

// beginning is the text that the new job's card begins with; "" for a blank one.
func (r *Room) beginning(ctx context.Context, b newBody) (string, error) {
	switch b.From {
	case "paste":
		return b.YAML, nil
	case "", "blank":
		return "", nil
	}
	for _, t := range r.Templates {
		if b.From == "template-"+t.ID {
			return named(t.YAML, b), nil
		}
	}
	j, err := r.Job(ctx, b.From)
	if err != nil {
		return "", err
	}
	return named(j.YAML, b), nil
}

// named puts the new job's name into a card taken from elsewhere.
func named(text string, b newBody) string {
	values := cardValues(text)
	if len(values) == 0 || b.Name == "" {
		return text
	}
	values["job.name"], values["job.owner"] = b.Name, b.Owner
	return cardText(values)
}
