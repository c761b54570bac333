package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

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
	Turn                     float64 // of the housing, shaft degrees, with the rotor positive; 0 for another change
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

// Chain is the head of the shop book's event chain: while a copy of it is kept, nothing before it can be changed
// unseen.
type Chain struct {
	Events int
	Head   string // hexadecimal
}

// Signer is somebody who signed the proof.
type Signer struct {
	Name, Role, Word string    // Word is the verdict that was signed
	At               time.Time // in the zone that it is printed in
}

// Recorded is a recording of the job and what it shows.
type Recorded struct {
	Name, When, Says string
	Against          bool // it speaks against the statement
}

// Photo is a picture that proves a step.
type Photo struct {
	Title, File, By, When string
	Data                  []byte // JPEG, PNG or GIF; nil where it could not be had
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
	Rebuilt       bool // more than housing and allowance was changed between the readings before and after
	Overrides     []Override
	Signers       []Signer
	Superseded    string   // when something was recorded that ended the signatures; "" while they stand
	Readers       []string // who took the readings after the corrections
	Ordered       bool     // the order of work was kept: OpenSteps tells
	OpenSteps     []string // its steps that are not done
	Recordings    []Recorded
	Instruments   []Instrument
	Photos        []Photo
	Evidence      []Evidence
	Chain         Chain
	Stamp         Stamp
}

// ErrNoProof says that a case has no closing statement.
var ErrNoProof = errors.New("report – no proof in this job – take readings after the corrections first")

// errTwin says that what machines are to read cannot be read.
var errTwin = errors.New("report – the machine-readable twin is not one JSON value – give the record as it was " +
	"exported")

// Proof is the closing document of a job: on its first page the verdict with the signatures beside it, what speaks for
// and against it, what was found, changed and is shown now; then the figures behind it.
func Proof(k Case) (*Paper, error) {
	if k.Card == nil {
		return nil, ErrNothing
	}
	if k.Proof == nil || k.Proof.Is == nil || k.Judged == nil {
		return nil, ErrNoProof
	}
	if len(k.Stamp.JSON) > 0 && !json.Valid(k.Stamp.JSON) {
		return nil, errTwin
	}
	who := or(k.Technician, k.Stamp.By)
	stamp := k.Stamp
	stamp.By = who
	f := newFlow("proof", "Proof of timing", k.Card.Job.Name, k.Card, stamp, []drawing.Cell{
		{Label: "customer", Value: or(k.Customer, k.Card.Job.Owner), Share: 1.5},
		{Label: "workshop", Value: or(k.Card.Job.Shop, ""), Share: 1.5},
		{Label: "event chain, from", Value: or(head(k.Chain.Head, hashShown), "none"), Share: 1},
		{Label: "method", Value: "JCGM 100 and 106", Share: 1},
	})
	if k.Superseded != "" {
		f.alert("SUPERSEDED on " + k.Superseded +
			". More was recorded since it was signed. Ask for the proof of today.")
		f.y += gap
	}
	f.verdict(k.Judged, k.signatures(who))
	f.standing(k)
	f.fields(k.facts())
	f.comparison(k)
	chart, err := k.chart(f.wide())
	if err != nil {
		return nil, fmt.Errorf("proof, chart: %w", err)
	}
	f.headingOf("Timing error over the speed range", chart.Height+12)
	f.place(chart)
	f.text("Line: fit, dashed where no reading reaches. Band: 95 %. Dotted: tolerance. Crosses: readings with their "+
		"standard uncertainty, as read under the allowance of their row. Dashed ring: not used. Open ring: cranking.",
		drawing.Note)
	f.y += gap
	f.corrections(k.Corrections)
	f.recordings(k.Recordings)
	f.instruments(k.Instruments)
	before, after := k.sides()
	f.readings("Readings "+before, k.Before, k.Proof.Was)
	f.readings(strings.TrimSpace("Readings "+after), k.After, k.Proof.Is)
	f.errors(k)
	f.budget(k.Proof)
	f.notes(k.Proof, k.Judged)
	f.overrides(k.Overrides)
	f.photos(k.Photos)
	f.evidence(k.Evidence, k.Chain)
	f.verify(stamp, k)
	f.cautions(sheet.Cautions())
	return f.paper(stamp, k.Card), nil
}

// sides are the words for the two rounds of readings. Before any correction there is no after.
func (k Case) sides() (before, after string) {
	if k.Proof.Was == nil && len(k.Corrections) == 0 {
		return "", "as found"
	}
	return "before", "after"
}

// verdict says first what the customer wants to know: the word on the whole statement, how its nine clauses stand, and
// who answers for it.
func (f *flow) verdict(j *verdict.Judgement, names []signature) {
	const beside = 66.0
	mark := map[verdict.Word]drawing.Verdict{verdict.Pass: drawing.IsFine, verdict.Fails: drawing.IsStop,
		verdict.NotShownYet: drawing.IsCaution}[j.Word]
	big := drawing.TextStyle{Size: 8, Weight: drawing.Bold}
	f.d.Mark(drawing.Point{X: inset + 4, Y: f.y + 6}, 8, mark, drawing.Ink)
	f.d.Text(inset+12, f.y+6, string(j.Word), big.At(drawing.Start, drawing.Centred))
	y := f.y + 14
	for _, p := range []struct {
		words string
		style drawing.TextStyle
	}{{sentence(j.First), drawing.TextStyle{Size: 3.6}}, {"Next: " + j.Next + ".", drawing.TextStyle{Size: 3.2}}} {
		y = f.d.Lines(inset, y+2, f.wide()-beside-5, p.words, p.style)
	}
	below := f.signed(names, f.w-inset-beside, f.y-1, beside)
	f.y = max(y, below) + 1
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
	f.close = true
	f.table([]column{{"clause", 1.3, left}, {"stands", 1, left}, {"by what", 6.2, left}}, rows)
	f.close = false
}

func (k Case) facts() []Field {
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
	c := drawing.Chart{Width: width, Title: "Timing error over the speed range",
		Desc: "Timing error against speed with its 95 % band and the tolerance.", Prefix: "proof",
		X: drawing.Axis{Label: "rpm", Min: 0, Max: float64(k.Card.Engine.Redline) * 1.05},
		References: []drawing.Reference{
			{X: float64(k.Card.Engine.IdleSpeed),
				Label: "idle " + quantity.Number(float64(k.Card.Engine.IdleSpeed), 0)},
			{X: float64(k.Card.Engine.Redline),
				Label: "redline " + quantity.Number(float64(k.Card.Engine.Redline), 0)}}}
	before, after := k.sides()
	for _, side := range []struct {
		label string
		res   *readings.Result
		rows  []readings.Row
	}{{before, k.Proof.Was, k.Before}, {after, k.Proof.Is, k.After}} {
		if side.res != nil {
			c.Panels = append(c.Panels, errorPanel(side.label+": timing error, ° (early +)", side.res, side.rows,
				k.Proof.Tolerance))
		}
	}
	return c.Draw()
}

func head(s string, n int) string { return s[:min(len(s), n)] }
