package suspects_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"phasewright/suspects"
)

// A worn bushing's swing has any phase: six wires read round the order, a wave of 1.2° once a shaft turn whose crest lies
// anywhere. The numbers are worked out by hand, to a tenth of a degree as a person reads them.
func TestASwingHasAnyPhase(t *testing.T) {
	card, err := shopCard("sandpiper")
	if err != nil {
		t.Fatal(err)
	}
	e, err := suspects.New(card, suspects.DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	for crest := 0.0; crest < 360; crest += 15 {
		ev := &suspects.Evidence{}
		for i, wire := range card.Engine.FiringOrder {
			shown := math.Round(10*(8+1.2*math.Cos((60*float64(i)-crest)*math.Pi/180))) / 10
			ev.Light = append(ev.Light, suspects.Light{Speed: 750, Wire: wire, Shown: &suspects.Number{Value: shown, U: 0.2}})
		}
		r, err := e.Explain(ev, suspects.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		if first := r.Suspects[0]; !slices.Equal(first.Faults, []string{"wobble"}) || first.Probability < 0.9 ||
			!strings.Contains(first.Size, "1.") {
			t.Errorf("crest at %g°: %s, size %s", crest, top(r, 3), first.Size)
		}
	}
}
