package record

import (
	"encoding/json"
	"fmt"

	"phasewright/drawing"
	"phasewright/leads"
	"phasewright/report"
	"phasewright/shaft"
)

// SetUpPaper is the set-up sheet.
func (j *Job) SetUpPaper(size drawing.SheetSize) (*report.Paper, error) {
	sh, err := j.Sheet()
	if err != nil {
		return nil, err
	}
	return report.SetUp(j.Card, sh, j.stamp(size))
}

// TapePaper is the true-scale timing tape of the job's damper.
func (j *Job) TapePaper(size drawing.SheetSize) (*report.Paper, error) {
	sh, err := j.Sheet()
	if err != nil {
		return nil, err
	}
	tape := report.Tape(j.Card, sh)
	tape.Sheet = size
	if over := j.Overrides(); len(over) > 0 {
		tape.Foot = append(tape.Foot, drawing.Cell{Label: "rules OVERRIDDEN",
			Value: fmt.Sprintf("%d: see the proof", len(over)), Share: 1.2})
	}
	pages, err := tape.Pages()
	if err != nil {
		return nil, err
	}
	title := pages[0].Title + ", " + j.Name
	return &report.Paper{Doc: drawing.Document{Title: title, Date: j.LastAt, Pages: pages}}, nil
}

// LeadsPaper is the leads of the card's engine for an input.
func (j *Job) LeadsPaper(in leads.Input, size drawing.SheetSize) (*report.Paper, error) {
	if j.Card == nil {
		return nil, ErrNoCard
	}
	list, err := leads.Make(j.Card, in)
	if err != nil {
		return nil, err
	}
	return report.Leads(j.Card, list, in, j.stamp(size))
}

// SparkPaper is coil, spark and rotor of the card as it is saved.
func (j *Job) SparkPaper(size drawing.SheetSize) (*report.Paper, error) {
	k, err := j.Spark()
	if err != nil {
		return nil, err
	}
	return report.Spark(k, j.stamp(size))
}

// StepsPaper is the order of work, with what was done and overridden so far.
func (j *Job) StepsPaper(size drawing.SheetSize) (*report.Paper, error) {
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		return nil, err
	}
	var steps []report.Step
	for _, l := range p.Lines(state) {
		steps = append(steps, report.Step(l))
	}
	return report.Steps(j.Card, steps, j.stamp(size))
}

// CapturePaper is the paper on one recording, with its figures as JSON inside. It can do without a card.
func (j *Job) CapturePaper(res *shaft.Result, size drawing.SheetSize) (*report.Paper, error) {
	says, err := j.JudgeCapture(res)
	if err != nil {
		return nil, err
	}
	stamp := j.stamp(size)
	if stamp.JSON, err = json.Marshal(says.OntoCapture(res, j.Card)); err != nil {
		return nil, err
	}
	return report.Capture(res, j.Card, says, stamp)
}
