package report

import (
	"errors"
	"fmt"
	"math"

	"phasewright/drawing"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
)

// errNotDrawn says that a step has no drawing, or that the card does not give what it is drawn from.
var errNotDrawn = errors.New("this step has no drawing")

// StepDrawing is what a step of the order of work looks like on this engine, width mm wide; prefix goes before every id
// in it. An error says what stands against it.
func StepDrawing(c *jobcard.Card, s *sheet.Sheet, st procedure.Step, width float64,
	prefix string) (*drawing.Drawing, error) {
	draw, known := stepDrawings[st.ID]
	if !known {
		return nil, errNotDrawn
	}
	return draw(stepCase{c, s, st, width, prefix})
}

// stepCase is a step of one engine and the sheet that it is drawn on.
type stepCase struct {
	c      *jobcard.Card
	s      *sheet.Sheet
	st     procedure.Step
	width  float64
	prefix string
}

// stepDrawings is the one table of which drawing a step has.
var stepDrawings = map[procedure.StepID]func(stepCase) (*drawing.Drawing, error){
	procedure.StepBegin: func(k stepCase) (*drawing.Drawing, error) {
		v := k.round()
		v.Keep, v.Apart, v.Below = "an implant stays behind this line", false, nil
		return v.Draw()
	},
	procedure.StepPlace: func(k stepCase) (*drawing.Drawing, error) {
		v := k.round()
		v.Beside = []string{"exhaust let outside, extinguisher in reach"}
		return v.Draw()
	},
	procedure.StepAsFound: stepCase.walked,
	procedure.StepFeed: func(k stepCase) (*drawing.Drawing, error) {
		v := k.feed(drawing.KeyAtRun, coilOut, injectorsOut)
		v.Lines[0].Meter = "0 V"
		return v.Draw()
	},
	procedure.StepFuelDown: func(k stepCase) (*drawing.Drawing, error) { return k.fuel(true) },
	procedure.StepStarts: func(k stepCase) (*drawing.Drawing, error) {
		v := k.feed(drawing.KeyAtOff, coilOut, injectorsOut, starterOut)
		v.BatteryOff = true
		return v.Draw()
	},
	procedure.StepBleed: func(k stepCase) (*drawing.Drawing, error) {
		v := k.feed(drawing.KeyAtOff, coilOut, injectorsOut, starterOut)
		v.BatteryOff, v.Lines[0].Meter = true, "at the coil output"
		if k.st.Demand.Passes.Set() {
			v.Lines[0].Meter = fmt.Sprintf("below %.0f V", k.st.Demand.Passes.To)
		}
		v.Below = []string{"the meter is at the coil output of the box"}
		return v.Draw()
	},
	procedure.StepOpen: func(k stepCase) (*drawing.Drawing, error) {
		if d, err := capView(k.c, k.s, k.small()); d != nil || err != nil {
			return k.named(d), err
		}
		v := k.above()
		v.Scribed = true
		return v.Draw()
	},
	procedure.StepPlugsOut: func(k stepCase) (*drawing.Drawing, error) {
		v := k.plugs()
		v.Out = true
		return v.Draw()
	},
	procedure.StepZero: stepCase.stop,
	procedure.StepMarks: func(k stepCase) (*drawing.Drawing, error) {
		v := DamperView(k.c, k.s)
		v.Width, v.Prefix = k.width, k.prefix
		return v.Draw()
	},
	procedure.StepLead: func(k stepCase) (*drawing.Drawing, error) {
		v := DamperView(k.c, k.s)
		v.Width, v.Prefix, v.Marks, v.At = k.width, k.prefix, v.Marks[:1], k.s.Marks[0].AngleDeg
		v.Largest = onPhone
		return v.Draw()
	},
	procedure.StepUnitOut: func(k stepCase) (*drawing.Drawing, error) {
		v := k.side()
		v.Way = drawing.LiftedOut
		return v.Draw()
	},
	procedure.StepFit: func(k stepCase) (*drawing.Drawing, error) {
		v := k.side()
		v.GapWords = k.c.Job.Units.Tool(k.c.Distributor.SeatGap, 1)
		v.Below = []string{"gap under the flange, clamp off"}
		return v.Draw()
	},
	procedure.StepOil: func(k stepCase) (*drawing.Drawing, error) {
		v := k.side()
		v.Oil = true
		if it := k.s.Item("seat"); it != nil && it.Value >= 1 {
			v.Shims = int(it.Value)
		}
		return v.Draw()
	},
	procedure.StepDrop: stepCase.drop,
	procedure.StepPower: func(k stepCase) (*drawing.Drawing, error) {
		return k.feed(drawing.KeyAtRun, coilOut, injectorsOut, starterOut).Draw()
	},
	procedure.StepSettings: stepCase.settings,
	procedure.StepPhase:    stepCase.phase,
	procedure.StepCam:      stepCase.cam,
	procedure.StepClamp: func(k stepCase) (*drawing.Drawing, error) {
		v := k.above()
		v.Clamp, v.Scribed = drawing.ClampTight, true
		return v.Draw()
	},
	procedure.StepClose: func(k stepCase) (*drawing.Drawing, error) {
		v := k.plugs()
		v.Gap = k.c.Job.Units.Tool(k.c.Ignition.PlugGap, 2)
		return v.Draw()
	},
	procedure.StepWires: func(k stepCase) (*drawing.Drawing, error) {
		row, err := k.clamped(k.first())
		if err != nil {
			return nil, err
		}
		d, err := capView(k.c, k.s, k.small())
		if d == nil || err != nil {
			return row, err
		}
		return k.named(drawing.Below("Wires", d, row)), nil
	},
	procedure.StepTurnOver: func(k stepCase) (*drawing.Drawing, error) {
		return k.feed(drawing.KeyAtCrank, coilOut, injectorsOut).Draw()
	},
	procedure.StepBase: func(k stepCase) (*drawing.Drawing, error) {
		at := k.st.Demand.Passes
		return k.light((at.From+at.To)/2, (at.To-at.From)/2, k.first())
	},
	procedure.StepPrime: func(k stepCase) (*drawing.Drawing, error) { return k.fuel(false) },
	procedure.StepStart: stepCase.walked,
	procedure.StepIdle:  stepCase.lockedLight,
	procedure.StepRange: stepCase.lockedLight,
	procedure.StepProve: func(k stepCase) (*drawing.Drawing, error) {
		return k.light(k.locked(), float64(k.c.Tolerance), 0)
	},
	procedure.StepUnlock: stepCase.moves,
	procedure.StepSignOff: func(k stepCase) (*drawing.Drawing, error) {
		v := k.feed(drawing.KeyAtOff)
		v.Below = []string{"everything back on, key off"}
		return v.Draw()
	},
	procedure.StepStop: func(k stepCase) (*drawing.Drawing, error) { return k.feed(drawing.KeyAtOff).Draw() },
	procedure.StepRunDry: func(k stepCase) (*drawing.Drawing, error) {
		return k.fuel(true)
	},
	procedure.StepHousing: func(k stepCase) (*drawing.Drawing, error) {
		with := turn(k.c.Distributor.Rotation)
		return k.turned(drawing.HousingTurn{Way: with, Words: "early: with the rotor"},
			drawing.HousingTurn{Way: -with, Words: "late: against it"})
	},
	procedure.StepAllowance: func(k stepCase) (*drawing.Drawing, error) {
		return k.feed(drawing.KeyAtRun, coilOut, injectorsOut).Draw()
	},
	procedure.StepReopen: func(k stepCase) (*drawing.Drawing, error) {
		v := k.side()
		v.Way = drawing.LiftedOut
		return v.Draw()
	},
	procedure.StepOther: func(k stepCase) (*drawing.Drawing, error) {
		wire := k.first()
		if len(k.st.Demand.Wires) > 0 {
			wire = k.st.Demand.Wires[0]
		}
		return k.light(k.locked(), 0, wire)
	},
	procedure.StepRotor: func(k stepCase) (*drawing.Drawing, error) {
		if v, ok := RotorSeen(k.c, k.s, k.width, k.prefix); ok {
			return v.Draw()
		}
		return k.above().Draw()
	},
}

