package trial

import (
	"fmt"
	"math"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/suspects"
	"phasewright/verdict"
)

// This file is the technician's eyes: what is seen of an engine that is given by the bench alone. Chances of seeing
// what is there are assumed, and shared with nothing that judges.

// starts is what the engine does on the starter, in the words of an evidence file.
func (j *job) starts(d dice) string {
	u := d.Float64()
	switch j.model.Expect(j.f, j.c.Engine.CrankingSpeed, 1).Behaviour {
	case bench.NoSpark:
		return "nothing"
	case bench.SpitsBack:
		switch {
		case u < 0.7:
			return "spits through the intake"
		case u < 0.9:
			return "bangs in the exhaust"
		}
		return "nothing"
	case bench.KicksBack:
		return "kicks back"
	case bench.WeakSparks:
		if u < 0.65 {
			return "nothing"
		}
	}
	return "starts"
}

// runs is how it goes, idle and revved. A few sparks astray, or weak ones at the top, are overlooked at times.
func (j *job) runs(d dice) string {
	idle, high := j.model.Expect(j.f, j.c.Engine.Idle, 1), j.model.Expect(j.f, 0.85*j.c.Engine.Redline, 1)
	u := d.Float64()
	rough := func(x bench.Expectation) bool {
		return x.Behaviour == bench.Misfires && (x.Wild > 0.03 || j.f.Noise+j.f.Crossfire == 0) || x.Wild > 0.03
	}
	switch {
	case idle.Behaviour == bench.NoSpark || idle.Behaviour == bench.SpitsBack:
		return "does not run"
	case rough(idle):
		return "runs rough"
	case idle.Behaviour == bench.WeakSparks:
		return pick(d, "runs rough", "will not rev")
	case idle.Behaviour == bench.Sluggish && u < 0.8:
		return "hot and sluggish"
	case (rough(high) || high.Behaviour == bench.WeakSparks || high.Behaviour == bench.NoSpark) && u < 0.8:
		return pick(d, "will not rev", "runs rough")
	}
	return "fine"
}

// misfires are the cylinders that do not fire at idle, as a hand on each wire finds them.
func (j *job) misfires() []int {
	var out []int
	for _, cyl := range j.c.Engine.FiringOrder {
		x := j.model.Expect(j.f, j.c.Engine.Idle, cyl)
		if !x.Flashes || math.Abs(float64(x.Truth)) > ownCycle || x.Behaviour == bench.WeakSparks ||
			x.Wild > 0.15 && j.f.Noise+j.f.Crossfire == 0 {
			out = append(out, cyl)
		}
	}
	return out
}

// traced is how far off, shaft degrees, a trace on the terminal is seen to stand off its middle; assumed.
const traced = 6

// look is something that can be looked at beside the light and the recorder.
type look string

const (
	lookStop     look = "piston stop"
	lookLamps    look = "lamp at rest"
	lookWires    look = "wires followed"
	lookCompress look = "compression felt"
	lookRuns     look = "starting and running"
	lookLock     look = "lock read back"
	lookBack     look = "settings read back"
	lookClamp    look = "clamp tried by hand"
	lookSpark    look = "spark at a tester"
	lookDial     look = "light's dial"
	lookSupply   look = "battery"
	lookRotor    look = "where the rotor points"
	lookCap      look = "traces in the cap"
)

// allLooks is the table of looks with the minutes that each takes; assumed, as the judge's own are.
var allLooks = []struct {
	look    look
	minutes float64
}{
	{lookStop, 12}, {lookLamps, 3}, {lookWires, 4}, {lookCompress, 4}, {lookRuns, 1}, {lookLock, 1}, {lookBack, 2},
	{lookClamp, 1}, {lookSpark, 3}, {lookDial, 1}, {lookSupply, 1}, {lookRotor, 4},
	{lookCap, 3},
}

