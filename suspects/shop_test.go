package suspects_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/suspects"
)

// This file is the other side: engines with hidden faults, and a technician who looks at them through the bench's events. It shares nothing with the
// ranking but the bench's engine; thresholds, sizes and chances here are its own (invented).

type shop struct {
	c   bench.Config
	f   bench.Faults
	m   *bench.Model
	rng *rand.Rand
	// a single flashlight misread is forced where that is the fault
	misreadAt int
	looks     int
	cards     struct{ allowance float64 }
}

func engineFor(seed uint64, vr bool) bench.Config {
	c := bench.RandomConfig(seed)
	c.Light.Resolution, c.Light.Eye, c.Light.Flashes = 0.5, 0.3, 24
	if vr {
		c.Crank.Kind = jobcard.Reluctor
		c.Crank.ActiveEdge, c.Crank.InVane = jobcard.Falling, jobcard.High
		c.Cam.ActiveEdge, c.Cam.InVane = jobcard.Falling, jobcard.High
	}
	return c
}

func newShop(c bench.Config, f bench.Faults, seed uint64) (*shop, error) {
	m, err := bench.NewModel(c)
	if err != nil {
		return nil, err
	}
	s := &shop{c: c, f: f, m: m, rng: rand.New(rand.NewPCG(seed, 77)), misreadAt: -1}
	if f.Misread > 0 {
		s.misreadAt = s.rng.IntN(4)
		s.f.Misread = 0
	}
	// What is left of a careful set-up, within a tolerance of 1° up to 3,500 rpm: an engine outside it would not be sound.
	for range 100 {
		h, d, t := 0.15*s.rng.NormFloat64(), 0.2*s.rng.NormFloat64(), 8*s.rng.NormFloat64()
		if math.Abs(2*h+d)+6e-6*3500*math.Abs(t) > 1 || float64(s.c.Crank.Delay+s.f.Delay)+t < 5 {
			continue
		}
		s.f.Housing += quantity.Shaft(h)
		s.f.Damper += quantity.Crank(d)
		s.f.Delay += quantity.Time(t)
		break
	}
	return s, nil
}

// run plays events at a speed for some cycles; below the cranking limit on the starter.
func (s *shop) run(rpm float64, wire, cycles int, other bool, see func(*bench.Event)) {
	c, f := s.c, s.f
	c.Light.Wire = wire
	if other {
		f.Dial, f.TwoSpark, f.LightDelay = 0, false, 0
	}
	p := bench.Hold(quantity.Speed(rpm), quantity.Time(120e6/rpm*float64(cycles)))
	if rpm < float64(c.Controller.CrankingBelow) {
		p = bench.Cranking(quantity.Time(120e6 / float64(c.Engine.CrankingSpeed) * float64(cycles)))
	}
	r, err := bench.NewRig(c, f, p, s.rng.Uint64())
	if err != nil {
		return
	}
	r.Run(func(e *bench.Event) bool { see(e); return true })
}

// light is one look: a number, how the flashes fall, the light's tachometer.
func (s *shop) light(rpm float64, wire int, minutes float64, other bool) suspects.Light {
	l := suspects.Light{Speed: math.Round(rpm/10) * 10, Wire: wire, After: minutes * 60e6}
	if other {
		l.Which = "other"
	}
	saved := s.f.Housing
	s.f.Housing -= quantity.Shaft(float64(s.f.Clamp) * minutes)
	var v []float64
	skip := 2
	s.run(rpm, wire, 32, other, func(e *bench.Event) {
		if e.Kind == bench.Flash {
			if skip--; skip < 0 {
				v = append(v, float64(e.Shown))
			}
		}
	})
	s.f.Housing = saved
	if len(v) < 5 {
		l.Flashes = "none"
		return l
	}
	ref := v[len(v)/2]
	for i := range v {
		v[i] = ref + math.Mod(v[i]-ref+540+360, 360) - 180
	}
	slices.Sort(v)
	mid := v[len(v)/2]
	var off, near []float64
	for _, x := range v {
		off = append(off, math.Abs(x-mid))
	}
	slices.Sort(off)
	limit := math.Max(6, 5.5*off[len(off)/2]) // some 3.7 standard deviations
	for _, x := range v {
		if math.Abs(x-mid) < limit {
			near = append(near, x)
		}
	}
	sum, sum2 := 0.0, 0.0
	for _, x := range near {
		sum += x - mid
		sum2 += (x - mid) * (x - mid)
	}
	n := float64(len(near))
	sd := math.Sqrt(math.Max(sum2/n-sum*sum/n/n, 0))
	switch {
	case len(near) < len(v):
		l.Flashes = "some elsewhere"
	case sd < 0.8:
		l.Flashes = "steady"
	case twoGroups(near, sd):
		l.Flashes = "two groups"
	default:
		l.Flashes = "spread"
	}
	shown := mid + 0.3*s.rng.NormFloat64()
	if !other && s.looks == s.misreadAt {
		shown += 10 * float64(1-2*s.rng.IntN(2))
	}
	if !other {
		s.looks++
	}
	shown = 0.5 * math.Round(shown*2)
	l.Shown = &suspects.Number{Value: math.Mod(shown+540, 360) - 180}
	if a := s.believed(); a != float64(s.c.Controller.Allowance) {
		l.Allowance = &suspects.Number{Value: a}
	}
	if s.f.TwoSpark && !other {
		l.Tacho = &suspects.Number{Value: 2 * l.Speed}
	} else {
		l.Tacho = &suspects.Number{Value: l.Speed}
	}
	return l
}

