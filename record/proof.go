package record

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/verdict"
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
const minute = "2006-01-02 15:04 -07:00"

// stamp dates a document of the job by its last event, so that the same job gives the same file. Times are those of the
// place where the paper is made.
func (j *Job) stamp(size drawing.SheetSize) report.Stamp {
	s := report.Stamp{Date: j.LastAt.Local(), By: person("", j.LastWho), Paper: size, Overrides: j.Overrides(),
		Identity: report.Identity{Job: j.ID, Revision: int(j.Version)}}
	for _, e := range j.Events {
		if !onEngine(e.Kind) {
			continue
		}
		if s.Worked.IsZero() {
			s.Worked = e.At.Local()
		}
		s.WorkedTo = e.At.Local()
	}
	if j.Signed != nil {
		s.By = j.Signed.Name
	}
	return s
}

// onEngine says whether what happened was done at the engine: those days are the days of the work.
func onEngine(k book.Kind) bool {
	switch k {
	case book.KindReadingAdded, book.KindCorrectionMade, book.KindStepDone, book.KindStepTried, book.KindStepOverride,
		book.KindCaptureRead:
		return true
	}
	return false
}

// Files are what the book keeps with a job, as a paper needs it.
type Files struct {
	List   []book.Attachment
	Export func(io.Writer) error                                 // writes the job
	Open   func(sha book.Hash) (io.ReadSeekCloser, int64, error) // one of the files; nil: photos are left out
}

// Keeper is a shop book, as far as a paper needs it.
type Keeper interface {
	Attachments(ctx context.Context, job string) ([]book.Attachment, error)
	OpenAttachment(ctx context.Context, sha book.Hash) (io.ReadSeekCloser, int64, error)
	Export(ctx context.Context, job string, w io.Writer) error
}

// FilesOf is what a book keeps with a job.
func FilesOf(ctx context.Context, b Keeper, job string) (Files, error) {
	list, err := b.Attachments(ctx, job)
	return Files{List: list, Export: func(w io.Writer) error { return b.Export(ctx, job, w) },
		Open: func(sha book.Hash) (io.ReadSeekCloser, int64, error) { return b.OpenAttachment(ctx, sha) }}, err
}

// ProofPaper is the proof, with the figures as JSON inside and, where the job's files are not too large, the job as the
// book exports it.
func (j *Job) ProofPaper(files Files, size drawing.SheetSize) (*report.Paper, error) {
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
		Stamp: j.stamp(size), Signers: j.signers(), Recordings: j.recordings(), Rebuilt: j.sinceRebuilt() > 0,
		Instruments: j.measuredWith(),
		Details:     []report.Field{{Label: "engine", Value: j.Engine}, {Label: "shop", Value: j.Shop}},
		Chain:       report.Chain{Events: int(j.Version), Head: j.Head.String()}}
	for _, r := range j.AfterCorrections() {
		if by := r.By(); by != "" && !slices.Contains(k.Readers, by) {
			k.Readers = append(k.Readers, by)
		}
	}
	if n := len(j.Brought()); n > 0 {
		k.Details = append(k.Details, report.Field{Label: "readings",
			Value: fmt.Sprintf("%d brought from elsewhere: not a proof of the order of work", n)})
	}
	if j.Signed != nil {
		k.Technician = j.Signed.Name
	}
	if s := j.superseded; s != nil {
		k.Superseded = s.By.At.Local().Format(minute)
	}
	if k.Stamp.JSON, err = json.Marshal(Proved{says.OntoProof(proof), says}); err != nil {
		return nil, err
	}
	if k.Stamp.Export, err = exported(files.List, files.Export); err != nil {
		return nil, err
	}
	if err := j.orderOn(&k, files); err != nil {
		return nil, err
	}
	now := j.allowanceAfter(len(j.Corrections) - len(j.Current()))
	for _, c := range j.Current() {
		when := c.At.Local().Format(minute)
		if c.Housing != 0 {
			turn := c.Housing
			if c.Direction == readings.AgainstRotor {
				turn = -turn
			}
			k.Corrections = append(k.Corrections, report.Correction{When: when, What: "housing",
				To: quantity.Degrees(c.Housing, 1) + " " + c.Direction, By: c.By(), Turn: turn})
		}
		if c.Allowance != nil {
			set := jobcard.Set(quantity.Time(*c.Allowance))
			k.Corrections = append(k.Corrections, report.Correction{When: when, What: "delay allowance",
				From: microseconds(now), To: microseconds(set), By: c.By()})
			now = set
		}
	}
	k.Overrides = k.Stamp.Overrides
	for _, f := range files.List {
		k.Evidence = append(k.Evidence, report.Evidence{Name: f.Name, What: f.MediaType, Bytes: f.Size,
			SHA256: f.SHA256.String()})
	}
	return report.Proof(k)
}

