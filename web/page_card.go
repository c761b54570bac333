package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/record"
)

type cardBody struct {
	Sections []cardSection
	Text     string
	Saved    string // by whom and when
	Version  book.Version
	Key      string
	Mistakes int
	Homeless []string
	Theirs   string // who saved meanwhile
	Remarks  bool   // the text holds remarks that the form cannot keep
	AsText   bool
	ReadOnly bool
}

// cardPage shows the card as a form; cardTextPage as YAML.
func (s *Server) cardPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	return s.showCard(w, r, v, j, cardBody{})
}

func (s *Server) cardTextPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	return s.showCard(w, r, v, j, cardBody{AsText: true})
}

func (s *Server) showCard(w http.ResponseWriter, r *http.Request, v *visit, j *job, b cardBody) error {
	text := j.YAML
	if text == "" && !b.AsText {
		text = cardText(map[string]string{"job.name": j.Name, "job.owner": j.Owner, "job.shop": j.Shop})
	}
	b.Text, b.Version = text, j.Version
	return s.renderCard(w, r, v, j, 0, b, cardValues(text), j.Mistakes)
}

func (s *Server) renderCard(w http.ResponseWriter, r *http.Request, v *visit, j *job, status int, b cardBody, values map[string]string, mistakes jobcard.Errors) error {
	b.Key, b.ReadOnly, b.Mistakes = s.newKey(), v.role < Work, len(mistakes)
	if j.CardVersion > 0 {
		b.Saved = j.CardBy + ", " + s.when(j.CardAt)
	}
	b.Remarks = strings.Contains(j.YAML, "#")
	p := page{View: "card", Title: j.Name + ", job card", Where: "Job card", Job: j.head(), Version: j.Version, Status: status}
	if b.AsText {
		for _, e := range mistakes {
			b.Homeless = append(b.Homeless, e.Error())
		}
	} else {
		b.Sections, b.Homeless = cardForm(values, mistakes), homeless(mistakes)
	}
	switch {
	case b.Theirs != "":
		p.Next = &next{Say: b.Theirs + " saved this card while you wrote. Yours is still here: save it over theirs, or load the page again to drop it."}
	case len(mistakes) == 1:
		p.Next = &next{Say: "One thing in the card cannot be used yet: correct it and save."}
	case len(mistakes) > 1:
		p.Next = &next{Say: strconv.Itoa(len(mistakes)) + " things in the card cannot be used yet: correct them and save."}
	case j.CardVersion == 0:
		p.Next = &next{Say: "Fill in what you know of the engine. Write units with the figures: 98 mm, 4200 rpm, 60 deg."}
	default:
		p.Next = &next{Say: "The card can be used.", Link: "/job/" + j.ID + "/sheet", Word: "Read the set-up sheet"}
	}
	p.Body = b
	return s.render(w, r, v, p)
}

// cardPost saves the card from either form. A card with mistakes is saved only when asked for by the button that says so.
func (s *Server) cardPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	b := cardBody{AsText: r.PostForm.Has("yaml")}
	values := map[string]string{}
	if b.AsText {
		b.Text = strings.ReplaceAll(r.PostForm.Get("yaml"), "\r\n", "\n")
	} else {
		values = formValues(r.PostForm)
		b.Text = cardText(values)
	}
	seen, _ := strconv.ParseInt(r.PostForm.Get("version"), 10, 64) // nought conflicts, and that is shown
	b.Version = book.Version(seen)
	_, mistakes := record.ParseCard(b.Text)
	if len(mistakes) > 0 && r.PostForm.Get("as") != "unfinished" {
		return s.renderCard(w, r, v, j, http.StatusUnprocessableEntity, b, values, mistakes)
	}
	payload, err := json.Marshal(map[string]string{"yaml": b.Text})
	if err != nil {
		return err
	}
	draft := book.Draft{Who: v.who, Kind: book.KindCardSaved, Payload: payload, Key: r.PostForm.Get("key")}
	_, err = s.Book.Append(r.Context(), j.ID, b.Version, draft)
	var conflict *book.Conflict
	if errors.As(err, &conflict) {
		theirs := ""
		for _, e := range conflict.Since {
			if e.Kind == book.KindCardSaved {
				theirs = e.Who
			}
		}
		if theirs == "" && len(conflict.Since) < book.MaxSince { // others added readings and the like: the card is as it was seen
			_, err = s.Book.Append(r.Context(), j.ID, conflict.Have, draft)
		}
		if errors.As(err, &conflict) {
			if theirs == "" {
				theirs = "Somebody else"
			}
			b.Theirs, b.Version = theirs, conflict.Have
			if j, err = s.jobs.get(r.Context(), j.ID); err != nil {
				return err
			}
			return s.renderCard(w, r, v, j, http.StatusConflict, b, values, mistakes)
		}
	}
	if err != nil {
		return err
	}
	if len(mistakes) > 0 {
		return done(w, r, "/job/"+j.ID+"/card")
	}
	return done(w, r, "/job/"+j.ID+"/sheet")
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