// believed is the allowance that the technician believes in force.
func (s *shop) believed() float64 {
	return float64(s.c.Controller.Allowance + s.f.Allowance + s.f.Unstored)
}

// twoGroups: the widest gap of the sorted flashes is wide for their spread.
func twoGroups(v []float64, sd float64) bool {
	gap := 0.0
	for i := 1; i < len(v); i++ {
		if i >= len(v)/10 && i <= len(v)-len(v)/10 {
			gap = math.Max(gap, v[i]-v[i-1])
		}
	}
	return gap > 0.9*sd
}

// sparks is what the cylinders get at a speed.
type sparks struct {
	total, exhaust, early, far, weak, late int
	good                                   map[int]int
	cycles                                 int
}

func (s *shop) watch(rpm float64, cycles int) sparks {
	out := sparks{good: map[int]int{}, cycles: cycles - 4}
	count := map[int]int{}
	s.run(rpm, 1, cycles, false, func(e *bench.Event) {
		if e.Kind != bench.Spark || e.Extra && s.c.Ignition.Coils == jobcard.CompanionPairs {
			return
		}
		if e.Turned < 4*720 {
			return
		}
		a := math.Abs(float64(e.Advance))
		if s.c.Ignition.Coils == jobcard.CompanionPairs && a > 180 { // its companion is on compression then
			a = 360 - a
		}
		out.total++
		switch {
		case a > 250:
			out.exhaust++
		case a > 60:
			out.far++
		default:
			if e.Advance > 30 {
				out.early++
			}
			if e.Advance < 0 {
				out.late++
			}
			count[e.Cylinder]++
			if !e.Weak {
				out.good[e.Cylinder]++
			}
		}
		if e.Weak {
			out.weak++
		}
	})
	return out
}

func (s *shop) idle() float64 {
	return math.Max(float64(s.c.Engine.Idle), 1.05*float64(s.c.Controller.CrankingBelow))
}

// starting and running judge sparks by eye.
func (s *shop) starting() string {
	x := s.watch(float64(s.c.Engine.CrankingSpeed), 12)
	u := s.rng.Float64()
	switch {
	case x.total == 0:
		return "nothing"
	case x.exhaust*2 > x.total:
		switch {
		case u < 0.7:
			return "spits through the intake"
		case u < 0.9:
			return "bangs in the exhaust"
		}
		return "nothing"
	case x.early*8 > x.total:
		if u < 0.9 {
			return "kicks back"
		}
		return "starts"
	case x.weak*2 > x.total && u < 0.65:
		return "nothing"
	case (x.far+x.exhaust)*5 > x.total && u < 0.3:
		return []string{"spits through the intake", "bangs in the exhaust", "nothing"}[s.rng.IntN(3)]
	}
	return "starts"
}

func (s *shop) running() string {
	i, h := s.watch(s.idle(), 30), s.watch(0.8*float64(s.c.Engine.Redline), 60)
	u := s.rng.Float64()
	n := s.c.Engine.Cylinders
	rough := func(x sparks) bool { return x.far+x.exhaust > x.total/40 || x.total < x.cycles*n*9/10 }
	switch {
	case i.total == 0 || i.exhaust*2 > i.total:
		return "does not run"
	case rough(i):
		return "runs rough"
	case i.weak*2 > i.total:
		if u < 0.6 {
			return "runs rough"
		}
		return "will not rev"
	case i.late*2 > i.total && u < 0.8:
		return "hot and sluggish"
	case i.weak*10 > i.total:
		return "runs rough"
	case rough(h) || h.weak*3 > h.total:
		if u < 0.7 {
			return "will not rev"
		}
		return "runs rough"
	}
	return "fine"
}

