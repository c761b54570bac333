package job

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"unicode"

	"phasewright/book"
	"phasewright/quantity"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type newBody struct {
	Name, Owner, Engine, YAML, From, Key string
	NameWrong, YAMLWrong                 string
	Mistakes                             []string
	Find                                 string // what earlier jobs are looked for by
	Earlier                              []listLine
	Templates                            []shelf.Template
}

func (r *Room) newPage(q *page.Request) error {
	find := strings.TrimSpace(q.URL.Query().Get("q"))
	if len(find) > longestFind {
		find = strings.ToValidUTF8(find[:longestFind], "")
	}
	return r.newForm(q, 0, newBody{Key: page.NewKey(), From: "blank", Find: find})
}

const (
	longestFind   = 200 // bytes of a search
	similarShown  = 6   // earlier jobs on the page
	similarLooked = 40  // latest jobs whose engines a search looks at
)

// similar are earlier jobs whose card a new one may begin with: those touched last, or those whose name, people or
// engine have words that begin as all those asked for. Jobs put away count too. The chosen one stays, whatever is asked
// for.
func (r *Room) similar(ctx context.Context, find, chosen string) ([]listLine, error) {
	jobs, err := r.candidates(ctx, find)
	if err != nil {
		return nil, err
	}
	if j, err := r.Book.Job(ctx, chosen); err == nil {
		jobs = append([]candidate{{j, true}}, jobs...)
	}
	between := func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",;×", r) }
	wanted := strings.FieldsFunc(strings.ToLower(find), between)
	var out []listLine
	for _, one := range jobs {
		has := func(l listLine) bool { return l.ID == one.ID }
		if len(out) >= similarShown || slices.ContainsFunc(out, has) {
			continue
		}
		j, err := r.Job(ctx, one.ID)
		if err != nil {
			return nil, err
		}
		l := listLine{ID: j.ID, Name: j.Name, About: page.Joined("; ", engineOf(j), j.Engine, j.Owner)}
		words := strings.FieldsFunc(strings.ToLower(l.Name+" "+l.About), between)
		missing := func(w string) bool {
			return !slices.ContainsFunc(words, func(have string) bool { return strings.HasPrefix(have, w) })
		}
		if j.YAML == "" || !one.known && slices.ContainsFunc(wanted, missing) {
			continue
		}
		if one.Archived {
			l.Status = "put away"
		}
		out = append(out, l)
	}
	return out, nil
}

// candidate is a job that may be similar; known where nothing has to be asked of its engine.
type candidate struct {
	book.Job
	known bool
}

// candidates are what the book's own search finds, before the jobs touched last.
func (r *Room) candidates(ctx context.Context, find string) ([]candidate, error) {
	var out []candidate
	ask := func(q book.Query, known bool) error {
		found, err := r.Book.Jobs(ctx, q)
		for _, j := range found.Jobs {
			out = append(out, candidate{j, known && !found.Close})
		}
		return err
	}
	if find != "" {
		words := strings.ContainsFunc(find, unicode.IsLetter) // figures alone stand in every card
		if err := ask(book.Query{Text: find, Shelf: book.Both, Limit: similarShown}, words); err != nil {
			return nil, err
		}
	}
	return out, ask(book.Query{Shelf: book.Both, Limit: similarLooked}, false)
}

// engineOf says in figures which engine a job's card is of; "" where the card cannot be used.
func engineOf(j *shelf.Job) string {
	if j.Card == nil {
		return ""
	}
	e, u := j.Card.Engine, j.Card.Job.Units
	order := strings.ReplaceAll(strings.Trim(fmt.Sprint(e.FiringOrder), "[]"), " ", "-")
	return fmt.Sprintf("%d cylinders, %s, %s × %s %s", e.Cylinders, order, quantity.Number(u.In(e.Bore), -1),
		quantity.Number(u.In(e.Stroke), -1), u.Short())
}

func (r *Room) newForm(q *page.Request, status int, b newBody) error {
	var err error
	if b.Earlier, err = r.similar(q.Context(), b.Find, b.From); err != nil {
		return err
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
		draft, err := draftCard(q, key, text, r.jobNamed(q.Context(), b.From))
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

// jobNamed is the id of the job that a choice of the form names; "" where it names something else.
func (r *Room) jobNamed(ctx context.Context, from string) string {
	j, err := r.Job(ctx, from)
	if err != nil {
		return ""
	}
	return j.ID
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