// compact is the radius of a drawing that shares one screen with a number that is read from two metres, mm.
const compact = 20

// onPhone is the largest radius of a damper that leaves room for what is to be done below it, mm.
const onPhone = 28

// HousingTurned is the housing from above with the way that it is to be turned, and how far.
func HousingTurned(c *jobcard.Card, s *sheet.Sheet, h readings.Housing, width float64,
	prefix string) (*drawing.Drawing, error) {
	way := c.Distributor.Rotation
	if h.Direction == readings.AgainstRotor {
		way = way.Opposite()
	}
	v := stepCase{c, s, procedure.Step{}, width, prefix}.above()
	v.Largest = compact
	v.Turns = []drawing.HousingTurn{{Way: turn(way), Words: quantity.Degrees(h.TurnDeg, 1)}}
	if way == c.Distributor.Rotation {
		v.Below = []string{"the housing turns the rotor's way"}
	} else {
		v.Below = []string{"the housing turns against the rotor"}
	}
	return v.Draw()
}

// LightAt is the damper with an angle before TDC at its pointer, and the light on it.
func LightAt(c *jobcard.Card, s *sheet.Sheet, before float64, width float64, prefix string) (*drawing.Drawing, error) {
	v := stepCase{c, s, procedure.Step{}, width, prefix}.lightView(before, 0)
	v.Largest = compact
	return v.Draw()
}

