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
	"phasewright/verdict"
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
		paper, says, err := proofOf(a.ctx, b, j, size)
		if err != nil {
			return fmt.Errorf("%s: %w", j.Name, err)
		}
		if err := a.writePaper(c.PDF, paper); err != nil {
			return err
		}
		if c.PDF != "-" {
			err = says.WriteWhole(a.out)
		}
		if err == nil && says.Word != verdict.Pass {
			return errFails
		}
		return err
	})
}

// proofOf is the proof of a job as the book has it now, and the judgement that it bears.
func proofOf(ctx context.Context, b *book.Book, line book.Job, size drawing.SheetSize) (
	*report.Paper, *verdict.Judgement, error) {
	events, err := b.Events(ctx, line.ID, 0)
	if err != nil {
		return nil, nil, err
	}
	files, err := b.Attachments(ctx, line.ID)
	if err != nil {
		return nil, nil, err
	}
	j := new(record.Job).Fold(line, events)
	says, err := j.Judge()
	if err != nil {
		return nil, nil, err
	}
	paper, err := j.ProofPaper(record.Files{List: files,
		Export: func(w io.Writer) error { return b.Export(ctx, j.ID, w) },
		Open:   func(sha book.Hash) (io.ReadSeekCloser, int64, error) { return b.OpenAttachment(ctx, sha) }}, size)
	return paper, says, err
}
