// Package livebench is the simulated engine on the screen: benches that a class watches and works together. The bench
// itself, with all its sums, is package bench; the server sends how it stands, and the page draws it.
package livebench

import (
	"context"
	"io"
	"net/http"
	"strings"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// Room is the pages of the benches.
type Room struct {
	*shelf.Shelf
	rigs *rigs
}

// New makes the room. The benches that the book holds come back when the first is asked for; Close ends them.
func New(s *shelf.Shelf, random io.Reader) *Room {
	o := &Room{Shelf: s, rigs: newRigs(s.Clock, random, s.Log)}
	o.rigs.keeper, o.rigs.engine = s.Book, o.engineFor
	return o
}

// Close ends every bench and waits until nothing runs.
func (o *Room) Close() { o.rigs.close() }

// Routes are the addresses of the benches.
func (o *Room) Routes() {
	o.Handle("GET /bench", page.Look, o.listPage)
	o.Handle("POST /bench", page.Work, o.listPost)
	o.Handle("GET /job/{job}/bench", page.Look, o.OnJob(o.jobPage))
	o.Handle("GET /bench/{room}", page.Look, o.onRig(benchPage))
	o.Handle("GET /bench/{room}/live", page.Look, o.onRig(livePage))
	do := func(path string, need page.Role, h func(*page.Request, *rig) error) {
		o.Handle("POST /bench/{room}"+path, need, o.onRig(func(q *page.Request, r *rig) error {
			if err := h(q, r); err != nil {
				return err
			}
			return answerControl(q, r)
		}))
	}
	do("/do", page.Work, doPost)
	do("/judge", page.Work, judgePost)
	do("/take", page.Work, takePost)
	do("/beat", page.Work, beatPost)
	do("/again", page.Work, o.againPost)
	do("/hide", page.Instructor, o.hidePost)
	do("/reveal", page.Instructor, releasePost)
	o.Handle("POST /bench/{room}/away", page.Work, o.onRig(o.awayPost))
}

// onRig makes a handler of one that works on the bench that the address names.
func (o *Room) onRig(h func(*page.Request, *rig) error) page.Handler {
	return func(q *page.Request) error {
		r, err := o.rigs.find(q.PathValue("room"))
		if err != nil {
			return err
		}
		return h(q, r)
	}
}

type listBody struct {
	Open      []rigLine
	Engines   []engineLine
	Exercises []exerciseLine
	From      string // engine chosen
	Exercise  string
	Wrong     string
	CanWork   bool
	Job       string // "" outside a job
}

// rigLine is a bench that is set up.
type rigLine struct{ ID, Name, Engine, About, State, Holder string }

// engineLine is an engine that can be put on a bench.
type engineLine struct{ Value, Name, About string }

// exerciseLine is a practice job.
type exerciseLine struct{ Value, Title, Brief, Goal string }

// listPage lists the benches and sets up another.
func (o *Room) listPage(q *page.Request) error {
	ask := q.URL.Query()
	b := listBody{From: ask.Get("engine"), Exercise: ask.Get("exercise"), Engines: o.engines()}
	found, err := o.Book.Jobs(q.Context(), book.Query{Limit: 20})
	if err != nil {
		return err
	}
	for _, one := range found.Jobs {
		b.Engines = append(b.Engines, engineLine{one.ID, one.Name, page.Joined(", ", one.Engine, "a job in this book")})
	}
	return o.renderList(q, page.Page{}, b)
}

// jobPage is the same from a job, with its engine chosen.
func (o *Room) jobPage(q *page.Request, j *shelf.Job) error {
	b := listBody{From: j.ID, Job: j.ID, Engines: o.engines()}
	if j.Card != nil {
		own := engineLine{j.ID, j.Name, page.Joined(", ", j.Engine, "this job’s card")}
		b.Engines = append([]engineLine{own}, b.Engines...)
	} else {
		b.Wrong, b.From = "This job’s card cannot be used yet. Complete it, or choose another engine.", ""
	}
	return o.renderList(q, page.Page{Job: j.Head()}, b)
}

// engines are those that any bench may have.
func (o *Room) engines() []engineLine {
	all := []engineLine{{"", "The bench’s own engine", "an eight with everything in it set right"}}
	for _, t := range o.Templates {
		all = append(all, engineLine{"template-" + t.ID, t.Name, page.Joined(", ", t.About, "an example")})
	}
	return all
}

func (o *Room) renderList(q *page.Request, p page.Page, b listBody) error {
	b.CanWork = q.By.CanWork()
	b.Exercises = []exerciseLine{{"", "Free bench",
		"Nothing hidden. Every control to try, and an instructor may hide a fault.", ""}}
	for _, x := range bench.Exercises() {
		b.Exercises = append(b.Exercises, exerciseLine{x.Name, x.Title, x.Brief, x.Goal})
	}
	for _, r := range o.rigs.list() {
		if b.Job == "" || r.order.Job != nil && r.order.Job.ID == b.Job {
			b.Open = append(b.Open, r.line())
		}
	}
	p.View, p.Title, p.Where, p.Body = "benches", "Bench", "Bench", b
	p.Next = &page.Next{Say: "Choose an engine and what to practise."}
	switch open := len(b.Open) > 0; {
	case open && b.CanWork:
		p.Next.Say = "Join a bench, or set up another."
	case open:
		p.Next.Say = "Join a bench and look on."
	case !b.CanWork:
		p.Next.Say = "No bench is set up yet. Ask the instructor for one."
	}
	return q.Render(p)
}

// listPost sets a bench up.
func (o *Room) listPost(q *page.Request) error {
	order := order{Name: page.CleanName(q.PostForm.Get("name")), From: q.PostForm.Get("engine"),
		Exercise: q.PostForm.Get("exercise"), Maker: personOf(q.By)}
	if err := o.engineFor(q.Context(), &order); err != nil {
		return err
	}
	made, err := o.rigs.set(q.Context(), order)
	if err != nil {
		return err
	}
	return q.Done("/bench/" + made.id)
}

// engineFor finds the engine that an order names: by the card that the order brings, else by the one that is there now.
func (o *Room) engineFor(ctx context.Context, order *order) error {
	if order.From == "" {
		order.Config = bench.Default()
		return nil
	}
	if err := o.cardFor(ctx, order); err != nil {
		return err
	}
	card, mistakes := record.ParseCard(order.Card)
	if len(mistakes) > 0 {
		return mistakes
	}
	var err error
	if order.Config, err = bench.FromCard(card); err != nil {
		return refuseEngine(err)
	}
	return nil
}

// cardFor brings the card of an example or a job into an order that has none, and names the job.
func (o *Room) cardFor(ctx context.Context, order *order) error {
	if template, is := strings.CutPrefix(order.From, "template-"); is {
		for _, t := range o.Templates {
			if t.ID == template && order.Card == "" {
				order.Card = t.YAML
			}
		}
		if order.Card == "" {
			return page.Refuse("There is no such example.", "Choose an engine from the list.")
		}
		return nil
	}
	j, err := o.Job(ctx, order.From)
	switch {
	case err == nil:
		order.Job = j.Head()
	case order.Card == "":
		return err
	default:
		return nil // the job is not in this book; its card is
	}
	if order.Card != "" {
		return nil
	}
	if j.Card == nil {
		return page.Refuse("The card of "+j.Name+" cannot be used yet.",
			"Complete the job card first, or choose another engine.")
	}
	order.Card = j.YAML
	return nil
}

func refuseEngine(err error) error {
	return page.Refuse(page.Sentence("This engine cannot be put on the bench: "+err.Error()),
		"Correct its job card, or choose another engine.")
}

// awayPost puts the bench away; what was recorded of it stays in the book.
func (o *Room) awayPost(q *page.Request, r *rig) error {
	if err := r.mayEnd(q.By); err != nil {
		return err
	}
	o.rigs.putAway(r.id, q.By.Who+" put it away")
	return q.Done("/bench")
}

// answerControl answers a control: with script nothing is to be shown, the stream tells; without, the page comes again.
func answerControl(q *page.Request, r *rig) error {
	if q.WantsJSON() {
		q.JSON(http.StatusOK, page.Reply{})
		return nil
	}
	return q.Done("/bench/" + r.id)
}
