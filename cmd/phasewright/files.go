package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"golang.org/x/term"

	"phasewright/jobcard"
)

// largestInput is the most that is read into memory of a card or another small file.
const largestInput = 64 << 20

// terminal says whether w is a terminal that takes colour, and how wide it is.
func terminal(w io.Writer) (colour bool, width int) {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return false, 80
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width < 40 {
		width = 80
	}
	return os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb", width
}

// readFile reads a whole small file; "-" is standard input.
func (a *app) readFile(name string) ([]byte, error) {
	var r io.Reader
	if name == "-" {
		r = a.in
		if f, ok := r.(*os.File); ok {
			a.reads(f)
		}
	} else {
		f, err := os.Open(name)
		if err != nil {
			return nil, unopened(name, err)
		}
		defer f.Close()
		if st, err := f.Stat(); err == nil && st.IsDir() {
			return nil, hinted{fmt.Errorf("%s is a folder", name), "name a file in it"}
		}
		a.reads(f)
		r = f
	}
	data, err := io.ReadAll(io.LimitReader(r, largestInput+1))
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read: %w", name, err)
	}
	if len(data) > largestInput {
		return nil, hinted{fmt.Errorf("%s is larger than %d MiB", name, largestInput>>20), "is this the right file?"}
	}
	return data, nil
}

// unopened words the usual reasons why a file cannot be opened.
func unopened(name string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return hinted{fmt.Errorf("%s: there is no such file", name),
			"mind the folder you stand in; quote names with blanks"}
	case errors.Is(err, fs.ErrPermission):
		return hinted{fmt.Errorf("%s: may not be read", name), "ask who owns it, or copy it to a folder of your own"}
	}
	return err
}

// readCard reads and checks a job card.
func (a *app) readCard(name string) (*jobcard.Card, error) {
	data, err := a.readFile(name)
	if err != nil {
		return nil, err
	}
	card, err := jobcard.Parse(shown(name), data)
	if err != nil {
		return nil, hinted{err, "`phasewright card schema` lists every key, `phasewright card " +
			"new` writes a commented card"}
	}
	return card, nil
}

// shown is how a file is called in messages.
func shown(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}
