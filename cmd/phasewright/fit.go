package main

import (
	"bytes"
	"errors"
	"fmt"

	"phasewright/jobcard"
	"phasewright/readings"
)

type fitCommand struct {
	Card     string `arg:"" help:"The job card (YAML)."`
	Readings string `arg:"" help:"The readings (CSV: rpm,shown_deg,locked_deg[,u_deg][,allowance_us][,housing_deg][,note]); - reads standard input."`
	JSON     bool   `name:"json" help:"Print the result as JSON."`
}

func (c *fitCommand) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	table, err := a.readReadings(c.Readings)
	if err != nil {
		return err
	}
	set := settingsFor(card, table)
	res, err := readings.Fit(table.Rows, set)
	if err != nil {
		return err
	}
	if c.JSON {
		err = writeJSON(a.out, res)
	} else {
		err = writeFit(a.out, a.width, card, table.Rows, res)
	}
	if err != nil {
		return err
	}
	if res.Verdict != readings.Pass {
		return errFails
	}
	return nil
}

// settingsFor takes the settings of a card, with the allowance in force being that of the last reading that states one: what the controller was
// set to when the readings ended.
func settingsFor(card *jobcard.Card, table *readings.Table) readings.Settings {
	set := readings.FromCard(card)
	for _, r := range table.Rows {
		if r.AllowanceStated {
			set.AllowanceNow = r.Allowance
		}
	}
	return set
}

// readReadings reads a readings file.
func (a *app) readReadings(name string) (*readings.Table, error) {
	data, err := a.readFile(name)
	if err != nil {
		return nil, err
	}
	table, err := readings.Read(bytes.NewReader(data), shown(name))
	var fe *readings.FileError
	if errors.As(err, &fe) {
		return nil, hinted{err, "the first line names the columns: rpm,shown_deg,locked_deg and, where known, u_deg, allowance_us, housing_deg, note"}
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", shown(name), err)
	}
	return table, nil
}
