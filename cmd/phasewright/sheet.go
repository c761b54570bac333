package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"phasewright/coil"
	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/report"
	"phasewright/sheet"
)

type sheetCommand struct {
	Card   string `arg:"" help:"The job card (YAML); - reads standard input."`
	JSON   bool   `name:"json" help:"Print the sheet as JSON." xor:"form"`
	PDF    output `name:"pdf" help:"Write the sheet as a PDF, stops and cautions first, on as few pages as its matter needs; - is standard output." placeholder:"FILE" xor:"form"`
	Spark  output `name:"spark-pdf" help:"Write the paper on coil, spark and rotor: the chart that decides, its table, the rotor to scale; - is standard output." placeholder:"FILE" xor:"form"`
	Views  output `name:"drawings-pdf" help:"Write the drawings alone, large: damper, cap, signals over one cycle, rotor; - is standard output." placeholder:"FILE" xor:"form"`
	Steps  output `name:"steps-pdf" help:"Write the order of work for this engine with boxes to tick, for a shop without phones; - is standard output." placeholder:"FILE" xor:"form"`
	Dwell  output `name:"dwell-csv" help:"Write the dwell needed at 6 to 16 V as CSV, to fill a controller's table from; - is standard output." placeholder:"FILE" xor:"form"`
	All    output `name:"all" help:"Write every paper that the card gives into a folder that is new or empty: sheet, tape, strip, wheel, drawings, spark, leads, order of work, blank forms." placeholder:"DIR" xor:"form"`
	Date   string `help:"Date printed on the PDF, such as 2026-11-25; left out: none." placeholder:"DATE"`
	By     string `help:"Who made it, printed on the PDF." placeholder:"NAME"`
	Units  string `help:"Lengths in mm or inches, the other in brackets where a tool is set; left out: as the card says (job.units), else mm." placeholder:"UNIT" one:"mm,inches"`
	Letter bool   `help:"US Letter paper instead of A4."`
}

func (c *sheetCommand) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	if c.Units != "" {
		if card.Job.Units, err = lengthUnit(c.Units); err != nil {
			return err
		}
	}
	s, err := sheet.Make(card)
	if err != nil {
		return err
	}
	switch {
	case c.JSON:
		err = writeJSON(a.out, sheetData{s, sheet.SparkSeries(card, sparkSpeeds)})
	case c.Spark != "":
		err = c.spark(a, card)
	case c.Views != "":
		err = c.drawings(a, card, s)
	case c.Steps != "":
		err = c.steps(a, card, s)
	case c.Dwell != "":
		err = c.dwell(a, card)
	case c.PDF != "":
		err = c.pdf(a, card, s)
	case c.All != "":
		err = c.all(a, card, s)
	default:
		err = s.WriteText(a.out, a.width)
	}
	if err != nil {
		return err
	}
	if n := s.Count(sheet.Stop); n > 0 {
		cleared := "they are"
		if n == 1 {
			cleared = "it is"
		}
		fmt.Fprintf(a.err, "%s on the sheet: do not work by it before %s cleared\n", count(n, "stop"), cleared)
		return errFails
	}
	return nil
}

// sparkSpeeds is at how many speeds the series of the chart that decides over the spark are written.
const sparkSpeeds = 25

// sheetData is the sheet with the series of its chart.
type sheetData struct {
	*sheet.Sheet
	Spark *sheet.Spark `json:"spark"`
}

func (c *sheetCommand) spark(a *app, card *jobcard.Card) error {
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	k, err := sheet.CaseOf(card)
	if err != nil {
		return err
	}
	paper, err := report.Spark(k, stamp)
	if err != nil {
		return err
	}
	return a.writePaper(c.Spark, paper)
}

func (c *sheetCommand) drawings(a *app, card *jobcard.Card, s *sheet.Sheet) error {
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	paper, err := report.Drawings(card, s, stamp)
	if err != nil {
		return err
	}
	return a.writePaper(c.Views, paper)
}

func (c *sheetCommand) all(a *app, card *jobcard.Card, s *sheet.Sheet) error {
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	p, err := procedure.New(card, s)
	if err != nil {
		return err
	}
	papers, err := report.All(card, s, p.Lines(p.Start()), nil, stamp)
	if err != nil {
		return err
	}
	return a.writePapers(c.All, papers)
}

func (c *sheetCommand) steps(a *app, card *jobcard.Card, s *sheet.Sheet) error {
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	paper, err := stepList(card, s, stamp)
	if err != nil {
		return err
	}
	return a.writePaper(c.Steps, paper)
}

// stepList is the order of work from its beginning, on paper.
func stepList(card *jobcard.Card, s *sheet.Sheet, stamp report.Stamp) (*report.Paper, error) {
	p, err := procedure.New(card, s)
	if err != nil {
		return nil, err
	}
	return report.Steps(card, s, p.Lines(p.Start()), nil, stamp)
}

func (c *sheetCommand) dwell(a *app, card *jobcard.Card) error {
	k, err := sheet.CaseOf(card)
	if err != nil {
		return err
	}
	rows, ok := k.DwellTable()
	if !ok {
		return hinted{fmt.Errorf("%s: no dwell table: the card has no coil that the controller charges", shown(c.Card)),
			"write ignition.output: coil driver and the coil section; a spark box charges itself"}
	}
	var b bytes.Buffer
	if err := coil.WriteDwell(&b, rows); err != nil {
		return err
	}
	return a.writeBytes(c.Dwell, b.Bytes())
}

func (c *sheetCommand) pdf(a *app, card *jobcard.Card, s *sheet.Sheet) error {
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return err
	}
	paper, err := report.SetUp(card, s, stamp)
	if err != nil {
		return err
	}
	return a.writePaper(c.PDF, paper)
}

// stampOf reads the date and names that go on a document.
func stampOf(date, by string, letter bool) (report.Stamp, error) {
	s := report.Stamp{By: by}
	if letter {
		s.Paper = drawing.Letter
	}
	if date == "" {
		return s, nil
	}
	when, err := time.Parse(time.DateOnly, date)
	if err != nil {
		when, err = time.Parse("2006-01-02T15:04Z07:00", date)
	}
	if err != nil {
		return s, hinted{fmt.Errorf("--date %q is not a date", date),
			"write year, month and day such as 2026-11-25, or 2026-11-25T14:30+02:00"}
	}
	s.Date = when
	return s, nil
}

// writePaper writes a document and says what of it could not be printed as written.
func (a *app) writePaper(name output, paper *report.Paper) error {
	data, err := a.pdfOf(paper)
	if err != nil {
		return err
	}
	return a.writeBytes(name, data)
}

// pdfOf makes a document's file and says what of it could not be printed as written.
func (a *app) pdfOf(paper *report.Paper) ([]byte, error) {
	data, err := paper.PDF()
	if err != nil {
		return nil, err
	}
	for _, w := range paper.Warnings() {
		fmt.Fprintf(a.err, "note: %v\n", w)
	}
	return data, nil
}

// writePapers writes documents into a folder that is new or empty, all of them or none.
func (a *app) writePapers(dir output, papers []report.Named) error {
	files := make([]file, len(papers))
	for i, p := range papers {
		data, err := a.pdfOf(p.Paper)
		if err != nil {
			return fmt.Errorf("%s: %w", p.Name, err)
		}
		files[i] = file{p.Name, data}
	}
	if err := a.writeFolder(string(dir), files); err != nil {
		return err
	}
	fmt.Fprintf(a.err, "%s written to %s\n", count(len(files), "paper"), dir)
	return nil
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
