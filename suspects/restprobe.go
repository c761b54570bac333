package suspects

import (
	"fmt"
	"math"

	"phasewright/bench"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// keyOf are the keys that fill the numbers by their id.
var keyOf = map[string]string{"settings lead": "settings.lead", "settings dwell": "settings.dwell",
	"settings allowance": "settings.allowance", "dial": "timing_light.dial", "rotor play": "rotor.play",
	"battery rest": "battery.rest", "battery cranking": "battery.cranking", "battery running": "battery.running",
	"capture dwell": "capture.dwell", "piston stop": "piston_stop.before"}

// flat gives a number that faults move along straight lines.
func flat(id, saw, ask, unit string, base, u, span float64, slopes map[int]float64, loose [nuisances]float64) probe {
	key := keyOf[id]
	return probe{id: id, key: key, saw: saw, ask: ask, unit: unit, u: u, odd: 0.01, span: span, loose: loose,
		mean: func(p *point) (float64, float64, bool) {
			m := base
			for _, o := range p.picks {
				if o.k < benchFaults {
					m += slopes[o.k] * p.e.table[o.k].Size(p.f)
				} else {
					m += p.e.faults[o.k].moves[key] * o.size
				}
			}
			return m, 0, true
		},
		slope: func(p *point, k int) float64 {
			if k < benchFaults {
				return slopes[k]
			}
			if k < faultCount {
				return p.e.faults[k].moves[key]
			}
			return 0
		}}
}

// verdict gives one of two words; bad is the chance of the second.
func verdict(id, key, saw, ask string, words []string, bad func(p *point) float64) probe {
	return probe{id: id, key: key, saw: saw, ask: ask, outcomes: words, chances: func(p *point, out []float64) {
		b := bad(p)
		out[0], out[1] = 1-b, b
	}}
}

// lampProbe is the level of a pickup with the crank at a mark; the hand that turns it stops within a degree or so.
func (e *Engine) lampProbe(at float64, cam bool) probe {
	which := "crank"
	if cam {
		which = "cam"
	}
	q := probe{id: fmt.Sprintf("lamp %s %.1f", which, at), key: "lamps." + which,
		saw: fmt.Sprintf("lamp on the %s pickup at %.0f° BTDC", which, at), outcomes: levelWords, dear: true}
	q.ask = fmt.Sprintf("bring the crank to %.0f° BTDC of cylinder 1 on compression, turning in running direction, "+
		"and look at the lamp on the %s pickup", at, which)
	q.chances = func(p *point, out []float64) {
		for _, w := range [...]struct{ off, weight float64 }{{-1.2, 0.25}, {0, 0.5}, {1.2, 0.25}} {
			a, b := p.lamp(at - float64(p.f.Damper) + w.off)
			if cam {
				a = b
			}
			k := 2
			switch a {
			case bench.GlowHigh:
				k = 0
			case bench.GlowLow:
				k = 1
			}
			for i := range out {
				if i == k {
					out[i] += 0.98 * w.weight
				} else {
					out[i] += 0.01 * w.weight
				}
			}
		}
	}
	return q
}

// turnProbe is how far the housing turns until the active edge comes, with the crank at the lead's mark.
func (e *Engine) turnProbe() probe {
	q := probe{id: "turn to edge", key: "housing.turn_to_edge", saw: "housing turned until the lamp changed",
		ask:  "with the crank at the trigger lead's mark turn the housing until the lamp changes, and measure how far",
		unit: "° of the housing", u: 0.4, odd: 0.01, span: 40}
	perCrank := float64(engine.CrankToShaft(1))
	q.loose = [nuisances]float64{nConstant: -perCrank, nZero: -perCrank}
	q.mean = func(p *point) (float64, float64, bool) {
		if p.f.NoCrank || p.f.Leads || p.inverted || e.c.Crank.Kind == jobcard.Reluctor {
			return 0, 0, false
		}
		shaft, turned := p.ahead()
		for _, o := range p.picks {
			if o.k == chain {
				shaft += o.size
			}
		}
		off := quantity.Crank(wrap(shaft+turned+float64(p.f.Damper), e.least))
		return -float64(engine.CrankToShaft(off)), 0, true
	}
	q.slope = func(_ *point, k int) float64 {
		switch k {
		case housing:
			return -1
		case damper, chain:
			return -perCrank
		}
		return 0
	}
	return q
}

// bracketProbe is the same, from two lamps of which one stands on either side of the edge.
func (e *Engine) bracketProbe(from, to float64) probe {
	q := e.turnProbe()
	q.key = "lamps.crank"
	q.id = fmt.Sprintf("lamp changes %.1f", from)
	q.saw = fmt.Sprintf("lamp on the crank pickup changes between %.0f and %.0f° BTDC: the housing would be turned",
		from, to)
	return q
}

func (e *Engine) tipProbe() probe {
	q := probe{id: "rotor off", key: "rotor.off", saw: "rotor tip against its tower",
		ask: "with the crank at the trigger lead's mark on compression measure how far the rotor " +
			"tip stands off its place", unit: "° of the shaft", u: 2.5, odd: 0.01, span: 180, turn: 360}
	perCrank := float64(engine.CrankToShaft(1))
	q.loose = [nuisances]float64{nConstant: perCrank, nZero: perCrank}
	q.mean = func(p *point) (float64, float64, bool) {
		sd := 0.0
		if p.f.Tooth != 0 { // with the housing where it was, or turned as far as it goes
			sd = 9
		}
		return p.tip(), sd, true
	}
	q.slope = func(_ *point, k int) float64 {
		switch k {
		case housing, rotor:
			return 1
		case damper:
			return perCrank
		}
		return 0
	}
	return q
}

// towerProbe is which wire the tip points at.
func (e *Engine) towerProbe() probe {
	words := []string{"between"}
	for c := 1; c <= e.c.Engine.Cylinders; c++ {
		words = append(words, fmt.Sprint(c))
	}
	q := probe{id: "rotor points to", key: "rotor.points_to", saw: "the rotor points to the tower of cylinder:",
		ask: "take the cap off: with the crank at the trigger lead's mark on compression see which wire's " +
			"tower the rotor points to", outcomes: words}
	q.chances = func(p *point, out []float64) {
		one(out, p.wire(), 0.93)
		if p.f.Tooth != 0 { // before the housing was turned as far as it goes
			for i := range out {
				out[i] *= 0.6
			}
			out[0] += 0.4
		}
	}
	return q
}

// stopProbe is the zero mark against the middle of two contacts.
func (e *Engine) stopProbe() probe {
	return flat("piston stop", "piston stop: the zero mark reads early by",
		"find true TDC with a piston stop and compare the zero mark", "°", 0, 0.3, 60, map[int]float64{damper: 1},
		[nuisances]float64{nZero: 1})
}

// misfireProbe is how many cylinders misfire; evidence names them one by one (misfireItems).
func (e *Engine) misfireProbe() probe {
	q := probe{id: "misfire", key: "misfires", saw: "cylinders that misfire:",
		ask: "with the engine idling find the cylinders that " +
			"do no work (light on each wire, or temperature of each pipe)",
		outcomes: []string{"none", "one", "some", "most"}}
	q.chances = func(p *point, out []float64) {
		n := e.c.Engine.Cylinders
		none, expect := 1.0, 0.0
		for c := 1; c <= n; c++ {
			m := p.misfires(c)
			none *= 1 - m
			expect += m
		}
		out[0] = none
		for k := 1; k < 4; k++ {
			mid := []float64{0, 1, 2.5, float64(n)}[k]
			out[k] = (1 - none) * math.Exp(-math.Abs(expect-mid))
		}
	}
	return q
}

// misfireItem is whether one cylinder misfires.
func (e *Engine) misfireItem(c int, does bool) item {
	q := verdict(fmt.Sprintf("misfire %d", c), "engine.misfire", fmt.Sprintf("cylinder %d", c), "",
		[]string{"fires", "misfires"}, func(p *point) float64 { return p.misfires(c) })
	q.cyl = c
	it := item{probe: q, words: "fires"}
	if does {
		it.outcome, it.words = 1, "misfires"
	}
	return it
}

func (e *Engine) sparkProbe() probe {
	q := probe{id: "spark", key: "spark", saw: "spark at a tester while cranking:",
		ask: "spark tester on wire 1, fuel off: look at the spark while cranking", outcomes: sparkWords}
	q.chances = func(p *point, out []float64) {
		var only point // weak sparks may hide behind worse in what the engine does
		only.e = e
		f := bench.Faults{Dwell: p.f.Dwell, Supply: p.f.Supply, NoCrank: p.f.NoCrank, NoCam: p.f.NoCam,
			Leads: p.f.Leads}
		only.reset(f, p.in, nil, false)
		switch only.cranking().Behaviour {
		case bench.NoSpark:
			copy(out, []float64{0.01, 0.03, 0.96})
		case bench.WeakSparks:
			copy(out, []float64{0.12, 0.75, 0.13})
		default:
			copy(out, []float64{0.94, 0.05, 0.01})
		}
	}
	return q
}

func (e *Engine) traceProbe() probe {
	q := probe{id: "cap traces", key: "cap.traces", saw: "marks in the cap:",
		ask: "take the cap off and look where the spark has marked its terminals", outcomes: traceWords}
	q.chances = func(p *point, out []float64) {
		shaft, turned := p.ahead()
		tip := engine.CrankToShaft(quantity.Crank(shaft+turned)) + p.f.Rotor
		off := math.Abs(wrap(float64(tip), 360/float64(e.c.Engine.Cylinders)))
		b := 0.95 / (1 + math.Exp(-(off-7)/1.5))
		out[0], out[1], out[2], out[3] = 0.96-b, b+0.02, 0.01, 0.01
		if p.f.Crossfire > 0 {
			out[0], out[1], out[2] = 0.5, 0.1, 0.39
		} else if off > 12 {
			out[1], out[2] = out[1]-0.3, 0.3
		}
	}
	return q
}
