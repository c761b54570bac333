package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/report"
)

// Instrument is one of the shop's instruments, as listed or as a job used it. The keys are those of the book's events.
type Instrument struct {
	ID      string `json:"id"`
	Kind    string `json:"kind"`              // one of InstrumentKinds
	Name    string `json:"name"`              //
	Number  string `json:"number,omitempty"`  // the shop's own
	Checked string `json:"checked,omitempty"` // day when it was last checked, ISO 8601
	U       string `json:"u,omitempty"`       // its uncertainty with unit, as typed; "" where it is not known
	Known   string `json:"known"`             // how, one of InstrumentKnown
	Gone    bool   `json:"gone,omitempty"`    // it is not in the shop any more
}

// The kinds of instruments.
const (
	timingLight = "timing light"
	tachometer  = "tachometer"
	recorder    = "recorder"
	pistonStop  = "piston stop"
	dividers    = "dividers"
)

// InstrumentKinds are the kinds of instruments, those that readings are taken with first.
func InstrumentKinds() []string {
	return []string{timingLight, tachometer, recorder, pistonStop, dividers}
}

// How an uncertainty is known.
const (
	certificate = "certificate"
	comparison  = "shop's comparison"
	makers      = "maker's figure"
	assumed     = "assumed"
)

// InstrumentKnown are the ways in which an uncertainty is known, the best first.
func InstrumentKnown() []string { return []string{certificate, comparison, makers, assumed} }

// unitsOf says in words in which units the uncertainty of a kind of instrument is written.
func unitsOf(kind string) string {
	switch kind {
	case timingLight:
		return "such as 0.5 deg, or 20 us where it flashes late"
	case tachometer:
		return "such as 0.2 % or 10 rpm"
	case recorder:
		return "such as 0.01 % or 5 us"
	case pistonStop:
		return "such as 0.2 deg or 0.1 mm"
	}
	return "such as 0.1 mm"
}

// limit is what an uncertainty is about: one of these is set.
type limit struct {
	angle  quantity.Crank
	late   quantity.Time
	share  float64
	speed  quantity.Speed
	length quantity.Length
}

// widest are the largest uncertainties that an instrument can have: beyond them it measures nothing.
var widest = limit{angle: 20, late: 2000, share: 0.2, speed: 1000, length: 10}

// read reads the uncertainty of an instrument.
func (i Instrument) read() (l limit, err error) {
	text := strings.TrimSpace(i.U)
	if number, isShare := strings.CutSuffix(text, "%"); isShare && (i.Kind == tachometer || i.Kind == recorder) {
		l.share, err = strconv.ParseFloat(strings.Replace(strings.TrimSpace(number), ",", ".", 1), 64)
		l.share /= 100
	} else {
		err = i.measure(text, &l)
	}
	in := func(v, most float64) bool { return v >= 0 && v <= most }
	if err != nil || l == (limit{}) || !in(l.share, widest.share) || !in(float64(l.angle), float64(widest.angle)) ||
		!in(float64(l.late), float64(widest.late)) || !in(float64(l.speed), float64(widest.speed)) ||
		!in(float64(l.length), float64(widest.length)) {
		return limit{}, fmt.Errorf("%q is no uncertainty of a %s; write it with its unit, %s", i.U, i.Kind,
			unitsOf(i.Kind))
	}
	return l, nil
}

// measure reads a measure in one of the units of the kind.
func (i Instrument) measure(text string, l *limit) error {
	bare := strings.Trim(text, "0123456789., \u2009") == ""
	errs := []error{errors.New("no unit")}
	try := func(kinds string, parse func() error) {
		if !bare && strings.Contains(kinds, i.Kind) {
			errs = append(errs, parse())
		}
	}
	try(timingLight+pistonStop, func() (err error) { l.angle, err = quantity.Parse[quantity.Crank](text); return })
	try(timingLight+recorder, func() (err error) { l.late, err = quantity.Parse[quantity.Time](text); return })
	try(tachometer, func() (err error) { l.speed, err = quantity.Parse[quantity.Speed](text); return })
	try(pistonStop+dividers, func() (err error) { l.length, err = quantity.Parse[quantity.Length](text); return })
	if slices.Contains(errs, nil) {
		return nil
	}
	return errors.Join(errs...)
}

