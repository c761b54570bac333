package bench_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/waveform"
)

// withoutMark takes the last of four 16-bit channels out of a WAVE file as the bench writes it: a head of 44 bytes,
// then frames.
func withoutMark(four []byte) []byte {
	out := append([]byte{}, four[:44]...)
	for i := 44; i+8 <= len(four); i += 8 {
		out = append(out, four[i:i+6]...)
	}
	rate := binary.LittleEndian.Uint32(out[24:])
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	binary.LittleEndian.PutUint16(out[22:], 3)
	binary.LittleEndian.PutUint32(out[28:], rate*6)
	binary.LittleEndian.PutUint16(out[32:], 6)
	binary.LittleEndian.PutUint32(out[40:], uint32(len(out)-44))
	return out
}

// ran is what a run put in, from the bench's own events.
type ran struct {
	sparks int     // that the probe sees
	dwell  float64 // ms, mean
	after  float64 // degrees from the active crank edge to the spark, mean
	top    float64 // rpm
}

func (r *ran) watch(rig *bench.Rig, probe bench.Probe) {
	edge, dwells := math.NaN(), 0
	rig.Run(func(e *bench.Event) bool {
		r.top = max(r.top, float64(e.Speed))
		switch {
		case e.Kind == bench.CrankEdge && e.Active:
			edge = e.Turned
		case e.Kind == bench.Cut && probe != bench.OnWire1, e.Kind == bench.Spark && probe == bench.OnWire1 && e.Cylinder == 1:
			r.sparks++
			r.after += e.Turned - edge
			r.dwell += float64(e.Dwell) / 1e3
			dwells++
		}
		return true
	})
	r.after /= float64(r.sparks)
	r.dwell /= float64(dwells)
}

// From a sound card, which passes no direct voltage (20 Hz, common practice) and samples at audio rates, every example
// engine comes out as it was put in: roles, sync, speed, dwell, place of the spark, and with a mark the constant error
// and the delay within what is stated, as often as is stated. All probes, with and without a mark. A reluctance
// pickup's zero crossings move at low speed in such a recording: that is said, and its timing is not asked for here.
func TestSoundCardGivesBackWhatWasPutIn(t *testing.T) {
	seeds := uint64(4)
	if testing.Short() {
		seeds = 1
	}
	inside, asked := 0, 0
	probes := []bench.Probe{bench.OnDriver, bench.OnWire1, bench.OnSupply}
	for n, x := range examples.Cards() {
		probes := probes
		if testing.Short() { // each on every third card
			probes = probes[n%3 : n%3+1]
		}
		card, err := jobcard.Parse(x.Name+".yaml", []byte(x.YAML))
		if err != nil {
			t.Fatal(err)
		}
		for _, probe := range probes {
			for seed := uint64(1); seed <= seeds; seed++ {
				if !testing.Short() && !long() && (seed+uint64(n))%2 == 1 {
					continue // each sampling rate on every other card
				}
				rng := rand.New(rand.NewPCG(seed, 77))
				c, err := bench.FromCard(card)
				if err != nil {
					t.Fatal(err)
				}
				f := bench.Faults{Lead: quantity.Crank(4*rng.Float64() - 2), Delay: quantity.Time(150*rng.Float64() - 30)}
				left := float64(c.Crank.Delay + f.Delay - c.Controller.Allowance)
				if probe == bench.OnWire1 {
					left += float64(c.Ignition.SparkDelay)
				}
				e := c.Engine
				p := append(bench.Cranking(quantity.Seconds(2)), bench.Sweep(e.CrankingSpeed, e.Idle, quantity.Seconds(0.5))...)
				p = append(p, bench.Sweep(e.Idle, 0.8*e.Redline, quantity.Seconds(8))...)
				rig := func() *bench.Rig {
					r, err := bench.NewRig(c, f, p, seed)
					if err != nil {
						t.Fatal(err)
					}
					return r
				}
				var want ran
				want.watch(rig(), probe)
				var b bytes.Buffer
				if err := bench.WriteWAV(&b, rig(), c, bench.Sampling{Rate: []float64{48000, 96000, 44100, 192000}[seed%4], Spark: probe, Corner: 20}); err != nil {
					t.Fatal(err)
				}
				for _, mark := range []bool{true, false} {
					data := b.Bytes()
					if !mark {
						data = withoutMark(data)
					}
					res, err := shaft.Run(context.Background(), shaft.Recording{Input: waveform.File("card.wav", bytes.NewReader(data), int64(len(data)))}, shaft.Options{Card: card, Commanded: []shaft.Command{{Advance: c.Controller.Locked}}})
					if err != nil {
						t.Fatal(err)
					}
					say := func(format string, a ...any) {
						t.Helper()
						t.Errorf("%s, %s, seed %d, mark %v: "+format, append([]any{x.Name, probe, seed, mark}, a...)...)
					}
					for i, ch := range res.Channels {
						role := []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark}[i]
						if i == 1 && !c.CamFitted {
							role = shaft.Unknown
						}
						if ch.Role != role {
							say("channel %d is %s, not %s (%s)", i+1, ch.Role, role, ch.Reason)
						}
					}
					if c.CamFitted && res.Sync != shaft.SyncHeld {
						say("sync %s: %s", res.Sync, res.SyncBecause)
					}
					for _, id := range []string{shaft.FoundPolarity, shaft.FoundSwapped, shaft.FoundWrongEdge, shaft.FoundVaneCount} {
						if res.Found(id) {
							say("%s is found on a sound engine", id)
						}
					}
					if res.Speed == nil || math.Abs(res.Speed.Max/want.top-1) > 0.02 {
						say("speed %+v, put in %.0f at the most", res.Speed, want.top)
					}
					s := res.Spark
					if s == nil || math.Abs(float64(s.Count)-float64(want.sparks)) > 1 {
						say("sparks %+v, put in %d", s, want.sparks)
						continue
					}
					if reluctor := c.Crank.Kind == jobcard.Reluctor; !reluctor && math.Abs(s.AfterEdge.Mean-want.after) > 0.3 {
						say("spark %.2f° after the edge, put in %.2f°", s.AfterEdge.Mean, want.after)
					} else if reluctor && mark && !strings.Contains(strings.Join(res.Timing.NotInU, ";"), "zero crossings") {
						say("it is not said that zero crossings move: %v", res.Timing.NotInU)
					} else if reluctor {
						continue
					}
					if probe == bench.OnDriver && math.Abs(float64(s.DwellMS)/want.dwell-1) > 0.01 {
						say("dwell %.3f ms, put in %.3f ms", float64(s.DwellMS), want.dwell)
					}
					if probe == bench.OnSupply && !strings.Contains(strings.Join(res.Doubts, ";"), "climbs as a coil's current") {
						say("it is not said that the dwell of a current is short: %v", res.Doubts)
					}
					if !mark {
						continue
					}
					if res.Timing == nil {
						say("no timing: %v %v", res.Findings, res.Doubts)
						continue
					}
					for _, v := range []struct {
						iv    readings.Interval
						truth float64
						what  string
					}{{res.Timing.Offset, -float64(f.Lead), "offset"}, {res.Timing.Delay, left, "delay"}} {
						asked++
						if v.iv.Lo <= v.truth && v.truth <= v.iv.Hi {
							inside++
						} else {
							t.Logf("%s, %s, seed %d: %s %.3f, %.3f to %.3f, put in %.3f", x.Name, probe, seed, v.what, v.iv.Value, v.iv.Lo, v.iv.Hi, v.truth)
						}
						if far := math.Abs(v.iv.Value-v.truth) / v.iv.U; far > 5 {
							say("%s %.3f, put in %.3f, %.1f standard uncertainties away", v.what, v.iv.Value, v.truth, far)
						}
					}
				}
			}
		}
	}
	t.Logf("%d of %d intervals hold the truth", inside, asked)
	if share := float64(inside) / float64(asked); share < 0.85 {
		t.Errorf("%d of %d intervals hold the truth", inside, asked)
	}
}