// small is the width of a drawing that is not to fill a desk.
func (k stepCase) small() float64 { return min(k.width, 110) }

// named gives a drawing the prefix of this case.
func (k stepCase) named(d *drawing.Drawing) *drawing.Drawing {
	if d != nil {
		d.Prefix = k.prefix
	}
	return d
}

func (k stepCase) first() int { return k.c.Engine.FiringOrder[0] }

func (k stepCase) locked() float64 { return float64(k.c.Controller.Advance.Locked.Or(0)) }

func (k stepCase) round() drawing.Round {
	v := drawing.Round{Width: k.width, Prefix: k.prefix, Drive: "drive out", Apart: true}
	switch k.c.Engine.Place {
	case jobcard.Boat:
		v.Drive, v.Below = "neutral", []string{"bilge blown out and sniffed"}
	case jobcard.RoadVehicle:
		v.Drive, v.Below = "neutral", []string{"wheels chocked both ways"}
	}
	return v
}

// walked is the walk round the engine before it is started, one hand at the kill.
func (k stepCase) walked() (*drawing.Drawing, error) {
	v := k.round()
	v.Walk, v.Kill, v.Below = true, true, nil
	return v.Draw()
}

// What is fed, as a step has it out.
const (
	coilOut = 1 << iota
	injectorsOut
	starterOut
)

// feed is battery, key and what they feed on this engine; out says which feeds are pulled.
func (k stepCase) feed(key drawing.KeyAt, out ...int) drawing.Feed {
	pulled := 0
	for _, o := range out {
		pulled |= o
	}
	v := drawing.Feed{Width: k.small(), Prefix: k.prefix, Key: key}
	add := func(name string, bit int) {
		v.Lines = append(v.Lines, drawing.FeedLine{Name: name, Out: pulled&bit != 0})
	}
	switch {
	case k.c.Ignition.Output == jobcard.SparkBox:
		add("spark box", coilOut)
	case k.c.Ignition.Coils == jobcard.OneCoil:
		add("coil", coilOut)
	default:
		add("coils", coilOut)
	}
	if k.c.Engine.Fuel.Injected() {
		add("injectors", injectorsOut)
	}
	add("controller", 0)
	add("starter wire", starterOut)
	return v
}

