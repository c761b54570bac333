package job

import (
	"cmp"
	"context"
	"net/url"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/record"
	"phasewright/report"
	"phasewright/web/page"
)

type listBody struct {
	choice
	Heading      string
	Jobs         []listLine
	Elsewhere    []listLine // what stands in other bays, where the own one comes first
	More         string
	Close        bool   // nothing is written like the query: these come close
	Print        string // the same list on paper
	Own          string // the bay of this screen
	Week         string // what was done this week, by whom, in a line
	Bays, Hands  []string
	CanRemember  bool // the bay that is shown may be this screen's own
	EmptyFilters bool // nothing answers to what was chosen
}

type listLine struct{ ID, Name, About, Status, Last, Where, Waiting, Next string }

// choice is what a list was asked for, as its address says it.
type choice struct {
	Query, Bay, Who, Month, Show string
	Wrong                        string // what could not be read of it
}

// Ways to show jobs.
const (
	showOpen    = ""
	showWaiting = "waiting"
	showAway    = "away"
	showAll     = "all"
)

// Filtered says whether more was chosen than the shelf.
func (c choice) Filtered() bool {
	return c.Bay != "" || c.Who != "" || c.Month != "" || c.Show == showWaiting
}

func (c choice) Away() bool { return c.Show == showAway }

func choiceOf(q *page.Request) choice {
	ask := q.URL.Query()
	text := strings.TrimSpace(ask.Get("q"))
	if len(text) > longestFind {
		text = strings.ToValidUTF8(text[:longestFind], "")
	}
	c := choice{Query: text, Bay: page.CleanName(ask.Get("bay")), Who: page.CleanName(ask.Get("who")),
		Month: ask.Get("month"), Show: cmp.Or(ask.Get("show"), ask.Get("shelf"))}
	switch c.Show {
	case showWaiting, showAway, showAll:
	default:
		c.Show = showOpen
	}
	return c
}

// query is what the choice asks of the book. A search looks into jobs put away too; so does a month.
func (c *choice) query(zone *time.Location) book.Query {
	q := book.Query{Text: c.Query, Bay: c.Bay, Person: c.Who, Waiting: c.Show == showWaiting}
	if c.Month != "" {
		from, to, err := record.Month(c.Month, zone)
		if err != nil {
			c.Wrong, c.Month = err.Error(), ""
		}
		q.From, q.To = from, to
	}
	switch {
	case c.Show == showAway:
		q.Shelf = book.Archived
	case c.Show == showAll, c.Show == showOpen && (c.Query != "" || c.Month != ""):
		q.Shelf = book.Both
	}
	return q
}

// values are what the address of a list says.
func (c choice) values() url.Values {
	v := url.Values{}
	for key, value := range map[string]string{"q": c.Query, "bay": c.Bay, "who": c.Who, "month": c.Month,
		"show": c.Show} {
		if value != "" {
			v.Set(key, value)
		}
	}
	return v
}

// heading says what a list shows.
func (c choice) heading() string {
	what := map[string]string{showOpen: "Jobs in work", showWaiting: "Jobs that wait", showAway: "Jobs put away",
		showAll: "All jobs"}[c.Show]
	if c.Query != "" {
		what = "Found for “" + c.Query + "”"
	} else if c.Month != "" && c.Show == showOpen {
		what = "Jobs worked on"
	}
	if c.Bay != "" {
		what += ", bay " + c.Bay
	}
	switch {
	case c.Who != "" && c.Month != "":
		what += ", worked on by " + c.Who
	case c.Who != "":
		what += ", in hand by " + c.Who
	}
	if c.Month != "" {
		what += ", " + c.Month
	}
	return what
}

