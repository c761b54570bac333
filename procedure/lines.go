package procedure

import (
	"fmt"
	"slices"
	"strings"

	"phasewright/quantity"
)

// Line is a step as paper prints it: the step itself, what leads elsewhere by its place in the list, and who did it.
type Line struct {
	Step
	If        [][3]string // what is seen, why, what to do
	Remarks   string      // why, and what the set-up sheet has to say
	Overrides []string    // each with names and reason
	Asks      []Ask       // what shows that it is done, each with a box of its own
	Deeds     []Deed      // who did it, oldest first; none where it is to be done
	Redo      string      // why it must be done again; "" where it was never done, or stands
}

// Ask is one thing that shows that a step is done.
type Ask struct {
	Ask    string
	Ticked bool     // it was shown, and still is
	Blanks []string // what is written down by hand, each with its unit; none for a tick alone
}

// Deed is a step as somebody did it.
type Deed struct {
	Value     string // what was measured, chosen or written; "" for a tick
	Who, When string
	Photo     string // SHA-256 of the picture that shows it; "" without one
	Against   bool   // a lock
}

// minute is how paper dates what was done.
const minute = "2006-01-02 15:04"

// Lines is the order of work for printing: what can hurt, what to do, what to do when it is otherwise, what shows that
// it is done, and, where the work has begun, who did it when. Every override stands in it, with names and reason. A
// step that another leads to is named by its place in this list, from 1.
func (p *Procedure) Lines(s State) []Line {
	var out []Line
	for i := range p.steps {
		st, rec := &p.steps[i], s.Steps[i]
		l := Line{Step: *st, Redo: rec.Redo, Deeds: deeds(st, rec, s.Log), Asks: asks(st, rec),
			Remarks: strings.Join(append([]string{sentence("Why: " + st.Why)}, st.Notes...), " ")}
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
				l.Overrides = append(l.Overrides, sentence(said))
			}
		}
		out = append(out, l)
	}
	return out
}

// asks is what shows that a step is done, and what of it was ticked.
func asks(st *Step, rec Record) []Ask {
	d := st.Demand
	first := Ask{Ask: d.Ask, Ticked: rec.Done, Blanks: st.blanks()}
	if d.Limits() {
		first.Ask += ": " + within(d.Passes, d.Unit)
	} else if d.Right != "" {
		first.Ask += ": " + d.Right
	}
	out := []Ask{first}
	for _, a := range d.Also {
		seen := rec.Done && rec.Proof != nil && slices.Contains(rec.Proof.Seen, a.ID)
		out = append(out, Ask{Ask: a.Ask, Ticked: seen})
	}
	return out
}

// blanks is what somebody without a screen writes down at a step.
func (s *Step) blanks() (out []string) {
	d := s.Demand
	switch {
	case len(d.Kinds) == 0 || d.Kinds[0] == Tick:
	case len(d.Rungs) > 0:
		for _, r := range d.Rungs {
			out = append(out, quantity.RPM(r.RPM)+": "+d.Unit)
		}
	case len(d.Wires) > 0:
		for _, w := range d.Wires {
			out = append(out, fmt.Sprintf("cylinder %d: %s", w, d.Unit))
		}
	case d.Kinds[0] == Reading:
		out = []string{"rpm", d.Unit}
	case d.Kinds[0] == Photo:
		out = []string{"photo number"}
	case len(d.Options) > 0 || d.Kinds[0] == Written:
		out = []string{"seen"}
	default:
		out = []string{"measured, " + d.Unit}
	}
	return out
}

// deeds is who did a step: of one that is read at several speeds or wires every reading, else the last one.
func deeds(st *Step, rec Record, log []Entry) (out []Deed) {
	many := st.OnDemand || len(st.Demand.Rungs) > 0
	if rec.Redo != "" || !many && !rec.Done {
		return nil
	}
	for _, e := range log {
		switch {
		case e.Step != st.ID:
		case e.Act == TakeBack:
			out = nil
		case e.Act == Do || e.Act == Override:
			one := Deed{Who: e.Who, When: e.At.Format(minute), Against: e.Act == Override}
			if e.Proof != nil {
				one.Value, one.Photo = e.Proof.says(st.Demand.Unit), e.Proof.SHA256
				if e.Proof.Kind == Capture {
					one.Photo = ""
				}
			}
			if !many {
				out = nil
			}
			out = append(out, one)
		}
	}
	return out
}

// says is what a proof shows, with its unit.
func (f Proof) says(unit string) string {
	var out []string
	if f.Value != nil {
		out = append(out, number(*f.Value, unit))
	}
	if f.RPM != nil {
		out = append(out, "at "+quantity.RPM(*f.RPM))
	}
	if f.Wire > 0 {
		out = append(out, fmt.Sprintf("on the wire of cylinder %d", f.Wire))
	}
	said := strings.Join(out, " ")
	if f.Text != "" && said != "" {
		return said + "; " + f.Text
	}
	return said + f.Text
}

// Names is who overrode, with the second person where there was one.
func (o Overriding) Names() string {
	if o.Second == "" {
		return o.Who
	}
	return o.Who + " with " + o.Second
}