// see writes down one look. careful contacts of the piston stop are made several times each way, and say so.
func (j *job) see(ev *suspects.Evidence, what look, careful bool, d dice) {
	c, f := j.c, j.f
	yes := func(b bool, is, not string) string {
		if b {
			return is
		}
		return not
	}
	exact := func(v float64) *suspects.Number { return &suspects.Number{Value: v} }
	about := func(v, sd float64) *suspects.Number { return &suspects.Number{Value: v + sd*d.NormFloat64()} }
	switch what {
	case lookStop:
		sd, u := 0.25, 0.0
		if careful {
			sd, u = 0.1, 0.1
		}
		at := d.round(40, 80, 1)
		before, after := about(at+float64(f.Damper), sd), about(at-float64(f.Damper), sd)
		before.U, after.U = u, u
		ev.PistonStop = suspects.PistonStop{Before: before, After: after}
	case lookLamps:
		for _, off := range []float64{3, -3} {
			at := float64(c.Crank.At) + off
			crank, cam := j.model.Lamps(f, quantity.Crank(at-float64(f.Damper)+d.between(-1.5, 1.5)))
			ev.Lamps = append(ev.Lamps, suspects.Lamp{At: exact(at), Crank: string(crank), Cam: string(cam)})
		}
	case lookWires:
		if c.Distributor.Steers {
			n := c.Engine.Cylinders
			ev.Cap.Wires = yes(f.Reversed && n > 2 || f.Swapped[0] != 0 || f.Tower%n != 0, "wrong", "right")
		} else {
			ev.Cap.Wires = "right"
		}
	case lookCompress:
		ev.Compression = yes(f.HalfTurn, "not felt", "felt")
	case lookRuns:
		ev.Engine.Starting = j.starts(d)
		if ev.Engine.Starting == "starts" {
			ev.Engine.Running = j.runs(d)
			if ev.Engine.Running != "does not run" {
				ev.Engine.Misfire = j.misfires()
				ev.Engine.NoMisfire = len(ev.Engine.Misfire) == 0
			}
		}
	case lookLock:
		ev.Settings.Lock = yes(f.Unlocked, "off", "on")
	case lookBack:
		ev.Settings.Allowance = exact(float64(c.Controller.Allowance + f.Allowance))
		ev.Settings.Lead = exact(float64(c.Controller.Lead + f.Lead))
		ev.Settings.Dwell = exact(float64(c.Controller.Dwell + f.Dwell))
		ev.Settings.Edge = string(c.Crank.ActiveEdge)
		if f.Edge {
			ev.Settings.Edge = yes(c.Crank.ActiveEdge == jobcard.Rising, "falling", "rising")
		}
	case lookClamp:
		ev.Clamp = yes(f.Clamp > 0 && d.one(0.9), "slips", "tight")
	case lookSpark:
		only := bench.Faults{Dwell: f.Dwell, Supply: f.Supply, NoCrank: f.NoCrank, NoCam: f.NoCam, Leads: f.Leads}
		switch j.model.Expect(only, c.Engine.CrankingSpeed, 1).Behaviour {
		case bench.NoSpark:
			ev.Spark = "none"
		case bench.WeakSparks:
			ev.Spark = "weak"
		default:
			ev.Spark = "strong"
		}
	case lookDial:
		ev.Dial = about(float64(f.Dial), 0.1)
	case lookSupply:
		ev.Battery.Rest = about(float64(c.Starter.Rest+f.Supply), 0.1)
		ev.Battery.Cranking = about(float64(c.Starter.Loaded+f.Supply), 0.2)
		ev.Battery.Running = about(float64(c.Ignition.Supply+f.Supply), 0.1)
	case lookCap:
		if c.Distributor.Steers {
			off := math.Abs(math.Remainder(float64(c.Distributor.RotorOffset+f.Rotor), 360/float64(c.Engine.Cylinders)))
			ev.Cap.Traces = yes(off > traced, "off centre", "centred")
			if f.Crossfire > 0 && d.one(0.4) {
				ev.Cap.Traces = "tracks between towers"
			}
		}
	case lookRotor:
		if c.Distributor.Steers {
			ev.Rotor.PointsTo = j.rotorPoints()
		}
	}
}