// signers are those who signed since anything moved.
func (j *Job) signers() (out []report.Signer) {
	for _, s := range j.Signings {
		out = append(out, report.Signer{Name: s.Name, Role: s.Role, Word: s.Verdict, At: s.At.Local()})
	}
	return out
}

// recordings tells what each recording of the job shows, in the words of the judge on it alone.
func (j *Job) recordings() (out []report.Recorded) {
	seen := map[book.Hash]bool{}
	for _, e := range j.Events {
		sha, ok := fileOf(e)
		res := j.Captures[sha]
		if !ok || res == nil || seen[sha] {
			continue
		}
		seen[sha] = true
		says, err := j.JudgeCapture(res)
		if err != nil {
			continue
		}
		out = append(out, report.Recorded{Name: cmp.Or(res.Name, "without a name"), When: e.At.Local().Format(minute),
			Says: says.First, Against: len(says.Clauses.In(verdict.Broken))+len(says.Clauses.In(verdict.AtOdds)) > 0})
	}
	return out
}

// largestPhoto is the most that is read of a file to print it as a picture.
const largestPhoto = 32 << 20

// orderOn tells the paper how the order of work stands, and gives it the photos that prove steps.
func (j *Job) orderOn(k *report.Case, files Files) error {
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		return err
	}
	k.Ordered = state.Begun()
	steps := p.Steps()
	for i, st := range p.Standing(state) {
		if !st.Hidden && (st.Mark == procedure.Due || st.Mark == procedure.Blocked || st.Mark == procedure.Redo) {
			k.OpenSteps = append(k.OpenSteps, steps[i].Title)
		}
		done := state.Steps[i]
		if f := done.Proof; f == nil || f.Kind != procedure.Photo || f.SHA256 == "" || files.Open == nil {
			continue
		}
		photo := report.Photo{Title: steps[i].Title, File: done.Proof.Text, By: person(done.Who, done.By),
			When: done.At.Local().Format(minute)}
		for _, a := range files.List {
			if a.SHA256.String() == done.Proof.SHA256 {
				photo.File = a.Name
				if photo.Data, err = whole(files.Open, a); err != nil {
					return err
				}
			}
		}
		k.Photos = append(k.Photos, photo)
	}
	return nil
}

// whole reads a file of the book; nil where it is too large for a photo.
func whole(open func(book.Hash) (io.ReadSeekCloser, int64, error), a book.Attachment) ([]byte, error) {
	if a.Size > largestPhoto {
		return nil, nil
	}
	f, _, err := open(a.SHA256)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, largestPhoto))
}

// person is who did something: the name given, else that of the device, which at the computer's own screen says
// nothing.
func person(name, device string) string {
	if name == "" && device != book.HostScreen {
		return device
	}
	if name == book.HostScreen {
		return ""
	}
	return name
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
				out = append(out, report.Override{When: o.At.Local().Format(minute), Step: o.Title, Reason: reason,
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
		out = append(out, report.Override{When: e.At.Local().Format(minute), Step: p.Step, Reason: p.Reason,
			By: person(p.Who, e.Who)})
	}
	return out
}
