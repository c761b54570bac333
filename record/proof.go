package record

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/report"
)

// mostExport bounds the export that a proof carries inside: photos do, long recordings do not fit a paper.
const mostExport = 16 << 20

// exported is what export writes, nil where the job's files are too large to travel inside a paper.
func exported(files []book.Attachment, export func(io.Writer) error) ([]byte, error) {
	var size int64
	for _, f := range files {
		if f.Discarded.IsZero() {
			size += f.Size
		}
	}
	if size > mostExport {
		return nil, nil
	}
	var out bytes.Buffer
	err := export(&out)
	return out.Bytes(), err
}

// minute is how papers date what was done.
const minute = "2006-01-02 15:04 MST"

// stamp dates a document of the job by its last event, so that the same job gives the same file.
func (j *Job) stamp(size drawing.SheetSize) report.Stamp {
	s := report.Stamp{Date: j.LastAt, By: j.LastWho, Paper: size, Overrides: j.Overrides()}
	if j.Signed != nil {
		s.By = j.Signed.Name
	}
	return s
}

// ProofPaper is the proof, with the figures as JSON inside and, where the job's files are not too large, the job as the
// book exports it: files are those that the book keeps with the job, and export writes the job.
func (j *Job) ProofPaper(files []book.Attachment, export func(io.Writer) error,
	size drawing.SheetSize) (*report.Paper, error) {
	proof, err := j.Proof()
	if err != nil {
		return nil, err
	}
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	before, after := j.proofRows()
	k := report.Case{Card: j.Card, Proof: proof, Judged: says, Before: before, After: after, Customer: j.Owner,
		Stamp:   j.stamp(size),
		Details: []report.Field{{Label: "engine", Value: j.Engine}, {Label: "shop", Value: j.Shop}},
		Chain:   report.Chain{Events: int(j.Version), Head: j.Head.String()}}
	if n := len(j.Brought()); n > 0 {
		k.Details = append(k.Details, report.Field{Label: "readings",
			Value: fmt.Sprintf("%d brought from elsewhere: not a proof of the order of work", n)})
	}
	if j.Signed != nil {
		k.Technician = j.Signed.Name
	}
	if k.Stamp.JSON, err = json.Marshal(Proved{says.OntoProof(proof), says}); err != nil {
		return nil, err
	}
	if k.Stamp.Export, err = exported(files, export); err != nil {
		return nil, err
	}
	now := j.allowanceAfter(len(j.Corrections) - len(j.Current()))
	for _, c := range j.Current() {
		when := c.At.Format(minute)
		if c.Housing != 0 {
			k.Corrections = append(k.Corrections, report.Correction{When: when, What: "housing",
				To: quantity.Degrees(c.Housing, 1) + " " + c.Direction, By: c.Who})
		}
		if c.Allowance != nil {
			set := jobcard.Set(quantity.Time(*c.Allowance))
			k.Corrections = append(k.Corrections, report.Correction{When: when, What: "delay allowance",
				From: microseconds(now), To: microseconds(set), By: c.Who})
			now = set
		}
	}
	k.Overrides = k.Stamp.Overrides
	for _, f := range files {
		k.Evidence = append(k.Evidence, report.Evidence{Name: f.Name, What: f.MediaType, Bytes: f.Size,
			SHA256: f.SHA256.String()})
	}
	return report.Proof(k)
}

// microseconds prints an allowance that stays on one line: its thousands mark does not break.
func microseconds(s jobcard.Setting[quantity.Time]) string {
	v, given := s.Get()
	if !given {
		return jobcard.NotGiven
	}
	return strings.ReplaceAll(quantity.Microseconds(v), "\u2009", "\u202f")
}

// Overrides are the locks that somebody passed with a written reason: they stay on the record, on every sheet and on
// every proof. A job whose card can no longer be used still shows them, by the names of the events.
func (j *Job) Overrides() []report.Override {
	var out []report.Override
	if j.Card != nil {
		if _, state, err := j.Order(j.LastAt); err == nil {
			for _, o := range state.Overrides {
				reason := o.Reason
				if len(o.Against) > 0 {
					reason += " (against: " + strings.Join(o.Against, "; ") + ")"
				}
				if o.Mended {
					reason += " – shown properly since"
				} else {
					reason += " – NOT SHOWN SINCE: bars a pass"
				}
				out = append(out, report.Override{When: o.At.Format(minute), Step: o.Title, Reason: reason,
					By: o.Names()})
			}
			if len(out) > 0 {
				return out
			}
		}
	}
	for _, e := range j.Events {
		if e.Kind != book.KindStepOverride {
			continue
		}
		var p struct{ Step, Who, Reason string }
		if json.Unmarshal(e.Payload, &p) != nil {
			p.Reason = "recorded in a form that this release cannot read"
		}
		out = append(out, report.Override{When: e.At.Format(minute), Step: p.Step, Reason: p.Reason,
			By: cmp.Or(p.Who, e.Who)})
	}
	return out
}
