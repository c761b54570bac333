package record

import (
	"errors"
	"time"

	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/sheet"
)

// ErrNoCard is the answer of a job whose card cannot be used to everything that follows from the card.
var ErrNoCard = errors.New("there is no job card that can be used: correct the job card first; sheet, readings " +
	"and proof follow from it")

// Sheet is the set-up sheet of the card.
func (j *Job) Sheet() (*sheet.Sheet, error) {
	if j.work == nil {
		return nil, ErrNoCard
	}
	return j.work.sheet()
}

// Spark is what decides over the spark, as on the card.
func (j *Job) Spark() (*sheet.Case, error) {
	if j.work == nil {
		return nil, ErrNoCard
	}
	return j.work.spark()
}

// Fit is the fit of the readings that count, as of the last one: a correction that no reading has tried yet is left
// out. Once those since the last correction give an interval by themselves they alone are fitted, as in the proof: how
// far a hand turned a housing is not known to a tenth. It bears the judge's word, and no correction that the judge does
// not advise.
func (j *Job) Fit() (*Fitted, error) {
	if j.work == nil {
		return nil, ErrNoCard
	}
	fit, err := j.work.fit()
	if err != nil {
		return nil, err
	}
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	return &Fitted{says.OntoReadings(fit.Result), fit.From}, nil
}

// Proof is the closing statement: the readings after the last correction, beside those before the first.
func (j *Job) Proof() (*readings.Proof, error) {
	if j.work == nil {
		return nil, ErrNoCard
	}
	return j.work.proof()
}

// Order is the job's order of work and how it stands at a time: what nobody has looked at since a break counts no more.
func (j *Job) Order(now time.Time) (*procedure.Procedure, procedure.State, error) {
	if j.work == nil {
		return nil, procedure.State{}, ErrNoCard
	}
	p, err := j.work.order()
	if err != nil {
		return nil, procedure.State{}, err
	}
	events := make([]procedure.Event, len(j.Events))
	for i, e := range j.Events {
		events[i] = procedure.Event{Version: int64(e.Version), At: e.At, By: e.Who, Kind: string(e.Kind),
			Payload: e.Payload}
	}
	return p, p.Fold(events, now), nil
}

// Table is the readings that count as a file's table, housing turns included.
func (j *Job) Table() *readings.Table {
	return &readings.Table{Rows: j.rows(0, len(j.Readings))}
}