func (s *shop) misfire() []int {
	x := s.watch(s.idle(), 40)
	out := []int{}
	for c := 1; c <= s.c.Engine.Cylinders; c++ {
		if x.good[c]*100 < 85*x.cycles || s.rng.Float64() < 0.003 {
			out = append(out, c)
		}
	}
	return out
}

func (s *shop) lamp(at float64) (crank, cam string) {
	a, b := s.m.Lamps(s.f, quantity.Crank(at-float64(s.f.Damper)+1.5*(2*s.rng.Float64()-1)))
	return string(a), string(b)
}

func (s *shop) lead() float64 { return float64(s.c.Crank.At) }

// bare are light readings on wire 1 only.
func (s *shop) bare() *suspects.Evidence {
	ev := &suspects.Evidence{}
	c := s.c
	ev.Engine.Starting = s.starting()
	ev.Light = append(ev.Light, s.light(float64(c.Engine.CrankingSpeed), 1, 0, false))
	if ev.Engine.Starting != "starts" {
		return ev
	}
	high := math.Min(3500, 0.85*float64(c.Engine.Redline))
	for i, n := range []float64{s.idle(), (s.idle() + high) / 2, 0.55 * float64(c.Engine.Redline), high} {
		ev.Light = append(ev.Light, s.light(n, 1, float64(i+1), false))
	}
	return ev
}

// usual is the set of evidence that a careful technician has when he asks.
func (s *shop) usual() *suspects.Evidence {
	ev := s.bare()
	c := s.c
	if ev.Engine.Starting == "starts" {
		ev.Engine.Running = s.running()
		ev.Light = append(ev.Light, s.light(s.idle(), c.Engine.FiringOrder[2], 5, false), s.light(s.idle(), 1, 8, false))
		if half := c.Engine.FiringOrder[c.Engine.Cylinders/2]; half != c.Engine.FiringOrder[2] { // and the one that fires half a cycle away
			ev.Light = append(ev.Light, s.light(s.idle(), half, 6, false))
		}
		ev.Engine.Misfire = s.misfire()
		ev.Engine.NoMisfire = len(ev.Engine.Misfire) == 0
	}
	for _, off := range []float64{3, -3} {
		crank, cam := s.lamp(s.lead() + off)
		ev.Lamps = append(ev.Lamps, suspects.Lamp{At: &suspects.Number{Value: s.lead() + off}, Crank: crank, Cam: cam})
	}
	if c.Distributor.Steers {
		s.answer(ev, "cap traces")
		s.answer(ev, "rotor points to")
	}
	for _, id := range []string{"compression", "travel", "settings allowance", "lock", "battery rest", "sync", "spark"} {
		s.answer(ev, id)
	}
	return ev
}

func (s *shop) num(v, sd float64) *suspects.Number {
	return &suspects.Number{Value: v + sd*s.rng.NormFloat64()}
}

func yes(b bool, a, c string) string {
	if b {
		return a
	}
	return c
}

