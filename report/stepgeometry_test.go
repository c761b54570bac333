package report

import (
	"math"
	"testing"

	"phasewright/drawing"
	"phasewright/procedure"
	"phasewright/readings"
)

// apart is how far two clock angles stand apart, −180 to 180, clockwise positive.
func apart(from, to float64) float64 { return math.Mod(math.Mod(to-from, 360)+540, 360) - 180 }

// Where the rotor stands, which way the housing turns, where the pickup begins and what the lamp shows, by hand from
// the cards:
//
// Towers stand 360/N apart, counted clockwise from above (sandpiper: the 4th of 6 at 180°; gorse-hill: the 3rd of 8 at
// 90°). At the edge the tip stands (L − middle of the advance)/2 short of its terminal: (60 − 18)/2 = 21° and
// (57 − 20.5)/2 = 18.25°. Short of it is clockwise of it for a counterclockwise rotor. The unit turns by
// travel × tan β × 360/(π d) as it drops: 14 × tan 30° × 360/(π 31) = 29.88°, 12.446 × tan 42° × 360/(π 28.575) =
// 44.94°; it is held that far against the way that it turns. The housing comes to the edge against the rotor. A Hall
// pickup's open collector lights the lamp while low.
func TestStepGeometryByHand(t *testing.T) {
	for _, c := range []struct {
		card            string
		rotor, terminal float64
		held            float64 // from where it comes to rest, clockwise positive
		turns           drawing.Turn
		begin           float64 // from where the pickup comes to stand
		lamps           []drawing.LampLook
		inVane          bool // the pickup ends in a vane
	}{
		{"sandpiper", 201, 180, -29.88, drawing.Clockwise, -17.5, []drawing.LampLook{{Lit: false, Word: "high: off"}, {Lit: true, Word: "low: on"}}, false},
		{"gorse-hill", 71.75, 90, 44.94, drawing.Counterclockwise, 15.5, []drawing.LampLook{{Lit: false, Word: "high: off"}, {Lit: true, Word: "low: on"}}, false},
		{"heron-ferry", math.NaN(), 60, math.NaN(), drawing.Counterclockwise, 13.5, []drawing.LampLook{{Lit: true, Word: "low: on"}, {Lit: false, Word: "high: off"}}, true},
	} {
		card, s := card(t, c.card)
		k := stepCase{c: card, s: s, width: 90, prefix: "t"}
		rotor, terminal := k.rotorAt()
		if !math.IsNaN(c.rotor) && math.Abs(apart(c.rotor, rotor)) > 0.01 {
			t.Errorf("%s: the rotor points to %.2f°, want %.2f", c.card, rotor, c.rotor)
		}
		if c.card != "heron-ferry" && math.Abs(apart(c.terminal, terminal)) > 0.01 {
			t.Errorf("%s: the first terminal stands at %.2f°, want %.2f", c.card, terminal, c.terminal)
		}
		drop := k.dropView()
		if math.IsNaN(c.held) != (len(drop.Held) == 0) {
			t.Errorf("%s: held at %v; want it only where the card says which way it turns", c.card, drop.Held)
		} else if len(drop.Held) > 0 && math.Abs(apart(drop.Rotor[0], drop.Held[0])-c.held) > 0.01 {
			t.Errorf("%s: held %.2f° from where it comes to rest, want %.2f", c.card, apart(drop.Rotor[0], drop.Held[0]), c.held)
		}
		v := k.phaseView()
		if len(v.Turns) != 1 || v.Turns[0].Way != c.turns {
			t.Errorf("%s: the housing turns %v, want %v", c.card, v.Turns, c.turns)
		}
		if got := apart(v.Pickup[0], v.Begin[0]); math.Abs(got-c.begin) > 0.01 {
			t.Errorf("%s: the pickup begins %.2f° from its place, want %.2f", c.card, got, c.begin)
		}
		if way := apart(v.Begin[0], v.Pickup[0]); (way > 0) != (c.turns == drawing.Clockwise) {
			t.Errorf("%s: from its beginning the pickup goes %.1f°, the arrow %v", c.card, way, c.turns)
		}
		if len(v.Lamps) != 2 || v.Lamps[0] != c.lamps[0] || v.Lamps[1] != c.lamps[1] {
			t.Errorf("%s: the lamp shows %v, want %v", c.card, v.Lamps, c.lamps)
		}
		in := func(at float64) bool {
			for _, a := range v.Vanes {
				if off := math.Mod(at-a.From+720, 360); off > 0 && off < a.Sweep {
					return true
				}
			}
			return false
		}
		before := v.Pickup[0] + 2*justPast*float64(v.Turn) // on the other side of the edge, with the rotor
		if in(v.Pickup[0]) != c.inVane || in(before) == c.inVane {
			t.Errorf("%s: in a vane before the edge %v, after it %v; want it to end in one: %v", c.card, in(before), in(v.Pickup[0]), c.inVane)
		}
		if len(v.Vanes) != card.Engine.Cylinders {
			t.Errorf("%s: %d vanes for %d firings", c.card, len(v.Vanes), card.Engine.Cylinders)
		}
	}
}

// A tongue has no twist: the unit is drawn from the side. The pickup of a reluctor stands face to face with a tip.
func TestStepsOfATongueAndAReluctor(t *testing.T) {
	c, s := card(t, "mill-pump")
	k := stepCase{c: c, s: s, width: 90, prefix: "t"}
	d, err := k.drop()
	if err != nil || d.Title != "Distributor from the side" {
		t.Fatalf("%v, %v", d, err)
	}
	v := k.phaseView()
	if len(v.Lamps) != 0 || len(v.Begin) != 0 {
		t.Errorf("lamps %v, begin %v: a reluctor gives no level at rest", v.Lamps, v.Begin)
	}
	first := v.Vanes[0]
	if mid := first.From + first.Sweep/2; math.Abs(apart(mid, v.Pickup[0])) > 0.01 {
		t.Errorf("the tip's middle stands at %.2f°, the pole at %.2f", mid, v.Pickup[0])
	}
	if v.Turns[0].Way != drawing.Clockwise { // the rotor turns counterclockwise
		t.Errorf("the housing turns %v", v.Turns[0].Way)
	}
}

// The housing turns the rotor's way where that is asked for: sandpiper's rotor is counterclockwise.
func TestHousingTurnedTheRotorsWay(t *testing.T) {
	c, s := card(t, "sandpiper")
	d, err := HousingTurned(c, s, readings.Housing{TurnDeg: 1.3, Direction: readings.WithRotor}, 90, "t")
	if err != nil {
		t.Fatal(err)
	}
	if want := "Distributor from above, cap off; the rotor turns counterclockwise. Turn the housing counterclockwise: 1.3°."; d.Desc != want {
		t.Errorf("it says %q, want %q", d.Desc, want)
	}
}

// A step that the table does not know is an error, not an empty drawing.
func TestUnknownStepIsNotDrawn(t *testing.T) {
	c, s := card(t, "sandpiper")
	if d, err := StepDrawing(c, s, procedure.Step{ID: "polish"}, 90, "t"); err == nil || d != nil {
		t.Errorf("%v, %v", d, err)
	}
}
