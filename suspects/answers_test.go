package suspects_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/suspects"
)

func (s *shop) num(v, sd float64) *suspects.Number {
	return &suspects.Number{Value: v + sd*s.rng.NormFloat64()}
}

func yes(b bool, a, c string) string {
	if b {
		return a
	}
	return c
}

// bySheet writes down what a look shows that the bench does not have (a brush, the fuel): as the sheets written by hand
// have it for the engine's faults, else for a sound engine. False: the sheets do not have it either.
func bySheet(t testing.TB, sheets map[string]map[string]string, ev *suspects.Evidence, a *suspects.Advice,
	names []string) bool {
	t.Helper()
	text := (&shopCase{is: names}).answer(nil, sheets, a)
	if text == "" {
		return false
	}
	more, err := suspects.ReadEvidence("sheets.txt", []byte(text))
	if err != nil {
		t.Fatalf("%s: %s: %v", a.ID, text, err)
	}
	join(reflect.ValueOf(ev).Elem(), reflect.ValueOf(more).Elem())
	return true
}

// answer looks at what was advised and writes down what is seen; false where the bench does not show it.
func (s *shop) answer(ev *suspects.Evidence, id string) bool {
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
			return true
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
				return false
			}
		}
	}
	return true
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
	case "capture inputs":
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
