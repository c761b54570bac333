package shelf

import (
	"cmp"
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/record"
	"phasewright/web/page"
)

// Job is what a job's events come to. It is never changed after it was made.
type Job struct {
	*record.Job
	clock func() time.Time
	told  atomic.Pointer[string] // what Next said last
}

// Order is the order of work as it stands now: some of what was made safe holds for a time only.
func (j *Job) Order() (*procedure.Procedure, procedure.State, error) { return j.Job.Order(j.clock()) }

// Head names the job on its pages.
func (j *Job) Head() *page.Head {
	return &page.Head{ID: j.ID, Name: j.Name, Engine: cmp.Or(j.Engine, j.Shop), Away: j.Archived,
		Configuration: j.Configuration()}
}

// Page is one of the job's pages: its template, what stands after the job's name in its title, and where it is.
func (j *Job) Page(view, title, where string, body any) page.Page {
	return page.Page{View: view, Title: j.Name + ", " + title, Where: where, Job: j.Head(), Version: j.Version,
		Live: true, Body: body}
}

// Path is the address of one of the job's pages.
func (j *Job) Path(rest string) string { return "/job/" + j.ID + rest }

// FileName is a name that every computer takes: the job's, in plain letters, and what it is.
func (j *Job) FileName(what string) string {
	plain := strings.Join(strings.FieldsFunc(j.Name, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9')
	}), "-")
	return cmp.Or(plain[:min(len(plain), 60)], j.ID) + " " + what
}

// cachedJobs bounds how many jobs are kept worked out.
const cachedJobs = 64

// Shelf gives the rooms the jobs of the shop book.
type Shelf struct {
	*page.Site
	Book      Book
	Templates []Template

	mu   sync.Mutex
	jobs map[string]*Job
}

// Template is a job card to begin with.
type Template struct {
	ID, Name, About, YAML string
}

// New gives a shelf over a book. Nothing is read yet.
func New(site *page.Site, b Book, templates []Template) *Shelf {
	return &Shelf{Site: site, Book: b, Templates: templates, jobs: map[string]*Job{}}
}

// Job gives a job as the book has it now. It is kept worked out, so that a page of a job with a thousand events costs
// only the new ones.
func (s *Shelf) Job(ctx context.Context, id string) (*Job, error) {
	if id == book.ShopList { // what belongs to the shop has pages of its own
		return nil, book.ErrNoJob
	}
	line, err := s.Book.Job(ctx, id)
	if err != nil {
		return nil, err
	}
	if line.IsRoom() { // it has no card and no pages of a job, and its events tell what is hidden
		return nil, book.ErrNoJob
	}
	s.mu.Lock()
	have := s.jobs[id]
	s.mu.Unlock()
	if have == nil {
		have = &Job{Job: &record.Job{}, clock: s.Clock}
	}
	if have.Version == line.Version {
		return have, nil
	}
	events, err := s.Book.Events(ctx, id, have.Version)
	if err != nil {
		return nil, err
	}
	erased := func(e book.Event) bool { return e.Kind == book.KindPersonErased }
	if have.Version > 0 && slices.ContainsFunc(events, erased) { // what was read before has the names in it
		have = &Job{Job: &record.Job{}, clock: s.Clock}
		if events, err = s.Book.Events(ctx, id, 0); err != nil {
			return nil, err
		}
	}
	fresh := &Job{Job: have.Fold(line, events), clock: s.Clock}
	s.mu.Lock()
	defer s.mu.Unlock()
	if now := s.jobs[id]; now == nil || now.Version < fresh.Version {
		for k := range s.jobs {
			if len(s.jobs) < cachedJobs {
				break
			}
			delete(s.jobs, k)
		}
		s.jobs[id] = fresh
	}
	return fresh, nil
}

// NextOf is what a job's own pages said last of what is next; "" where nobody looked at it as it is now. A list of many
// jobs works none of them out.
func (s *Shelf) NextOf(line book.Job) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if j := s.jobs[line.ID]; j != nil && j.Version == line.Version {
		if said := j.told.Load(); said != nil {
			return *said
		}
	}
	return ""
}

// OnJob makes a handler of one that works on the job that the address names.
func (s *Shelf) OnJob(h func(*page.Request, *Job) error) page.Handler {
	return func(q *page.Request) error {
		j, err := s.Job(q.Context(), q.PathValue("job"))
		if err != nil {
			return err
		}
		return h(q, j)
	}
}

// OnOpenJob is OnJob for a handler that records what is measured or done on the engine. One that was signed or put away
// long ago is taken up again first, so that what was shown then is history.
func (s *Shelf) OnOpenJob(h func(*page.Request, *Job) error) page.Handler {
	return s.OnJob(func(q *page.Request, j *Job) error {
		if since, over := j.Closed(s.Clock()); over {
			return page.Say(http.StatusConflict, "This job was closed on "+s.When(since)+". Nothing was recorded.",
				"Take the job up again on its first page. What was shown then becomes history.")
		}
		return h(q, j)
	})
}

// OnFile is OnJob for a handler of one of the job's files, which the address names by its hash.
func (s *Shelf) OnFile(h func(*page.Request, *Job, book.Attachment) error) page.Handler {
	return s.OnJob(func(q *page.Request, j *Job) error {
		sha, err := book.ParseHash(q.PathValue("sha"))
		if err != nil {
			return book.ErrNoAttachment
		}
		f, err := s.file(q.Context(), j, func(f book.Attachment) bool { return f.SHA256 == sha })
		if err != nil {
			return err
		}
		return h(q, j, f)
	})
}

// FileOf is the file that an event brought.
func (s *Shelf) FileOf(ctx context.Context, j *Job, e book.Event) (book.Attachment, error) {
	return s.file(ctx, j, func(f book.Attachment) bool { return f.Version == e.Version })
}

func (s *Shelf) file(ctx context.Context, j *Job, is func(book.Attachment) bool) (book.Attachment, error) {
	files, err := s.Book.Attachments(ctx, j.ID)
	if err != nil {
		return book.Attachment{}, err
	}
	for _, f := range files {
		if is(f) {
			return f, nil
		}
	}
	return book.Attachment{}, book.ErrNoAttachment
}

// Append puts an event of the sender's into the book, whatever came between. A key that was used before with the same
// payload records nothing again.
func (s *Shelf) Append(q *page.Request, job string, kind book.Kind, key string, payload any) error {
	d, err := Draft(q, kind, key, payload)
	if err != nil {
		return err
	}
	_, err = s.Book.Append(q.Context(), job, book.AnyVersion, d)
	return err
}

// Draft is an event of the sender's that is not in the book yet.
func Draft(q *page.Request, kind book.Kind, key string, payload any) (book.Draft, error) {
	raw, err := json.Marshal(payload)
	return book.Draft{Who: q.By.Who, Kind: kind, Payload: raw, Key: key}, err
}
