package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/record"
)

type readingsBody struct {
	NoCard   string // why there is no fit
	Form     readingForm
	CanWrite bool

	Chart    *plate
	Caption  string
	Figures  []figureLine
	Verdict  readings.Verdict
	More     []string // advice after the line at the top
	Warnings []string
	Rows     []readingLine
	Table    []errorLine // the twin of the chart
	Pending  bool
	Fix      *fixBody
	Done     []correctionLine
}

type figureLine struct{ Name, Value, U string }

type readingLine struct {
	N                           int
	ID, RPM, Shown, Locked, Err string
	Note, State, By             string
	Version                     book.Version // of its event
	Aside, Stands               bool         // drawn back; not withdrawn
}

type errorLine struct{ RPM, Value, U string }

type correctionLine struct{ What, By string }

// fixBody is the correction that the fit asks for.
type fixBody struct {
	Key, Housing, Direction, Allowance, Note string
	Wrong                                    map[string]string
}

// readingForm is what was typed, as it was typed.
type readingForm struct {
	Key, RPM, Shown, Locked, U, Note string
	Wrong                            map[string]string
}

func (s *Server) readingsPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	return s.showReadings(w, r, v, j, 0, readingForm{}, nil)
}

func (s *Server) showReadings(w http.ResponseWriter, r *http.Request, v *visit, j *job, status int, form readingForm, fix *fixBody) error {
	p := page{View: "readings", Title: j.Name + ", readings", Where: "Readings", Job: j.head(), Live: true, Version: j.Version, Status: status, Next: s.nextFor(j)}
	b := readingsBody{Form: form, CanWrite: v.role >= Work}
	if b.Form.Key == "" {
		b.Form.Key = s.newKey()
	}
	if j.Card == nil {
		b.NoCard = "The readings need a job card that can be used: idle, redline, tolerance and delay allowance come from it."
		p.Body = b
		return s.render(w, r, v, p)
	}
	if b.Form.Locked == "" && len(form.Wrong) == 0 {
		if locked, given := j.Card.Controller.Advance.Locked.Get(); given {
			b.Form.Locked = figure(float64(locked), -1)
		}
		if all := j.Counting(); len(all) > 0 {
			b.Form.Locked = figure(all[len(all)-1].Locked, -1)
		}
	}
	res, err := j.Fit()
	if err != nil {
		return err
	}
	if err := s.fillReadings(&b, j, res); err != nil {
		return err
	}
	if res.Verdict == readings.Adjust && !j.Pending() {
		b.Fix = proposed(res.Result)
		b.Fix.Key = s.newKey()
	}
	if fix != nil {
		b.Fix = fix
	}
	p.Body = b
	return s.render(w, r, v, p)
}

// fillReadings puts the fit into words and figures.
func (s *Server) fillReadings(b *readingsBody, j *job, res *record.Fitted) error {
	var err error
	if b.Chart, err = j.drawn.chart(); err != nil {
		return err
	}
	b.Caption = "Line: fit. Band: 95 %. Dotted: tolerance ± " + figure(res.Tolerance, -1) + "°."
	if res.From > 0 {
		b.Caption += " Rings: read before the last correction."
	}
	b.Verdict, b.Pending = res.Verdict, j.Pending()
	advice := res.Advice
	if res.Brief == advice[0] { // said at the head of the page already
		advice = advice[1:]
	}
	for _, a := range advice {
		b.More = append(b.More, whole(a))
	}
	for _, w := range res.Warnings {
		b.Warnings = append(b.Warnings, whole(w))
	}
	line := func(name string, i readings.Interval, places int, unit string) figureLine {
		if !i.Known() {
			return figureLine{name, "not known yet", ""}
		}
		return figureLine{name, signed(i.Value, places) + unit, plusMinus(i.Expanded(), places, unit)}
	}
	b.Figures = []figureLine{line("housing, constant", res.Offset, 1, "°"), line("delay left over", res.Delay, 0, " µs"),
		{"allowance: now → set", res.Allowance.String(), ""}}
	if res.Housing.Direction != readings.Leave {
		b.Figures = append(b.Figures, figureLine{"turn the housing", deg(res.Housing.TurnDeg) + " " + res.Housing.Direction, ""})
	}
	if v := float64(res.ResidualSD); !math.IsNaN(v) {
		b.Figures = append(b.Figures, figureLine{"scatter of one reading", figure(v, 2) + "°", ""})
	}
	if !math.IsNaN(res.Worst.Value) {
		b.Figures = append(b.Figures, figureLine{"worst, at " + figure(res.Worst.RPM, 0) + " rpm", signed(res.Worst.Value, 1) + "°", plusMinus(res.Worst.U, 1, "°")})
	}
	b.Table = errorTable(res.ErrorAt)
	n := 0
	for i, r := range j.Readings {
		l := readingLine{ID: r.ID, Version: r.Version, RPM: figure(r.RPM, 0), Shown: figure(r.Shown, 1),
			Locked: figure(r.Locked, 1), Err: signed(r.Shown-r.Locked, 1),
			Note: r.Note, By: r.Who + ", " + s.when(r.At)}
		l.Stands = r.Withdrawn == ""
		switch {
		case !l.Stands:
			l.State, l.Aside = "withdrawn: "+r.Withdrawn, true
		case r.Impossible != "":
			l.State, l.Aside = "does not count, because it is impossible: "+r.Impossible+". Withdraw it", true
		case i < res.From:
			l.State, l.Aside = "before the correction", true
		default:
			n++
			l.N = n
			if contains(res.Outliers, n) {
				l.State, l.Aside = "misread? set aside", true
			} else if contains(res.CrankingRows, n) {
				l.State = "on the starter"
			}
		}
		if late := s.cameLate(j, r.Origin); late != "" {
			l.State = joinedBy("; ", l.State, late)
			if r.Counts() && r.Origin.Arrived == j.Configuration() {
				b.Warnings = append(b.Warnings,
					l.RPM+" rpm, "+l.Shown+"°: "+late+". It counts with the readings of then, "+
						"under the housing and allowance of then.")
			}
		}
		b.Rows = append(b.Rows, l)
	}
	for _, e := range j.Events {
		if e.Kind == book.KindCorrectionMade {
			b.Done = append(b.Done, correctionLine{s.told(j, e), e.Who + ", " + s.when(e.At)})
		}
	}
	return nil
}

