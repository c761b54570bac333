package verdict_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/shaft/stand"
	"phasewright/verdict"
)

// left is the largest error of any firing from idle to redline, once the housing moved the spark by turned degrees and
// the allowance was raised by µs: the stand's own law, e = offset − 6·n·delay.
func left(c *stand.Case, turned, allowance float64) float64 {
	worst := 0.0
	for _, n := range []float64{float64(c.Card.Engine.IdleSpeed), float64(c.Card.Engine.Redline)} {
		for _, at := range c.Truth.Cylinder {
			worst = max(worst, math.Abs(at+turned-6e-6*n*(c.Truth.Delay-allowance)))
		}
	}
	return worst
}

// Recordings alone, of the generator that shares no code with the bench, the ranking or the reader (shaft/stand): a
// second opinion on physics. The judge must show no clause that is false there, and advise no cure that leaves the worst
// cylinder no nearer or stands beside a fault that a turn would hide.
func TestRecordingsOfAnotherMaker(t *testing.T) {
	rounds := uint64(6)
	if testing.Short() {
		rounds = 2
	}
	notCured := []string{"wrong edge", "wires reversed", "bent vane", "leads swapped"}
	cases, falsely, cures, wrong, shown := 0, 0, 0, 0, 0
	for _, class := range stand.Classes() {
		for seed := uint64(500); seed < 500+rounds; seed++ {
			c, err := stand.Make(class, seed)
			if err != nil {
				t.Fatal(err)
			}
			if c.Card == nil || c.File != nil {
				continue
			}
			if seed%2 == 1 { // every other one claims no more than was recorded, so that something can be shown
				card := *c.Card
				card.Engine.Redline, card.Tolerance = min(card.Engine.Redline, quantity.Speed(c.Truth.HighRPM)), 4
				c.Card = &card
			}
			r, err := shaft.Run(context.Background(), shaft.Events{Info: c.Info, Edges: c.Edges, End: c.End},
				shaft.Options{Card: c.Card, MarkLimit: stand.MarkLimit})
			if err != nil {
				t.Fatalf("%s: %v", c.Name, err)
			}
			cases++
			j := verdict.OfCapture(r, verdict.Evidence{Card: c.Card})
			tr, tolerance := c.Truth, float64(c.Card.Tolerance)
			isShown := func(id verdict.ID) bool { return j.Clauses.Get(id).State == verdict.Shown }
			say := func(what string) {
				falsely++
				t.Logf("%s: %s\n%v\n%s – %s", c.Name, what, tr, j.First, j.Next)
			}
			if isShown(verdict.Signals) && (tr.Missing+tr.Extra > 0 || slices.Contains(notCured[:2], tr.Fault) || tr.Sync == stand.SyncLost || tr.Sync == stand.SyncNone) {
				say("signals are not clean")
			}
			if tr.Timed && tr.Curve == nil {
				mean := max(math.Abs(tr.Error(float64(c.Card.Engine.IdleSpeed))), math.Abs(tr.Error(float64(c.Card.Engine.Redline))))
				if isShown(verdict.Timing) {
					shown++
					if mean > tolerance {
						say("the timing is outside")
					}
				}
				if isShown(verdict.EveryCylinder) && left(c, 0, 0) > tolerance {
					say("one cylinder is outside")
				}
			}
			if j.Word == verdict.Pass {
				say("a recording is never the whole")
			}
			if j.Cure == nil {
				continue
			}
			cures++
			turned := 2 * j.Cure.Housing.TurnDeg
			switch j.Cure.Housing.Direction {
			case readings.WithRotor:
				turned = -turned
			case readings.Leave:
				turned = 0
			}
			before, after := left(c, 0, 0), left(c, turned, j.Cure.Allowance.Change)
			if slices.Contains(notCured, tr.Fault) || !(after < before) {
				wrong++
				t.Logf("%s: wrong cure, %.2f° before, %.2f° after\n%v\n%s", c.Name, before, after, tr, j.Next)
			}
		}
	}
	t.Logf("%d recordings: %d clauses shown falsely, %d cures, %d of them wrong; timing shown in %d", cases, falsely, cures, wrong, shown)
	// the shares of the sweep, each at least one of so few
	if float64(falsely) > max(1, 0.002*float64(cases)) || float64(wrong) > max(1, 0.005*float64(cases)) {
		t.Errorf("%d of %d recordings judged falsely, %d wrong cures", falsely, cases, wrong)
	}
	if cures == 0 || shown == 0 {
		t.Error("nothing was cured or shown: the score sees nothing")
	}
}
