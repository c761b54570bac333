package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/report"
	"phasewright/sheet"
	"phasewright/verdict"
)

type fitCommand struct {
	Card     string `arg:"" help:"The job card (YAML)."`
	Readings string `arg:"" help:"The readings (CSV: rpm,shown_deg,locked_deg[,u_deg][,allowance_us][,housing_deg][,wire][,confirmed][,note]); - reads standard input."`
	JSON     bool   `name:"json" help:"Print the result as JSON."`
	Before   string `help:"Readings from before the corrections: READINGS are then those after them, and the proof is made." placeholder:"FILE"`
	PDF      output `name:"pdf" help:"With --before: write the proof as a PDF; - is standard output." placeholder:"FILE"`
	Date     string `help:"Date printed on the PDF, such as 2026-11-25; left out: none." placeholder:"DATE"`
	By       string `help:"Who did the work, printed on the PDF." placeholder:"NAME"`
	Letter   bool   `help:"US Letter paper instead of A4."`
}

// fitted is a fit with the clauses that it leaves. No field is called Next, as one of the fit's own is: by that a
// reader of types would take it for hidden, which in JSON it is not.
type fitted struct {
	*readings.Result
	First   string      `json:"first"`
	Do      string      `json:"next"`
	Clauses verdict.Set `json:"clauses"`
}

func (c *fitCommand) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	table, err := a.readReadings(c.Readings)
	if err != nil {
		return err
	}
	if n := len(table.Dark); n > 0 {
		fmt.Fprintf(a.err, "the light did not flash at %s: no part of the fit; phasewright suspects takes the same "+
			"file and names what can be behind it\n", count(n, "look"))
	}
	set := settingsFor(card, table)
	if c.Before != "" {
		return c.prove(a, card, table)
	}
	if c.PDF != "" {
		return hinted{errors.New("--pdf without --before"),
			"a proof compares with the readings before the corrections: name them with --before first.csv"}
	}
	res, err := readings.Fit(table.Rows, set)
	if err != nil {
		return err
	}
	j, err := judgeLight(card, table.Rows, res, set)
	if err != nil {
		return err
	}
	res = j.OntoReadings(res)
	if c.JSON {
		err = writeJSON(a.out, fitted{res, j.First, j.Next, j.Clauses})
	} else if err = j.Write(a.out); err == nil {
		err = writeFit(a.out, a.width, card, table.Rows, res)
	}
	if err != nil {
		return err
	}
	if !j.Sound {
		return errFails
	}
	return nil
}

// evidenceOf is what a command knows beside what it was given to judge: the card and its sheet. nil is no card.
func evidenceOf(card *jobcard.Card) verdict.Evidence {
	e := verdict.Evidence{Card: card}
	if card != nil && card.Engine.Cylinders > 0 {
		e.Sheet, _ = sheet.Make(card) // a card without a sheet has no stop that could spoil anything
	}
	return e
}

// judgeLight judges readings by themselves.
func judgeLight(card *jobcard.Card, rows []readings.Row, res *readings.Result, set readings.Settings) (
	verdict.Judgement, error) {
	e := evidenceOf(card)
	if err := light(&e, rows, set); err != nil {
		return verdict.Judgement{}, err
	}
	e.Light.Fit = res
	return verdict.OfReadings(*e.Light, e), nil
}

// light puts readings into evidence. What is shown is shown by those since the last turn of the housing and the last
// change of the allowance.
func light(e *verdict.Evidence, rows []readings.Row, set readings.Settings) error {
	from := len(rows)
	for from > 0 && rows[from-1].SameSettings(rows[len(rows)-1]) {
		from--
	}
	fit, err := readings.Fit(rows, set)
	if err != nil {
		return err
	}
	proof, err := readings.Prove(nil, rows[from:], set, set, readings.Simulation{Seed: 1})
	if err != nil {
		return err
	}
	e.Light = &verdict.Light{Rows: rows, Fit: fit, Proof: proof}
	return nil
}

