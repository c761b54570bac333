package web

import (
	"crypto/rand"
	"encoding/json"
	"net/http"

	"phasewright/book"
	"phasewright/record"
)

type newBody struct {
	Name, Owner, Engine, YAML, From, Key string
	NameWrong, YAMLWrong                 string
	Mistakes                             []string
	Earlier                              []bookLine
	Templates                            []Template
}

// Template is a job card to begin with.
type Template struct {
	ID, Name, About, YAML string
}

// newKey makes a key for a form: the book records a form sent twice only once.
func (s *Server) newKey() string { return rand.Text() }

func (s *Server) newPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.newForm(w, r, v, 0, newBody{Key: s.newKey(), From: "blank"})
}

func (s *Server) newForm(w http.ResponseWriter, r *http.Request, v *visit, status int, b newBody) error {
	found, err := s.Book.Jobs(r.Context(), book.Query{Limit: 20})
	if err != nil {
		return err
	}
	for _, j := range found.Jobs {
		b.Earlier = append(b.Earlier, bookLine{ID: j.ID, Name: j.Name, About: joined(j.Engine, j.Owner)})
	}
	b.Templates = s.Templates
	return s.render(w, r, v, page{View: "new", Title: "New job", Where: "New job", Status: status, Body: b,
		Next: &next{Say: "Name the job and choose what its card begins with."}})
}

// newPost starts a job, with a card where one was chosen or pasted.
func (s *Server) newPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	f := r.PostForm
	b := newBody{Name: cleanName(f.Get("name")), Owner: cleanName(f.Get("owner")), Engine: cleanName(f.Get("engine")),
		YAML: f.Get("yaml"), From: f.Get("from"), Key: f.Get("key")}
	text, err := s.beginning(r, b)
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
			return s.newForm(w, r, v, http.StatusUnprocessableEntity, b)
		}
		if b.Name == "" {
			b.Name = cleanName(card.Job.Name)
		}
	}
	if b.Name == "" {
		b.NameWrong = "A job needs a name – write what the engine is called in the shop."
		return s.newForm(w, r, v, http.StatusUnprocessableEntity, b)
	}
	j := book.NewJob{Who: v.who, Name: b.Name, Owner: b.Owner, Engine: b.Engine, Key: b.Key}
	if text != "" {
		payload, err := json.Marshal(map[string]string{"yaml": text})
		if err != nil {
			return err
		}
		draft := book.Draft{Who: v.who, Kind: book.KindCardSaved, Payload: payload}
		if b.Key != "" {
			draft.Key = b.Key + "-card"
		}
		j.Then = []book.Draft{draft} // a job whose card was lost on the way would ask for it all again
	}
	made, err := s.Book.CreateJob(r.Context(), j)
	if err != nil {
		return err
	}
	if text == "" {
		return done(w, r, "/job/"+made.Job+"/card")
	}
	return done(w, r, "/job/"+made.Job)
}

// beginning is the text that the new job's card begins with; "" for a blank one.
func (s *Server) beginning(r *http.Request, b newBody) (string, error) {
	switch b.From {
	case "paste":
		return b.YAML, nil
	case "", "blank":
		return "", nil
	}
	for _, t := range s.Templates {
		if b.From == "template-"+t.ID {
			return named(t.YAML, b), nil
		}
	}
	j, err := s.jobs.get(r.Context(), b.From)
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
