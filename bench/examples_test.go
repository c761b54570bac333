package bench_test

import (
	"testing"

	"phasewright/bench"
	"phasewright/cranking"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// exampleBench is an example's card and the bench that it makes.
func exampleBench(t testing.TB, x examples.Card) (*jobcard.Card, bench.Config) {
	t.Helper()
	card, err := jobcard.Parse(x.Name+".yaml", []byte(x.YAML))
	if err != nil {
		t.Fatal(err)
	}
	c, err := bench.FromCard(card)
	if err != nil {
		t.Fatalf("%s: %v", x.Name, err)
	}
	return card, c
}

// Every example card makes a bench on which, with no fault, the spark errs by exactly what the card's allowance leaves
// of its delay, and which cranks as the set-up sheet says.
func TestEveryExampleRuns(t *testing.T) {
	for _, x := range examples.Cards() {
		card, c := exampleBench(t, x)
		c.Distributor.Scatter = 0
		n := (c.Engine.Idle + c.Engine.Redline) / 2
		r, err := bench.NewRig(c, bench.Faults{}, bench.Hold(n, quantity.Seconds(1)), 1)
		if err != nil {
			t.Fatalf("%s: %v", x.Name, err)
		}
		left := c.Crank.Delay + c.Ignition.SparkDelay - c.Controller.Allowance
		want := c.Controller.Locked - n.Over(left)
		sparks := 0
		r.Run(func(e *bench.Event) bool {
			if e.Kind != bench.Spark || e.Extra {
				return true
			}
			sparks++
			if quantity.Abs(e.Advance-want) > 1e-6 {
				t.Errorf("%s: cylinder %d sparks at %v, want %v", x.Name, e.Cylinder, e.Advance, want)
				return false
			}
			return true
		})
		if sparks < 5 {
			t.Errorf("%s: %d sparks", x.Name, sparks)
		}
		b, err := bench.CrankingBias(c, cranking.DefaultSpread())
		if want, fails := cranking.FromCard(card, c.Controller.Cranking).Bias(cranking.DefaultSpread()); b != want || (err == nil) != (fails == nil) {
			t.Errorf("%s: the bench cranks with a bias of %+v (%v), the sheet says %+v (%v)", x.Name, b, err, want, fails)
		}
		t.Logf("%s: %d cylinders, bias %+v %v", x.Name, c.Engine.Cylinders, b, err)
	}
}
