package procedure

import (
	"fmt"
	"strings"
)

// Line is a step as plain data for printing: its fields are those of a step list on paper, in the order in which they
// are read.
type Line struct {
	Part   string
	Title  string
	Hazard string
	Do     []string // one action each
	Show   []string // one figure each
	Notes  string   // why, overrides
	If     [][3]string
	Proof  []string // each with a box of its own

	Drawing string // what it is worked by, where paper has one: "lamp" or "rotor"
}

// drawn are the steps that a drawing of their own goes with.
var drawn = map[StepID]string{StepPower: "lamp", StepRotor: "rotor"}

// minute is how paper dates what was done.
const minute = "2006-01-02 15:04"

// Lines is the order of work for printing: what can hurt, what to do, what to do when it is otherwise, what shows that
// it is done, and, where the work has begun, who did it when. Every override stands in it, with names and reason. A
// step that another leads to is named by its place in this list, from 1.
func (p *Procedure) Lines(s State) []Line {
	var out []Line
	for i := range p.steps {
		st, rec := &p.steps[i], s.Steps[i]
		l := Line{Part: st.Part, Title: st.Title, Hazard: st.Hazard, Do: st.Do, Drawing: drawn[st.ID]}
		notes := []string{sentence("Why: " + st.Why)}
		for _, f := range st.Show {
			l.Show = append(l.Show, f.Name+": "+f.Value)
		}
		notes = append(notes, st.Notes...)
		for _, b := range st.Branches {
			do := b.Do
			if j, ok := p.at[b.Go]; ok && b.Go != st.ID {
				do = fmt.Sprintf("%s (step %d)", strings.TrimSuffix(do, "."), j+1)
			}
			l.If = append(l.If, [3]string{b.If, b.Why, do})
		}
		for _, o := range s.Overrides {
			if o.Step == st.ID {
				said := "OVERRIDDEN by " + o.Names() + ", " + o.At.Format(minute) + ": " + o.Reason
				notes = append(notes, sentence(said))
			}
		}
		l.Notes = strings.Join(notes, " ")
		ask := st.Demand.Ask
		if d := st.Demand; d.Limits() {
			ask += ": " + within(d.Passes, d.Unit)
		} else if d.Right != "" {
			ask += ": " + d.Right
		}
		l.Proof = append(l.Proof, ask)
		for _, a := range st.Demand.Also {
			l.Proof = append(l.Proof, a.Ask)
		}
		if rec.Done {
			l.Proof[0] += fmt.Sprintf(" – done by %s, %s", rec.Who, rec.At.Format(minute))
		} else if rec.Redo != "" {
			l.Proof[0] += " – must be done again: " + rec.Redo
		}
		out = append(out, l)
	}
	return out
}

// Names is who overrode, with the second person where there was one.
func (o Overriding) Names() string {
	if o.Second == "" {
		return o.Who
	}
	return o.Who + " with " + o.Second
}
