package suspects

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/bench"
	"phasewright/quantity"
)

// Names of the two suspects that are no fault.
const (
	NothingWrong = "nothing wrong"
	NoneOfThese  = "none of these"
)

// Suspect is one explanation of what was seen, or several of like odds that the evidence cannot tell apart. All of them
// together hold no more than a hundred per cent.
type Suspect struct {
	Name        string   `json:"name"`
	Probability float64  `json:"probability"`
	Because     []string `json:"because"`
	Cure        string   `json:"cure"`
	Check       string   `json:"check,omitempty"`
	Mind        string   `json:"mind,omitempty"` // the hazard of the cure
	Faults      []string `json:"faults"`         // by name; empty for nothing wrong and none of these
	Apart       string   `json:"apart"`          // what is to be said where several stand together
	Members     []Member `json:"members,omitempty"`
	Size        string   `json:"size,omitempty"` // of the likeliest one, with its standard uncertainty
}

// Member is one of several explanations that stand together.
type Member struct {
	Name        string   `json:"name"`
	Faults      []string `json:"faults"`
	Probability float64  `json:"probability"`
	Cure        string   `json:"cure"`
}

// Explanation is a whole set of faults with its probability; all of them with none of these sum to 1.
type Explanation struct {
	Faults      []string `json:"faults"`
	Probability float64  `json:"probability"`
}

// PlotPoint is one number that was seen beside what the leading explanations foresee.
type PlotPoint struct {
	Name      string            `json:"name"`
	Unit      string            `json:"unit"`
	RPM       float64           `json:"rpm,omitempty"`
	Wire      int               `json:"wire,omitempty"`
	Seen      float64           `json:"seen"`
	U         float64           `json:"u"`
	Predicted []quantityOrBlank `json:"predicted"` // in the order of Result.Plotted; null: no number foreseen
}

type quantityOrBlank float64

// MarshalJSON writes null where nothing is foreseen.
func (q quantityOrBlank) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(q)) || math.IsInf(float64(q), 0) {
		return []byte("null"), nil
	}
	return fmt.Appendf(nil, "%.4g", float64(q)), nil
}

// Result is the ranking and the advice.
type Result struct {
	Suspects     []Suspect     `json:"suspects"` // sorted, likeliest first
	Settled      bool          `json:"settled"`  // one cure holds at least the share that settles it: do it
	Next         *Advice       `json:"next"`     // null: nothing worth looking at is left
	Observations []Advice      `json:"observations"`
	Explanations []Explanation `json:"explanations"`
	Plotted      []string      `json:"plotted"`
	Plot         []PlotPoint   `json:"plot"`
	Findings     []string      `json:"findings"` // contradictions and doubts
	BitsLeft     float64       `json:"bits_left"`
	RestsOn      []string      `json:"rests_on"` // our own numbers beside the evidence, each with its range or source
}

// Limits are what must not be done now: observations by id, and states of the engine that are barred; with reasons for
// the reader.
type Limits struct {
	Unsafe map[string]string
	Barred map[State]string
}

// Explain ranks the suspects for what was seen and says what to look at next.
func (e *Engine) Explain(ev *Evidence, limits Limits) (*Result, error) {
	items, err := e.items(ev, mostLooks)
	if err != nil {
		return nil, err
	}
	var hint []int
	if ev.Engine.Misfire != nil {
		hint = ev.Engine.Misfire
	}
	w := e.weigh(items, ev.WorkedOn, hint)
	w.state(sharper(looked(items)))
	r := &Result{Explanations: []Explanation{}}
	w.suspects(r)
	w.plot(r)
	w.findings(r)
	w.advise(r, ev, limits)
	r.RestsOn = e.restsOn(r, items, ev.WorkedOn)
	return r, nil
}

// settles is the share of the odds that one cure must hold for no further look to be worth its minutes.
const settles = 0.95

// suspects fills in the ranking.
func (w *weighed) suspects(r *Result) {
	list := w.entries()
	sound := w.look(w.sound)
	const rare, shown = 0.005, 12
	for i := range list {
		l := &list[i]
		if i >= 3 && (l.sum() < rare || i >= shown) && l.sets[0] != 0 {
			continue
		}
		r.Suspects = append(r.Suspects, w.suspect(l, &sound))
	}
	cured := 0.0
	for _, l := range list {
		for j, s := range l.sets {
			if w.cureOf(s) == w.cureOf(list[0].sets[0]) {
				cured += l.p[j]
			}
		}
	}
	r.Settled = cured >= settles && len(w.items) > 0
	r.Suspects = append(r.Suspects, Suspect{Name: NoneOfThese, Probability: w.none, Because: w.strangers(),
		Faults: []string{},
		Cure:   "take the evidence again, one piece at a time; look for what is not in the list of faults"})
	slices.SortStableFunc(r.Suspects, func(a, b Suspect) int { return order(b.Probability, a.Probability) })
	const least = 0.002
	for _, x := range w.explanations() {
		if x.Probability > least {
			r.Explanations = append(r.Explanations, x)
		}
	}
}

