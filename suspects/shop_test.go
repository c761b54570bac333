package suspects_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/suspects"
)

// This file is the other side: engines with hidden faults, and a technician who looks at them through the bench's
// events. It shares nothing with the ranking but the bench's engine; thresholds, sizes and chances here are its
// own (invented).

type shop struct {
	c   bench.Config
	f   bench.Faults
	m   *bench.Model
	rng *rand.Rand
	// a single flashlight misread is forced where that is the fault
	misreadAt int
	looks     int
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
	// What is left of a careful set-up, within a tolerance of 1° up to 3,500 rpm: an engine outside it would not
	// be sound.
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
