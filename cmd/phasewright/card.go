package main

import (
	"fmt"

	"phasewright/jobcard"
)

type cardCommand struct {
	New    cardNew    `cmd:"" help:"Write a commented job card to start from."`
	Check  cardCheck  `cmd:"" help:"Check a job card and say what is wrong, where, and what to write."`
	Schema cardSchema `cmd:"" help:"Print the JSON Schema of a job card."`
}

type cardNew struct {
	Card output `arg:"" optional:"" default:"-" help:"File to write; standard output if left out."`
}

func (c *cardNew) Run(a *app) error {
	if err := mustBeNew(c.Card, "name another file; nothing is written over"); err != nil {
		return err
	}
	if err := a.writeBytes(c.Card, []byte(jobcard.Starter())); err != nil {
		return err
	}
	if c.Card != "-" {
		fmt.Fprintf(a.err, "%s written; fill it in, then: phasewright card check %s\n", c.Card, c.Card)
	}
	return nil
}

type cardCheck struct {
	Card string `arg:"" help:"The job card (YAML); - reads standard input."`
}

func (c *cardCheck) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.out, "%s: fine (%s)\n", shown(c.Card), card.Job.Name)
	return nil
}

type cardSchema struct {
	Card string `arg:"" optional:"" hidden:""`
}

func (c *cardSchema) Run(a *app) error {
	_, err := a.out.Write(jobcard.SchemaJSON())
	return err
}
