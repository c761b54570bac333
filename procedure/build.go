package procedure

import (
	"errors"
	"fmt"
	"strings"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
	"phasewright/words"
)

// ErrNothing is returned where there is no card or no sheet to make steps from.
var ErrNothing = errors.New("order of work – no job card or no set-up sheet – make the sheet from a card first")

// Procedure is the order of work for one engine.
type Procedure struct {
	steps     []Step
	at        map[StepID]int
	rules     []Rule
	tests     []test // of the rules
	follows   []Follow
	ages      []Age
	found     Plant // how the engine is found
	fixed     Plant // bits of the parts that this engine lacks: they never change
	unmetered bool  // fuel that is in the line gets in by itself

	allowance float64 // that the card gives, µs
	bound     float64 // see gate.go
}

// New makes the order of work from a card and the sheet that follows from it.
func New(c *jobcard.Card, s *sheet.Sheet) (*Procedure, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	b := newBuilder(c, s)
	p := &Procedure{follows: follows, ages: ages, unmetered: !b.injected && b.fuelled,
		allowance: float64(c.Controller.DelayAllowance.Or(0)), bound: idleBound}
	p.arm(rules)
	lacks := func(part Part, v Value) {
		p.found = p.found.With(part, v)
		p.fixed |= place[part]
	}
	if !b.box {
		lacks(Box, Bled)
	}
	if !b.injected {
		lacks(Injectors, Dead)
	}
	if !b.fuelled {
		lacks(FuelLine, Empty)
		lacks(Leaks, Yes)
	}
	if !b.steered {
		lacks(Cap, On)
	}
	if _, _, told := b.camLevel(); !told {
		lacks(Stroke, Yes)
	}
	for _, part := range []func() []Step{b.before, b.makeSafe, b.open, b.findLead, b.unit, b.power, b.phase,
		b.close, b.starter, b.run, b.handOver, b.demand} {
		p.steps = append(p.steps, part()...)
	}
	p.at = make(map[StepID]int, len(p.steps))
	for i := range p.steps {
		st := &p.steps[i]
		st.finish()
		if own := restsOn("step " + string(st.ID)); len(own) > 0 {
			st.Notes = append(st.Notes, sentence("Limits of ours: "+strings.Join(own, ". ")))
		}
		p.at[st.ID] = i
	}
	return p, nil
}

// Steps lists the steps in the order of work; those on demand come last. The caller must not change what they point to.
func (p *Procedure) Steps() []Step { return append([]Step(nil), p.steps...) }

// Step finds a step by its ID.
func (p *Procedure) Step(id StepID) (Step, bool) {
	i, ok := p.at[id]
	if !ok {
		return Step{}, false
	}
	return p.steps[i], true
}

// AsFound is the plant before the first step.
func (p *Procedure) AsFound() Plant { return p.found }

// builder makes the steps of one engine.
type builder struct {
	c                    *jobcard.Card
	s                    *sheet.Sheet
	first                int // cylinder that fires first
	steered, box, geared bool
	injected, fuelled    bool
	boat, road, single   bool
	reluctor             bool
}

func newBuilder(c *jobcard.Card, s *sheet.Sheet) *builder {
	e := c.Engine
	return &builder{
		c: c, s: s, first: e.FiringOrder[0],
		steered:  c.Distributor.Use == jobcard.SparkAndSignal,
		box:      c.Ignition.Output == jobcard.SparkBox,
		geared:   c.Distributor.GearTeeth > 0,
		injected: e.Fuel.Injected() || e.Fuel == "", fuelled: e.Fuel != jobcard.NoFuel,
		boat: e.Place == jobcard.Boat, road: e.Place == jobcard.RoadVehicle, single: e.Cylinders == 1,
		reluctor: c.Signals.Crank.Kind == jobcard.Reluctor,
	}
}

// say is the text of an item of the sheet, as a sentence.
func (b *builder) say(id string) string {
	it := b.s.Item(id)
	if it == nil {
		return ""
	}
	return sentence(it.Text)
}

// sentence gives a text a capital and a full stop.
func sentence(t string) string {
	if t == "" {
		return ""
	}
	t = words.Capital(t)
	if !strings.HasSuffix(t, ".") {
		t += "."
	}
	return t
}

