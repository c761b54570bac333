package bench_test

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/examples"
	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/waveform"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// anonymous renames the channels of a VCD so that nothing is given away, in an order drawn by lot, and says what
// each carries.
func anonymous(data []byte, seed uint64) ([]byte, map[string]shaft.Role) {
	order := rand.New(rand.NewPCG(seed, 5)).Perm(4)
	head, body, _ := bytes.Cut(data, []byte("$upscope"))
	first, _, _ := bytes.Cut(head, []byte("$var"))
	truth := map[string]shaft.Role{}
	vars := ""
	for place, i := range order {
		name := fmt.Sprintf("ch%d", place+1)
		truth["engine."+name] = []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark}[i]
		vars += fmt.Sprintf("$var wire 1 %c %s $end\n", '!'+i, name)
	}
	return append([]byte(string(first)+vars+"$upscope"), body...), truth
}

// roleCounts counts recordings by what was made of their channels.
type roleCounts struct{ right, open, wrong int }

// count takes a result: wrong where one channel has another's role, open where one that carries something has none.
func (c *roleCounts) count(res *shaft.Result, truth map[string]shaft.Role) string {
	wrong, open, text := 0, 0, ""
	for _, ch := range res.Channels {
		want := truth[ch.Name]
		if ch.Edges == 0 {
			want = shaft.Unknown
		}
		switch ch.Role {
		case want:
			continue
		case shaft.Unknown:
			open++
		default:
			wrong++
		}
		text += fmt.Sprintf("; %s is %s, not %s (%s)", ch.Name, ch.Role, want, ch.Reason)
	}
	switch {
	case wrong > 0:
		c.wrong++
		return text
	case open > 0:
		c.open++
	default:
		c.right++
	}
	return ""
}

// Crossfire and noise put edges into the crank pickup, and names give nothing away. With the job card, or the number of
// cylinders alone, no channel gets another's role, and most get their own; without either, a single's pickups cannot
// always be told apart. What cannot be told is left open. Over all example engines, a start with a sweep, a steady
// speed, and cranking alone. Before spikes were taken out and close calls left open, 702 of these 1782 assignments were
// right, 655 open and 425 wrong.
func TestRolesUnderCrossfireAndNoise(t *testing.T) {
	seeds := uint64(3)
	if testing.Short() {
		seeds = 1
	}
	faults := []string{"", "crossfire=10%", "crossfire=30%", "crossfire=60%", "crossfire=100%", "noise=5%", "noise=20%", "noise=50%", "noise=100%", "crossfire=30%,noise=20%", "crossfire=60%,noise=50%"}
	if testing.Short() { // the two that are judged on their own, and the strongest of each kind
		faults = []string{"", "crossfire=30%", "crossfire=100%", "noise=100%"}
	}
	known, bare := map[string]*roleCounts{}, map[string]*roleCounts{}
	var all roleCounts
	for _, fault := range faults {
		known[fault], bare[fault] = &roleCounts{}, &roleCounts{}
		for n, x := range examples.Cards() {
			card, c := exampleBench(t, x)
			var f bench.Faults
			if fault != "" {
				var err error
				if f, err = bench.ParseFaults(c, strings.Split(fault, ",")...); err != nil {
					t.Fatal(err)
				}
			}
			e := c.Engine
			start := append(bench.Cranking(quantity.Seconds(2)), bench.Sweep(e.CrankingSpeed, e.Idle, quantity.Seconds(0.5))...)
			for _, p := range []bench.Profile{append(start, bench.Sweep(e.Idle, 0.8*e.Redline, quantity.Seconds(6))...), bench.Hold(0.4*e.Redline, quantity.Seconds(4)), bench.Cranking(quantity.Seconds(4))} {
				for seed := uint64(1); seed <= seeds; seed++ {
					if !testing.Short() && !long() && seed != 1+uint64(n)%seeds {
						continue // one seed a card
					}
					rig, err := bench.NewRig(c, f, p, seed)
					if err != nil {
						t.Fatal(err)
					}
					var b bytes.Buffer
					if err := bench.WriteVCD(&b, rig); err != nil {
						t.Fatal(err)
					}
					data, truth := anonymous(b.Bytes(), seed)
					for _, o := range []struct {
						name string
						opt  shaft.Options
						sums *roleCounts
					}{{"card", shaft.Options{Card: card}, known[fault]}, {"cylinders", shaft.Options{Cylinders: e.Cylinders}, known[fault]}, {"bare", shaft.Options{}, bare[fault]}} {
						res, err := shaft.Run(context.Background(), shaft.Recording{Input: waveform.File("run.vcd", bytes.NewReader(data), int64(len(data)))}, o.opt)
						if err != nil {
							t.Fatal(err)
						}
						if bad := o.sums.count(res, truth); bad != "" {
							say := t.Errorf
							if o.name == "bare" {
								say = t.Logf
							}
							say("%s, %q, %s, %s, seed %d%s", x.Name, fault, p[0], o.name, seed, bad)
						}
					}
				}
			}
		}
	}
	for _, fault := range faults {
		k, b := known[fault], bare[fault]
		t.Logf("%-24q with card or cylinders: %3d right, %2d open, %2d wrong; bare: %2d right, %2d open, %2d wrong", fault, k.right, k.open, k.wrong, b.right, b.open, b.wrong)
		all.right, all.open, all.wrong = all.right+k.right+b.right, all.open+k.open+b.open, all.wrong+k.wrong+b.wrong
	}
	n := all.right + all.open + all.wrong
	t.Logf("%d assignments: %d right, %d open, %d wrong", n, all.right, all.open, all.wrong)
	if k := known[""]; k.open > 0 {
		t.Errorf("sound engines, with card or cylinders: %d of %d left open", k.open, k.open+k.right)
	}
	if k := known["crossfire=30%"]; k.open > 0 {
		t.Errorf("crossfire of 30 %%, with card or cylinders: %d of %d left open", k.open, k.open+k.right)
	}
	if all.wrong*50 > n || all.right*4 < 3*n {
		t.Errorf("of %d assignments %d are right and %d wrong", n, all.right, all.wrong)
	}
}
