package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"phasewright/book"
	"phasewright/quantity"
	"phasewright/readings"
)

// longestNote is how many letters the note of a reading may have.
const longestNote = 500

// Check reports the first thing in a reading that cannot be: its column, what is wrong with it and what to write
// instead. The form asks it before a reading is recorded, and the events of a book, also those that came with an
// imported job, are asked when they are taken in.
func (r Reading) Check() error {
	if len([]rune(r.Note)) > longestNote {
		return fmt.Errorf("note is longer than %d characters; shorten it", longestNote)
	}
	if strings.ContainsRune(r.Note, 0) {
		return errors.New("note holds a zero byte; write plain text")
	}
	return r.Row().Check()
}

// Counts says whether fit and proof take the reading.
func (r Reading) Counts() bool { return r.Withdrawn == "" && r.Impossible == "" }

// Check reports the first thing in a correction that cannot be, as Reading.Check does. turned is where the housing
// stood before it, shaft degrees from the beginning, with the rotor positive.
func (c Correction) Check(turned float64) error {
	most := float64(readings.WidestHousing)
	after := turned
	switch c.Direction {
	case readings.WithRotor:
		after += c.Housing
	case readings.AgainstRotor:
		after -= c.Housing
	default:
		if c.Housing > 0 {
			return errors.New("housing_deg has no direction; say whether it was turned with the rotor or " +
				"against the rotor")
		}
	}
	switch {
	case c.Housing < 0 || c.Housing > most:
		return fmt.Errorf("housing_deg is impossible: %g°; write distributor degrees from 0 to %g, "+
			"the direction beside it", c.Housing, most)
	case math.Abs(after) > most:
		return fmt.Errorf("housing_deg %g° would bring the housing %g° from where it stood at first; "+
			"write distributor degrees, and look at the corrections made before", c.Housing, math.Abs(after))
	case c.Allowance != nil && (*c.Allowance < 0 || quantity.Time(*c.Allowance) > readings.LongestAllowance):
		return fmt.Errorf("allowance_us is impossible: %g µs; write the delay allowance in microseconds from 0 to %g",
			*c.Allowance, float64(readings.LongestAllowance))
	}
	return nil
}

// Why says why an event does not count; "" for one that does.
func (j *Job) Why(v book.Version) string { return j.rejected[v] }

// reject keeps an event that does not count, with the reason.
func (j *Job) reject(e book.Event, why string) {
	if j.rejected == nil {
		j.rejected = map[book.Version]string{}
	}
	j.rejected[e.Version] = why
}

// unread is why an event does not count whose payload is not of its kind's form.
func unread(err error) string {
	var wrong *json.UnmarshalTypeError
	if errors.As(err, &wrong) && wrong.Field != "" {
		return fmt.Sprintf("%s is a JSON %s, which it cannot be", wrong.Field, wrong.Value)
	}
	return "its form is not that of such an entry"
}

// CheckImport judges the events of a job that comes from a file: a reading that the form would have refused is named
// with what to do, unless it was withdrawn. Other events that cannot count are harmless; the job's pages show them as
// such.
func CheckImport(events []book.Event) error {
	if len(events) == 0 {
		return nil
	}
	j := new(Job).Fold(book.Job{ID: events[0].Job}, events)
	for _, r := range j.Readings {
		if r.Withdrawn == "" && r.Impossible != "" {
			return fmt.Errorf("event %d, a reading recorded by %s on %s: %s – "+
				"withdraw that reading in the book that it comes from, then export the job again",
				r.Version, r.Who, r.At.Format(minute), r.Impossible)
		}
	}
	return nil
}
