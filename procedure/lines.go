package procedure

import (
	"fmt"
	"strings"
)

// Line is a step as plain data for printing: its fields are those of a step list on paper.
type Line struct {
	Part   string
	Title  string
	Text   string
	Hazard string
	Proof  string
}

// Lines is the order of work for printing: what to do, why, what can hurt, what shows that it is done, and, where the work has begun, who did it
// when and against which locks. Overrides without a proper doing since stand in it, each with name and reason.
func (p *Procedure) Lines(s State) []Line {
	var out []Line
	for i := range p.steps {
		st, rec := &p.steps[i], s.Steps[i]
		l := Line{Part: st.Part, Title: st.Title, Hazard: st.Hazard, Proof: st.Demand.Ask}
		if st.OnDemand || len(st.Due) > 0 && st.Due[0].Part == Allowance {
			l.Title += " (only if asked for)"
		}
		text := []string{st.Text}
		if st.Why != "" {
			text = append(text, sentence("Why: "+st.Why))
		}
		for _, f := range st.Show {
			text = append(text, sentence(f.Name+": "+f.Value))
		}
		for _, b := range st.Branches {
			text = append(text, sentence(fmt.Sprintf("If %s: %s (%s)", b.If, b.Do, b.Why)))
		}
		for _, o := range s.Overrides {
			if o.Step == st.ID {
				text = append(text, sentence(fmt.Sprintf("OVERRIDDEN by %s, %s: %s", o.Who, o.At.Format("2006-01-02 15:04"), o.Reason)))
			}
		}
		l.Text = strings.Join(text, " ")
		if d := st.Demand; d.Passes.Set() && d.Same == "" {
			l.Proof += ": " + within(d.Passes, d.Unit)
		} else if d.Right != "" {
			l.Proof += ": " + d.Right
		}
		if rec.Done {
			l.Proof += fmt.Sprintf(" – done by %s, %s", rec.Who, rec.At.Format("2006-01-02 15:04"))
		} else if rec.Redo != "" {
			l.Proof += " – must be done again: " + rec.Redo
		}
		out = append(out, l)
	}
	return out
}
