package job

import (
	"cmp"
	"net/url"
	"time"

	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
)

type doneBody struct {
	Bay, Who, Month, Heading, Wrong string
	People                          []person
	More                            bool
	Earlier, Later                  string
	Bays, Hands                     []string
}

// person is what somebody did within the time.
type person struct {
	Who  string
	Jobs []doneLine
}

type doneLine struct{ ID, Name, What, Last string }

// nobody stands for whoever gave no name.
const nobody = "no name given"

func byPerson(all []book.Done) []person {
	var out []person
	for _, d := range all {
		who := cmp.Or(d.Person, nobody)
		if len(out) == 0 || out[len(out)-1].Who != who {
			out = append(out, person{Who: who})
		}
		p := &out[len(out)-1]
		p.Jobs = append(p.Jobs, doneLine{ID: d.Job, Name: d.Name, What: record.Deeds(d)})
	}
	return out
}

// donePage tells what was done in a week or a month, by whom.
func (r *Room) donePage(q *page.Request) error {
	ask := q.URL.Query()
	b := doneBody{Bay: page.CleanName(ask.Get("bay")), Who: page.CleanName(ask.Get("who")), Month: ask.Get("month")}
	now := r.Clock()
	from, to := record.Week(now)
	step := func(t time.Time, n int) time.Time { return t.AddDate(0, 0, 7*n) }
	key, form := "week", time.DateOnly
	if week, err := time.ParseInLocation(time.DateOnly, ask.Get("week"), now.Location()); err == nil {
		from, to = record.Week(week)
	}
	b.Heading = "Done in the week from " + from.Format("Monday 2 January 2006")
	if b.Month != "" {
		if f, t, err := record.Month(b.Month, now.Location()); err != nil {
			b.Wrong, b.Month = err.Error(), ""
		} else {
			from, to, key, form = f, t, "month", "2006-01"
			step = func(t time.Time, n int) time.Time { return t.AddDate(0, n, 0) }
			b.Heading = "Done in " + from.Format("January 2006")
		}
	}
	at := func(t time.Time) string {
		v := url.Values{key: {t.Format(form)}}
		for k, value := range map[string]string{"bay": b.Bay, "who": b.Who} {
			if value != "" {
				v.Set(k, value)
			}
		}
		return "/done?" + v.Encode()
	}
	b.Earlier = at(step(from, -1))
	if !to.After(now) {
		b.Later = at(to)
	}
	all, more, err := r.Book.Done(q.Context(), book.Query{From: from, To: to, Bay: b.Bay, Person: b.Who})
	if err != nil {
		return err
	}
	b.People, b.More = byPerson(all), more
	if b.Bays, b.Hands, err = r.Book.Hands(q.Context()); err != nil {
		return err
	}
	return q.Render(page.Page{View: "done", Title: "What was done", Where: "What was done", Live: true, Body: b})
}