// prove makes the closing statement from the readings before and after the corrections.
func (c *fitCommand) prove(a *app, card *jobcard.Card, after *readings.Table) error {
	before, err := a.readReadings(c.Before)
	if err != nil {
		return err
	}
	was, now := settingsFor(card, before), settingsFor(card, after)
	proof, err := readings.Prove(before.Rows, after.Rows, was, now, readings.Simulation{Seed: 1})
	if err != nil {
		return err
	}
	j := verdict.OfReadings(verdict.Light{Rows: after.Rows, Fit: proof.Is, Proof: proof}, evidenceOf(card))
	if c.PDF != "" {
		if err := c.proofPDF(a, card, proof, &j, before.Rows, after.Rows); err != nil {
			return err
		}
	}
	switch {
	case c.JSON:
		err = writeJSON(a.out, record.Proved{Proof: j.OntoProof(proof), Judgement: &j})
	case c.PDF != "-":
		var b strings.Builder
		if err := j.Write(&b); err != nil {
			return err
		}
		fmt.Fprintf(&b, "\nPROOF  %s\n", card.Job.Name)
		writeRows(&b, after.Rows, proof.Is)
		b.WriteString("\n")
		writeProof(&b, a.width, proof)
		_, err = io.WriteString(a.out, b.String())
	}
	if err == nil && !j.Sound {
		return errFails
	}
	return err
}

func (c *fitCommand) proofPDF(a *app, card *jobcard.Card, proof *readings.Proof, j *verdict.Judgement,
	before, after []readings.Row) error {
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	if stamp.JSON, err = json.Marshal(record.Proved{Proof: j.OntoProof(proof), Judgement: j}); err != nil {
		return err
	}
	k := report.Case{Card: card, Proof: proof, Judged: j, Before: before, After: after, Customer: card.Job.Owner,
		Technician: c.By, Stamp: stamp}
	if proof.Was != nil {
		k.Corrections = correctionsBetween(proof, before, after)
	}
	paper, err := report.Proof(k)
	if err != nil {
		return err
	}
	return a.writePaper(c.PDF, paper)
}

// correctionsBetween says what was changed between the two sets of readings: the allowance by the settings, the housing
// where their rows say how far it stands turned.
func correctionsBetween(p *readings.Proof, before, after []readings.Row) []report.Correction {
	var out []report.Correction
	was, is := float64(p.Was.Allowance.Now), float64(p.Is.Allowance.Now)
	if was != is && !math.IsNaN(was) && !math.IsNaN(is) {
		out = append(out, report.Correction{What: "delay allowance", From: quantity.Microseconds(was),
			To: quantity.Microseconds(is)})
	}
	if len(before) == 0 || len(after) == 0 {
		return out
	}
	turn := float64(after[len(after)-1].Housing - before[len(before)-1].Housing)
	if turn != 0 {
		h := readings.Housing{TurnDeg: math.Abs(turn), Direction: readings.WithRotor}
		if turn < 0 {
			h.Direction = readings.AgainstRotor
		}
		out = append(out, report.Correction{What: "housing", Turn: turn,
			To: quantity.Degrees(h.TurnDeg, 1) + " " + h.Direction})
	}
	return out
}

// settingsFor takes the settings of a card, with the allowance in force being that of the last reading that states one:
// what the controller was set to when the readings ended.
func settingsFor(card *jobcard.Card, table *readings.Table) readings.Settings {
	set := readings.FromCard(card)
	for _, r := range table.Rows {
		if r.AllowanceStated {
			set.AllowanceNow, set.AllowanceOpen = r.Allowance, false
		}
	}
	return set
}

// readReadings reads a readings file.
func (a *app) readReadings(name string) (*readings.Table, error) {
	data, err := a.readFile(name)
	if err != nil {
		return nil, err
	}
	table, err := readings.Read(bytes.NewReader(data), shown(name))
	var fe *readings.FileError
	if errors.As(err, &fe) {
		mend := ""
		if several, ok := err.(readings.FileErrors); ok {
			mend = count(len(several), "thing") + " to mend; "
		}
		return nil, hinted{err, mend + "the first line names the columns: rpm,shown_deg,locked_deg and, where " +
			"known, u_deg, allowance_us, housing_deg, wire, confirmed, note. On the wire of another cylinder, " +
			"shown_deg counts from its own top dead centre. It may be none where the light did not flash"}
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", shown(name), err)
	}
	return table, nil
}
