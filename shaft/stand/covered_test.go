package stand_test

import (
	"bytes"
	"context"
	"math"
	"testing"

	"phasewright/shaft"
	"phasewright/shaft/stand"
	"phasewright/waveform"
)

// Intervals called 95 % hold the truth of 93 to 97 % of recordings, whichever format they come in and however fast the
// speed changes. The mark stands at TDC as the card says, so that its own place does not swamp the rest. At 95 % of 540
// intervals one binomial standard deviation is 0.94 %, of a format's 180 it is 1.6 %.
func TestCoverageOfFilesUnderAcceleration(t *testing.T) {
	rounds := uint64(30)
	if testing.Short() {
		rounds = 3
	}
	held, all := 0, 0
	for _, format := range stand.CoveredFormats() {
		heldHere, here := 0, 0
		for _, rate := range []float64{300, 1000, 2000} { // rpm/s
			heldRate, atRate := 0, 0
			var missed [2]float64
			for seed := range rounds {
				c, err := stand.MakeCovered(format, rate, seed)
				if err != nil {
					t.Fatal(err)
				}
				in := waveform.File(c.Name, bytes.NewReader(c.File), int64(len(c.File)))
				r, err := shaft.Run(context.Background(), shaft.Recording{Input: in}, shaft.Options{Card: c.Card})
				if err != nil || r.Timing == nil {
					t.Errorf("%s: no timing: %v", c.Name, err)
					continue
				}
				for i, x := range []struct{ lo, value, hi, truth, u float64 }{
					{r.Timing.Offset.Lo, r.Timing.Offset.Value, r.Timing.Offset.Hi, c.Truth.Offset, r.Timing.Offset.U},
					{r.Timing.Delay.Lo, r.Timing.Delay.Value, r.Timing.Delay.Hi, c.Truth.Delay, r.Timing.Delay.U},
				} {
					missed[i] += math.Pow((x.value-x.truth)/x.u, 2) / float64(rounds)
					atRate++
					if x.lo <= x.truth && x.truth <= x.hi {
						heldRate++
					}
				}
			}
			t.Logf("%s at %g rpm/s: %d of %d held; miss over u, rms: offset %.2f, delay %.2f", format, rate, heldRate, atRate,
				math.Sqrt(missed[0]), math.Sqrt(missed[1]))
			heldHere, here = heldHere+heldRate, here+atRate
		}
		share := float64(heldHere) / float64(here)
		if s := 2.5 * math.Sqrt(0.95*0.05/float64(here)); share < 0.95-s || share > min(0.95+s, 0.995) && !testing.Short() {
			t.Errorf("%s: %d of %d intervals hold the truth, %.1f %%", format, heldHere, here, 100*share)
		}
		held, all = held+heldHere, all+here
	}
	share := float64(held) / float64(all)
	t.Logf("%d of %d intervals hold the truth, %.1f %%", held, all, 100*share)
	if !testing.Short() && (share < 0.93 || share > 0.97) {
		t.Errorf("%d of %d intervals called 95 %% hold the truth, %.1f %%, want 93 to 97 %%", held, all, 100*share)
	}
}
