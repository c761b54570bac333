package main

import (
	"encoding/json"
	"fmt"
	"io"

	"phasewright/sheet"
)

type sheetCommand struct {
	Card string `arg:"" help:"The job card (YAML); - reads standard input."`
	JSON bool   `name:"json" help:"Print the sheet as JSON." xor:"form"`
}

func (c *sheetCommand) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	s, err := sheet.Make(card)
	if err != nil {
		return err
	}
	if c.JSON {
		err = writeJSON(a.out, s)
	} else {
		err = s.WriteText(a.out, a.width)
	}
	if err != nil {
		return err
	}
	if n := s.Count(sheet.Stop); n > 0 {
		fmt.Fprintf(a.err, "%s on the sheet: do not work by it before they are cleared\n", count(n, "stop"))
		return errFails
	}
	return nil
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
