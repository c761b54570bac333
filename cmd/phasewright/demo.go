package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/report"
	"phasewright/sheet"
	"phasewright/verdict"
)

type demoCommand struct {
	Out string `help:"Folder for the files of the job; made if it does not exist. Left out: nothing is written." placeholder:"DIR"`
}

// demonstration is the whole job on the built-in example.
type demonstration struct {
	card   *jobcard.Card
	sheet  *sheet.Sheet
	before *readings.Table
	after  *readings.Table
	fit    *readings.Result
	proof  *readings.Proof
	first  verdict.Judgement // on the first readings
	last   verdict.Judgement // on those after the corrections
}

const demoExample = "sandpiper"

func demonstrate() (*demonstration, error) {
	card, err := jobcard.Parse(demoExample+".yaml", []byte(examples.Cards()[0].YAML))
	if err != nil {
		return nil, err
	}
	d := &demonstration{card: card}
	if d.sheet, err = sheet.Make(card); err != nil {
		return nil, err
	}
	if d.before, err = exampleReadings(demoExample); err != nil {
		return nil, err
	}
	if d.after, err = exampleReadings(demoExample + "-after"); err != nil {
		return nil, err
	}
	was := settingsFor(card, d.before)
	if d.fit, err = readings.Fit(d.before.Rows, was); err != nil {
		return nil, err
	}
	first, err := judgeLight(card, d.before.Rows, d.fit, was)
	if err != nil {
		return nil, err
	}
	d.first, d.fit = first, first.OntoReadings(d.fit)
	if d.proof, err = readings.Prove(d.before.Rows, d.after.Rows, was, settingsFor(card, d.after),
		readings.Simulation{Seed: 1}); err != nil {
		return nil, err
	}
	d.last = verdict.OfReadings(verdict.Light{Rows: d.after.Rows, Fit: d.proof.Is, Proof: d.proof}, evidenceOf(card))
	return d, nil
}

func exampleReadings(name string) (*readings.Table, error) {
	text, err := examples.Readings(name)
	if err != nil {
		return nil, err
	}
	return readings.Read(strings.NewReader(text), name+".csv")
}

func (c *demoCommand) Run(a *app) error {
	d, err := demonstrate()
	if err != nil {
		return err
	}
	if err := d.print(a); err != nil {
		return err
	}
	if c.Out != "" {
		return d.write(a, c.Out)
	}
	fmt.Fprintln(a.err, "\nphasewright demo --out DIR writes the files of this job; phasewright serve "+
		"--demo opens it in a browser")
	return nil
}

func (d *demonstration) print(a *app) error {
	var b strings.Builder
	head := func(n int, title string) { fmt.Fprintf(&b, "\n%s\n", a.strong(fmt.Sprintf("%d  %s", n, title))) }
	fmt.Fprintf(&b, "%s\n", a.strong("The whole job on an invented engine: "+d.card.Job.Name))
	head(1, "The job card says")
	e, g := d.card.Engine, d.card.Controller
	b.WriteString(wrapped(fmt.Sprintf("%d cylinders, firing order %s; crank %s; rotor %s; trigger lead %v on the %s "+
		"edge; locked at %v, at most %v; %v to %v",
		e.Cylinders, strings.Trim(strings.ReplaceAll(fmt.Sprint(e.FiringOrder), " ", "-"), "[]"),
		e.Rotation.FromFront(), d.card.Distributor.Rotation.FromAbove(),
		d.card.Signals.Crank.Lead, d.card.Signals.Crank.ActiveEdge, g.Advance.Locked, g.Advance.Max, e.IdleSpeed,
		e.Redline), "  ", a.width))
	head(2, fmt.Sprintf("The set-up sheet that follows (fine %d, caution %d, stop %d)", d.sheet.Count(sheet.Fine),
		d.sheet.Count(sheet.Caution), d.sheet.Count(sheet.Stop)))
	for _, id := range []string{"mark_lead", "piston_stop", "gear_drop", "phasing", "trigger_lead", "cranking_bias"} {
		it := d.sheet.Item(id)
		if it == nil {
			return fmt.Errorf("the demo's sheet has no item %s", id)
		}
		b.WriteString(wrapped(it.Title+": "+it.Text, "  - ", a.width))
	}
	head(3, "First readings of the light")
	if err := d.first.Write(&b); err != nil {
		return err
	}
	if err := writeFit(&b, a.width, d.card, d.before.Rows, d.fit); err != nil {
		return err
	}
	head(4, "Housing turned, allowance set, power-cycled, read back; read again")
	writeRows(&b, d.after.Rows, d.proof.Is)
	head(5, "The proof, as far as the light alone can give it")
	if err := d.last.WriteWhole(&b); err != nil {
		return err
	}
	writeProof(&b, a.width, d.proof)
	b.WriteString("\n")
	for _, l := range sheet.Cautions()[:2] {
		b.WriteString(wrapped(l, "  ", a.width))
	}
	_, err := io.WriteString(a.out, b.String())
	return err
}

