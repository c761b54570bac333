package suspects

import (
	"fmt"
	"math"

	"phasewright/jobcard"
)

// minutes and hazards of a recording are the same for all that it shows; each of these is one thing read from it.

func (e *Engine) edgesProbe() probe {
	n := e.c.Engine.Cylinders
	words := []string{fmt.Sprint(n), "1", "0", "another number"}
	q := probe{id: "capture edges", key: "capture.crank_edges", saw: "crank edges in a cycle:",
		ask: "record the signals and count the crank edges in a cycle", outcomes: words, recorded: true}
	q.chances = func(p *point, out []float64) {
		k := 0
		switch {
		case p.f.NoCrank && !p.f.Leads, p.f.Leads && p.f.NoCam:
			k = 2
		case p.f.Leads && n != 1:
			k = 1
		case p.f.Noise > 0.02 || p.f.Crossfire > 0.1:
			copy(out, []float64{0.6, 0, 0, 0.4})
			return
		}
		one(out, k, 0.98)
	}
	return q
}

func (e *Engine) edgesOutcome(n float64) int {
	switch int(math.Round(n)) {
	case e.c.Engine.Cylinders:
		return 0
	case 1:
		return 1
	case 0:
		return 2
	}
	return 3
}

// extraClasses are shares of extra edges a firing.
var extraClasses = []string{"none", "few", "many"}

func extraOutcome(share float64) int {
	switch {
	case share < 0.003:
		return 0
	case share < 0.03:
		return 1
	}
	return 2
}

// extraProbe is extra edges in a recording through the speed range.
func (e *Engine) extraProbe() probe {
	q := probe{id: "capture extra", key: "capture.extra_edges", saw: "extra crank edges:",
		ask: "record the signals through the speed range and look for extra edges", outcomes: extraClasses,
		recorded: true}
	q.chances = func(p *point, out []float64) {
		share := p.f.Noise + 0.3*p.f.Crossfire
		switch {
		case p.f.NoCrank || p.f.Leads || share == 0:
			copy(out, []float64{0.98, 0.015, 0.005})
		case share < 0.03:
			copy(out, []float64{0.08, 0.62, 0.3})
		default:
			copy(out, []float64{0.03, 0.22, 0.75})
		}
	}
	return q
}

func (e *Engine) extraAtProbe() probe {
	return verdict("capture extra at", "capture.extra_at", "extra edges come",
		"see in the recording when the extra edges come", extraWords,
		func(p *point) float64 {
			switch {
			case p.f.Crossfire > 0 && p.f.Noise == 0:
				return 0.95
			case p.f.Noise > 0 && p.f.Crossfire == 0:
				return 0.06
			}
			return 0.5
		})
}

var scatterClasses = []string{"small", "some", "large"}

func scatterOutcome(deg float64) int {
	switch {
	case deg < 0.45:
		return 0
	case deg < 0.9:
		return 1
	}
	return 2
}

func (e *Engine) scatterProbe() probe {
	q := probe{id: "capture scatter", key: "capture.scatter", saw: "scatter of the crank edges:",
		ask: "record the signals at a steady speed and look at the scatter of the edges", outcomes: scatterClasses,
		recorded: true}
	q.chances = func(p *point, out []float64) {
		sd := math.Hypot(math.Hypot(float64(e.c.Distributor.Scatter), float64(p.f.Worn)), 0.5*float64(p.f.Lash))
		below := func(limit float64) float64 {
			return 1 / (1 + math.Exp((math.Log(math.Max(sd, 1e-3))-math.Log(limit))/0.15))
		}
		a, b := below(0.45), below(0.9)
		out[0], out[1], out[2] = a, b-a+0.01, 1-b+0.01
	}
	return q
}

func (e *Engine) swingProbe() probe {
	q := probe{id: "capture swing", key: "capture.swing", saw: "edges' once-a-shaft-turn swing:",
		ask:      "record the signals at a steady speed and look for a pattern that repeats every turn of the shaft",
		outcomes: scatterClasses, recorded: true}
	q.chances = func(p *point, out []float64) {
		a := math.Abs(float64(p.f.Wobble))
		below := func(limit float64) float64 { return 1 / (1 + math.Exp((a-limit)/0.08)) }
		x, y := below(0.45), below(0.9)
		out[0], out[1], out[2] = x, y-x+0.005, 1-y+0.005
	}
	return q
}

func (e *Engine) vaneProbe() probe {
	return recorded(verdict("capture vane", "capture.vane", "vane spacing:",
		"record the signals and compare the spacing of the vanes",
		vaneWords, func(p *point) float64 {
			return 0.005 + 0.97/(1+math.Exp((0.3-math.Abs(float64(p.f.Vane)))/0.05))
		}))
}

func recorded(q probe) probe {
	q.recorded = true
	return q
}

func (e *Engine) syncProbe() probe {
	q := probe{id: "sync", key: "capture.sync", saw: "sync:", ask: "see whether the controller holds sync",
		outcomes: syncWords}
	q.chances = func(p *point, out []float64) {
		switch {
		case p.f.NoCrank || p.f.NoCam && e.c.CamFitted || p.f.Leads:
			one(out, 2, 0.97)
		case !e.c.CamFitted && e.c.Engine.Cylinders == 1: // no sync to lose
			copy(out, []float64{0.7, 0.15, 0.15})
		case p.f.Noise > 0 || p.f.Crossfire > 0:
			copy(out, []float64{0.35, 0.6, 0.05})
		default:
			one(out, 0, 0.97)
		}
	}
	return q
}