// fuel is the way of the fuel, shut and let down or open and full.
func (k stepCase) fuel(shut bool) (*drawing.Drawing, error) {
	state := func(open, closed string) string {
		if shut {
			return closed
		}
		return open
	}
	part := func(kind drawing.FuelKind, name, open, closed string) drawing.FuelPart {
		return drawing.FuelPart{Kind: kind, Name: name, State: state(open, closed), Shut: shut}
	}
	v := drawing.FuelWay{Width: k.width, Prefix: k.prefix}
	tank := drawing.FuelPart{Kind: drawing.FuelTank, Name: "tank", State: "stays full"}
	switch k.c.Engine.Fuel {
	case jobcard.Carburettor:
		v.Parts = []drawing.FuelPart{tank, part(drawing.FuelTap, "tap", "open", "shut"),
			part(drawing.FuelPump, "pump", "runs", "no fuse"), part(drawing.FuelEnd, "bowl", "full", "empty")}
	case jobcard.Gas:
		tank.Name = "bottle or main"
		v.Parts = []drawing.FuelPart{tank, part(drawing.FuelTap, "valve", "open", "shut"),
			part(drawing.FuelEnd, "line", "full", "let down")}
	default:
		v.Parts = []drawing.FuelPart{tank, part(drawing.FuelPump, "pump", "fuse in", "no fuse"),
			part(drawing.FuelEnd, "rail", "full", "at zero")}
	}
	return v.Draw()
}

func (k stepCase) plugs() drawing.PlugRow {
	v := drawing.PlugRow{Width: k.small(), Prefix: k.prefix}
	for i := range k.c.Engine.Cylinders {
		v.Cylinders = append(v.Cylinders, i+1)
	}
	return v
}

// clamped is the row of plugs with the light's clamp on the wire of a cylinder.
func (k stepCase) clamped(cylinder int) (*drawing.Drawing, error) {
	v := k.plugs()
	v.Wired, v.Clamp = true, cylinder
	v.Below = []string{fmt.Sprintf("light on the wire of cylinder %d, cable clear of belts and fan", cylinder)}
	return v.Draw()
}

// stop is the damper as the piston first touches the stop: the two marks, and zero midway.
func (k stepCase) stop() (*drawing.Drawing, error) {
	apart := k.s.Item("true_tdc")
	if apart == nil || math.IsNaN(apart.Value) {
		return nil, errNotDrawn
	}
	rim := engine.Damper{Diameter: k.c.Damper.Diameter.Value}
	half := float64(rim.AngleOfArc(quantity.Length(apart.Value))) / 2
	v := drawing.DamperView{Width: k.width, Prefix: k.prefix, Turn: turn(k.c.Engine.Rotation), At: half,
		Largest: onPhone, Marks: []drawing.DamperMark{{Name: "zero midway"}, {Before: half, Name: "1st touch"},
			{Before: -half, Name: "2nd touch"}}}
	return v.Draw()
}

// light is the damper with an angle before TDC at the pointer under the light, as much to both sides as may be, and the
// light's clamp on a wire; half and wire are 0 where they are not to be shown.
func (k stepCase) light(before, half float64, wire int) (*drawing.Drawing, error) {
	d, err := k.lightView(before, half).Draw()
	if err != nil || wire == 0 {
		return d, err
	}
	row, err := k.clamped(wire)
	if err != nil {
		return nil, err
	}
	return k.named(drawing.Below("Light on the damper", d, row)), nil
}

func (k stepCase) lightView(before, half float64) drawing.DamperView {
	v := drawing.DamperView{Width: k.width, Prefix: k.prefix, Turn: turn(k.c.Engine.Rotation), At: before, Within: half,
		Light: true, Largest: onPhone, Marks: []drawing.DamperMark{{Name: "0"}}}
	if math.Abs(before) >= 0.05 {
		v.Marks = append(v.Marks, drawing.DamperMark{Before: before, Name: quantity.Degrees(before, 1)})
	}
	return v
}

func (k stepCase) lockedLight() (*drawing.Drawing, error) {
	at := k.st.Demand.Passes
	return k.light(k.locked(), (at.To-at.From)/2, 0)
}

// moves is the damper with the ends of the range that the timing moves over once it is unlocked.
func (k stepCase) moves() (*drawing.Drawing, error) {
	a := k.c.Controller.Advance
	v := drawing.DamperView{Width: k.width, Prefix: k.prefix, Turn: turn(k.c.Engine.Rotation), At: float64(a.Min),
		Light: true, Largest: onPhone, Marks: []drawing.DamperMark{{Name: "0"},
			{Before: float64(a.Min), Name: degrees(float64(a.Min))},
			{Before: float64(a.Max), Name: degrees(float64(a.Max)), Distance: "moves"}}}
	return v.Draw()
}

