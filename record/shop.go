package record

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/report"
)

// Month gives the bounds of a month written as 2026-11, in a zone.
func Month(text string, zone *time.Location) (from, to time.Time, err error) {
	from, err = time.ParseInLocation("2006-01", strings.TrimSpace(text), zone)
	if err != nil {
		return from, to, errors.New("a month is written as year and number, such as 2026-11")
	}
	return from, from.AddDate(0, 1, 0), nil
}

// Week gives the bounds of the week in which a time lies, from Monday on (ISO 8601), in the zone of that time.
func Week(at time.Time) (from, to time.Time) {
	const days = 7
	y, m, d := at.Date()
	from = time.Date(y, m, d-(int(at.Weekday())+days-1)%days, 0, 0, 0, 0, at.Location())
	return from, from.AddDate(0, 0, days)
}

// Awaits says what a job needs next as far as its line of the list knows it; "" where only the whole job does.
func Awaits(j book.Job) string {
	switch j.LastKind {
	case book.KindJobCreated:
		return "Write the job card."
	case book.KindCardSaved:
		return "Begin the order of work."
	case book.KindJobReopened, book.KindCorrectionMade:
		return "Take fresh readings."
	case book.KindProofSigned:
		return "Put the job away."
	}
	return ""
}

// Deeds says in words what was done on a job.
func Deeds(d book.Done) string {
	var parts []string
	for _, p := range []struct {
		n    int
		word string
	}{{d.Steps, "step"}, {d.Readings, "reading"}, {d.Corrections, "correction"}, {d.Proofs, "signature"}} {
		switch {
		case p.n == 1:
			parts = append(parts, "1 "+p.word)
		case p.n > 1:
			parts = append(parts, fmt.Sprintf("%d %ss", p.n, p.word))
		}
	}
	if len(parts) == 0 {
		return "looked after" // card, notes, files
	}
	return strings.Join(parts, ", ")
}

// ListPaper is a list of jobs to hang up: where each stands, in whose hands, since when, for what it waits. more says
// that the book holds more of them.
func ListPaper(heading string, jobs []book.Job, more bool, stamp report.Stamp) *report.Paper {
	var rows [][]string
	for _, j := range jobs {
		status := j.Status
		if j.Archived {
			status += ", put away"
		}
		waits := Awaits(j)
		if j.Waiting != "" {
			waits = "waiting for " + j.Waiting + " since " + j.WaitingAt.In(stamp.Date.Location()).Format(time.DateOnly)
		}
		rows = append(rows, []string{j.Bay, j.Name, Joined(", ", j.Engine, j.Owner), j.Person,
			j.OpenedAt.In(stamp.Date.Location()).Format(time.DateOnly), status, waits})
	}
	if more {
		rows = append(rows, []string{"", "There are more.", "Choose a bay, a person or a month.", "", "", "", ""})
	}
	return report.List(heading, rows, stamp)
}

// Joined puts the parts that are not empty into one line.
func Joined(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), sep)
}