// writeProof prints the closing statement.
func writeProof(b *strings.Builder, width int, p *readings.Proof) {
	fmt.Fprintf(b, "  timing by the light: %s\n", p.Statement)
	fmt.Fprintf(b, "  %s to %s rpm, tolerance ± %s°\n", num(p.Idle, 0), num(p.Redline, 0), num(p.Tolerance, 1))
	fmt.Fprintf(b, "  worst before   %s° ± %s° at %s rpm\n", quantity.Signed(p.Before.Value, 2), num(p.Before.U, 2),
		num(p.Before.RPM, 0))
	fmt.Fprintf(b, "  worst after    %s° ± %s° at %s rpm\n", quantity.Signed(p.Worst.Value, 2), num(p.Worst.U, 2),
		num(p.Worst.RPM, 0))
	b.WriteString("\n  budget at the worst speed       kind   u °\n")
	for _, l := range p.Budget {
		note := ""
		if l.Assumed {
			note = "  assumed"
		}
		fmt.Fprintf(b, "  %-32s %-4s  %s%s\n", l.Name, l.Kind, num(float64(l.U), 3), note)
	}
	fmt.Fprintf(b, "  %-32s       %s (ν = %s, k = %s)\n", "combined", num(float64(p.Combined), 3),
		num(float64(p.DOF), 0), num(float64(p.Factor), 2))
	for _, w := range p.Words {
		b.WriteString(wrapped(w, "  - ", width))
	}
}

// write puts the files of the job into a folder.
func (d *demonstration) write(a *app, dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return hinted{fmt.Errorf("%s: cannot be made: %w", dir, err), "name a folder that you may write to"}
	}
	pages, err := report.Tape(d.card, d.sheet).Pages()
	if err != nil {
		return err
	}
	tape, err := drawing.PDF(drawing.Document{Title: pages[0].Title + ", " + d.card.Job.Name, Pages: pages})
	if err != nil {
		return err
	}
	var text bytes.Buffer
	if err := d.sheet.WriteText(&text, 80); err != nil {
		return err
	}
	before, err := examples.Readings(demoExample)
	if err != nil {
		return err
	}
	after, err := examples.Readings(demoExample + "-after")
	if err != nil {
		return err
	}
	type file struct {
		name string
		data []byte
	}
	files := []file{
		{"card.yaml", []byte(examples.Cards()[0].YAML)}, {"sheet.txt", text.Bytes()}, {"readings.csv", []byte(before)},
		{"readings-after.csv", []byte(after)}, {"tape.pdf", tape},
	}
	papers, err := d.papers()
	if err != nil {
		return err
	}
	for name, data := range papers {
		files = append(files, file{name, data})
	}
	for name, v := range map[string]any{"sheet.json": sheetData{d.sheet, sheet.SparkSeries(d.card, sparkSpeeds)},
		"fit.json": d.fit, "proof.json": record.Proved{Proof: d.proof, Judgement: &d.last}} {
		var b bytes.Buffer
		if err := writeJSON(&b, v); err != nil {
			return err
		}
		files = append(files, file{name, b.Bytes()})
	}
	for _, f := range files { // a card or readings may be somebody's own; the papers can be made again
		have, err := os.ReadFile(filepath.Join(dir, f.name))
		own := filepath.Ext(f.name) == ".yaml" || filepath.Ext(f.name) == ".csv"
		if own && err == nil && !bytes.Equal(have, f.data) {
			return hinted{fmt.Errorf("%s is there already and holds something else", filepath.Join(dir, f.name)),
				"name an empty folder with --out; nothing was written"}
		}
	}
	for _, f := range files {
		if err := a.writeBytes(output(filepath.Join(dir, f.name)), f.data); err != nil {
			return err
		}
	}
	fmt.Fprintf(a.err, "%d files written to %s\n", len(files), dir)
	return nil
}