func (w *weighed) suspect(x *entry, sound *view) Suspect {
	s := Suspect{Probability: min(x.sum(), 1), Faults: []string{}, Because: []string{}}
	if x.sets[0] == 0 {
		s.Name, s.Cure = NothingWrong, "leave it: what was seen lies within the tolerance; prove the timing over the "+
			"speed range"
		s.Because = w.because(w.sound, 0, sound)
		return s
	}
	var titles []string
	for i, g := range x.sets {
		m := Member{Name: w.title(g), Probability: x.p[i], Cure: w.doing(g)}
		for _, k := range g.list() {
			m.Faults = append(m.Faults, w.e.faults[k].name)
			if !slices.Contains(s.Faults, w.e.faults[k].name) {
				s.Faults = append(s.Faults, w.e.faults[k].name)
			}
		}
		titles = append(titles, m.Name)
		s.Members = append(s.Members, m)
	}
	s.Name = strings.Join(titles, " or ")
	first := x.sets[0]
	s.Cure = s.Members[0].Cure
	var checks, minds []string
	for _, k := range first.list() {
		checks = append(checks, w.e.faults[k].Check)
		if m := w.e.faults[k].Mind; m != "" && !slices.Contains(minds, m) {
			minds = append(minds, m)
		}
	}
	s.Check, s.Mind = strings.Join(checks, "; "), strings.Join(minds, "; ")
	if len(x.sets) == 1 {
		s.Members = nil
	} else if slices.ContainsFunc(x.sets, func(g set) bool { return w.cureOf(g) != w.cureOf(first) }) {
		s.Apart = "what was seen cannot tell these apart"
	} else {
		s.Apart = "one cure for both"
	}
	c := w.bestOf(first)
	s.Because = w.because(c, first, sound)
	s.Size = w.size(c, first.list())
	return s
}

// doing is what puts a set of faults right.
func (w *weighed) doing(g set) string {
	var cures []string
	for _, k := range g.list() {
		if do := w.e.faults[k].Do; !slices.Contains(cures, do) {
			cures = append(cures, do)
		}
	}
	return strings.Join(cures, ". Then ")
}

// size says how large the likeliest member is.
func (w *weighed) size(c *component, ks []int) string {
	for _, k := range ks {
		if !c.in.has(k) {
			continue
		}
		if k >= benchFaults {
			return w.where(c, k)
		}
		r := w.e.table[k]
		if r.Kind == bench.Word && k != wires {
			return ""
		}
		v, u := r.Size(c.base), 0.0
		for i := range c.frees {
			if c.free[i] == k {
				v += c.post.theta[nuisances+i]
				u = math.Sqrt(c.post.cov[nuisances+i][nuisances+i])
			}
		}
		text := ""
		switch r.Kind {
		case bench.ShaftAngle, bench.CrankAngle:
			text = quantity.Signed(v, 1) + "°"
			if r.Kind == bench.ShaftAngle {
				text += " of the shaft"
			}
			if u > 0 {
				text += " ± " + quantity.Degrees(u, 1)
			}
		case bench.TimeValue:
			text = quantity.Signed(v, 0) + " µs"
			if u > 0 {
				text += " ± " + quantity.Microseconds(u)
			}
		case bench.Volts:
			text = quantity.Signed(v, 1) + " V"
		case bench.Share:
			text = "about " + quantity.Number(100*v, 0) + " %"
		case bench.Count:
			text = quantity.Signed(v, 0)
		case bench.Word: // wires
			if v < 100 {
				return "walked the wrong way round"
			}
			return fmt.Sprintf("%d and %d changed over", int(v)/100, int(v)%100)
		}
		return w.e.faults[k].name + " " + text
	}
	return ""
}

// where says on which cylinder a fault sits, or how large one is that the bench does not have.
func (w *weighed) where(c *component, k int) string {
	for i := range c.picks {
		at := c.picks[i].at
		switch {
		case c.picks[i].k != k || !w.e.faults[k].one:
		case at > 100:
			return fmt.Sprintf("on cylinders %d and %d", at/100, at%100)
		case at <= w.e.c.Engine.Cylinders:
			return fmt.Sprintf("on cylinder %d", at)
		}
	}
	return ""
}
