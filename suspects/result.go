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

// Suspect is one fault, or several that the evidence cannot tell apart, with how likely it is that it is there, alone
// or with another.
type Suspect struct {
	Name        string   `json:"name"`
	Probability float64  `json:"probability"`
	Because     []string `json:"because"`
	Cure        string   `json:"cure"`
	Faults      []string `json:"faults"`         // as bench names them; empty for nothing wrong and none of these
	Apart       string   `json:"apart"`          // what is to be said where several stand together
	Size        string   `json:"size,omitempty"` // of the likeliest one, with its standard uncertainty
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
	r := &Result{Explanations: []Explanation{}}
	w.suspects(r)
	w.plot(r)
	w.findings(r)
	w.advise(r, ev, limits)
	r.RestsOn = e.restsOn(r, ev.WorkedOn)
	return r, nil
}

// suspects fills in the ranking.
func (w *weighed) suspects(r *Result) {
	root := w.groups()
	members := map[int]set{}
	for k := range faultCount {
		members[root[k]] |= of(k)
	}
	type entry struct {
		g set
		p float64
	}
	var list []entry
	for k := range faultCount {
		g := members[k]
		if root[k] != k {
			continue
		}
		p := 0.0
		for _, s := range w.order {
			q := w.sets[s]
			if s&g != 0 {
				p += q
			}
		}
		if p > 0 {
			list = append(list, entry{g, min(p, 1)})
		}
	}
	list = append(list, entry{0, w.sets[0]})
	slices.SortStableFunc(list, func(a, b entry) int {
		switch {
		case a.p > b.p:
			return -1
		case a.p < b.p:
			return 1
		}
		return 0
	})
	sound := w.look(&w.sound)
	const rare, shown = 0.005, 12
	for i, l := range list {
		if i >= 3 && (l.p < rare || i >= shown) && l.g != 0 {
			continue
		}
		r.Suspects = append(r.Suspects, w.suspect(l.g, l.p, &sound))
	}
	r.Suspects = append(r.Suspects, Suspect{Name: NoneOfThese, Probability: w.none, Because: w.strangers(),
		Faults: []string{},
		Cure:   "take the evidence again, one piece at a time; look for what is not in the list of faults"})
	slices.SortStableFunc(r.Suspects, func(a, b Suspect) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return 0
	})
	const least = 0.002
	for _, x := range w.explanations() {
		if x.Probability > least {
			r.Explanations = append(r.Explanations, x)
		}
	}
}

func (w *weighed) suspect(g set, p float64, sound *view) Suspect {
	s := Suspect{Probability: p, Faults: []string{}, Because: []string{}}
	if g == 0 {
		s.Name, s.Cure = NothingWrong, "leave it; prove the timing over the speed range"
		s.Because = w.because(&w.sound, 0, sound)
		return s
	}
	ks := g.list()
	slices.SortStableFunc(ks, func(a, b int) int { // the likeliest member first
		x, y := w.with(of(a)), w.with(of(b))
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var titles, cure []string
	for _, k := range ks {
		titles = append(titles, w.e.table[k].Title)
		s.Faults = append(s.Faults, names[k])
	}
	s.Name = strings.Join(titles, " or ")
	for _, k := range ks {
		c := cures[k].Do + "; check: " + cures[k].Check
		if len(ks) > 1 {
			c = w.e.table[k].Title + ": " + c
		}
		cure = append(cure, c)
	}
	s.Cure = strings.Join(cure, ". Or ")
	if len(ks) > 1 {
		s.Apart = "what was seen cannot tell these apart"
	}
	if c := w.best(g, true); c != nil {
		s.Because = w.because(c, g, sound)
		s.Size = w.size(c, ks)
	}
	return s
}

// with is the probability that one of g is there.
func (w *weighed) with(g set) float64 {
	p := 0.0
	for _, s := range w.order {
		q := w.sets[s]
		if s&g != 0 {
			p += q
		}
	}
	return p
}

// best is the heaviest component that has one of g, or has none of it.
func (w *weighed) best(g set, has bool) *component {
	for i := range w.comps {
		if c := &w.comps[i]; (c.in&g != 0) == has {
			return c
		}
	}
	return nil
}

// size says how large the likeliest member is.
func (w *weighed) size(c *component, ks []int) string {
	for _, k := range ks {
		if !c.in.has(k) {
			continue
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
		return names[k] + " " + text
	}
	return ""
}