// offsetProbe and markDelayProbe are the two corrections through a mark channel: no eye, no light, no damper.
func (e *Engine) offsetProbe() probe {
	q := probe{id: "capture offset", key: "capture.offset", saw: "constant error through a mark channel",
		ask: "record crank, cam, spark and a true TDC mark through the speed range", unit: "°", u: 0.25, odd: 0.01,
		span: 120}
	q.loose[nConstant] = 1
	q.mean = func(p *point) (float64, float64, bool) {
		b, _, ok := p.trueLine()
		for _, o := range p.picks {
			if o.k == chain {
				b += o.size
			}
		}
		return b, 0, ok
	}
	q.slope = func(_ *point, k int) float64 {
		switch k {
		case housing:
			return 2
		case lead:
			return -1
		case turnedBack, chain, polarityShift:
			return 1
		}
		return 0
	}
	return q
}

// playful adds the play of a rotor that a worn drive, a worn bushing and a free advance plate leave; our judgement.
func playful(q probe) probe {
	lashed := q.mean
	q.mean = func(p *point) (float64, float64, bool) {
		m, sd, ok := lashed(p)
		if p.in.has(worn) {
			m, sd = m+0.7, math.Hypot(sd, 1)
		}
		if p.in.has(advance) {
			m, sd = m+3.5, math.Hypot(sd, 2.5)
		}
		return m, sd, ok
	}
	q.vary = func(in set) float64 {
		switch {
		case in.has(wobble):
			return 1.3
		case in.has(lash):
			return 1
		}
		return 0
	}
	return q
}

func (e *Engine) markDelayProbe() probe {
	q := probe{id: "capture delay", key: "capture.delay", saw: "delay left over through a mark channel",
		ask: "record crank, cam, spark and a true TDC mark through the speed range", unit: "µs", u: 8, odd: 0.01,
		span: 1000}
	q.loose[nDelay] = 1
	q.mean = func(p *point) (float64, float64, bool) {
		_, s, ok := p.trueLine()
		return -s / degreesPerUS, 0, ok
	}
	q.slope = func(_ *point, k int) float64 {
		switch k {
		case delay:
			return 1
		case allowance:
			return -1
		case unstored, lateBefore:
			return 1
		}
		return 0
	}
	return q
}

// trueLine is offset and slope of the true timing error between two speeds.
func (p *point) trueLine() (offset, slope float64, ok bool) {
	c := &p.e.c
	low := max(1.2*float64(c.Controller.CrankingBelow), float64(c.Engine.Idle))
	top := 0.7 * float64(c.Engine.Redline)
	// a recording takes the spark at the coil, against the cylinder that it is nearest to: wherever it goes from there
	at := point{e: p.e, kept: p.kept}
	f := p.f
	f.Tower, f.Reversed, f.Swapped, f.HalfTurn = 0, false, [2]int{}, false
	at.reset(f, p.in, p.picks, p.inverted)
	a, b := at.expect(low, 1, true), at.expect(top, 1, true)
	if !a.Flashes || !b.Flashes || p.f.Unlocked {
		return 0, 0, false
	}
	ea, eb := float64(a.Truth-c.Controller.Locked), float64(b.Truth-c.Controller.Locked)
	slope = (eb - ea) / (top - low)
	return ea - slope*low, slope, true
}

// --- settings, light, cap and battery: read and be told

func (e *Engine) settingsProbes() []probe {
	c := &e.c
	var none [nuisances]float64
	out := []probe{
		flat("settings lead", "trigger lead read back", "read the trigger lead back from the controller", "°",
			float64(c.Controller.Lead), 0.1, 120, map[int]float64{lead: 1}, none),
		flat("settings dwell", "dwell read back", "read the dwell back from the controller", "µs",
			float64(c.Controller.Dwell), 30, 10000, map[int]float64{dwell: 1}, none),
		flat("dial", "the light's dial stands at", "look at the light's own dial", "°", 0, 0.3, 60,
			map[int]float64{dial: 1}, none),
		playful(flat("rotor play", "play of the rotor", "rock the rotor by hand and measure its play",
			"° of the shaft", 0.3, 0.25, 20, map[int]float64{lash: 1}, none)),
		flat("battery rest", "battery at rest", "measure the battery at rest", "V", float64(c.Starter.Rest), 0.35, 20,
			map[int]float64{supply: 0.6}, none),
		flat("battery cranking", "supply while cranking", "measure the supply while the starter turns, fuel off", "V",
			float64(c.Starter.Loaded), 0.6, 20, map[int]float64{supply: 1}, none),
		flat("battery running", "supply while running", "measure the supply with the engine running", "V",
			float64(c.Ignition.Supply), 0.4, 20, map[int]float64{supply: 0.2}, none),
		flat("capture dwell", "dwell as driven", "record the coil driver's signal", "µs", float64(c.Controller.Dwell),
			60, 10000, map[int]float64{dwell: 1}, none),
		verdict("settings edge", "settings.edge", "active edge read back:",
			"read the active edge back from the controller",
			[]string{"as the card says", "the other"}, func(p *point) float64 {
				if p.f.Edge && !p.inverted {
					return 0.97
				}
				return 0.01
			}),
	}
	return out
}

// activeEdge is the outcome of settings edge.
func (e *Engine) activeEdge(w string) int {
	if jobcard.Edge(w) == e.c.Crank.ActiveEdge {
		return 0
	}
	return 1
}