// rotorPoints is the cylinder on whose tower the tip stands with the crank at the trigger lead's mark.
func (j *job) rotorPoints() string {
	c, f := j.c, j.f
	n := c.Engine.Cylinders
	shaft := 2*float64(f.Housing) + float64(f.Damper) + 2*float64(f.Rotor) // ahead, crank degrees
	if f.Tooth != 0 && c.Distributor.GearTeeth > 0 {
		ahead := float64(f.Tooth) * 720 / float64(c.Distributor.GearTeeth)
		reach := 2 * float64(c.Distributor.HousingTravel)
		shaft += ahead - min(max(ahead, -reach), reach)
	}
	if f.HalfTurn {
		shaft += 360
	}
	at := math.Remainder(shaft, 720) * float64(n) / 720
	near := math.Round(at)
	if n > 1 && math.Abs(at-near) > 0.35 {
		return "between"
	}
	place := int(near) - f.Tower
	if f.Reversed {
		place = f.Tower - int(near)
	}
	cyl := c.Engine.FiringOrder[(place%n+n)%n]
	switch cyl {
	case f.Swapped[0]:
		cyl = f.Swapped[1]
	case f.Swapped[1]:
		cyl = f.Swapped[0]
	}
	return fmt.Sprint(cyl)
}

// light reads the timing light on wire 1: on the starter, and where it runs at idle, at four speeds up to nine tenths
// of the redline a minute apart, and at idle again.
func (j *job) light(starts bool, d dice) (*verdict.Light, error) {
	e := j.c.Engine
	speeds := []quantity.Speed{e.CrankingSpeed}
	if starts {
		for _, share := range []quantity.Speed{0, 0.25, 0.5, 0.75, 1, 0} {
			speeds = append(speeds, e.Idle+share*(0.9*e.Redline-e.Idle))
		}
	}
	states := d.one(0.5) // the uncertainty of a reading
	read := func(n quantity.Speed, minutes float64) (row readings.Row, ok bool, err error) {
		r, ok, err := bench.TakeReading(j.c, j.f, n, 1, quantity.Seconds(60*minutes), d.Uint64())
		row = readings.Row{Speed: r.Speed, Shown: r.Shown, Locked: r.Locked,
			Allowance: r.Allowance, AllowanceStated: true}
		if states {
			row.U = r.U
		}
		return row, ok && row.Check() == nil, err
	}
	var rows []readings.Row
	var at []quantity.Speed // of each row, in truth
	for i, n := range speeds {
		row, ok, err := read(n, float64(i))
		if err != nil {
			return nil, err
		}
		if ok {
			rows, at = append(rows, row), append(at, n)
		}
	}
	for _, q := range readings.FromCard(j.card).Doubts(rows) { // what is asked back he reads again, and confirms
		if row, ok, err := read(at[q.Row-1], float64(len(speeds))); err == nil && ok && q.CanBe() {
			row.Confirmed = true
			rows[q.Row-1] = row
		}
	}
	return j.fit(rows)
}

// fit makes the line through readings, and the proof of all of them: no change lies among them. It is nil where the
// readings cannot be fitted.
func (j *job) fit(rows []readings.Row) (*verdict.Light, error) {
	if len(rows) == 0 {
		return nil, nil
	}
	set := readings.FromCard(j.card)
	set.AllowanceNow, set.AllowanceOpen = rows[len(rows)-1].Allowance, false
	fit, err := readings.Fit(rows, set)
	if err != nil {
		return nil, err
	}
	proof, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 20_000, Seed: 1})
	if err != nil {
		return nil, err
	}
	return &verdict.Light{Rows: rows, Fit: fit, Proof: proof}, nil
}
