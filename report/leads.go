package report

import (
	"fmt"
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/leads"
)

// Leads is the paper to build and use a recorder's leads by: what may harm first, then each lead with its parts, levels
// and edges, and last what it all rests on.
func Leads(c *jobcard.Card, list []leads.Lead, in leads.Input, stamp Stamp) (*Paper, error) {
	if c == nil || len(list) == 0 {
		return nil, ErrNothing
	}
	f := newFlow("leads", "Test leads for a recorder", c.Job.Name, c, stamp, []drawing.Cell{
		{Label: "full scale", Value: fmt.Sprint(in.FullScale), Share: 0.8},
		{Label: "input", Value: fmt.Sprint(in.Impedance), Share: 0.8},
	})
	if len(stamp.Overrides) > 0 {
		f.overrides(stamp.Overrides)
	}
	f.cautions(leads.Minds())
	words := drawing.TextStyle{Size: 2.7}
	for _, l := range list {
		f.headingOf(l.Title+" ("+l.Kind+")", 30)
		for _, x := range l.Lines(in) {
			f.text(x.Name+": "+x.Text, words)
			f.y += 0.6
		}
	}
	f.heading("What this rests on")
	f.text(strings.Join(leads.RestsOn(list, in), "; ")+".", drawing.TextStyle{Size: smallest})
	return f.paper(stamp, c), nil
}
