package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"phasewright/drawing"
	"phasewright/report"
)

// exportIn gives the exported job in a file: the file itself, or what a proof printed as PDF carries inside.
func exportIn(name string, f *os.File) (io.Reader, error) {
	head := make([]byte, 5)
	if n, err := io.ReadFull(f, head); err != nil || string(head) != "%PDF-" {
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return io.MultiReader(bytes.NewReader(head[:n]), f), nil // a pipe
		}
		return f, nil
	}
	st, err := f.Stat()
	if err != nil || st.Size() > largestInput {
		return nil, hinted{fmt.Errorf("%s is larger than %d MiB", name, largestInput>>20),
			"a proof is far smaller; is this the right file?"}
	}
	export, err := drawing.Attached(f, st.Size(), report.ExportName)
	switch {
	case errors.Is(err, drawing.ErrNotAttached):
		return nil, hinted{fmt.Errorf("%s carries no job", name),
			"a proof made with files of more than 16 MiB travels without them: phasewright book export JOB FILE"}
	case err != nil:
		return nil, hinted{fmt.Errorf("%s carries no job that can be read: %w", name, err),
			"export the job from its shop book instead: phasewright book export JOB FILE"}
	}
	return io.LimitReader(export, largestInput), nil
}
