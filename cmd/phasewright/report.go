package main

import (
	"context"
	"errors"
	"fmt"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/record"
	"phasewright/report"
	"phasewright/verdict"
)

type reportCommand struct {
	Job    string `arg:"" help:"The job's id or its name in the shop book."`
	PDF    output `name:"pdf" help:"Write the proof as a PDF; - is standard output." placeholder:"FILE"`
	All    output `name:"all" help:"Write every paper that the job has into a folder that is new or empty: the proof, one on each recording, and all that its card gives." placeholder:"DIR"`
	Book   string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
	Letter bool   `help:"US Letter paper instead of A4."`
}

func (c *reportCommand) Run(a *app) error {
	if c.PDF == "" && c.All == "" {
		return hinted{errors.New("no file to write was named"), "add --pdf proof.pdf, or --all papers"}
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
		papers, says, err := c.papers(a.ctx, b, j, size)
		if err != nil {
			return fmt.Errorf("%s: %w", j.Name, err)
		}
		if c.All != "" {
			if err := a.writePapers(c.All, papers); err != nil {
				return err
			}
		}
		if c.PDF != "" {
			if err := a.writePaper(c.PDF, papers[0].Paper); err != nil {
				return err
			}
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

// papers are those of a job as the book has it now, the proof first and alone where no others are asked for, and the
// judgement that it bears.
func (c *reportCommand) papers(ctx context.Context, b *book.Book, line book.Job, size drawing.SheetSize) (
	[]report.Named, *verdict.Judgement, error) {
	events, err := b.Events(ctx, line.ID, 0)
	if err != nil {
		return nil, nil, err
	}
	files, err := record.FilesOf(ctx, b, line.ID)
	if err != nil {
		return nil, nil, err
	}
	j := new(record.Job).Fold(line, events)
	says, err := j.Judge()
	if err != nil {
		return nil, nil, err
	}
	if c.All != "" {
		papers, err := j.Papers(files, size)
		return papers, says, err
	}
	paper, err := j.ProofPaper(files, size)
	return []report.Named{{Name: "proof.pdf", Paper: paper}}, says, err
}