func (k stepCase) side() drawing.UnitSide {
	return drawing.UnitSide{Width: k.small(), Prefix: k.prefix, Gear: k.c.Distributor.GearTeeth > 0,
		Helix: float64(k.c.Distributor.HelixAngle)}
}

// rotorAt is where the rotor points as the active edge for the first cylinder arrives, and where the terminal of that
// cylinder stands: clock angles from above. Where no cap steers the spark both are straight up.
func (k stepCase) rotorAt() (rotor, terminal float64) {
	for _, t := range k.s.CylinderMap {
		if t.Cylinder == k.first() {
			terminal = t.AngleDeg
		}
	}
	if k.c.Distributor.Use == jobcard.SignalOnly {
		return 0, 0
	}
	at := k.c.Distributor.RotorOffset
	if p, err := sheet.CaseOf(k.c); err == nil && p.Plan.Rotor != nil {
		at = p.Plan.Rotor.AtEdge
	}
	return terminal + float64(turn(k.c.Distributor.Rotation))*float64(at), terminal
}

// above is the unit from above as it stands at the active edge of the first cylinder.
func (k stepCase) above() drawing.UnitAbove {
	v := drawing.UnitAbove{Width: k.width, Prefix: k.prefix, Turn: turn(k.c.Distributor.Rotation)}
	if k.c.Distributor.Use == jobcard.SignalOnly {
		return v
	}
	rotor, terminal := k.rotorAt()
	v.Rotor, v.No1, v.No1Words = []float64{rotor}, []float64{terminal}, fmt.Sprintf("No. %d", k.first())
	return v
}

// turned is the housing with the ways that it may be turned.
func (k stepCase) turned(turns ...drawing.HousingTurn) (*drawing.Drawing, error) {
	v := k.above()
	v.Turns = turns
	return v.Draw()
}

// drop is the rotor where it is held before the unit drops, and where it comes to rest; a tongue has no such angle.
func (k stepCase) drop() (*drawing.Drawing, error) {
	if k.c.Distributor.GearTeeth == 0 {
		v := k.side()
		v.Way = drawing.LoweredIn
		return v.Draw()
	}
	return k.dropView().Draw()
}

func (k stepCase) dropView() drawing.UnitAbove {
	v := k.above()
	rest, _ := k.rotorAt()
	v.Rotor, v.No1, v.No1Words = []float64{rest}, []float64{rest}, "mark"
	v.Below = []string{"crank at the lead mark; here the rotor comes to rest"}
	twist := k.s.Item("gear_drop")
	way := float64(k.c.Distributor.DropTurn)
	if twist == nil || math.IsNaN(twist.Value) || twist.Value == 0 || way == 0 {
		return v
	}
	v.Held = []float64{rest - way*twist.Value}
	v.HeldWords = quantity.Degrees(twist.Value, 1)
	v.Below = []string{"dashed: hold it here; it turns as it drops"}
	return v
}

// settings is one firing with the figures that are read back.
func (k stepCase) settings() (*drawing.Drawing, error) {
	c := k.c
	v := drawing.Firing{Width: k.width, Prefix: k.prefix, Lead: float64(c.Signals.Crank.Lead),
		Edge: wayOf(c.Signals.Crank.ActiveEdge), Spark: k.locked(), LeadWords: degrees(float64(c.Signals.Crank.Lead)),
		SparkWords: degrees(k.locked())}
	dwell := c.Ignition.DwellAt(c.Ignition.Supply)
	if ms, given := dwell.Get(); given {
		v.Dwell, v.DwellWords = float64(c.Engine.IdleSpeed.Over(ms)), dwell.String()
	}
	v.Below = []string{"crank degrees before TDC, locked, at idle",
		"delay allowance " + c.Controller.DelayAllowance.String()}
	return v.Draw()
}

// lampFor is the lamp on the first pickup output of that kind while it has that level; false where no lamp shows it.
func lampFor(kind string, l []leads.Lamp, at jobcard.Level) (drawing.LampLook, bool) {
	for _, one := range l {
		if len(one.Ways) == 0 {
			continue
		}
		look := drawing.LampLook{Lit: one.Ways[0].Lit == at, Word: string(at) + ": off"}
		if look.Lit {
			look.Word = string(at) + ": on"
		}
		if kind == "" || one.Pickup == kind || one.Pickup == "crank and cam" {
			return look, true
		}
	}
	return drawing.LampLook{}, false
}

