package main

import (
	"fmt"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/record"
	"phasewright/report"
)

type cardCommand struct {
	New    cardNew    `cmd:"" help:"Write a commented job card to start from."`
	Check  cardCheck  `cmd:"" help:"Check a job card and say what is wrong, where, and what to write."`
	Form   cardForm   `cmd:"" help:"A blank job card on paper, to fill in by hand beside the engine."`
	Schema cardSchema `cmd:"" help:"Print the JSON Schema of a job card."`
}

type cardNew struct {
	Card output `arg:"" optional:"" default:"-" help:"File to write; standard output if left out."`
	From string `help:"Begin with the card of this job of the shop book, by id or name, put away or not; what it showed stands above it." placeholder:"JOB"`
	Book string `help:"The shop book of --from; the usual one if left out." placeholder:"FILE"`
}

func (c *cardNew) Run(a *app) error {
	if err := mustBeNew(c.Card, "name another file; nothing is written over"); err != nil {
		return err
	}
	text, err := c.text(a)
	if err != nil {
		return err
	}
	if err := a.writeBytes(c.Card, []byte(text)); err != nil {
		return err
	}
	if c.Card != "-" {
		fmt.Fprintf(a.err, "%s written; fill it in, then: phasewright card check %s\n", c.Card, c.Card)
	}
	return nil
}

// text is the card to start from: a commented one, or that of an earlier job with what it showed as remarks above it.
func (c *cardNew) text(a *app) (text string, err error) {
	if c.From == "" {
		return jobcard.Starter(), nil
	}
	err = onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		line, err := findJob(a.ctx, b, c.From)
		if err != nil {
			return err
		}
		events, err := b.Events(a.ctx, line.ID, 0)
		if err != nil {
			return err
		}
		j := new(record.Job).Fold(line, events)
		if j.YAML == "" {
			return fmt.Errorf("%s – has no job card yet – name another job, or leave --from out", line.Name)
		}
		learnt := j.Learnt()
		var s strings.Builder
		fmt.Fprintf(&s, "# Card of an earlier job, last worked on %s. Change what is not so here.\n",
			learnt.Last.Format(time.DateOnly))
		for _, w := range learnt.Words() {
			s.WriteString("# " + w + "\n")
		}
		text = s.String() + j.YAML
		return nil
	})
	return text, err
}

type cardForm struct {
	PDF    output `name:"pdf" required:"" help:"Write the form as a PDF; - is standard output." placeholder:"FILE"`
	Units  string `help:"The unit of length that the shop works in, mm or inches: it stands first." placeholder:"UNIT" one:"mm,inches"`
	Letter bool   `help:"US Letter paper instead of A4."`
}

func (c *cardForm) Run(a *app) error {
	stamp, err := stampOf("", "", c.Letter)
	if err != nil {
		return err
	}
	var shop quantity.LengthUnit
	if c.Units != "" {
		if shop, err = lengthUnit(c.Units); err != nil {
			return err
		}
	}
	return a.writePaper(c.PDF, report.CardForm(shop, stamp))
}

type cardCheck struct {
	Card string `arg:"" help:"The job card (YAML); - reads standard input."`
}

func (c *cardCheck) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	doubts := card.Doubts()
	verdict := "fine"
	if len(doubts) > 0 {
		verdict = count(len(doubts), "value") + " to look at"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s (%s)\n", shown(c.Card), verdict, card.Job.Name)
	b.WriteString(wrapped(card.Kind(), "this engine: ", a.width))
	b.WriteString(wrapped(jobcard.Served, "", a.width))
	for _, d := range doubts {
		fmt.Fprintf(&b, "\n%s:%d:%d:\n", shown(c.Card), d.Line, d.Column)
		b.WriteString(wrapped(d.String(), "  ", a.width))
	}
	if _, err := a.out.Write([]byte(b.String())); err != nil || len(doubts) == 0 {
		return err
	}
	var paths []string
	for _, d := range doubts {
		paths = append(paths, d.Path)
	}
	fmt.Fprintf(a.err, "hint: write them right; what is right as it stands goes into job.confirmed: %s\n",
		strings.Join(paths, ", "))
	return errFails
}

type cardSchema struct {
	Card string `arg:"" optional:"" hidden:""`
}

func (c *cardSchema) Run(a *app) error {
	_, err := a.out.Write(jobcard.SchemaJSON())
	return err
}
