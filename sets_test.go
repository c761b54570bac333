package phasewright_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Nothing that ships may recall an engine or a product of somebody's, and sets of figures can: bore, stroke and rod
// together, a gear's teeth with a firing order, settings that go together, names. testdata/sets.sha256 lists such sets
// as salted hashes, so that they cannot come back, and so that nobody has to read them here. Each figure alone is a
// fact that anybody may use.

// listedSets are the hashes.
func listedSets(t *testing.T) map[string]bool {
	t.Helper()
	data, err := os.ReadFile("testdata/sets.sha256")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, h := range strings.Fields(string(data)) {
		out[h] = true
	}
	if len(out) < 100 {
		t.Fatalf("only %d sets are listed", len(out))
	}
	return out
}

func hashOf(set string) string {
	sum := sha256.Sum256([]byte("phasewright sets: " + set))
	return hex.EncodeToString(sum[:])[:24]
}

// figures are what an engine, a card or a default brings together.
type figures struct {
	names              []string
	bore, stroke, rod  quantity.Length
	teeth              int
	order              []int
	lead               quantity.Crank
	cranking, locked   jobcard.Setting[quantity.Crank]
	allowance, step    jobcard.Setting[quantity.Time]
	narrowest, longest jobcard.Setting[quantity.Time] // trigger pulse of a spark box
}

// sets writes the figures as the list has them; lengths and angles to the whole mm and degree.
func (f figures) sets() []string {
	var out []string
	for _, n := range f.names {
		for _, w := range strings.FieldsFunc(strings.ToLower(n), func(r rune) bool { return r < 'a' || r > 'z' }) {
			out = append(out, "name "+w)
		}
	}
	whole := func(v float64) int { return int(math.Round(v)) }
	if f.bore > 0 {
		b, s, r := whole(float64(f.bore)), whole(float64(f.stroke)), whole(float64(f.rod))
		for i := range 27 { // a millimetre beside counts too
			out = append(out, fmt.Sprintf("size %d %d %d", b+i%3-1, s+i/3%3-1, r+i/9-1))
		}
	}
	if f.teeth > 0 {
		out = append(out, fmt.Sprintf("teeth %d order %s", f.teeth, strings.Trim(strings.ReplaceAll(fmt.Sprint(f.order), " ", "-"), "[]")))
	}
	c, l := whole(float64(f.cranking.Or(-99))), whole(float64(f.locked.Or(-99)))
	lead := whole(float64(f.lead))
	return append(out, fmt.Sprintf("cranking %d locked %d", c, l), fmt.Sprintf("lead %d cranking %d", lead, c), fmt.Sprintf("lead %d locked %d", lead, l),
		fmt.Sprintf("allowance %d step %d", whole(float64(f.allowance.Or(-99))), whole(float64(f.step.Or(-99)))),
		fmt.Sprintf("pulse %d %d", whole(float64(f.narrowest.Or(-99))), whole(float64(f.longest.Or(-99)))))
}

func figuresOf(c *jobcard.Card, names ...string) figures {
	e, k, p := c.Engine, c.Controller, c.Ignition.BoxPulse
	return figures{names: append(names, c.Job.Name, c.Job.Shop, c.Job.Owner), bore: e.Bore, stroke: e.Stroke, rod: e.Rod, teeth: c.Distributor.GearTeeth, order: e.FiringOrder,
		lead: c.Signals.Crank.Lead, cranking: k.Advance.Cranking, locked: k.Advance.Locked, allowance: k.DelayAllowance, step: k.DelayStep, narrowest: p.Least, longest: p.Most}
}

func TestNoSetOfFiguresIsSomebodys(t *testing.T) {
	listed := listedSets(t)
	all := map[string]figures{}
	for _, e := range examples.Cards() {
		c, err := jobcard.Parse(e.Name, []byte(e.YAML))
		if err != nil {
			t.Fatal(err)
		}
		all["example "+e.Name] = figuresOf(c, e.Name)
	}
	cards, err := filepath.Glob("cmd/phasewright/testdata/cards/*.yaml")
	if err != nil || len(cards) < 5 {
		t.Fatalf("%d cards of the scripts, %v", len(cards), err)
	}
	for _, file := range cards {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		c, err := jobcard.Parse(file, text)
		if err != nil {
			t.Fatal(err)
		}
		all[file] = figuresOf(c)
	}
	c, err := jobcard.Parse("new card", []byte(jobcard.Starter()))
	if err != nil {
		t.Fatal(err)
	}
	all["new card"] = figuresOf(c)
	d := bench.Default()
	all["engine of the bench"] = figures{names: []string{d.Name}, bore: d.Engine.Bore, stroke: d.Engine.Stroke, rod: d.Engine.Rod, teeth: d.Distributor.GearTeeth, order: d.Engine.FiringOrder,
		lead: d.Controller.Lead, cranking: jobcard.Set(d.Controller.Cranking), locked: jobcard.Set(d.Controller.Locked),
		allowance: jobcard.Set(d.Controller.Allowance), step: jobcard.Set(d.Controller.Step)}
	for what, f := range all {
		for _, s := range f.sets() {
			if listed[hashOf(s)] {
				t.Errorf("%s: %q is a set that is not ours; choose other figures", what, s)
			}
		}
	}
}

// What belongs to a controller or a spark box has no default, and the examples in the documentation of the fields are
// no listed set either.
func TestNoDefaultForAController(t *testing.T) {
	open := map[string]bool{}
	card := &figures{}
	for _, f := range jobcard.Fields() {
		crank := func() jobcard.Setting[quantity.Crank] {
			v, err := quantity.Parse[quantity.Crank](f.Example)
			if err != nil {
				t.Fatal(err)
			}
			return jobcard.Set(v)
		}
		micro := func() jobcard.Setting[quantity.Time] {
			v, err := quantity.Parse[quantity.Time](f.Example)
			if err != nil {
				t.Fatal(err)
			}
			return jobcard.Set(v)
		}
		switch f.Path {
		case "controller.advance.cranking":
			card.cranking = crank()
		case "controller.advance.locked":
			card.locked = crank()
		case "controller.delay_allowance":
			card.allowance = micro()
		case "controller.delay_step":
			card.step = micro()
		case "ignition.dwell", "ignition.box_pulse_rest":
		case "ignition.box_pulse_least":
			card.narrowest = micro()
		case "ignition.box_pulse_most":
			card.longest = micro()
		case "signals.crank.lead":
			card.lead = crank().Or(0)
			continue
		default:
			continue
		}
		open[f.Path] = true
		if f.Default != "" || !f.Open {
			t.Errorf("%s has a default: %q", f.Path, f.Default)
		}
	}
	if len(open) != 8 {
		t.Errorf("only %d of the controller's fields are known: %v", len(open), open)
	}
	listed := listedSets(t)
	for _, s := range card.sets() {
		if listed[hashOf(s)] {
			t.Errorf("the examples of the fields make %q, a set that is not ours", s)
		}
	}
}

// The list is worth something only while it finds what it lists: one of its sets is invented and stands there for this
// test, which comes near it by less than a millimetre.
func TestSetsAreFound(t *testing.T) {
	listed := listedSets(t)
	near := figures{bore: 98.4, stroke: 90.2, rod: 151.8}
	found := 0
	for _, s := range near.sets() {
		if listed[hashOf(s)] {
			found++
		}
	}
	if found != 1 {
		t.Errorf("a set that is listed, and a millimetre beside it, was found %d times", found)
	}
}
