package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"phasewright/jobcard"
)

type cardCommand struct {
	New    cardNew    `cmd:"" help:"Write a commented job card to start from."`
	Check  cardCheck  `cmd:"" help:"Check a job card and say what is wrong, where, and what to write."`
	Schema cardSchema `cmd:"" help:"Print the JSON Schema of a job card."`
}

type cardNew struct {
	Card string `arg:"" optional:"" default:"-" help:"File to write; standard output if left out."`
}

func (c *cardNew) Run(a *app) error {
	if c.Card != "-" {
		if _, err := os.Lstat(c.Card); err == nil {
			return hinted{fmt.Errorf("%s exists already", c.Card), "name another file; nothing is written over"}
		} else if !errors.Is(err, fs.ErrNotExist) {
			return unopened(c.Card, err)
		}
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
