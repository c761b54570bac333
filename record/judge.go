package record

import (
	"encoding/json"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/suspects"
	"phasewright/verdict"
)

// Judge is the verdict on the job: all its evidence, as of its last event. Every screen and paper of the job takes its
// words from it.
func (j *Job) Judge() (*verdict.Judgement, error) {
	if j.work == nil {
		return nil, ErrNoCard
	}
	return j.work.judged()
}

// Proved is a proof with the judgement beside it, as JSON: statement and figures of the light, and the word, the next
// action and the nine clauses of the whole.
type Proved struct {
	*readings.Proof
	*verdict.Judgement
}

// JudgeCapture is the word on one recording by itself. What the job's other evidence contradicts is not believed here
// either, and the only correction advised is that of the verdict on the whole job.
func (j *Job) JudgeCapture(r *shaft.Result) (verdict.Judgement, error) {
	if j.work == nil {
		return verdict.OfCapture(r, verdict.Evidence{}), nil
	}
	e, err := j.base()
	if err != nil {
		return verdict.Judgement{}, err
	}
	all, err := j.Judge()
	if err != nil {
		return verdict.Judgement{}, err
	}
	one := verdict.OfCapture(r, e)
	if odds := all.Clauses.In(verdict.AtOdds); len(odds) > 0 {
		if c := one.Clauses.Get(odds[0].ID); c.State != verdict.Open {
			*c = odds[0]
			one.Verdict, one.First, one.Next, one.Cure, one.Sound = all.Verdict, all.First, all.Next, nil, false
		}
	}
	if one.Cure != nil {
		one.Next, one.Cure = all.Next, all.Cure
		if all.Cure == nil {
			one.Verdict = readings.LookElsewhere
		}
	}
	return one, nil
}

// base is what is known of the job beside what was seen.
func (j *Job) base() (verdict.Evidence, error) {
	sh, err := j.work.sheet()
	if err != nil {
		return verdict.Evidence{}, err
	}
	e := verdict.Evidence{Card: j.Card, Sheet: sh}
	e.Engine, _ = j.work.engine() // a card that the suspects cannot take is judged without their odds
	for _, c := range j.changes {
		e.Changes = append(e.Changes, c.kinds...)
		if c.Version == j.CardVersion {
			e.CardAfter = len(e.Changes)
		}
	}
	return e, nil
}

// judge lays all evidence of the job before the judge.
func (j *Job) judge() (*verdict.Judgement, error) {
	e, err := j.base()
	if err != nil {
		return nil, err
	}
	fit, err := j.work.fit()
	if err != nil {
		return nil, err
	}
	if rows := j.rows(fit.From, len(j.Readings)); len(rows) > 0 {
		e.Light = &verdict.Light{Rows: rows, Fit: fit.Result}
		if _, after := j.proofRows(); len(after) > 0 {
			if e.Light.Proof, err = j.work.proof(); err != nil {
				return nil, err
			}
		}
	}
	e.Captures = j.captureEvidence()
	if kept, at := j.KeptEvidence(); len(kept) > 0 {
		// What cannot be read was refused when it was kept; of an older release it counts for nothing.
		if seen, err := suspects.ReadEvidence("evidence", []byte(EvidenceText(kept, j.Card).Text)); err == nil {
			e.Seen = &verdict.Seen{Evidence: seen, After: j.changesUntil(j.configurationAt(at))}
		}
	}
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		return nil, err
	}
	e.Order = &verdict.Order{Procedure: p, State: state}
	says := verdict.Judge(e)
	return &says, nil
}

// captureEvidence lists the recordings that were read, in the order in which their files came.
func (j *Job) captureEvidence() []verdict.Capture {
	var out []verdict.Capture
	seen := map[book.Hash]bool{}
	for _, e := range j.Events {
		sha, ok := fileOf(e)
		if r := j.Captures[sha]; ok && r != nil && !seen[sha] {
			seen[sha] = true
			out = append(out, verdict.Capture{Name: r.Name, Result: r,
				After: j.changesUntil(j.Origin(e).Configuration)})
		}
	}
	return out
}

// fileOf is the file that an event brought, or tells what it shows.
func fileOf(e book.Event) (book.Hash, bool) {
	var p struct {
		SHA256 book.Hash `json:"sha256"`
	}
	ok := (e.Kind == book.KindAttachmentAdded || e.Kind == book.KindCaptureRead) &&
		json.Unmarshal(e.Payload, &p) == nil
	return p.SHA256, ok
}

// changesUntil counts what was changed, one by one, until a configuration began.
func (j *Job) changesUntil(configuration int) int {
	n := 0
	for _, c := range j.changes[:min(max(configuration, 0), len(j.changes))] {
		n += len(c.kinds)
	}
	return n
}
