package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"phasewright/jobcard"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/suspects"
	"phasewright/verdict"
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
	Long     bool              `help:"Print everything: every reason, the looks that tell most, what the odds rest on."`
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
	seen := evidenceOf(card)
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
		if len(table.Rows)+len(table.Dark) == 0 {
			return hinted{fmt.Errorf("%s: there is no reading in it, so it tells nothing", shown(c.Readings)),
				"read the light, or write a line with none under shown_deg for a speed at which it did not flash"}
		}
		ev.FromDark(table.Dark)
		if len(table.Rows) > 0 {
			if err := light(&seen, table.Rows, settingsFor(card, table)); err != nil {
				return err
			}
		}
	}
	if c.Capture != "" {
		res, err := c.readCapture(a, card)
		if err != nil {
			return err
		}
		seen.Captures = []verdict.Capture{{Name: c.Capture, Result: res}}
	}
	kept := *ev
	if rows := ev.Rows(card); seen.Light == nil && len(rows) > 0 {
		if err := light(&seen, rows, readings.FromCard(card)); err != nil {
			return err
		}
		kept.Light = nil // they are the judge's readings now
	} else if seen.Light != nil {
		ev.FromReadings(seen.Light.Rows)
	}
	seen.Seen = &verdict.Seen{Evidence: &kept}
	if len(seen.Captures) > 0 {
		ev.FromCapture(seen.Captures[0].Result)
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
	seen.Engine = e
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
	says := verdict.Judge(seen)
	if c.JSON {
		return writeJSON(a.out, ranked{res, &says})
	}
	if !c.Long {
		return writeShort(a.out, a.width, &says, res)
	}
	if err := says.WriteWhole(a.out); err != nil {
		return err
	}
	return writeSuspects(a.out, a.width, card, res, says.Now(res))
}

// ranked is a ranking with the judgement on the same evidence.
type ranked struct {
	*suspects.Result
	Judgement *verdict.Judgement `json:"judgement"`
}

// readCapture reads the recording.
func (c *suspectsCommand) readCapture(a *app, card *jobcard.Card) (*shaft.Result, error) {
	in, closeIn, err := a.openRecording(c.Capture)
	if err != nil {
		return nil, err
	}
	defer closeIn()
	scan := waveform.Options{}
	done := a.progress(&scan)
	res, err := shaft.Run(a.ctx, shaft.Recording{Input: in, Options: scan}, shaft.Options{Card: card})
	done()
	return res, err
}

// writeSuspects prints a whole ranking for a terminal of the width. now is what the judge and the ranking say together:
// where that is no cure, those of the suspects are for later.
func writeSuspects(w io.Writer, width int, card *jobcard.Card, r *suspects.Result, now verdict.Now) error {
	var b strings.Builder
	cure := "cure, once it is sure: "
	if now.Settled {
		cure = "cure: "
		b.WriteString("\n" + settled + "\n")
	}
	fmt.Fprintf(&b, "\nSUSPECTS  %s\n", card.Job.Name)
	for i, l := range verdict.Lines(r) {
		s := l.Suspect
		if i >= 3 && s.Probability < 0.05 {
			continue
		}
		if !l.First {
			b.WriteString(wrapped("or "+l.Name, fmt.Sprintf("%9s  ", l.Share), width))
			b.WriteString(wrapped(cure+l.Cure, "           ", width))
			continue
		}
		b.WriteString(wrapped(l.Name, fmt.Sprintf("\n%9s  ", l.Share), width))
		if s.Apart != "" {
			b.WriteString(wrapped(s.Apart, "           ", width))
		}
		if s.Size != "" {
			b.WriteString(wrapped("size: "+s.Size, "           ", width))
		}
		for _, why := range s.Because {
			b.WriteString(wrapped(why, "           - ", width))
		}
		b.WriteString(wrapped(cure+l.Cure, "           ", width))
		if s.Mind != "" {
			b.WriteString(wrapped("mind: "+s.Mind, "           ", width))
		}
		if s.Check != "" {
			b.WriteString(wrapped("check: "+s.Check, "           ", width))
		}
	}
	writeWords(&b, width, "\nFINDINGS", r.Findings)
	if !now.Settled {
		b.WriteString("\nLOOKS THAT TELL MOST\n")
		if r.Next == nil {
			b.WriteString("  nothing that is safe now would tell more\n")
		}
		for i, o := range r.Observations[:min(len(r.Observations), 3)] {
			writeLook(&b, width, fmt.Sprintf("  %d. ", i+1), &o)
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

// writeLook prints a look with its minutes, what it would tell and its hazard.
func writeLook(b *strings.Builder, width int, lead string, o *suspects.Advice) {
	b.WriteString(wrapped(fmt.Sprintf("%s (%s min)", o.Observation, num(o.Minutes, 1)), lead, width))
	under := strings.Repeat(" ", len([]rune(lead)))
	if tells := verdict.Tells(o); tells != "" {
		b.WriteString(wrapped(tells, under, width))
	}
	if o.Hazard != "" {
		b.WriteString(wrapped("mind: "+o.Hazard, under, width))
	}
}

func writeKeys(w io.Writer) error {
	var b strings.Builder
	for _, f := range suspects.Fields() {
		fmt.Fprintf(&b, "%-24s %-22s %s\n", f.Path, f.Example, f.Doc)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
