package job

import (
	"math"
	"net/http"
	"strconv"

	"phasewright/readings"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// correctionForm is a housing turn and a new allowance as typed, or as the fit proposes them.
type correctionForm struct {
	Key, Housing, Direction, Allowance, Note string
	Seen                                     []string // the looks that were ticked
	Wrong                                    map[string]string
}

// proposed is the correction form filled in as the fit asks.
func proposed(res *readings.Result) *correctionForm {
	f := &correctionForm{Key: page.NewKey(), Direction: res.Housing.Direction}
	if res.Housing.Direction != readings.Leave {
		f.Housing = page.Figure(res.Housing.TurnDeg, 1)
	}
	if res.Allowance.Changes() && !math.IsNaN(float64(res.Allowance.Set)) {
		f.Allowance = page.Figure(float64(res.Allowance.Set), -1)
	}
	return f
}

// correctionPost records a housing turn, a new delay allowance, or both. Later readings are fitted with it.
func (r *Room) correctionPost(q *page.Request, j *shelf.Job) error {
	f := &correctionForm{Key: q.Field("key"), Housing: q.Field("housing"), Direction: q.Field("direction"),
		Allowance: q.Field("allowance"), Note: q.Field("note"), Seen: q.PostForm["seen"],
		Wrong: map[string]string{}}
	if j.Recorded(f.Key) {
		return q.Done(j.Path("/readings"))
	}
	stamp, err := j.StampOf(q.Field)
	if err != nil {
		return err
	}
	if *stamp.Configuration != j.Configuration() {
		f.Wrong["housing"] = "somebody changed the engine meanwhile: look at the corrections below; " +
			"if this is another one, write what was done and send it"
		return r.showReadings(q, j, http.StatusConflict, readingForm{}, f)
	}
	c := f.read()
	if len(f.Wrong) == 0 {
		blame(f.Wrong, c.Check(j.Turned()))
	}
	if len(f.Wrong) > 0 {
		return r.showReadings(q, j, http.StatusUnprocessableEntity, readingForm{}, f)
	}
	e := r.Entry(q, j, f.Key, false, stamp)
	taken, err := j.MakeCorrection(c, e)
	if err != nil {
		return err
	}
	if err := r.Keep(q, j, e, taken.Drafts); err != nil {
		return err
	}
	if len(taken.Refused) > 0 {
		f.Wrong["housing"] = against(taken.Refused[0])
		return r.showReadings(q, j, http.StatusUnprocessableEntity, readingForm{}, f)
	}
	return q.Done(j.Path("/readings#next"))
}

// read makes a correction of what was typed, and puts down beside its field what cannot be one.
func (f *correctionForm) read() record.Correction {
	c := record.Correction{Note: f.Note}
	if f.Housing != "" {
		turn, ok := page.Number(f.Housing)
		switch {
		case !ok || turn < 0:
			f.Wrong["housing"] = strconv.Quote(f.Housing) +
				" is not a housing turn; write distributor degrees such as 0.9, the direction beside it"
		case turn > 0 && f.Direction != readings.WithRotor && f.Direction != readings.AgainstRotor:
			f.Wrong["housing"] = "which way was it turned? choose with or against the rotor"
		case turn > 0:
			c.Housing, c.Direction = turn, f.Direction
		}
	}
	if f.Allowance != "" {
		a, ok := page.Number(f.Allowance)
		if !ok || a < 0 {
			f.Wrong["allowance"] = strconv.Quote(f.Allowance) +
				" is not a delay allowance; write microseconds such as 180"
		}
		c.Allowance = &a
	}
	if len(f.Wrong) == 0 && c.Housing == 0 && c.Allowance == nil {
		f.Wrong["housing"] = "nothing was changed; write the housing turn, the allowance, or both"
	}
	return c
}
