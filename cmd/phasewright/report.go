package main

import (
	"errors"
	"fmt"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/web"
)

type reportCommand struct {
	Job    string `arg:"" help:"The job's id or its name in the shop book."`
	PDF    string `name:"pdf" help:"Write the proof as a PDF; - is standard output." placeholder:"FILE"`
	Book   string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
	Letter bool   `help:"US Letter paper instead of A4."`
}

func (c *reportCommand) Run(a *app) error {
	if c.PDF == "" {
		return hinted{errors.New("no file to write was named"), "add --pdf proof.pdf"}
	}
	size := drawing.A4
	if c.Letter {
		size = drawing.Letter
	}
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		j, err := findJob(a.ctx, b, c.Job)
		if err != nil {
			return err
		}
		paper, err := web.ProofPaper(a.ctx, b, j.ID, size)
		if err != nil {
			return fmt.Errorf("%s: %w", j.Name, err)
		}
		return a.writePaper(c.PDF, paper)
	})
}
