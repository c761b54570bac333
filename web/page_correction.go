package web

import (
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/record"
)

// correctionPost records a housing turn, a new delay allowance, or both. Later readings are fitted with it.
func (s *Server) correctionPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	get := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	f := &fixBody{Key: get("key"), Housing: get("housing"), Direction: get("direction"), Allowance: get("allowance"), Note: get("note"), Wrong: map[string]string{}}
	if j.Recorded(f.Key) {
		return done(w, r, "/job/"+j.ID+"/readings")
	}
	c := record.Correction{Note: f.Note}
	if stamp, err := stampOf(get, j); err != nil {
		return err
	} else if *stamp.Configuration != j.Configuration() {
		f.Wrong["housing"] = "somebody changed the engine meanwhile: look at the corrections below; " +
			"if this is another one, write what was done and send it"
		return s.showReadings(w, r, v, j, http.StatusConflict, readingForm{}, f)
	}
	if f.Housing != "" {
		turn, ok := plainNumber(f.Housing)
		switch {
		case !ok || turn < 0:
			f.Wrong["housing"] = strconv.Quote(f.Housing) + " is not a housing turn; write distributor degrees such as 0.9, the direction beside it"
		case turn > 0 && f.Direction != readings.WithRotor && f.Direction != readings.AgainstRotor:
			f.Wrong["housing"] = "which way was it turned? choose with or against the rotor"
		case turn > 0:
			c.Housing, c.Direction = turn, f.Direction
		}
	}
	if f.Allowance != "" {
		a, ok := plainNumber(f.Allowance)
		if !ok || a < 0 {
			f.Wrong["allowance"] = strconv.Quote(f.Allowance) + " is not a delay allowance; write microseconds such as 180"
		}
		c.Allowance = &a
	}
	if len(f.Wrong) == 0 && c.Housing == 0 && c.Allowance == nil {
		f.Wrong["housing"] = "nothing was changed; write the housing turn, the allowance, or both"
	}
	if len(f.Wrong) == 0 {
		if err := c.Check(j.Turned()); err != nil {
			column, rest, _ := strings.Cut(err.Error(), " ")
			f.Wrong[map[string]string{"housing_deg": "housing", "allowance_us": "allowance"}[column]] = rest
		}
	}
	if len(f.Wrong) > 0 {
		return s.showReadings(w, r, v, j, http.StatusUnprocessableEntity, readingForm{}, f)
	}
	payload, err := json.Marshal(c)
	if err != nil {
		return err
	}
	if _, err := s.Book.Append(r.Context(), j.ID, book.AnyVersion, book.Draft{Who: v.who, Kind: book.KindCorrectionMade, Payload: payload, Key: f.Key}); err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID+"/readings")
}
