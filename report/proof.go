package report

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/verdict"
)

// Correction is a change that was made on the engine or in the controller.
type Correction struct {
	When, What, From, To, By string
}

// Override is a lock that somebody passed with a written reason.
type Override struct {
	When, Step, Reason, By string
}

// Evidence is a file that belongs to the job; its hash proves that it is the same file.
type Evidence struct {
	Name, What string
	Bytes      int64
	SHA256     string // hexadecimal
}

// Chain is the head of the shop book's event chain: who holds it can prove that nothing before it was changed.
type Chain struct {
	Events int
	Head   string // hexadecimal
}

// Case is everything that a proof is printed from.
type Case struct {
	Card          *jobcard.Card
	Proof         *readings.Proof
	Judged        *verdict.Judgement // on all evidence of the job: the paper takes its words from it
	Before, After []readings.Row     // the readings behind Proof.Was and Proof.Is
	Customer      string
	Technician    string
	Details       []Field // more about engine, owner, vehicle
	Corrections   []Correction
	Overrides     []Override
	Instruments   []Instrument // that it was measured with
	Evidence      []Evidence
	Chain         Chain
	Stamp         Stamp
}

// ErrNoProof says that a case has no closing statement.
var ErrNoProof = errors.New("report – no proof in this job – take readings after the corrections first")

// Proof is the closing document of a job.
func Proof(k Case) (*Paper, error) {
	if k.Card == nil {
		return nil, ErrNothing
	}
	if k.Proof == nil || k.Proof.Is == nil || k.Judged == nil {
		return nil, ErrNoProof
	}
	record, err := recordOf(k.Stamp.JSON)
	if err != nil {
		return nil, err
	}
	who := or(k.Technician, k.Stamp.By)
	f := newFlow("proof", "Proof of timing", k.Card.Job.Name, k.Card, k.Stamp, []drawing.Cell{
		{Label: "technician", Value: who, Share: 1.8},
		{Label: "event chain", Value: or(head(k.Chain.Head, 16), "none"), Share: 1.9},
	})
	f.verdict(k.Judged)
	f.fields(k.facts(who))
	chart, err := k.chart(f.wide())
	if err != nil {
		return nil, fmt.Errorf("proof, chart: %w", err)
	}
	f.heading("Timing error over the speed range")
	f.place(chart)
	f.text("Line: fit. Band: 95 %. Dotted: tolerance. Crosses: readings with their standard uncertainty, as read "+
		"under the allowance of their row. Dashed ring: not used. Open ring: cranking.", drawing.Note)
	f.y += gap
	f.comparison(k.Proof)
	f.corrections(k.Corrections)
	f.readings("Readings before", k.Before, k.Proof.Was)
	f.readings("Readings after", k.After, k.Proof.Is)
	f.budget(k.Proof)
	f.notes(k.Proof, k.Judged)
	f.overrides(k.Overrides)
	f.evidence(k.Evidence, k.Chain)
	f.cautions(sheet.Cautions())
	f.signatures(who, k.Customer)
	f.record(record)
	return f.paper(k.Stamp, k.Card), nil
}

// verdict says first what the customer wants to know: the word on the whole statement, and how its nine clauses stand.
func (f *flow) verdict(j *verdict.Judgement) {
	mark := map[verdict.Word]drawing.Verdict{verdict.Pass: drawing.IsFine, verdict.Fails: drawing.IsStop,
		verdict.NotShownYet: drawing.IsCaution}[j.Word]
	big := drawing.TextStyle{Size: 8, Weight: drawing.Bold}
	f.d.Mark(drawing.Point{X: inset + 4, Y: f.y + 6}, 8, mark, drawing.Ink)
	f.d.Text(inset+12, f.y+6, string(j.Word), big.At(drawing.Start, drawing.Centred))
	f.y += 12
	f.text(sentence(j.First), drawing.TextStyle{Size: 3.6})
	f.text("Next: "+j.Next+".", drawing.TextStyle{Size: 3.2})
	f.y += gap
	var rows [][]string
	for _, c := range j.Clauses {
		because := strings.TrimPrefix(c.Because, c.ID.Title()+": ")
		switch look := c.WouldShow; {
		case c.State != verdict.Open || look == "":
		case c.Touched():
			because += ". Would show it: " + look
		default: // "open" says already that nothing shows it yet
			because = "would show it: " + look
		}
		rows = append(rows, []string{c.ID.Title(), string(c.State), because})
	}
	f.table([]column{{"clause", 1.3, left}, {"stands", 1, left}, {"by what", 6.2, left}}, rows)
}

func (k Case) facts(who string) []Field {
	c := k.Card
	e := c.Engine
	order := ""
	for i, n := range e.FiringOrder {
		if i > 0 {
			order += " "
		}
		order += strconv.Itoa(n)
	}
	list := []Field{
		{"customer", or(k.Customer, c.Job.Owner)}, {"workshop", or(c.Job.Shop, "")},
		{"technician", who}, {"date", day(k.Stamp.Date)},
		{"engine", fmt.Sprintf("%d cylinders, firing order %s", e.Cylinders, order)},
		{"crank turns", e.Rotation.FromFront()},
		{"idle to redline", quantity.Number(float64(e.IdleSpeed), 0) + " to " + quantity.RPM(e.Redline)},
		{"rotor turns", c.Distributor.Rotation.FromAbove()},
		{"trigger lead", degrees(float64(c.Signals.Crank.Lead)) + ", " + string(c.Signals.Crank.ActiveEdge) + " edge"},
		{"tolerance", "± " + degrees(k.Proof.Tolerance)},
	}
	list = append(list, k.Details...)
	return slices.DeleteFunc(list, func(f Field) bool { return f.Value == "" })
}

// chart shows the error before and after over one speed axis.
func (k Case) chart(width float64) (*drawing.Drawing, error) {
	c := drawing.Chart{Width: width, Title: "Timing error before and after the corrections",
		Desc: "Timing error against speed with its 95 % band and the tolerance.", Prefix: "proof",
		X: drawing.Axis{Label: "rpm", Min: 0, Max: float64(k.Card.Engine.Redline) * 1.05},
		References: []drawing.Reference{
			{X: float64(k.Card.Engine.IdleSpeed),
				Label: "idle " + quantity.Number(float64(k.Card.Engine.IdleSpeed), 0)},
			{X: float64(k.Card.Engine.Redline),
				Label: "redline " + quantity.Number(float64(k.Card.Engine.Redline), 0)}}}
	for _, side := range []struct {
		label string
		res   *readings.Result
		rows  []readings.Row
	}{{"before: timing error, ° (early +)", k.Proof.Was, k.Before},
		{"after: timing error, ° (early +)", k.Proof.Is, k.After}} {
		if side.res != nil {
			c.Panels = append(c.Panels, errorPanel(side.label, side.res, side.rows, k.Proof.Tolerance))
		}
	}
	return c.Draw()
}

func head(s string, n int) string {
	if len(s) > n {
		return s[:n] + "…"
	}
	return s
}
