package job

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"

	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// shopInstruments is the page of the shop's own instruments: the list, and a form for one that is new or changed.
type shopInstruments struct {
	CanWrite bool
	Form     record.Instrument
	Kinds    []string
	Known    []string
	Wrong    map[string]string // what is the matter with which field
	Key      string
	For      string // the job that asked for one, by its id; "" for none
	ForName  string
	List     []instrumentLine
	Gone     []instrumentLine
}

// instrumentLine is an instrument as a page lists it.
type instrumentLine struct {
	ID, Called, Kind, Says string
	Newer                  string // how the shop's list has it now, where a job has it otherwise
	Last                   bool   // it was used on the job before
}

func lineOf(i record.Instrument) instrumentLine {
	return instrumentLine{ID: i.ID, Called: i.Called(), Kind: i.Kind, Says: i.Says()}
}

// listed are the shop's instruments as the book has them now.
func (r *Room) listed(ctx context.Context) ([]record.Instrument, error) {
	events, err := r.Book.Events(ctx, book.ShopList, 0)
	if errors.Is(err, book.ErrNoJob) {
		return nil, nil // nobody has listed any yet
	}
	return record.ListOf(events), err
}

// instrumentsPage lists the shop's instruments. The address may name one to change, and the job that asked.
func (r *Room) instrumentsPage(q *page.Request) error {
	b := shopInstruments{Key: page.NewKey(), For: q.URL.Query().Get("for")}
	list, err := r.listed(q.Context())
	if err != nil {
		return err
	}
	for _, i := range list {
		if i.ID == q.URL.Query().Get("change") {
			b.Form = i
		}
	}
	return r.showInstruments(q, 0, b, list)
}

func (r *Room) showInstruments(q *page.Request, status int, b shopInstruments, list []record.Instrument) error {
	b.CanWrite, b.Kinds, b.Known = q.By.CanWork(), record.InstrumentKinds(), record.InstrumentKnown()
	if b.For != "" {
		j, err := r.Job(q.Context(), b.For)
		if err != nil {
			return err
		}
		b.ForName = j.Name
	}
	for _, i := range list {
		if i.Gone {
			b.Gone = append(b.Gone, lineOf(i))
		} else {
			b.List = append(b.List, lineOf(i))
		}
	}
	return q.Render(page.Page{View: "instruments", Title: "Instruments of the shop", Where: "Instruments",
		Status: status, Body: b})
}

// instrumentsPost lists an instrument, new or changed, or says that it is gone or back.
func (r *Room) instrumentsPost(q *page.Request) error {
	list, err := r.listed(q.Context())
	if err != nil {
		return err
	}
	i := record.Instrument{ID: q.Field("id"), Kind: q.Field("kind"), Name: page.CleanName(q.Field("name")),
		Number: page.CleanName(q.Field("number")), Checked: q.Field("checked"), U: page.CleanName(q.Field("u")),
		Known: q.Field("known")}
	at := slices.IndexFunc(list, func(have record.Instrument) bool { return have.ID == i.ID })
	to := "/instruments"
	if gone := q.Field("gone"); gone != "" {
		if at < 0 {
			return errNoInstrument
		}
		i, to = list[at], to+"#list"
		i.Gone = gone == "yes"
	} else {
		if field, problem := i.Check(r.Clock()); field != "" {
			b := shopInstruments{Form: i, Wrong: map[string]string{field: problem}, Key: q.Key(), For: q.Field("for")}
			return r.showInstruments(q, http.StatusUnprocessableEntity, b, list)
		}
		if at < 0 {
			i.ID = q.Key()
		}
		if job := q.Field("for"); job != "" {
			j, err := r.Job(q.Context(), job)
			if err != nil {
				return err
			}
			to = j.Path("/instruments")
		}
	}
	d, err := shelf.Draft(q, book.KindInstrumentListed, q.Field("key"), i)
	if err != nil {
		return err
	}
	if _, err := r.Book.AppendShop(q.Context(), d); err != nil {
		return err
	}
	return q.Done(to)
}

var errNoInstrument = page.Say(http.StatusNotFound, "The shop's list has no such instrument.",
	"Open the list of instruments and choose one from it.")

// jobInstruments is the page of what a job is measured with: one tap takes an instrument, one puts it back.
type jobInstruments struct {
	CanWrite bool
	Key      string
	Used     []instrumentLine
	Others   []instrumentLine // those of the job before first
	Before   string           // the name of that job
	Listed   bool             // the shop has any
}

func (r *Room) usedPage(q *page.Request, j *shelf.Job) error {
	list, err := r.listed(q.Context())
	if err != nil {
		return err
	}
	b := jobInstruments{CanWrite: q.By.CanWork(), Key: page.NewKey(), Listed: len(list) > 0}
	used := map[string]bool{}
	for _, i := range j.Instruments {
		used[i.ID] = true
		line := lineOf(i)
		for _, now := range list {
			if now.ID == i.ID && now != i && !now.Gone {
				line.Newer = now.Called() + ": " + now.Says()
			}
		}
		b.Used = append(b.Used, line)
	}
	before, err := r.usedBefore(q.Context(), j)
	if err != nil {
		return err
	}
	for _, i := range list {
		if used[i.ID] || i.Gone {
			continue
		}
		line := lineOf(i)
		if before != nil {
			line.Last = slices.ContainsFunc(before.Instruments, func(o record.Instrument) bool { return o.ID == i.ID })
		}
		if line.Last {
			b.Before = before.Name
		}
		b.Others = append(b.Others, line)
	}
	slices.SortStableFunc(b.Others, func(a, b instrumentLine) int {
		last := map[bool]int{true: 0, false: 1}
		return cmp.Compare(last[a.Last], last[b.Last])
	})
	p := j.Page("measured", "measured with", "Measured with", b)
	p.Next = j.Next()
	return q.Render(p)
}

// calledOf names what a job is measured with; "" where nothing was picked.
func calledOf(j *shelf.Job) string {
	var names []string
	for _, i := range j.Instruments {
		names = append(names, i.Called())
	}
	return strings.Join(names, "; ")
}

// recentJobs is how many jobs are looked through for the instruments that were used last.
const recentJobs = 8

// usedBefore is the job worked on last, beside this one, that has instruments; nil where none has.
func (r *Room) usedBefore(ctx context.Context, but *shelf.Job) (*shelf.Job, error) {
	found, err := r.Book.Jobs(ctx, book.Query{Limit: recentJobs, Shelf: book.Both})
	if err != nil {
		return nil, err
	}
	for _, line := range found.Jobs {
		if line.ID == but.ID {
			continue
		}
		j, err := r.Job(ctx, line.ID)
		if err != nil {
			return nil, err
		}
		if len(j.Instruments) > 0 {
			return j, nil
		}
	}
	return nil, nil
}

// usedPost takes an instrument of the shop's list for a job as it is listed now, or puts it back.
func (r *Room) usedPost(q *page.Request, j *shelf.Job) error {
	kind, id := book.KindInstrumentUsed, q.Field("use")
	if back := q.Field("back"); back != "" {
		kind, id = book.KindInstrumentUnused, back
	}
	list, err := r.listed(q.Context())
	if err != nil {
		return err
	}
	if kind == book.KindInstrumentUnused { // those of an imported job need not stand in this shop's list
		list = j.Instruments
	}
	at := slices.IndexFunc(list, func(i record.Instrument) bool { return i.ID == id })
	if at < 0 {
		return errNoInstrument
	}
	if err := r.Append(q, j.ID, kind, q.PostForm.Get("key"), list[at]); err != nil {
		return err
	}
	return q.Done(j.Path("/instruments"))
}