// proposed is the correction form filled in as the fit asks.
func proposed(res *readings.Result) *fixBody {
	f := &fixBody{Direction: res.Housing.Direction}
	if res.Housing.Direction != readings.Leave {
		f.Housing = figure(res.Housing.TurnDeg, 1)
	}
	if res.Allowance.Changes() && !math.IsNaN(float64(res.Allowance.Set)) {
		f.Allowance = figure(float64(res.Allowance.Set), -1)
	}
	return f
}

// readingsPost records a reading. What cannot be one is refused with the field it stands in.
func (s *Server) readingsPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	get := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	f := readingForm{Key: get("key"), RPM: get("rpm"), Shown: get("shown"), Locked: get("locked"), U: get("u"), Note: get("note"), Wrong: map[string]string{}}
	if f.Key == "" {
		f.Key = s.newKey()
	}
	one := record.Reading{ID: f.Key, Note: f.Note}
	one.RPM = f.number("rpm", f.RPM, "write the speed in rpm such as 800")
	one.Shown = f.number("shown", f.Shown, "write degrees BTDC such as 12.5")
	one.Locked = f.number("locked", f.Locked, "write degrees BTDC such as 8")
	if f.U != "" {
		u := f.number("u", f.U, "write one standard uncertainty in degrees such as 0.3, or leave it empty")
		one.U = &u
	}
	stamp, err := stampOf(get, j)
	if err != nil {
		return err
	}
	one = j.Reading(one, stamp)
	if len(f.Wrong) == 0 {
		if err := one.Check(); err != nil {
			f.blame(err.Error())
		}
	}
	if len(f.Wrong) > 0 {
		if wantsJSON(r) {
			answerJSON(w, http.StatusUnprocessableEntity, reply{Say: "This reading cannot be used.", Do: "Correct it and add it again.", Fields: f.Wrong})
			return nil
		}
		return s.showReadings(w, r, v, j, http.StatusUnprocessableEntity, f, nil)
	}
	payload, err := stamp.On(one)
	if err != nil {
		return err
	}
	if _, err := s.Book.Append(r.Context(), j.ID, book.AnyVersion, book.Draft{Who: v.who, Kind: book.KindReadingAdded, Payload: payload, Key: f.Key}); err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID+"/readings")
}

// number reads a figure; a decimal comma and the thin or plain spaces of a thousands mark are fine.
func (f *readingForm) number(name, text, remedy string) float64 {
	v, ok := plainNumber(text)
	if !ok {
		what := "is empty"
		if text != "" {
			what = strconv.Quote(text) + " is not a number"
		}
		f.Wrong[name] = what + "; " + remedy
	}
	return v
}

// plainNumber reads what people type for a number. A minus sign may be the true one.
func plainNumber(text string) (float64, bool) {
	text = strings.Map(func(r rune) rune {
		switch r {
		case ' ', '\u2009', '\u202f', '\u00a0':
			return -1
		case '\u2212', '–':
			return '-'
		case ',':
			return '.'
		}
		return r
	}, text)
	for _, r := range text { // no hexadecimal, no "inf", no exponents
		if (r < '0' || r > '9') && r != '.' && r != '-' && r != '+' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

// columns are the names under which the fit speaks of the fields.
var columns = map[string]string{"rpm": "rpm", "shown_deg": "shown", "locked_deg": "locked", "u_deg": "u",
	"allowance_us": "allowance", "note": "note"}

// blame puts the fit's own refusal beside its field.
func (f *readingForm) blame(text string) {
	column, rest, _ := strings.Cut(text, " ")
	if name, ok := columns[column]; ok {
		f.Wrong[name] = rest
		return
	}
	f.Wrong["rpm"] = text
}

// withdrawPost takes a reading out of the fit; it stays in the record with the reason.
func (s *Server) withdrawPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	id, row := r.PostForm.Get("id"), r.PostForm.Get("row")
	for _, one := range j.Readings {
		chosen := row == strconv.FormatInt(int64(one.Version), 10) || row == "" && one.ID == id
		if !chosen || one.Withdrawn != "" {
			continue
		}
		reason := cleanName(r.PostForm.Get("reason"))
		if reason == "" {
			reason = "misread"
		}
		payload, err := json.Marshal(map[string]string{"id": one.ID, "reason": reason})
		if err != nil {
			return err
		}
		draft := book.Draft{Who: v.who, Kind: book.KindReadingWithdrawn, Payload: payload,
			Key: fmt.Sprintf("withdraw-version-%d", one.Version)}
		if _, err := s.Book.Append(r.Context(), j.ID, book.AnyVersion, draft); err != nil {
			return err
		}
	}
	return done(w, r, "/job/"+j.ID+"/readings")
}
