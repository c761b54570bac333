package main

import (
	"fmt"
	"io"
	"strings"

	"phasewright/leads"
	"phasewright/report"
)

type leadsCommand struct {
	Card      string `arg:"" help:"The job card (YAML); - reads standard input."`
	FullScale string `help:"Peak voltage that the sound card's input reads as full, such as \"1 V\"." placeholder:"VOLTAGE"`
	Impedance string `help:"Resistance of that input to ground, such as \"10 kohm\"." placeholder:"RESISTANCE"`
	Stands    string `help:"Peak voltage that does that input no harm, such as \"4 V\"." placeholder:"VOLTAGE"`
	Corner    string `help:"Lower limit in Hz of that input; 0 passes direct voltage." placeholder:"HZ"`
	JSON      bool   `name:"json" xor:"form" help:"Print the leads as JSON."`
	PDF       output `name:"pdf" xor:"form" help:"Write the leads as a PDF, to build them by; - is standard output." placeholder:"FILE"`
	Date      string `help:"Date printed on the PDF, such as 2026-11-25; left out: none." placeholder:"DATE"`
	By        string `help:"Who made it, printed on the PDF." placeholder:"NAME"`
	Letter    bool   `help:"US Letter paper instead of A4."`
}

// leadData is a lead as other programs read it.
type leadData struct {
	ID            string       `json:"id"`
	Title         string       `json:"title"`
	Kind          string       `json:"kind"`
	Pieces        int          `json:"top_pieces"`
	Top           float64      `json:"top_ohm"`
	Bottom        float64      `json:"bottom_ohm"` // 0: none
	Diodes        int          `json:"diodes_each_way"`
	LowV          float64      `json:"least_at_input_v"`
	HighV         float64      `json:"greatest_at_input_v"`
	MostV         float64      `json:"surge_v"`
	ClampedV      float64      `json:"clamped_v"`
	ClampMA       float64      `json:"clamp_ma"`
	EachW         float64      `json:"each_resistor_w"`
	EachV         float64      `json:"each_resistor_v"`
	CornerHz      float64      `json:"corner_hz"`
	DelayUS       float64      `json:"delay_us"`
	LateDeg       float64      `json:"late_at_redline_deg"`
	TransitionUS  float64      `json:"transition_us"`
	Droop         float64      `json:"droop_on_starter"`
	ScopeRatio    int          `json:"scope_probe"`
	ScopeRatedFor float64      `json:"scope_rated_v"`
	Fails         string       `json:"fails,omitempty"`
	Lines         []leads.Line `json:"lines"`
}

func (c *leadsCommand) Run(a *app) error {
	card, err := a.readCard(c.Card)
	if err != nil {
		return err
	}
	in, wrong, err := leads.SoundCard().With(map[string]string{"full_scale": c.FullScale, "impedance": c.Impedance,
		"stands": c.Stands, "corner": c.Corner})
	if err != nil {
		return hinted{fmt.Errorf("--%s: %w", strings.ReplaceAll(wrong, "_", "-"), err),
			"phasewright leads --help says what describes an input"}
	}
	list, err := leads.Make(card, in)
	if err != nil {
		return err
	}
	switch {
	case c.PDF != "":
		stamp, err := stampOf(c.Date, c.By, c.Letter)
		if err != nil {
			return err
		}
		paper, err := report.Leads(card, list, in, stamp)
		if err != nil {
			return err
		}
		if err := a.writePaper(c.PDF, paper); err != nil {
			return err
		}
	case c.JSON:
		err = writeJSON(a.out, leadsReport{leadsData(list, in), leads.Minds(), leads.RestsOn(list, in)})
	default:
		err = writeLeads(a.out, a.width, card.Job.Name, list, in)
	}
	if err != nil {
		return err
	}
	for _, l := range list {
		if l.Fails != "" {
			return errFails
		}
	}
	return nil
}

// leadsReport is what leads --json prints.
type leadsReport struct {
	Leads   []leadData `json:"leads"`
	Mind    []string   `json:"mind"`     // cautions
	RestsOn []string   `json:"rests_on"` // our own numbers behind them, each with its range or source
}

func leadsData(list []leads.Lead, in leads.Input) []leadData {
	var out []leadData
	for _, l := range list {
		out = append(out, leadData{ID: l.ID, Title: l.Title, Kind: l.Kind, Pieces: l.Pieces, Top: float64(l.Top),
			Bottom: float64(l.Bottom), Diodes: l.Diodes, LowV: float64(l.LowIn), HighV: float64(l.HighIn),
			MostV: float64(l.Most), ClampedV: float64(l.Clamped), ClampMA: 1e3 * float64(l.Current),
			EachW: float64(l.EachPower), EachV: float64(l.EachVolts), CornerHz: l.Upper,
			DelayUS: l.Delay.Microseconds(), LateDeg: float64(l.Late), TransitionUS: l.Transition.Microseconds(),
			Droop: l.Droop, ScopeRatio: l.Scope.Ratio, ScopeRatedFor: float64(l.Scope.Rated), Fails: l.Fails,
			Lines: l.Lines(in)})
	}
	return out
}

func writeLeads(w io.Writer, width int, name string, list []leads.Lead, in leads.Input) error {
	var b strings.Builder
	b.WriteString(wrapped(name, "LEADS  ", width))
	for _, m := range leads.Minds() {
		b.WriteString(wrapped(m, "  ! ", width))
	}
	for _, l := range list {
		fmt.Fprintf(&b, "\n%s (%s)\n", strings.ToUpper(l.Title), l.Kind)
		for _, x := range l.Lines(in) {
			b.WriteString(wrapped(x.Text, fmt.Sprintf("  %-17s", x.Name), width))
		}
	}
	b.WriteString("\n" + wrapped("This rests on: "+strings.Join(leads.RestsOn(list, in), "; ")+".", "", width))
	b.WriteString("\n" + wrapped("The tool calculates, it does not certify: work on ignition is for trained people.",
		"", width))
	_, err := io.WriteString(w, b.String())
	return err
}
