package job

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// askBack puts down beside its field what is asked of an unlikely reading that is not confirmed, and whether it can be.
// A reading of an earlier configuration is asked by itself: those of now are of another engine.
func (f *readingForm) askBack(j *shelf.Job, one record.Reading, stamp record.Stamp) {
	if j.Card == nil || j.Recorded(f.Key) {
		return
	}
	var before []readings.Row
	if c := stamp.Configuration; c == nil || *c == j.Configuration() {
		one.Housing = j.Turned()
		for _, r := range j.Counting() {
			before = append(before, r.Row())
		}
	}
	d := readings.FromCard(j.Card).Ask(before, one.Row())
	if d == nil {
		return
	}
	f.Wrong[fields[d.Column]] = d.Because + "; " + d.Remedy
	if d.CanBe() {
		f.Wrong["confirmed"] = "Did the light show that? Say yes, or mend it."
	}
}

// confirmed marks the readings among what is to be recorded as confirmed.
func confirmed(drafts []book.Draft) error {
	for i := range drafts {
		if drafts[i].Kind != book.KindReadingAdded {
			continue
		}
		var object map[string]json.RawMessage
		if err := json.Unmarshal(drafts[i].Payload, &object); err != nil {
			return err
		}
		object["confirmed"] = json.RawMessage("true")
		payload, err := json.Marshal(object)
		if err != nil {
			return err
		}
		drafts[i].Payload = payload
	}
	return nil
}

// confirmPost takes a reading that waits for an answer for shown: it is withdrawn and recorded again as confirmed,
// under the configuration that it was taken in.
func (r *Room) confirmPost(q *page.Request, j *shelf.Job) error {
	version := q.PostForm.Get("row")
	for _, one := range j.Readings {
		if strconv.FormatInt(int64(one.Version), 10) != version || !one.Counts() || one.Confirmed {
			continue
		}
		key := fmt.Sprintf("confirm-version-%d", one.Version)
		withdrawn, err := json.Marshal(map[string]string{"id": one.ID, "reason": "confirmed, and recorded again so"})
		if err != nil {
			return err
		}
		stamp := record.Stamp{Configuration: &one.Origin.Configuration, TakenAt: &one.Origin.Taken}
		one.ID, one.Confirmed = key, true
		added, err := stamp.On(one)
		if err != nil {
			return err
		}
		_, err = r.Book.AppendAll(q.Context(), j.ID, j.Version, []book.Draft{
			{Who: q.By.Who, Kind: book.KindReadingWithdrawn, Payload: withdrawn, Key: key + "-withdrawn"},
			{Who: q.By.Who, Kind: book.KindReadingAdded, Payload: added, Key: key}})
		if moved := (*book.Conflict)(nil); errors.As(err, &moved) {
			return page.Say(http.StatusConflict, "The job moved on in this very moment. Nothing was recorded.",
				"Look at it, then say it again.")
		}
		if err != nil {
			return err
		}
		break
	}
	return q.Done(j.Path("/readings#rows"))
}
