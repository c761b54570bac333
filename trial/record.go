package trial

import (
	"cmp"
	"context"
	"slices"

	"phasewright/bench"
	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/waveform"
)

// Channels of a recording.
const (
	onCrank int32 = iota
	onCam
	onSpark
	onMark
)

// record is a recording of crank and cam pickup, coil driver and mark, from the starter to the redline in ten seconds
// or until a thousand crank pulses are in it, as shaft reads it; of an engine that does not start, what there is on the
// starter. The mark is the damper's own: it stands as far from TDC as the damper does.
func (j *job) record(ctx context.Context, starts bool) (*shaft.Result, error) {
	e := j.c.Engine
	p := bench.Cranking(quantity.Seconds(2.5))
	if starts {
		p = append(p, bench.Sweep(e.CrankingSpeed, e.Idle, quantity.Seconds(0.5))...)
		p = append(p, bench.Hold(e.Idle, quantity.Seconds(1))...)
		p = append(p, bench.Sweep(e.Idle, e.Redline, quantity.Seconds(6))...)
		// Few cylinders give few pulses: he holds it up there until there are some 1,200.
		perSecond := float64(e.Redline) / 120 * float64(e.Cylinders)
		p = append(p, bench.Hold(e.Redline, quantity.Seconds(max(0.5, 1200/perSecond-3)))...)
	}
	rig, err := bench.NewRig(j.c, j.f, p, j.seed)
	if err != nil {
		return nil, err
	}
	names := []string{"crank", "cam", "spark", "mark"}
	info, edges, state := waveform.Info{}, []waveform.Edge{}, [4]bool{}
	for i, name := range names {
		info.Channels = append(info.Channels, waveform.Channel{Name: name, Kind: waveform.Digital,
			Method: waveform.ByState, Low: 0, High: 1})
		edges = append(edges, waveform.Edge{Channel: int32(i), Kind: waveform.FoundLow})
	}
	put := func(at float64, channel int32, high bool) {
		if state[channel] == high {
			return
		}
		state[channel] = high
		kind := waveform.Fall
		if high {
			kind = waveform.Rise
			info.Channels[channel].Rises++
		} else {
			info.Channels[channel].Falls++
		}
		edges = append(edges, waveform.Edge{At: waveform.Second(at * 1e-6), Channel: channel, Kind: kind})
	}
	first := [2]bool{}
	rig.Run(func(ev *bench.Event) bool {
		at := float64(ev.Time)
		switch ev.Kind {
		case bench.CrankEdge, bench.CamEdge:
			channel := onCrank
			if ev.Kind == bench.CamEdge {
				channel = onCam
			}
			if !first[channel] { // the level before the first edge
				first[channel], state[channel] = true, !ev.High
				if !ev.High {
					edges[channel].Kind = waveform.FoundHigh
				}
			}
			put(at, channel, ev.High)
		case bench.Charge:
			put(at, onSpark, true)
		case bench.Cut:
			put(at, onSpark, false)
		case bench.Mark:
			rate := 6e-6 * float64(ev.Speed) // °/µs
			at += float64(j.f.Damper) / rate
			put(at, onMark, true)
			put(at+3/rate, onMark, false)
		}
		return ctx.Err() == nil
	})
	slices.SortStableFunc(edges, func(a, b waveform.Edge) int { return cmp.Compare(a.At, b.At) })
	if !j.c.CamFitted {
		edges = slices.DeleteFunc(edges, func(e waveform.Edge) bool { return e.Channel == onCam })
		for i := range edges {
			if edges[i].Channel > onCam {
				edges[i].Channel--
			}
		}
		info.Channels = slices.Delete(info.Channels, int(onCam), int(onCam)+1)
	}
	return shaft.Run(ctx, shaft.Events{Info: info, Edges: edges, End: waveform.Second(p.Duration().Seconds())},
		shaft.Options{Card: j.card})
}
