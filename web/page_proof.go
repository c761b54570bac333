package web

import (
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/readings"
	"phasewright/report"
)

type proofBody struct {
	NoCard    string
	CanWrite  bool
	Statement string
	Words     []string
	Warnings  []string
	Chart     *plate
	Figures   []figureLine
	Budget    []budgetLine
	Overrides []report.Override
	Table     []errorLine
	Signed    *signedLine
	Key       string
	Version   book.Version
	Name      string
	NameWrong string
	Moved     string // who changed the job since the signer saw it
}

type budgetLine struct{ Name, Kind, U, DOF, Assumed string }

type signedLine struct{ Name, At, Verdict string }

// proofPage shows the closing statement and, where somebody may, asks for the name under it.
func (s *Server) proofPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	return s.showProof(w, r, v, j, 0, proofBody{})
}

func (s *Server) showProof(w http.ResponseWriter, r *http.Request, v *visit, j *job, status int, b proofBody) error {
	p := page{View: "proof", Title: j.Name + ", proof", Where: "Proof", Job: j.head(), Live: true, Version: j.Version, Status: status, Next: s.nextFor(j)}
	b.CanWrite, b.Key, b.Version = v.role >= Work, s.newKey(), j.Version
	if j.Card == nil {
		b.NoCard = "The proof needs a job card that can be used: tolerance and speed range come from it."
		p.Body = b
		return s.render(w, r, v, p)
	}
	proof, err := j.Proof()
	if err != nil {
		return err
	}
	b.Statement, b.Overrides = string(proof.Statement), j.Overrides()
	for _, t := range proof.Words {
		b.Words = append(b.Words, whole(t))
	}
	for _, t := range proof.Warnings {
		b.Warnings = append(b.Warnings, whole(t))
	}
	if b.Chart, err = j.drawn.after(); err != nil {
		return err
	}
	b.Figures = proofFigures(proof)
	for _, l := range proof.Budget {
		line := budgetLine{Name: l.Name, Kind: "Type " + string(l.Kind), U: figure(float64(l.U), 3), DOF: "∞"}
		if d := float64(l.DOF); !math.IsInf(d, 0) && !math.IsNaN(d) {
			line.DOF = figure(d, 1)
		}
		if l.Assumed {
			line.Assumed = "assumed"
		}
		b.Budget = append(b.Budget, line)
	}
	b.Table = errorTable(proof.Is.ErrorAt)
	if j.Signed != nil {
		b.Signed = &signedLine{j.Signed.Name, s.when(j.Signed.At), j.Signed.Verdict}
	}
	p.Body = b
	return s.render(w, r, v, p)
}

func proofFigures(p *readings.Proof) []figureLine {
	at := func(name string, e readings.ErrorAt) figureLine {
		if math.IsNaN(e.Value) {
			return figureLine{name, "not known", ""}
		}
		return figureLine{name + ", " + figure(e.RPM, 0) + " rpm", signed(e.Value, 2) + "°", plusMinus(e.U, 2, "°")}
	}
	out := []figureLine{{"speed range", figure(p.Idle, 0) + " to " + figure(p.Redline, 0) + " rpm", ""}, {"tolerance", "± " + figure(p.Tolerance, -1) + "°", ""}}
	if p.Was != nil {
		out = append(out, at("worst before", p.Before))
	}
	out = append(out, at("worst now", p.Worst))
	if p.ReadHere > 0 {
		out = append(out, figureLine{"read here", figure(p.ReadHere, 0) + " rpm", ""})
	}
	return out
}

// errorTable is the twin of the chart.
func errorTable(at []readings.ErrorAt) []errorLine {
	var out []errorLine
	for _, e := range at {
		out = append(out, errorLine{figure(e.RPM, 0), signed(e.Value, 2), plusMinus(e.U, 2, "")})
	}
	return out
}

// signPost records the signed proof, on what the signer saw: a reading that came meanwhile is shown first.
func (s *Server) signPost(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	b := proofBody{Name: cleanName(r.PostForm.Get("name"))}
	if b.Name == "" {
		b.NameWrong = "a proof needs the name of whoever answers for it; write yours"
		return s.showProof(w, r, v, j, http.StatusUnprocessableEntity, b)
	}
	if j.Card == nil {
		return say(http.StatusConflict, "There is no card that can be used.", "Correct the job card first.")
	}
	proof, err := j.Proof()
	if err != nil {
		return err
	}
	payload, err := json.Marshal(map[string]any{"name": b.Name, "verdict": proof.Statement, "words": strings.Join(proof.Words, " "), "worst": proof.Worst,
		"tolerance_deg": proof.Tolerance, "readings": len(j.AfterCorrections())})
	if err != nil {
		return err
	}
	seen, _ := strconv.ParseInt(r.PostForm.Get("version"), 10, 64) // nought conflicts, and that is shown
	draft := book.Draft{Who: v.who, Kind: book.KindProofSigned, Payload: payload, Key: r.PostForm.Get("key")}
	if book.Version(seen) != j.Version && !j.SameGround(book.Version(seen)) {
		b.Moved = "The job changed while you looked at it. This is the proof now: read it again, then sign."
		return s.showProof(w, r, v, j, http.StatusConflict, b)
	}
	_, err = s.Book.Append(r.Context(), j.ID, j.Version, draft)
	var conflict *book.Conflict
	if errors.As(err, &conflict) {
		if j, err = s.jobs.get(r.Context(), j.ID); err != nil {
			return err
		}
		b.Moved = "The job changed in this very moment. This is the proof now: read it again, then sign."
		return s.showProof(w, r, v, j, http.StatusConflict, b)
	}
	if err != nil {
		return err
	}
	return done(w, r, "/job/"+j.ID+"/proof")
}
