package web

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"net/http"
	"strings"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/report"
)

// ProofPaper is the proof of a job in a shop book, for the printer, with the figures as JSON inside. The command line and the page
// print the same one.
func ProofPaper(ctx context.Context, b Book, id string, size drawing.SheetSize) (*report.Paper, error) {
	j, err := newJobCache(b).get(ctx, id)
	if err != nil {
		return nil, err
	}
	return j.proofPaper(ctx, b, size)
}

// mostExport bounds the export that a proof carries inside: photos do, long recordings do not fit a paper.
const mostExport = 16 << 20

// exported is the job as the book exports it, nil where its files are too large to travel inside a paper.
func (j *job) exported(ctx context.Context, b Book, files []book.Attachment) ([]byte, error) {
	var size int64
	for _, f := range files {
		size += f.Size
	}
	if size > mostExport {
		return nil, nil
	}
	var out bytes.Buffer
	err := b.Export(ctx, j.ID, &out)
	return out.Bytes(), err
}

var errNoCard = say(http.StatusConflict, "There is no job card that can be used.", "Correct the job card first; sheet, readings and proof follow from it.")

// stamp dates a document of the job by its last event, so that the same job gives the same file.
func (j *job) stamp(size drawing.SheetSize) report.Stamp {
	s := report.Stamp{Date: j.LastAt, By: j.LastWho, Paper: size, Overrides: j.overrides()}
	if j.Signed != nil {
		s.By = j.Signed.Name
	}
	return s
}

func (j *job) sheetPaper(size drawing.SheetSize) (*report.Paper, error) {
	if j.Card == nil {
		return nil, errNoCard
	}
	sh, err := j.work.sheet()
	if err != nil {
		return nil, err
	}
	return report.SetUp(j.Card, sh, j.stamp(size))
}

func (j *job) proofPaper(ctx context.Context, b Book, size drawing.SheetSize) (*report.Paper, error) {
	if j.Card == nil {
		return nil, errNoCard
	}
	files, err := b.Attachments(ctx, j.ID)
	if err != nil {
		return nil, err
	}
	proof, err := j.work.proof()
	if err != nil {
		return nil, err
	}
	before, after := j.proofRows()
	k := report.Case{Card: j.Card, Proof: proof, Before: before, After: after, Customer: j.Owner, Stamp: j.stamp(size),
		Details: []report.Field{{Label: "engine", Value: j.Engine}, {Label: "shop", Value: j.Shop}}, Chain: report.Chain{Events: int(j.Version), Head: j.Head.String()}}
	if j.Signed != nil {
		k.Technician = j.Signed.Name
	}
	if k.Stamp.JSON, err = json.Marshal(proof); err != nil {
		return nil, err
	}
	if k.Stamp.Export, err = j.exported(ctx, b, files); err != nil {
		return nil, err
	}
	now := float64(j.Card.Controller.DelayAllowance)
	for _, c := range j.Corrections {
		when := c.At.Format("2006-01-02 15:04 MST")
		if c.Housing != 0 {
			k.Corrections = append(k.Corrections, report.Correction{When: when, What: "housing", To: deg(c.Housing) + " " + c.Direction, By: c.Who})
		}
		if c.Allowance != nil {
			k.Corrections = append(k.Corrections, report.Correction{When: when, What: "delay allowance", From: figure(now, 0) + " µs", To: figure(*c.Allowance, 0) + " µs", By: c.Who})
			now = *c.Allowance
		}
	}
	k.Overrides = k.Stamp.Overrides
	for _, f := range files {
		k.Evidence = append(k.Evidence, report.Evidence{Name: f.Name, What: f.MediaType, Bytes: f.Size, SHA256: f.SHA256.String()})
	}
	return report.Proof(k)
}

// readingsTable is the readings that count as a file's table, housing turns included.
func (j *job) readingsTable() *readings.Table {
	return &readings.Table{Rows: j.rows(0, len(j.Readings))}
}

// overrides are the locks that somebody passed with a written reason: they stay on the record, on every sheet and on every proof. A job whose card can
// no longer be used still shows them, by the names of the events.
func (j *job) overrides() []report.Override {
	const form = "2006-01-02 15:04 MST"
	var out []report.Override
	if j.Card != nil {
		if _, state, err := j.order(); err == nil {
			for _, o := range state.Overrides {
				reason := o.Reason
				if len(o.Against) > 0 {
					reason += " (against: " + strings.Join(o.Against, "; ") + ")"
				}
				if o.Mended {
					reason += " – done properly since"
				}
				out = append(out, report.Override{When: o.At.Format(form), Step: o.Title, Reason: reason, By: o.Who})
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
		out = append(out, report.Override{When: e.At.Format(form), Step: p.Step, Reason: p.Reason, By: cmp.Or(p.Who, e.Who)})
	}
	return out
}
