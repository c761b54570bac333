package job

import (
	"cmp"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// readingForm is what was typed, as it was typed.
type readingForm struct {
	Key, RPM, Shown, Locked, U, Note string
	Wrong                            map[string]string
}

// readingsPost records a reading. What cannot be one is refused with the field it stands in.
func (r *Room) readingsPost(q *page.Request, j *shelf.Job) error {
	f := readingForm{Key: q.Key(), RPM: q.Field("rpm"), Shown: q.Field("shown"), Locked: q.Field("locked"),
		U: q.Field("u"), Note: q.Field("note"), Wrong: map[string]string{}}
	one := record.Reading{ID: f.Key, Note: f.Note}
	one.RPM = f.number("rpm", f.RPM, "write the speed in rpm such as 800")
	one.Shown = f.number("shown", f.Shown, "write degrees BTDC such as 12.5")
	one.Locked = f.number("locked", f.Locked, "write degrees BTDC such as 8")
	if f.U != "" {
		u := f.number("u", f.U, "write one standard uncertainty in degrees such as 0.3, or leave it empty")
		one.U = &u
	}
	stamp, err := j.StampOf(q.Field)
	if err != nil {
		return err
	}
	one = j.Reading(one, stamp)
	if len(f.Wrong) == 0 {
		blame(f.Wrong, one.Check())
	}
	if len(f.Wrong) > 0 {
		if q.WantsJSON() {
			q.JSON(http.StatusUnprocessableEntity, page.Reply{Say: "This reading cannot be used.",
				Do: "Correct it and add it again.", Fields: f.Wrong})
			return nil
		}
		return r.showReadings(q, j, http.StatusUnprocessableEntity, f, nil)
	}
	payload, err := stamp.On(one)
	if err != nil {
		return err
	}
	if err := r.Append(q, j.ID, book.KindReadingAdded, f.Key, payload); err != nil {
		return err
	}
	return q.Done(j.Path("/readings"))
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
	"allowance_us": "allowance", "housing_deg": "housing", "note": "note"}

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
	return q.Done(j.Path("/readings"))
}