// vaneArc is a vane whose leading edge stands at a clock angle; the rest of it lies behind, in the rotor's way.
func vaneArc(leading, width float64, way drawing.Turn) drawing.VaneArc {
	if way == drawing.Clockwise {
		return drawing.VaneArc{From: leading - width, Sweep: width}
	}
	return drawing.VaneArc{From: leading, Sweep: width}
}

// justPast is how far past the edge the pickup is drawn, shaft degrees: enough to be seen.
const justPast = 2.5

// phase is the housing's turn to the active edge: where the pickup begins, which way it comes, and what the lamp shows.
func (k stepCase) phase() (*drawing.Drawing, error) { return k.phaseView().Draw() }

func (k stepCase) phaseView() drawing.UnitAbove {
	v := k.above()
	crank, way := k.c.Signals.Crank, float64(v.Turn)
	edge, _ := k.rotorAt()
	edge += 180 // where the edge stands, drawn opposite the tip
	w := k.c.Wheel()
	at := w.ActiveEdge(0)
	for i := range w.Firings.Count() {
		enter, _ := w.Edges(i)
		leading := edge - way*float64(engine.CrankToShaft(at.To(enter)))
		v.Vanes = append(v.Vanes, vaneArc(leading, float64(w.Widths[i]), v.Turn))
	}
	against := k.c.Distributor.Rotation.Opposite()
	if crank.Kind == jobcard.Reluctor {
		mid := edge - way*float64(crank.VaneWidth)/2                                // of the tip
		if (crank.InVane == jobcard.High) != (crank.ActiveEdge == jobcard.Rising) { // it leaves there
			mid = edge + way*float64(crank.VaneWidth)/2
		}
		v.Pickup, v.Below = []float64{mid}, []string{"tip and pole face to face; drawn opposite the rotor's tip"}
		v.Turns = []drawing.HousingTurn{{Way: turn(against)}}
		return v
	}
	v.Pickup = []float64{edge - way*justPast}
	v.Begin, v.BeginWords = []float64{edge + way*float64(crank.VaneWidth)}, "begin here"
	v.Turns = []drawing.HousingTurn{{Way: turn(against)}}
	v.Below = []string{"Turn the housing " + against.String() + "; stop just past the edge.",
		"grey: vanes. The pickup is drawn opposite the rotor's tip."}
	before, after := jobcard.Low, jobcard.High
	if crank.ActiveEdge == jobcard.Falling {
		before, after = after, before
	}
	all := leads.Lamps(k.c)
	if first, ok := lampFor("crank", all, before); ok {
		then, _ := lampFor("crank", all, after)
		v.Lamps = []drawing.LampLook{first, then}
	}
	return v
}

// cam is the level that the cam pickup must have on the compression stroke.
func (k stepCase) cam() (*drawing.Drawing, error) {
	v := k.above()
	cam := k.c.Signals.Cam
	at := jobcard.Level(k.st.Demand.Right)
	if look, ok := lampFor("cam", leads.Lamps(k.c), at); ok {
		look.Word = "cam " + look.Word
		v.Lamps = []drawing.LampLook{look}
	}
	rotor, _ := k.rotorAt()
	pickup := rotor + 180
	active := engine.BeforeTDC(cam.EdgeAt)
	enter := active
	if (cam.InVane == jobcard.High) != (cam.ActiveEdge == jobcard.Rising) { // the active edge is the vane leaving
		enter = active.Add(-engine.ShaftToCrank(cam.VaneWidth))
	}
	since := engine.CrankToShaft(enter.To(engine.BeforeTDC(k.c.Signals.Crank.Lead)))
	v.Vanes = []drawing.VaneArc{vaneArc(pickup+float64(v.Turn)*float64(since), float64(cam.VaneWidth), v.Turn)}
	v.Pickup = []float64{pickup}
	v.Below = []string{"grey: the cam's vane. The pickup is drawn opposite the rotor's tip."}
	return v.Draw()
}