// At one speed nothing tells metal from time, and the rest between charges lasts as steadily as the charge: the charge
// is still the shorter of the two. Roles are stated where the recording leaves them open, as with a single.
func TestSteadySpeedGivesDwellAndAdvance(t *testing.T) {
	seeds := uint64(3)
	if testing.Short() {
		seeds = 1
	}
	for _, x := range examples.Cards() {
		_, c := exampleBench(t, x)
		for seed := uint64(1); seed <= seeds; seed++ {
			rig, err := bench.NewRig(c, bench.Faults{}, bench.Hold(0.4*c.Engine.Redline, quantity.Seconds(3)), seed)
			if err != nil {
				t.Fatal(err)
			}
			var b bytes.Buffer
			if err := bench.WriteWAV(&b, rig, c, bench.Sampling{Rate: 96000}); err != nil {
				t.Fatal(err)
			}
			opt := shaft.Options{Commanded: []shaft.Command{{Advance: c.Controller.Locked}}, Roles: map[string]shaft.Role{"ch1": shaft.Crank, "ch3": shaft.Spark, "ch4": shaft.Mark}}
			if c.CamFitted {
				opt.Roles["ch2"] = shaft.Cam
			}
			res, err := shaft.Run(context.Background(), shaft.Recording{Input: waveform.File("card.wav", bytes.NewReader(b.Bytes()), int64(b.Len()))}, opt)
			if err != nil {
				t.Fatal(err)
			}
			if res.Spark == nil || math.Abs(float64(res.Spark.DwellMS)*1e3/float64(c.Controller.Dwell)-1) > 0.05 {
				t.Errorf("%s, seed %d: %+v, put in a dwell of %v", x.Name, seed, res.Spark, c.Controller.Dwell)
				continue
			}
			n := float64(0.4 * c.Engine.Redline)
			want := -6 * n * float64(c.Crank.Delay-c.Controller.Allowance) * 1e-6
			if res.Timing == nil || len(res.Timing.ErrorAt) == 0 {
				t.Errorf("%s, seed %d: no timing %v", x.Name, seed, res.Timing)
				continue
			}
			if got := res.Timing.ErrorAt[0].Value; math.Abs(got-want) > 0.3 {
				t.Errorf("%s, seed %d: error %.2f°, put in %.2f°", x.Name, seed, got, want)
			}
		}
	}
}
