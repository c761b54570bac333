package web

import (
	"net/http"
	"strings"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/record"
)

type benchesBody struct {
	Open      []benchLine
	Engines   []benchEngine
	Exercises []benchExercise
	From      string // engine chosen
	Exercise  string
	Wrong     string
	CanWork   bool
	Job       string // "" outside a job
}

// benchLine is a bench that is set up.
type benchLine struct{ ID, Name, About, State, Holder string }

// benchEngine is an engine that can be put on a bench.
type benchEngine struct{ Value, Name, About string }

// benchExercise is a practice job.
type benchExercise struct{ Value, Title, Brief, Goal string }

// benchesPage lists the benches and sets up another.
func (s *Server) benchesPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.showBenches(w, r, v, 0, r.URL.Query().Get("engine"), r.URL.Query().Get("exercise"), nil)
}

// jobBenchPage is the same from a job, with its engine chosen.
func (s *Server) jobBenchPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	return s.showBenches(w, r, v, 0, j.ID, "", j)
}

func (s *Server) showBenches(w http.ResponseWriter, r *http.Request, v *visit, status int, from, exercise string, j *job) error {
	b := benchesBody{From: from, Exercise: exercise, CanWork: v.role >= Work}
	p := page{View: "benches", Title: "Bench", Where: "Bench", Status: status}
	if j != nil {
		p.Job, b.Job = j.head(), j.ID
		if j.Card != nil {
			b.Engines = append(b.Engines, benchEngine{j.ID, j.Name, joined(j.Engine, "this job’s card")})
		} else {
			b.Wrong, b.From = "This job’s card cannot be used yet. Complete it, or choose another engine.", ""
		}
	}
	b.Engines = append(b.Engines, benchEngine{"", "The bench’s own engine", "an eight with everything in it set right"})
	for _, t := range s.Templates {
		b.Engines = append(b.Engines, benchEngine{"template-" + t.ID, t.Name, joined(t.About, "an example")})
	}
	if j == nil {
		found, err := s.Book.Jobs(r.Context(), book.Query{Limit: 20})
		if err != nil {
			return err
		}
		for _, one := range found.Jobs {
			b.Engines = append(b.Engines, benchEngine{one.ID, one.Name, joined(one.Engine, "a job in this book")})
		}
	}
	b.Exercises = []benchExercise{{"", "Free bench", "Nothing hidden. Every control to try, and an instructor may hide a fault.", ""}}
	for _, x := range bench.Exercises() {
		b.Exercises = append(b.Exercises, benchExercise{x.Name, x.Title, x.Brief, x.Goal})
	}
	for _, room := range s.rooms.list() {
		if j == nil || room.order.Job != nil && room.order.Job.ID == j.ID {
			b.Open = append(b.Open, room.line())
		}
	}
	p.Next = &next{Say: "Choose an engine and what to practise."}
	if len(b.Open) > 0 {
		p.Next.Say = "Join a bench, or set up another."
	}
	if !b.CanWork {
		p.Next.Say = "Join a bench and look on."
		if len(b.Open) == 0 {
			p.Next.Say = "No bench is set up yet. Ask the instructor for one."
		}
	}
	p.Body = b
	return s.render(w, r, v, p)
}

// line says in the list how a bench stands.
func (r *room) line() benchLine {
	r.mu.Lock()
	defer r.mu.Unlock()
	l := benchLine{ID: r.id, Name: r.name(), State: count(len(r.watchers), "screen") + " watching", Holder: "nobody holds the controls"}
	l.About = r.about()
	if r.hold.held() {
		l.Holder = r.hold.who + " holds the controls"
	}
	if r.broke != nil {
		l.State, l.Holder = "put away", r.broke.what
	}
	return l
}

// name is what the engine on the bench is called.
func (r *room) name() string {
	if r.order.Job != nil {
		return r.order.Job.Name
	}
	return r.config.Name
}

// about says what the bench is set up for.
func (r *room) about() string {
	switch {
	case r.exercise != nil:
		return "exercise: " + r.exercise.Title
	case r.hides() == "hidden":
		return "a fault is hidden"
	case r.hides() == "revealed":
		return "what was hidden is shown"
	}
	return "free bench"
}

// benchesPost sets a bench up.
func (s *Server) benchesPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	o := benchOrder{From: r.PostForm.Get("engine"), Exercise: r.PostForm.Get("exercise"), By: v.who}
	if err := s.engineFor(r, &o); err != nil {
		return err
	}
	made, err := s.rooms.set(o)
	if err != nil {
		return err
	}
	return done(w, r, "/bench/"+made.id)
}

// engineFor looks up the engine that an order names.
func (s *Server) engineFor(r *http.Request, o *benchOrder) error {
	var card *jobcard.Card
	template, isTemplate := strings.CutPrefix(o.From, "template-")
	switch {
	case o.From == "":
		o.Config = bench.Default()
		return nil
	case isTemplate:
		for _, t := range s.Templates {
			if t.ID == template {
				var mistakes jobcard.Errors
				if card, mistakes = record.ParseCard(t.YAML); len(mistakes) > 0 {
					return mistakes
				}
			}
		}
		if card == nil {
			return say(http.StatusUnprocessableEntity, "There is no such example.", "Choose an engine from the list.")
		}
	default:
		j, err := s.jobs.get(r.Context(), o.From)
		if err != nil {
			return err
		}
		if j.Card == nil {
			return say(http.StatusUnprocessableEntity, "The card of "+j.Name+" cannot be used yet.", "Complete the job card first, or choose another engine.")
		}
		card, o.Job = j.Card, j.head()
	}
	var err error
	if o.Config, err = bench.FromCard(card); err != nil {
		return say(http.StatusUnprocessableEntity, sentence("This engine cannot be put on the bench: "+err.Error()), "Correct its job card, or choose another engine.")
	}
	return nil
}