// papers are the set-up sheet, the spark and the proof of the demo, dated as the invented job is.
func (d *demonstration) papers() (map[string][]byte, error) {
	twin, err := json.Marshal(record.Proved{Proof: d.proof, Judgement: &d.last})
	if err != nil {
		return nil, err
	}
	stamp := report.Stamp{Date: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC), By: d.card.Job.Shop, JSON: twin}
	sheetPaper, err := report.SetUp(d.card, d.sheet, stamp)
	if err != nil {
		return nil, err
	}
	proofPaper, err := report.Proof(report.Case{Card: d.card, Proof: d.proof, Judged: &d.last, Before: d.before.Rows,
		After: d.after.Rows, Customer: d.card.Job.Owner, Technician: "demo (invented)", Stamp: stamp,
		Corrections: []report.Correction{
			{What: "delay allowance", From: quantity.Microseconds(d.fit.Allowance.Now),
				To: quantity.Microseconds(d.fit.Allowance.Set), By: "demo (invented)"},
			{What: "housing", To: turn(d.fit.Housing), By: "demo (invented)"},
		}})
	if err != nil {
		return nil, err
	}
	k, err := sheet.CaseOf(d.card)
	if err != nil {
		return nil, err
	}
	sparkPaper, err := report.Spark(k, report.Stamp{Date: stamp.Date, By: stamp.By})
	if err != nil {
		return nil, err
	}
	stepsPaper, err := stepList(d.card, d.sheet, stamp)
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}
	for name, p := range map[string]*report.Paper{"sheet.pdf": sheetPaper, "proof.pdf": proofPaper,
		"spark.pdf": sparkPaper, "steps.pdf": stepsPaper} {
		if out[name], err = p.PDF(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// demoJob records the example in a book up to the first readings, so that the next thing to do is the correction.
func demoJob(ctx context.Context, b *book.Book) error {
	d, err := demonstrate()
	if err != nil {
		return err
	}
	const who = "demo (invented)"
	j := d.card.Job
	drafts := []book.Draft{{Who: who, Kind: book.KindCardSaved,
		Payload: payload(map[string]any{"yaml": examples.Cards()[0].YAML})}}
	for i, r := range d.before.Rows {
		drafts = append(drafts, book.Draft{Who: who, Kind: book.KindReadingAdded, Payload: payload(map[string]any{
			"id": fmt.Sprintf("demo-%d", i+1), "rpm": float64(r.Speed), "shown_deg": float64(r.Shown),
			"locked_deg": float64(r.Locked), "u_deg": float64(r.U),
			"allowance_us": float64(r.Allowance), "note": r.Note})})
	}
	_, err = b.CreateJob(ctx, book.NewJob{Who: who, Name: j.Name, Owner: j.Owner, Shop: j.Shop,
		Engine: fmt.Sprintf("inline %d", d.card.Engine.Cylinders), Then: drafts})
	return err
}

func payload(v map[string]any) json.RawMessage {
	out, err := json.Marshal(v)
	if err != nil {
		panic(err) // numbers and strings only
	}
	return out
}

// strong marks a heading on a terminal that takes colour.
func (a *app) strong(s string) string {
	if !a.colour {
		return s
	}
	return "\x1b[1m" + s + "\x1b[0m"
}
