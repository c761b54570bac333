package web

import (
	"net/http"
	"strconv"
	"time"

	"phasewright/book"
	"phasewright/record"
)

// stampOf reads from a form which configuration of the engine its screen showed, and when it was filled in by the clock
// of the screen. A form without the first is one of the present configuration; a time that is none is left out.
func stampOf(get func(name string) string, j *job) (record.Stamp, error) {
	shown := j.Configuration()
	stamp := record.Stamp{Configuration: &shown}
	if text := get("configuration"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || n > shown {
			return stamp, say(http.StatusConflict,
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

// cameLate says of something that arrived after the engine was changed where it belongs; "" where it came in time.
func (s *Server) cameLate(j *job, o record.Origin) string {
	if !o.Late {
		return ""
	}
	change := "the next change"
	for _, e := range j.Events {
		if e.Version == o.Ended.Version {
			change = "«" + inWords(e) + "» (" + e.Who + ", " + s.when(e.At) + ")"
		}
	}
	switch {
	case o.ClockWrong:
		return "entered on a screen that did not know of " + change + " yet; arrived after it"
	case o.AfterAll:
		return "entered " + s.when(o.Taken) + " on a screen that did not know of " + change +
			" yet: if the engine was changed already, withdraw it and take it again"
	}
	return "taken " + s.when(o.Taken) + ", before " + change + "; arrived after it"
}

// told is an event in words for the record, with where it belongs if it came late, and why if it does not count.
func (s *Server) told(j *job, e book.Event) string {
	words := joinedBy("; ", inWords(e), s.cameLate(j, j.Origin(e)))
	if why := j.Why(e.Version); why != "" {
		words += "; does not count: " + why
	}
	return words
}