// listPage lists the jobs in work, those worked on last first, or all that match a search, put away or not. The jobs
// of the bay in which the screen stands come first.
func (r *Room) listPage(q *page.Request) error {
	c := choiceOf(q)
	ask := c.query(r.Clock().Location())
	b := listBody{choice: c, Heading: c.heading(), Own: q.Bay()}
	b.CanRemember = c.Bay != "" && c.Bay != b.Own
	ask.After = q.URL.Query().Get("after")
	plain := !c.Filtered() && c.Query == "" && c.Show == showOpen
	if plain && c.Wrong == "" {
		b.Heading = "Jobs in work, last worked on first"
	}
	if plain && b.Own != "" && ask.After == "" {
		own, err := r.Book.Jobs(q.Context(), book.Query{Bay: b.Own})
		if err != nil {
			return err
		}
		if b.Jobs = r.lines(own.Jobs); len(b.Jobs) > 0 {
			b.Heading = "Bay " + b.Own
		}
	}
	found, err := r.Book.Jobs(q.Context(), ask)
	if err != nil {
		return err
	}
	b.Close = found.Close
	all := r.lines(found.Jobs)
	if len(b.Jobs) == 0 {
		b.Jobs = all
	} else {
		for i, j := range found.Jobs {
			if j.Bay != b.Own {
				b.Elsewhere = append(b.Elsewhere, all[i])
			}
		}
	}
	if found.Next != "" {
		v := c.values()
		v.Set("after", found.Next)
		b.More = "/?" + v.Encode()
	}
	b.EmptyFilters = len(b.Jobs) == 0 && c.Filtered()
	b.Print = "/jobs.pdf?" + c.values().Encode()
	if b.Bays, b.Hands, err = r.Book.Hands(q.Context()); err != nil {
		return err
	}
	if plain {
		if b.Week, err = r.thisWeek(q.Context()); err != nil {
			return err
		}
	}
	return q.Render(page.Page{View: "book", Title: "Shop book", Where: "All jobs", Live: true, Body: b})
}

// lines puts jobs into the words of a list.
func (r *Room) lines(jobs []book.Job) []listLine {
	var out []listLine
	for _, j := range jobs {
		l := listLine{ID: j.ID, Name: j.Name, About: page.Joined(", ", j.Engine, j.Owner, j.Shop), Status: j.Status,
			Last: r.When(j.WorkedAt)}
		bay := ""
		if j.Bay != "" {
			bay = "bay " + j.Bay
		}
		if j.Archived {
			l.Status += ", put away"
			l.Where = page.Joined(", ", bay, j.Person)
		} else {
			l.Where = page.Joined(", ", bay, j.Person, "since "+r.day(j.OpenedAt))
			if l.Next = r.NextOf(j); l.Next == "" {
				l.Next = record.Awaits(j)
			}
			if j.Waiting != "" {
				l.Waiting, l.Next = "waiting for "+j.Waiting+" since "+r.day(j.WaitingAt), ""
			}
		}
		out = append(out, l)
	}
	return out
}

// day is a date without its time of day.
func (r *Room) day(t time.Time) string {
	now := r.Clock()
	t = t.In(now.Location())
	switch {
	case t.Format(time.DateOnly) == now.Format(time.DateOnly):
		return "today"
	case t.Year() == now.Year():
		return t.Format("2 Jan")
	}
	return t.Format("2 Jan 2006")
}

// thisWeek says in a line who did how much since Monday; "" where nobody did anything.
func (r *Room) thisWeek(ctx context.Context) (string, error) {
	from, to := record.Week(r.Clock())
	all, _, err := r.Book.Done(ctx, book.Query{From: from, To: to})
	if err != nil {
		return "", err
	}
	var parts []string
	const most = 4
	groups := byPerson(all)
	for i, g := range groups {
		if i == most {
			parts = append(parts, "and "+page.Count(len(groups)-most, "more"))
			break
		}
		parts = append(parts, g.Who+" "+page.Count(len(g.Jobs), "job"))
	}
	return strings.Join(parts, ", "), nil
}

// bayPost keeps where this screen stands, for the lists to begin with.
func (r *Room) bayPost(q *page.Request) error {
	q.RememberBay(page.CleanName(q.PostForm.Get("bay")))
	return q.Done("/")
}

// mostPrinted bounds a printed list.
const mostPrinted = 500

// listPDF is a list on paper, to hang up.
func (r *Room) listPDF(q *page.Request) error {
	c := choiceOf(q)
	ask := c.query(r.Clock().Location())
	ask.Limit = mostPrinted
	found, err := r.Book.Jobs(q.Context(), ask)
	if err != nil {
		return err
	}
	return q.SendPaper(record.ListPaper(c.heading(), found.Jobs, found.Next != "", report.Stamp{Date: r.Clock(),
		Paper: q.PaperSize()}), nil, "jobs.pdf")
}
