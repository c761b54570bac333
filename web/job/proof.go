package job

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/report"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type proofBody struct {
	NoCard     string
	CanWrite   bool
	Judged     *judgedBody
	Words      []string
	RestsOn    []string // what Words rest on
	Warnings   []string
	Chart      *page.Plate
	Figures    []page.Line
	Budget     []budgetLine
	Overrides  []report.Override
	Table      []errorLine
	Signed     []signedLine     // by whom, as it is
	Superseded []supersededLine // those that were signed before
	Key        string
	Version    book.Version
	Name       string
	Role       string
	NameWrong  string
	Photos     []photoLine // kept in the steps
	Moved      string      // who changed the job since the signer saw it
}

type budgetLine struct{ Name, Kind, U, DOF, Assumed string }

// supersededLine is a proof that was signed and no longer stands.
type supersededLine struct{ Version, Names, At, Verdict, Ended string }

type signedLine struct{ Name, Role, At, Verdict string }

// proofPage shows the closing statement and, where somebody may, asks for the name under it.
func (r *Room) proofPage(q *page.Request, j *shelf.Job) error {
	return r.showProof(q, j, 0, proofBody{})
}

func (r *Room) showProof(q *page.Request, j *shelf.Job, status int, b proofBody) error {
	b.CanWrite, b.Key, b.Version = q.By.CanWork(), page.NewKey(), j.Version
	if b.Name == "" && b.NameWrong == "" && len(j.Signings) == 0 { // who signs too is somebody else
		b.Name = q.Name()
	}
	if b.Role == "" && len(j.Signings) == 0 {
		b.Role = "technician"
	}
	if j.Card == nil {
		b.NoCard = "The proof needs a job card that can be used: tolerance and speed range come from it."
	} else if err := r.fillProof(&b, j); err != nil {
		return err
	}
	p := j.Page("proof", "proof", "Proof", b)
	p.Status, p.Next, p.Leads = status, j.Standing(), true
	return q.Render(p)
}

func (r *Room) fillProof(b *proofBody, j *shelf.Job) error {
	proof, err := j.Proof()
	if err != nil {
		return err
	}
	b.Photos = photosOf(j)
	if b.Chart, err = r.drawingsOf(j).proof(); err != nil {
		return err
	}
	if b.Judged, err = judged(j); err != nil {
		return err
	}
	b.Overrides = j.Overrides()
	words := page.WholeAll(proof.Words)
	b.Words, b.RestsOn, b.Warnings = words[:proof.Found], words[proof.Found:], page.WholeAll(proof.Warnings)
	b.Figures, b.Table = proofFigures(proof), errorTable(proof.Is)
	for _, l := range proof.Budget {
		line := budgetLine{Name: l.Name, Kind: "Type " + string(l.Kind), U: page.Figure(float64(l.U), 3), DOF: "∞"}
		if d := float64(l.DOF); !math.IsInf(d, 0) && !math.IsNaN(d) {
			line.DOF = page.Figure(d, 1)
		}
		if l.Assumed {
			line.Assumed = "assumed"
		}
		b.Budget = append(b.Budget, line)
	}
	for _, s := range j.Superseded {
		var names []string
		for _, one := range s.Signings {
			names = append(names, one.Name)
		}
		last := s.Signings[len(s.Signings)-1]
		b.Superseded = append(b.Superseded, supersededLine{fmt.Sprint(s.Version), strings.Join(names, ", "),
			r.When(last.At), last.Verdict, r.When(s.By.At)})
	}
	for _, s := range j.Signings {
		b.Signed = append(b.Signed, signedLine{s.Name, s.Role, r.When(s.At), s.Verdict})
	}
	return nil
}

func proofFigures(p *readings.Proof) []page.Line {
	at := func(name string, e readings.ErrorAt) page.Line {
		if math.IsNaN(e.Value) {
			return page.Line{Name: name, Value: "not known"}
		}
		return page.Line{Name: name + ", " + page.Figure(e.RPM, 0) + " rpm",
			Value: page.Signed(e.Value, 2) + "°", U: page.PlusMinus(e.U, 2, "°")}
	}
	out := []page.Line{
		{Name: "speed range", Value: page.Figure(p.Idle, 0) + " to " + page.Figure(p.Redline, 0) + " rpm"},
		{Name: "tolerance", Value: "± " + page.Figure(p.Tolerance, -1) + "°"}}
	if p.Was != nil {
		out = append(out, at("worst before", p.Before))
	}
	out = append(out, at("worst now", p.Worst))
	if p.ReadHere > 0 {
		out = append(out, page.Line{Name: "read here", Value: page.Figure(p.ReadHere, 0) + " rpm"})
	}
	return out
}

// signPost records the signed proof, on what the signer saw: a reading that came meanwhile is shown first.
func (r *Room) signPost(q *page.Request, j *shelf.Job) error {
	b := proofBody{Name: page.CleanName(q.PostForm.Get("name")), Role: page.CleanName(q.PostForm.Get("role"))}
	if b.Name == "" {
		b.NameWrong = "a proof needs the name of whoever answers for it; write yours"
		return r.showProof(q, j, http.StatusUnprocessableEntity, b)
	}
	if j.Card == nil {
		return record.ErrNoCard
	}
	if seen := versionOf(q); seen != j.Version && !j.SameGround(seen) {
		b.Moved = "The job changed while you looked at it. This is the proof now: read it again, then sign."
		return r.showProof(q, j, http.StatusConflict, b)
	}
	missing, err := j.Unsigned(r.Clock())
	if err != nil {
		return err
	}
	n := len(j.Brought())
	brought := n > 0 && n == len(j.AfterCorrections())
	if missing != nil && !brought {
		b.NameWrong = against(*missing)
		return r.showProof(q, j, http.StatusUnprocessableEntity, b)
	}
	q.RememberName(b.Name)
	says, err := j.Signature(b.Name, b.Role, brought)
	if err != nil {
		return err
	}
	draft, err := shelf.Draft(q, book.KindProofSigned, q.PostForm.Get("key"), says)
	if err != nil {
		return err
	}
	_, err = r.Book.Append(q.Context(), j.ID, j.Version, draft)
	if conflict := (*book.Conflict)(nil); errors.As(err, &conflict) {
		if j, err = r.Job(q.Context(), j.ID); err != nil {
			return err
		}
		b.Moved = "The job changed in this very moment. This is the proof now: read it again, then sign."
		return r.showProof(q, j, http.StatusConflict, b)
	}
	if err != nil {
		return err
	}
	return q.Done(j.Path("/proof"))
}
