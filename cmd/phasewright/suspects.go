package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/suspects"
	"phasewright/waveform"
)

type suspectsCommand struct {
	Card     string            `arg:"" optional:"" help:"The job card (YAML)."`
	Evidence string            `arg:"" optional:"" help:"What was seen (YAML); - reads standard input."`
	JSON     bool              `name:"json" help:"Print the result as JSON."`
	Readings string            `help:"Light readings (CSV, as fit takes them), beside or instead of those in the evidence."`
	Capture  string            `help:"A recording of the signals (as capture takes it): what it shows joins the evidence." placeholder:"FILE"`
	Priors   string            `help:"How common each fault is in this shop (YAML: nothing, none, pair, weight), instead of our judgement."`
	Unsafe   map[string]string `help:"Observations that must not be advised now, as ID=REASON." placeholder:"ID=REASON"`
	Schema   bool              `help:"Print the JSON Schema of an evidence file and stop."`
	Keys     bool              `help:"List every key of an evidence file and stop."`
}

func (c *suspectsCommand) Run(a *app) error {
	switch {
	case c.Schema:
		_, err := a.out.Write(suspects.SchemaJSON())
		return err
	case c.Keys:
		return writeKeys(a.out)
	case c.Card == "" || c.Evidence == "" && c.Readings == "" && c.Capture == "":
		return hinted{errors.New("suspects needs a job card and evidence"),
			"phasewright suspects CARD EVIDENCE.yaml, or CARD with --readings FILE.csv or --capture FILE; --keys " +
				"lists what evidence may hold"}
	}
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	ev := &suspects.Evidence{}
	if c.Evidence != "" {
		data, err := a.readFile(c.Evidence)
		if err != nil {
			return err
		}
		if ev, err = suspects.ReadLongEvidence(shown(c.Evidence), data); err != nil {
			return hinted{err, "phasewright suspects --keys lists every key with an example"}
		}
	}
	if c.Readings != "" {
		table, err := a.readReadings(c.Readings)
		if err != nil {
			return err
		}
		ev.FromReadings(table.Rows)
	}
	if c.Capture != "" {
		if err := c.addCapture(a, card, ev); err != nil {
			return err
		}
	}
	priors := suspects.DefaultPriors()
	if c.Priors != "" {
		data, err := a.readFile(c.Priors)
		if err != nil {
			return err
		}
		if priors, err = suspects.ReadPriors(shown(c.Priors), data); err != nil {
			return err
		}
	}
	e, err := suspects.New(card, priors)
	if err != nil {
		return err
	}
	for id := range c.Unsafe {
		if !e.Observes(id) {
			return hinted{fmt.Errorf("--unsafe %s: there is no such observation", id),
				"the id stands beside each advice in --json"}
		}
	}
	res, err := e.Explain(ev, suspects.Limits{Unsafe: c.Unsafe})
	if err != nil {
		return hinted{err, "the evidence must fit the engine of the card"}
	}
	if c.JSON {
		return writeJSON(a.out, res)
	}
	return writeSuspects(a.out, a.width, card, res)
}

// addCapture reads a recording into the evidence.
func (c *suspectsCommand) addCapture(a *app, card *jobcard.Card, ev *suspects.Evidence) error {
	in, closeIn, err := a.openRecording(c.Capture)
	if err != nil {
		return err
	}
	defer closeIn()
	scan := waveform.Options{}
	done := a.progress(&scan)
	res, err := shaft.Run(a.ctx, shaft.Recording{Input: in, Options: scan}, shaft.Options{Card: card})
	done()
	if err != nil {
		return err
	}
	ev.FromCapture(res)
	return nil
}

// writeSuspects prints a ranking for a terminal of the width.
func writeSuspects(w io.Writer, width int, card *jobcard.Card, r *suspects.Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "SUSPECTS  %s\n", card.Job.Name)
	for i, s := range r.Suspects {
		if i >= 3 && s.Probability < 0.05 {
			continue
		}
		b.WriteString(wrapped(s.Name, fmt.Sprintf("\n%9s  ", quantity.Chance(s.Probability)), width))
		if s.Apart != "" {
			b.WriteString(wrapped(s.Apart, "           ", width))
		}
		if s.Size != "" {
			b.WriteString(wrapped("size: "+s.Size, "           ", width))
		}
		for _, why := range s.Because {
			b.WriteString(wrapped(why, "           - ", width))
		}
		b.WriteString(wrapped("cure: "+s.Cure, "           ", width))
	}
	writeWords(&b, width, "\nFINDINGS", r.Findings)
	b.WriteString("\nLOOK NEXT\n")
	if r.Next == nil {
		b.WriteString("  nothing that is safe now would tell more\n")
	}
	for i, o := range r.Observations {
		if i == 3 {
			break
		}
		b.WriteString(wrapped(fmt.Sprintf("%s (%s bits, %s min)", o.Observation, num(o.Bits, 2), num(o.Minutes, 1)),
			fmt.Sprintf("  %d. ", i+1), width))
		if o.Hazard != "" {
			b.WriteString(wrapped("mind: "+o.Hazard, "     ", width))
		}
	}
	b.WriteString("\n" + wrapped("Beside the evidence this rests on: "+strings.Join(r.RestsOn, "; ")+".", "", width))
	b.WriteString(
		"\n" + wrapped("Odds before anything was seen are our judgement. The tool calculates, it does not certify: "+
			"the maker's instructions and local law come first; work on ignition and fuel is for trained people.",
			"", width))
	_, err := io.WriteString(w, b.String())
	return err
}

func writeKeys(w io.Writer) error {
	var b strings.Builder
	for _, f := range suspects.Fields() {
		fmt.Fprintf(&b, "%-24s %-22s %s\n", f.Path, f.Example, f.Doc)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
