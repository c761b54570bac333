package shelf

import (
	"net/http"
	"strconv"
	"time"

	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
)

// StampOf reads from a form which configuration of the engine its screen showed, and when it was filled in by the clock
// of the screen. A form without the first is one of the present configuration; a time that is none is left out.
func (j *Job) StampOf(get func(name string) string) (record.Stamp, error) {
	shown := j.Configuration()
	stamp := record.Stamp{Configuration: &shown}
	if text := get("configuration"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || n > shown {
			return stamp, page.Say(http.StatusConflict,
				"This was entered on a page that this shop book never showed; "+
					"perhaps an older copy of the book is open now. Nothing was recorded.",
				"Load the page again, look at what the job holds, then enter it again.")
		}
		shown = n
	}
	if ms, err := strconv.ParseInt(get("taken"), 10, 64); err == nil {
		if t := time.UnixMilli(ms).UTC(); t.Year() >= 1970 && t.Year() <= 9999 {
			stamp.TakenAt = &t
		}
	}
	return stamp, nil
}

// CameLate says of something that arrived after the engine was changed where it belongs; "" where it came in time.
func (s *Shelf) CameLate(j *Job, o record.Origin) string {
	if !o.Late {
		return ""
	}
	change := "the next change"
	for _, e := range j.Events {
		if e.Version == o.Ended.Version {
			change = "«" + inWords(e, j.titles()) + "» (" + e.Who + ", " + s.When(e.At) + ")"
		}
	}
	switch {
	case o.ClockWrong:
		return "entered on a screen that did not know of " + change + " yet; arrived after it"
	case o.AfterAll:
		return "entered " + s.When(o.Taken) + " on a screen that did not know of " + change +
			" yet: if the engine was changed already, withdraw it and take it again"
	}
	return "taken " + s.When(o.Taken) + ", before " + change + "; arrived after it"
}

// CameLateAt is CameLate of the event of a version; "" where the job, as it was looked up, does not hold it yet.
func (s *Shelf) CameLateAt(j *Job, v book.Version) string {
	if k := int(v) - 1; k < len(j.Events) { // versions count from 1 without gaps
		return s.CameLate(j, j.Origin(j.Events[k]))
	}
	return ""
}

// Teller puts a job's events into words, with where one belongs if it came late, and why if it does not count.
func (s *Shelf) Teller(j *Job) func(book.Event) string {
	titles := j.titles()
	return func(e book.Event) string {
		told := page.Joined("; ", inWords(e, titles), s.CameLate(j, j.Origin(e)))
		if why := j.Why(e.Version); why != "" {
			told += "; does not count: " + why
		}
		return told
	}
}