// Check says what is the matter with an instrument: the key of the field, and what to write there. today bounds the day
// of the last check.
func (i Instrument) Check(today time.Time) (field, problem string) {
	switch {
	case strings.TrimSpace(i.Name) == "":
		return "name", "is empty; write what the shop calls it"
	case !slices.Contains(InstrumentKinds(), i.Kind):
		return "kind", "choose what it is"
	case !slices.Contains(InstrumentKnown(), i.Known):
		return "known", "choose how its uncertainty is known"
	}
	if i.Checked != "" {
		day, err := time.Parse(time.DateOnly, i.Checked)
		if err != nil || day.Year() < 1950 {
			return "checked", strconv.Quote(i.Checked) + " is no day; write year, month and day such as 2026-11-25"
		}
		if day.After(today.AddDate(0, 0, 1)) {
			return "checked", i.Checked + " is yet to come; write when it was checked"
		}
	}
	if i.U == "" && i.Known != assumed {
		return "u", "is empty; write its uncertainty with unit, or choose that it is assumed"
	}
	if i.U != "" {
		if _, err := i.read(); err != nil {
			return "u", err.Error()
		}
	}
	return "", ""
}

// Says is an instrument in one line: its uncertainty, how that is known, and when it was last checked.
func (i Instrument) Says() string {
	said := "uncertainty not known"
	if i.U != "" {
		said = "± " + i.written() + ", " + i.Known
	}
	if i.Checked != "" {
		said += ", checked " + i.Checked
	}
	return said
}

// written is the uncertainty as it is printed.
func (i Instrument) written() string {
	l, err := i.read()
	switch {
	case err != nil:
		return i.U
	case l.angle > 0:
		return quantity.Degrees(l.angle, -1)
	case l.late > 0:
		return quantity.Microseconds(l.late)
	case l.speed > 0:
		return quantity.RPM(l.speed)
	case l.length > 0:
		return quantity.Number(float64(l.length), -1) + "\u202fmm"
	}
	return quantity.Number(100*l.share, -1) + "\u202f%"
}

// Called is an instrument's name with its own number.
func (i Instrument) Called() string {
	if i.Number == "" {
		return i.Name
	}
	return i.Name + ", " + i.Number
}

// common is the error that all readings taken with an instrument share; ok is false where readings do not rest on it.
func (i Instrument) common(idle quantity.Speed) (c readings.Common, ok bool) {
	l, err := i.read()
	if i.U == "" || err != nil {
		return c, false
	}
	switch {
	case i.Kind == timingLight && l.angle > 0:
		c = readings.TimingLight(l.angle)
	case i.Kind == timingLight && l.late > 0:
		c = readings.LateLight(l.late)
	case i.Kind == tachometer && l.share > 0:
		c = readings.Tachometer(l.share)
	case i.Kind == tachometer && idle > 0:
		c = readings.Tachometer(float64(l.speed / idle)) // at idle the share is largest
	default:
		return c, false
	}
	if i.Known == certificate {
		c = c.Certified()
	}
	c.Assumed = i.Known == assumed
	c.Source = i.Called() + ": " + i.Says()
	return c, true
}

// withInstruments are settings with what the job's instruments are known to do.
func (j *Job) withInstruments(set readings.Settings) readings.Settings {
	for _, i := range j.Instruments {
		if c, ok := i.common(set.Idle); ok {
			set = set.With(c)
		}
	}
	return set
}

// instrument takes an event about one of the job's instruments in.
func (j *Job) instrument(e book.Event) {
	var i Instrument
	if err := json.Unmarshal(e.Payload, &i); err != nil || i.ID == "" {
		j.reject(e, "it names no instrument")
		return
	}
	j.Instruments = slices.DeleteFunc(slices.Clone(j.Instruments), func(o Instrument) bool { return o.ID == i.ID })
	if e.Kind == book.KindInstrumentUsed {
		j.Instruments = append(j.Instruments, i)
	}
	j.unsign(e)
}

// ListOf are the instruments that the events of the shop's own chapter come to, by kind and name; those that are gone
// stand last.
func ListOf(events []book.Event) (out []Instrument) {
	at := map[string]int{}
	for _, e := range events {
		var i Instrument
		if e.Kind != book.KindInstrumentListed || json.Unmarshal(e.Payload, &i) != nil || i.ID == "" {
			continue
		}
		k, known := at[i.ID]
		if !known {
			k = len(out)
			at[i.ID], out = k, append(out, i)
		}
		out[k] = i
	}
	slices.SortStableFunc(out, func(a, b Instrument) int {
		if a.Gone != b.Gone {
			if b.Gone {
				return -1
			}
			return 1
		}
		kinds := InstrumentKinds()
		if d := slices.Index(kinds, a.Kind) - slices.Index(kinds, b.Kind); d != 0 {
			return d
		}
		return strings.Compare(a.Name+a.Number, b.Name+b.Number)
	})
	return out
}

// measuredWith are the job's instruments as papers print them.
func (j *Job) measuredWith() (out []report.Instrument) {
	for _, i := range j.Instruments {
		one := report.Instrument{Name: i.Name, Number: i.Number, Kind: i.Kind, Checked: i.Checked, Known: i.Known}
		if i.U != "" {
			one.Uncertainty = "± " + i.written()
		}
		out = append(out, one)
	}
	return out
}
