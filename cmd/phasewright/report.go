package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/record"
	"phasewright/report"
)

type reportCommand struct {
	Job    string `arg:"" help:"The job's id or its name in the shop book."`
	PDF    output `name:"pdf" help:"Write the proof as a PDF; - is standard output." placeholder:"FILE"`
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
		paper, err := proofOf(a.ctx, b, j, size)
		if err != nil {
			return fmt.Errorf("%s: %w", j.Name, err)
		}
		return a.writePaper(c.PDF, paper)
	})
}

// proofOf is the proof of a job as the book has it now.
func proofOf(ctx context.Context, b *book.Book, line book.Job, size drawing.SheetSize) (*report.Paper, error) {
	events, err := b.Events(ctx, line.ID, 0)
	if err != nil {
		return nil, err
	}
	files, err := b.Attachments(ctx, line.ID)
	if err != nil {
		return nil, err
	}
	j := new(record.Job).Fold(line, events)
	return j.ProofPaper(files, func(w io.Writer) error { return b.Export(ctx, j.ID, w) }, size)
}