// answer looks at what was advised and writes down what is seen.
func (s *shop) answer(ev *suspects.Evidence, id string) {
	c, f := s.c, s.f
	cranked := float64(c.Engine.CrankingSpeed)
	steer := 0.0 // shaft ahead, crank degrees
	if f.Tooth != 0 && c.Distributor.GearTeeth > 0 {
		steer += float64(f.Tooth) * 720 / float64(c.Distributor.GearTeeth)
		reach := 2 * float64(c.Distributor.HousingTravel)
		steer -= math.Max(-reach, math.Min(reach, steer))
	}
	if f.HalfTurn {
		steer += 360
	}
	pattern := steer + 2*float64(f.Housing) + float64(f.Damper)
	about := func(a, turn float64) float64 { return a - turn*math.Round(a/turn) }
	switch id {
	case "compression":
		ev.Compression = yes(f.HalfTurn, "not felt", "felt")
	case "settings allowance":
		ev.Settings.Allowance = s.num(float64(c.Controller.Allowance+f.Allowance), 0)
	case "settings lead":
		ev.Settings.Lead = s.num(float64(c.Controller.Lead+f.Lead), 0)
	case "settings dwell":
		ev.Settings.Dwell = s.num(float64(c.Controller.Dwell+f.Dwell), 10)
	case "capture dwell":
		ev.Capture.Dwell = s.num(float64(c.Controller.Dwell+f.Dwell), 30)
	case "settings edge":
		ev.Settings.Edge = string(c.Crank.ActiveEdge)
		if f.Edge {
			ev.Settings.Edge = yes(c.Crank.ActiveEdge == jobcard.Rising, "falling", "rising")
		}
	case "lock":
		ev.Settings.Lock = yes(f.Unlocked, "off", "on")
	case "dial":
		ev.Dial = s.num(float64(f.Dial), 0.1)
	case "clamp":
		ev.Clamp = yes(f.Clamp > 0 && s.rng.Float64() < 0.9, "slips", "tight")
	case "travel":
		ev.Travel = yes(f.Tooth != 0, "at its end", "inside")
	case "wires":
		ev.Cap.Wires = yes(f.Reversed || f.Swapped[0] != 0 || f.Tower != 0, "wrong", "right")
	case "battery rest":
		ev.Battery.Rest = s.num(float64(c.Starter.Rest+f.Supply), 0.2)
	case "battery cranking":
		ev.Battery.Cranking = s.num(float64(c.Starter.Loaded+f.Supply), 0.3)
	case "battery running":
		ev.Battery.Running = s.num(float64(c.Ignition.Supply+f.Supply), 0.2)
	case "crank supply":
		ev.Battery.CrankPickup = s.num(12*b2f(!f.NoCrank), 0.01)
		ev.Battery.CrankPickup.Value = math.Abs(ev.Battery.CrankPickup.Value)
	case "cam supply":
		ev.Battery.CamPickup = s.num(12*b2f(!f.NoCam), 0.01)
		ev.Battery.CamPickup.Value = math.Abs(ev.Battery.CamPickup.Value)
	case "rotor play":
		ev.Rotor.Play = s.num(0.1+float64(f.Lash), 0.08)
	case "rotor off":
		ev.Rotor.Off = s.num(about((pattern+2*float64(f.Rotor))/2, 360), 2)
	case "rotor points to":
		n := float64(c.Engine.Cylinders)
		at := about((pattern+2*float64(f.Rotor))/2, 360) * n / 360
		j := math.Round(at)
		if math.Abs(at-j) > 0.35 {
			ev.Rotor.PointsTo = "between"
			break
		}
		k := ((int(j)-f.Tower)%int(n) + int(n)) % int(n)
		if f.Reversed {
			k = ((f.Tower-int(j))%int(n) + int(n)) % int(n)
		}
		cyl := c.Engine.FiringOrder[k]
		if cyl == f.Swapped[0] {
			cyl = f.Swapped[1]
		} else if cyl == f.Swapped[1] {
			cyl = f.Swapped[0]
		}
		ev.Rotor.PointsTo = fmt.Sprint(cyl)
	case "cap traces":
		off := math.Abs(about((steer+2*float64(f.Housing)+2*float64(f.Rotor))/2, 360/float64(c.Engine.Cylinders)))
		ev.Cap.Traces = yes(off > 7, "off centre", "centred")
		if f.Crossfire > 0 && s.rng.Float64() < 0.4 {
			ev.Cap.Traces = "tracks between towers"
		}
	case "turn to edge":
		if !f.NoCrank && !f.Leads && c.Crank.Kind != jobcard.Reluctor {
			ev.HousingTurn = s.num(-about(pattern, 720/float64(c.Engine.Cylinders))/2, 0.3)
		}
	case "piston stop":
		ev.PistonStop = suspects.PistonStop{Before: s.num(60+float64(f.Damper), 0.3), After: s.num(60-float64(f.Damper), 0.3)}
	case "starting":
		ev.Engine.Starting = s.starting()
	case "running":
		ev.Engine.Running = s.running()
	case "misfire":
		ev.Engine.Misfire = s.misfire()
		ev.Engine.NoMisfire = len(ev.Engine.Misfire) == 0
	case "spark":
		only, keep := bench.Faults{Dwell: f.Dwell, Supply: f.Supply, NoCrank: f.NoCrank, NoCam: f.NoCam, Leads: f.Leads}, s.f
		s.f = only
		x := s.watch(cranked, 12)
		s.f = keep
		ev.Spark = "strong"
		if x.total == 0 {
			ev.Spark = "none"
		} else if x.weak*2 > x.total {
			ev.Spark = "weak"
		}
	case "sync":
		ev.Capture.Sync = "held"
		if f.NoCrank || f.NoCam || f.Leads {
			ev.Capture.Sync = "none"
		} else if f.Noise+f.Crossfire > 0 {
			ev.Capture.Sync = yes(s.rng.Float64() < 0.6, "lost", "held")
		}
	case "polarity":
		ev.Capture.Polarity = yes(f.Polarity, "reversed", "right")
	case "repeat after five minutes": // a reading again; the first at idle stands in the evidence
		ev.Light = append(ev.Light, s.light(s.idle(), 1, 12, false))
	case "tachometer of the light":
		l := s.light(s.idle(), 1, 12, false)
		ev.Light = append(ev.Light, suspects.Light{Speed: l.Speed, Wire: 1, Tacho: l.Tacho, After: l.After})
	default:
		if s.captured(ev, id) {
			return
		}
		var rpm float64
		var wire int
		switch {
		case scan(id, "other light %f wire %d", &rpm, &wire):
			ev.Light = append(ev.Light, s.light(rpm, wire, 12, true))
		case scan(id, "light %f wire %d", &rpm, &wire), scan(id, "flashes %f wire %d", &rpm, &wire):
			ev.Light = append(ev.Light, s.light(rpm, wire, 12, false))
		default:
			var at float64
			if n, _ := fmt.Sscanf(id, "lamp crank %f", &at); n == 1 {
				l := suspects.Lamp{At: &suspects.Number{Value: at}}
				l.Crank, _ = s.lamp(at)
				ev.Lamps = append(ev.Lamps, l)
			} else if n, _ := fmt.Sscanf(id, "lamp cam %f", &at); n == 1 {
				l := suspects.Lamp{At: &suspects.Number{Value: at}}
				_, l.Cam = s.lamp(at)
				ev.Lamps = append(ev.Lamps, l)
			} else {
				panic("no answer for " + id)
			}
		}
	}
}

