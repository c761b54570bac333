package record

import (
	"encoding/json"
	"fmt"

	"phasewright/book"
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
	return report.TapePaper(tape, j.Card, j.stamp(size))
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

// ReadingsForm is a blank form for light readings of the job's engine.
func (j *Job) ReadingsForm(size drawing.SheetSize) (*report.Paper, error) {
	sh, err := j.Sheet()
	if err != nil {
		return nil, err
	}
	return report.ReadingsForm(j.Card, sh, j.stamp(size))
}

// Papers are all papers that the job has: the proof, one on each recording, and what the card gives.
func (j *Job) Papers(files Files, size drawing.SheetSize) ([]report.Named, error) {
	sh, err := j.Sheet()
	if err != nil {
		return nil, err
	}
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		return nil, err
	}
	proof, err := j.ProofPaper(files, size)
	if err != nil {
		return nil, err
	}
	out := []report.Named{{Name: "proof.pdf", Paper: proof}}
	for i, c := range j.captureEvidence() {
		paper, err := j.CapturePaper(c.Result, size)
		if err != nil {
			return nil, err
		}
		out = append(out, report.Named{Name: fmt.Sprintf("recording-%d.pdf", i+1), Paper: paper})
	}
	all, err := report.All(j.Card, sh, p.Lines(state), j.fileNames(), j.stamp(size))
	return append(out, all...), err
}

// StepsPaper is the order of work, with what was done and overridden so far.
func (j *Job) StepsPaper(size drawing.SheetSize) (*report.Paper, error) {
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		return nil, err
	}
	sh, err := j.Sheet()
	if err != nil {
		return nil, err
	}
	return report.Steps(j.Card, sh, p.Lines(state), j.fileNames(), j.stamp(size))
}

// fileNames are the names under which the job's files came, by their hashes.
func (j *Job) fileNames() map[string]string {
	names := map[string]string{}
	for _, e := range j.Events {
		var p struct{ SHA256, Name string }
		if e.Kind == book.KindAttachmentAdded && json.Unmarshal(e.Payload, &p) == nil {
			names[p.SHA256] = p.Name
		}
	}
	return names
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
