package job

import (
	"cmp"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// readingForm is what was typed, as it was typed.
type readingForm struct {
	Key, RPM, Shown, Locked, U, Wire, Note string
	Seen                                   []string // the looks that were ticked
	Brought                                bool     // of work done elsewhere
	Wrong                                  map[string]string
}

// Setup is the one line for what stays the same from reading to reading.
func (f readingForm) Setup() string {
	return "wire " + cmp.Or(f.Wire, "1") + ", locked " + cmp.Or(f.Locked, "–") + "°"
}

// Unfolded says whether that line must be open: something in it is missing, wrong or out of the ordinary.
func (f readingForm) Unfolded() bool {
	return f.Locked == "" || f.Wrong["locked"] != "" || f.Wrong["wire"] != "" || f.Wrong["note"] != "" ||
		f.Note != "" || f.Brought
}

// readingsPost records a reading. What cannot be one is refused with the field it stands in.
func (r *Room) readingsPost(q *page.Request, j *shelf.Job) error {
	f := readingForm{Key: q.Key(), RPM: q.Field("rpm"), Shown: q.Field("shown"), Locked: q.Field("locked"),
		U: q.Field("u"), Wire: q.Field("wire"), Note: q.Field("note"), Seen: q.PostForm["seen"],
		Brought: q.Field("brought") != "", Wrong: map[string]string{}}
	one := record.Reading{ID: f.Key, Note: f.Note, Confirmed: q.Field("confirmed") != ""}
	one.RPM = f.number("rpm", f.RPM, "write the speed in rpm such as 800")
	one.Shown = f.number("shown", f.Shown, "write degrees BTDC such as 12.5")
	one.Locked = f.number("locked", f.Locked, "write degrees BTDC such as 8")
	if f.U != "" {
		u := f.number("u", f.U, "write one standard uncertainty in degrees such as 0.3, or leave it empty")
		one.U = &u
	}
	if f.Wire != "" && f.Wire != "1" {
		wire := f.number("wire", f.Wire, "write the number of the cylinder, or leave it empty for 1")
		if one.Wire = int(wire); float64(one.Wire) != wire {
			f.Wrong["wire"] = "is no whole number; write the number of the cylinder, or leave it empty for 1"
		}
	}
	stamp, err := j.StampOf(q.Field)
	if err != nil {
		return err
	}
	one = j.Reading(one, stamp)
	if len(f.Wrong) == 0 {
		blame(f.Wrong, one.Check())
	}
	say := page.Reply{Say: "This reading cannot be used.", Do: "Correct it and add it again.", Fields: f.Wrong}
	if len(f.Wrong) == 0 {
		if f.askBack(j, one, stamp); f.Wrong["confirmed"] != "" {
			say.Say, say.Do = "This reading is not likely.", f.Wrong["confirmed"]
		}
	}
	if len(f.Wrong) > 0 {
		return r.refuseReading(q, j, f, say)
	}
	// The steps of the order read wire 1: another wire is no evidence of them, and is kept beside the order.
	e := r.Entry(q, j, f.Key, f.Brought || one.Wire > 1, stamp)
	if !e.Brought && j.Recorded(f.Key) {
		return q.Done(j.Path("/readings"))
	}
	taken, err := j.TakeReading(one, e)
	if err != nil {
		return err
	}
	if one.Confirmed {
		if err := confirmed(taken.Drafts); err != nil {
			return err
		}
	}
	if err := r.Keep(q, j, e, taken.Drafts); err != nil {
		return err
	}
	if len(taken.Refused) > 0 {
		f.Wrong["shown"] = against(taken.Refused[0])
		if len(taken.Drafts) > 0 {
			f.Key = page.NewKey() // what was tried is kept: another try is another deed
		}
		if j, err = r.Job(q.Context(), j.ID); err != nil {
			return err
		}
		return r.refuseReading(q, j, f, page.Reply{Say: "The order of work does not take this reading.",
			Do: page.Sentence(taken.Refused[0].Remedy), Fields: f.Wrong})
	}
	return q.Done(j.Path("/readings"))
}

// refuseReading shows the readings again with what stands against this one, or says it to a screen that asks in the
// background.
func (r *Room) refuseReading(q *page.Request, j *shelf.Job, f readingForm, say page.Reply) error {
	if q.WantsJSON() {
		q.JSON(http.StatusUnprocessableEntity, say)
		return nil
	}
	return r.showReadings(q, j, http.StatusUnprocessableEntity, f, nil)
}

// against says a refusal in one line.
func against(f procedure.Refusal) string {
	return "the order of work does not take it. " + f.Says() + " " + f.Remedy
}

// number reads a figure, or puts down beside its field why it is none.
func (f *readingForm) number(name, text, remedy string) float64 {
	v, ok := page.Number(text)
	if !ok {
		what := "is empty"
		if text != "" {
			what = strconv.Quote(text) + " is not a number"
		}
		f.Wrong[name] = what + "; " + remedy
	}
	return v
}

// fields are the fields of the forms by the names under which readings and corrections are refused.
var fields = map[string]string{"rpm": "rpm", "shown_deg": "shown", "locked_deg": "locked", "u_deg": "u",
	"allowance_us": "allowance", "housing_deg": "housing", "wire": "wire", "note": "note"}

// blame puts a refusal beside its field, the one about no field in particular beside the speed.
func blame(wrong map[string]string, refusal error) {
	if refusal == nil {
		return
	}
	name, rest, _ := strings.Cut(refusal.Error(), " ")
	if field, ok := fields[name]; ok {
		wrong[field] = rest
	} else {
		wrong["rpm"] = refusal.Error()
	}
}

// withdrawPost takes a reading out of the fit; it stays in the job with the reason.
func (r *Room) withdrawPost(q *page.Request, j *shelf.Job) error {
	id, row := q.PostForm.Get("id"), q.PostForm.Get("row")
	reason := cmp.Or(page.CleanName(q.PostForm.Get("reason")), "misread")
	for _, one := range j.Readings {
		chosen := row == strconv.FormatInt(int64(one.Version), 10) || row == "" && one.ID == id
		if !chosen || one.Withdrawn != "" {
			continue
		}
		key := fmt.Sprintf("withdraw-version-%d", one.Version)
		payload := map[string]string{"id": one.ID, "reason": reason}
		if err := r.Append(q, j.ID, book.KindReadingWithdrawn, key, payload); err != nil {
			return err
		}
	}
	return q.Done(j.Path("/readings#rows"))
}