func scan(id, format string, rpm *float64, wire *int) bool {
	n, _ := fmt.Sscanf(id, format, rpm, wire)
	return n == 2
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// captured answers what a recording shows, from the bench's events.
func (s *shop) captured(ev *suspects.Evidence, id string) bool {
	c, f := s.c, s.f
	edges, extra, sparksSeen, near := 0, 0, 0, 0
	const cycles = 60
	var last float64
	count := func(rpm float64) {
		s.run(rpm, 1, cycles, false, func(e *bench.Event) {
			switch e.Kind {
			case bench.Spark:
				sparksSeen++
				last = float64(e.Time)
			case bench.CrankEdge:
				if e.Extra && e.Active {
					extra++
					if float64(e.Time)-last < 100 {
						near++
					}
				} else if e.Active {
					edges++
				}
			}
		})
	}
	switch id {
	case "capture edges":
		count(float64(c.Engine.CrankingSpeed))
		ev.Capture.Edges = &suspects.Number{Value: math.Round(float64(edges+extra) / cycles)}
	case "capture extra":
		for _, share := range []float64{0.3, 0.55, 0.8} {
			count(share * float64(c.Engine.Redline))
		}
		ev.Capture.Extra = &suspects.Number{Value: float64(extra) / float64(3*cycles*c.Engine.Cylinders)}
	case "capture extra at":
		count(0.55 * float64(c.Engine.Redline))
		ev.Capture.ExtraAt = yes(near*2 > extra, "at sparks", "any time")
	case "capture scatter":
		ev.Capture.Scatter = s.num(math.Hypot(math.Hypot(float64(c.Distributor.Scatter), float64(f.Worn)), float64(f.Lash)*0.5), 0.02)
		ev.Capture.Scatter.Value = math.Abs(ev.Capture.Scatter.Value)
	case "capture swing":
		ev.Capture.Swing = s.num(float64(f.Wobble), 0.1)
	case "capture vane":
		ev.Capture.Vane = yes(math.Abs(float64(f.Vane)) > 0.3, "one off", "even")
	case "capture wrong edge":
		ev.Capture.WrongEdge = yes(f.Edge, "yes", "no")
	case "capture leads":
		ev.Capture.LeadsSwapped = yes(f.Leads, "yes", "no")
	case "capture offset", "capture delay":
		line := func(rpm float64) float64 {
			sum, n := 0.0, 0.0
			s.run(rpm, 1, 40, true, func(e *bench.Event) {
				if e.Kind == bench.Spark && e.Cylinder == 1 && math.Abs(float64(e.Advance)) < 90 {
					sum += float64(e.Advance - c.Controller.Locked)
					n++
				}
			})
			return sum / n
		}
		lo, hi := s.idle(), 0.7*float64(c.Engine.Redline)
		a, b := line(lo), line(hi)
		if math.IsNaN(a) || math.IsNaN(b) {
			return true
		}
		slope := (b - a) / (hi - lo)
		ev.Capture.Offset = s.num(a-slope*lo, 0.1)
		ev.Capture.Delay = s.num(-slope/6e-6, 5)
	default:
		return false
	}
	return true
}