// doubt is the reason of an item that is not fine; "" where it is.
func (b *builder) doubt(id string) string {
	it := b.s.Item(id)
	if it == nil || it.Verdict == sheet.Fine {
		return ""
	}
	return sentence(string(it.Verdict) + ": " + it.Because)
}

func deg[T ~float64](a T) string { return quantity.Degrees(a, 1) }

// tick asks for a box to be ticked.
func tick(ask string) Demand { return Demand{Kinds: []ProofKind{Tick}, Ask: ask} }

// picture asks for a photo, or for words where no camera is at hand.
func picture(ask string) Demand { return Demand{Kinds: []ProofKind{Photo, Written}, Ask: ask} }

func around(v, half float64) Band { return Band{v - half, v + half} }

// some is a list without its empty sentences.
func some(sentences ...string) []string {
	var out []string
	for _, s := range sentences {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// pick is one of two texts.
func pick(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

// widest is the largest angle that anybody reads on a damper, degrees; readings beyond it are slips of the pen.
const widest = 90

// expected is the reading at cranking speed and the half-width of its band, from the sheet; ok is false where it
// cannot be predicted.
func (b *builder) expected() (shown, band float64, ok bool) {
	for _, e := range b.s.Expect {
		if e.RPM == float64(b.c.Engine.CrankingSpeed) && e.Band > 0 {
			return e.Shown, e.Band, true
		}
	}
	return float64(b.c.Controller.Advance.Cranking.Or(0)), 0, false
}

// unset bars the settings while the card does not say what later steps are checked against.
func (b *builder) unset() Barrier {
	k := b.c.Controller
	var open []string
	for _, x := range []struct {
		name  string
		given bool
	}{{"advance on the starter", k.Advance.Cranking.Given()}, {"locked advance", k.Advance.Locked.Given()},
		{"delay allowance", k.DelayAllowance.Given()}} {
		if !x.given {
			open = append(open, x.name)
		}
	}
	if open == nil {
		return Barrier{}
	}
	return Barrier{"the controller's own settings on the job card", "not given: " + strings.Join(open, ", "),
		"read them in the controller, which has power now, and write them on the card", true}
}

// setDeg prints an advance of the controller, or that the card leaves it open.
func setDeg(s jobcard.Setting[quantity.Crank]) string {
	if v, given := s.Get(); given {
		return deg(v)
	}
	return jobcard.NotGiven
}

// camLevel is the cam signal with the engine standing at the trigger lead, on the compression stroke and on the exhaust
// stroke. ok is false where it proves nothing: the two are the same, an edge lies within a few degrees, or nobody
// stated where the edge falls.
func (b *builder) camLevel() (compression, exhaust jobcard.Level, ok bool) {
	p := b.c.Signals.Cam
	if !p.Fitted || p.Kind == jobcard.Reluctor || b.c.Assumed("signals.cam.edge_at") {
		return "", "", false
	}
	out := jobcard.High
	if p.InVane == jobcard.High {
		out = jobcard.Low
	}
	const clear quantity.Crank = 5 // an edge nearer than this moves past the lead with wear: common sense, no source
	width := engine.ShaftToCrank(p.VaneWidth)
	enter := engine.BeforeTDC(p.EdgeAt) // of the vane
	if (p.ActiveEdge == jobcard.Rising) != (p.InVane == jobcard.High) {
		enter = enter.Add(-width) // the active edge is the vane leaving
	}
	level := func(at engine.Position) (jobcard.Level, bool) {
		since := enter.To(at)
		sure := since > clear && since < engine.CycleDegrees-clear && quantity.Abs(since-width) > clear
		if since < width {
			return p.InVane, sure
		}
		return out, sure
	}
	at := engine.BeforeTDC(b.c.Signals.Crank.Lead)
	compression, sure1 := level(at)
	exhaust, sure2 := level(at.Add(engine.CycleDegrees / 2))
	return compression, exhaust, sure1 && sure2 && compression != exhaust
}

// stops names the items of the sheet that forbid to go on.
func (b *builder) stops() string {
	var names []string
	for _, it := range b.s.Items {
		if it.Verdict == sheet.Stop {
			names = append(names, fmt.Sprintf("%s (%s)", it.Title, it.Because))
		}
	}
	return strings.Join(names, "; ")
}
