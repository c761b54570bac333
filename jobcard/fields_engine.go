package jobcard

import (
	"phasewright/engine"
	"phasewright/quantity"
)

func jobFields() []Field {
	return []Field{
		text(Field{Path: "job.name", Doc: "Which engine, as you call it in the shop.", Example: `"Sandpiper, main engine"`,
			Demand: "every sheet and report is headed by it"}, func(c *Card) *string { return &c.Job.Name }),
		text(Field{Path: "job.shop", Doc: "Who does the work.", Example: "Marlow Quay Boatyard"},
			func(c *Card) *string { return &c.Job.Shop }),
		text(Field{Path: "job.owner", Doc: "Who brought the engine.", Example: "R. Example"},
			func(c *Card) *string { return &c.Job.Owner }),
		text(Field{Path: "job.serial",
			Doc: "The number that tells this engine from others: its serial number, or that of the hull or vehicle. " +
				"It stands on every paper.", Example: "hull MQB-0417"},
			func(c *Card) *string { return &c.Job.Serial }),
		text(Field{Path: "job.note", Doc: "Anything worth knowing next time.",
			Example: "new damper ring last winter"}, func(c *Card) *string { return &c.Job.Note }),
		units(Field{Path: "job.units",
			Doc: "What the shop measures in: lengths and tapes are printed in it, the other unit in brackets where " +
				"a tool is set. Left out: millimetres alone. Either may be written on the card.", Example: "inches"}),
		confirmed(Field{Path: "job.confirmed",
			Doc: "Fields with unlikely values that you looked at and that are right, by the names in which the " +
				"check asks about them, with commas between them.", Example: "damper.diameter, engine.rod"}),
	}
}

func engineFields() []Field {
	fields := []Field{
		cycle(Field{Path: "engine.cycle", Doc: "Strokes to a firing; two-stroke engines are not served.",
			Example: "four-stroke", Default: "four-stroke"}),
		count(Field{Path: "engine.cylinders", Doc: "How many cylinders.", Example: "6",
			Demand: "spacing, spark rate and cap follow from it"},
			func(c *Card) *int { return &c.Engine.Cylinders }, 1, 24),
		firingOrder(Field{Path: "engine.firing_order",
			Doc: "Cylinder numbers in the order they fire, also as 1-5-3-6-2-4; the first is the one the marks " +
				"belong to.", Example: "[1, 5, 3, 6, 2, 4]",
			Demand: "the cap map is laid from it"},
			func(c *Card) *[]int { return &c.Engine.FiringOrder }, 24),
		measures(Field{Path: "engine.intervals",
			Doc: "Odd-fire engines: crank degrees from each firing in the order to the next, sum 720. Left out: " +
				"even fire, 720/N.", Example: "[100 deg, 140 deg, 100 deg, 140 deg, 100 deg, 140 deg]"},
			func(c *Card) *[]quantity.Crank { return &c.Engine.Intervals }, 1, 720),
		direction(Field{Path: "engine.rotation", Doc: "Crank rotation seen from the front (damper end).",
			Example: "clockwise", Demand: "marks laid the wrong way round ruin an engine"},
			func(c *Card) *engine.Direction { return &c.Engine.Rotation }),
		measure(Field{Path: "engine.bore", Doc: "Cylinder bore.", Example: "94 mm",
			Demand: "gas torque and cylinder pressure follow from it"},
			func(c *Card) *quantity.Length { return &c.Engine.Bore }, 20, 1000),
		measure(Field{Path: "engine.stroke", Doc: "Piston stroke.", Example: "97 mm",
			Demand: "piston travel follows from it"},
			func(c *Card) *quantity.Length { return &c.Engine.Stroke }, 15, 2500),
		measure(Field{Path: "engine.rod", Doc: "Connecting rod, centre to centre.", Example: "158 mm",
			Demand: "the piston-stop angle follows from it"},
			func(c *Card) *quantity.Length { return &c.Engine.Rod }, 20, 5000),
		measure(Field{Path: "engine.pin_offset", Doc: "Wrist-pin offset towards the major thrust side.",
			Example: "0 mm", Default: "0 mm"}, func(c *Card) *quantity.Length { return &c.Engine.PinOffset }, -20, 20),
		compressionRatio(Field{Path: "engine.compression_ratio",
			Doc:     "Geometric compression ratio; left out with engine.chamber given, it is worked out of that.",
			Example: "8.6", Default: "9"}),
		measure(Field{Path: "engine.inertia",
			Doc: "Moment of inertia of crank train and flywheel. Left out: 0.04 kg·m² a cylinder is assumed, " +
				"known within a factor of two.", Example: "0.32 kg.m2"},
			func(c *Card) *quantity.Inertia { return &c.Engine.Inertia }, 0.001, 10000),
		measure(Field{Path: "engine.reciprocating_mass",
			Doc: "Piston, pin, rings and small end of one cylinder. Left out: 0.8 kg at 98 mm bore is assumed, " +
				"growing with its cube.", Example: "0.8 kg"},
			func(c *Card) *quantity.Mass { return &c.Engine.ReciprocatingMass }, 0.01, 1000),
		measure(Field{Path: "engine.inlet_pressure",
			Doc: "Absolute inlet pressure at full load; above 1 bar with a blower.", Example: "1.0 bar",
			Default: "1.0 bar"}, func(c *Card) *quantity.Pressure { return &c.Engine.InletPressure }, 0.2e5, 6e5),
		measure(Field{Path: "engine.charge_temperature",
			Doc: "Temperature of the charge as compression begins; a cold one is denser and asks most of the " +
				"coil.", Example: "20 degC", Default: "20 degC"},
			func(c *Card) *quantity.Temperature { return &c.Engine.ChargeTemperature }, -40, 150),
		measure(Field{Path: "engine.cranking_speed", Doc: "Speed on the starter.", Example: "180 rpm",
			Default: "200 rpm"}, func(c *Card) *quantity.Speed { return &c.Engine.CrankingSpeed }, 20, 1000),
		measure(Field{Path: "engine.idle_speed", Doc: "Idle speed.", Example: "750 rpm", Default: "800 rpm"},
			func(c *Card) *quantity.Speed { return &c.Engine.IdleSpeed }, 50, 4000),
		measure(Field{Path: "engine.redline", Doc: "Highest speed the engine is let run to.",
			Example: "4200 rpm", Demand: "lead, dwell and delay are judged there"},
			func(c *Card) *quantity.Speed { return &c.Engine.Redline }, 200, 25000),
		open(choice(Field{Path: "engine.fuel",
			Doc: "How fuel gets in: the order of work cuts it off by that way, and does not begin before it " +
				"knows.", Example: "port"}, func(c *Card) *Fuel { return &c.Engine.Fuel }, Port, ThrottleBody,
			Carburettor, Gas, NoFuel)),
		open(choice(Field{Path: "engine.place",
			Doc: "Where the engine stands while it is worked on: a road vehicle on its stands, a boat with a " +
				"bilge, a stationary set. The order of work does not begin before it knows.", Example: "boat"},
			func(c *Card) *Place { return &c.Engine.Place }, RoadVehicle, Boat, Stationary)),
		choice(Field{Path: "engine.starts",
			Doc: "Every way to start it: all of them are disabled before hands go in.", Example: "main",
			Default: "main"}, func(c *Card) *Starts { return &c.Engine.Starts }, MainStart, RemoteStart,
			SecondHelm),
		choice(Field{Path: "engine.cooling",
			Doc: "What cools it: raw water must be seen within a minute of each start.", Example: "raw water",
			Default: "closed circuit"}, func(c *Card) *Cooling { return &c.Engine.Cooling }, ClosedCircuit,
			RawWater, Air),
		choice(Field{Path: "engine.oil_pressure", Doc: "What shows oil pressure.", Example: "gauge",
			Default: "lamp"}, func(c *Card) *OilShown { return &c.Engine.OilShown }, OilLamp, OilGauge),
	}
	return append(fields, chamberFields()...)
}

func damperFields() []Field {
	return []Field{
		measured(Field{Path: "damper.diameter",
			Doc: "Diameter where the marks are made; say ± how well it is known (left out: ± 0.5 mm is " +
				"assumed).", Example: "168 mm ± 0.3 mm", Demand: "the distances along the rim follow from it"},
			func(c *Card) *quantity.Measured[quantity.Length] { return &c.Damper.Diameter }, 30, 2000),
		measure(Field{Path: "damper.mark_placement",
			Doc: "Half-width of limits within which you place a mark along the rim.", Example: "0.5 mm",
			Default: "0.5 mm"}, func(c *Card) *quantity.Length { return &c.Damper.MarkPlacement }, 0.001, 20),
		measure(Field{Path: "damper.zero_mark",
			Doc: "Half-width of limits within which the zero mark is proven (piston stop) to stand at true " +
				"TDC.", Example: "0.5 deg", Default: "0.5 deg"},
			func(c *Card) *quantity.Crank { return &c.Damper.ZeroMark }, 0, 20),
	}
}

func distributorFields() []Field {
	d := func(at func(*Distributor) *quantity.Length) func(*Card) *quantity.Length {
		return func(c *Card) *quantity.Length { return at(&c.Distributor) }
	}
	return []Field{
		choice(Field{Path: "distributor.use",
			Doc: "Whether rotor and cap steer the spark, or the unit only carries the pickups (coils per " +
				"cylinder).", Example: "spark and signal", Default: "spark and signal"},
			func(c *Card) *Use { return &c.Distributor.Use }, SparkAndSignal, SignalOnly),
		direction(Field{Path: "distributor.rotation", Doc: "Rotor rotation seen from above the cap.",
			Example: "counterclockwise", Demand: "wires and housing turns go by it"},
			func(c *Card) *engine.Direction { return &c.Distributor.Rotation }),
		choice(Field{Path: "distributor.cap",
			Doc: "How the cap's towers stand: all equally far apart, or as far as an odd-fire engine fires apart. " +
				"Left out: as the engine fires, which is asked of an odd-fire one.", Example: "even"},
			func(c *Card) *CapTowers { return &c.Distributor.Cap }, EvenCap, UnevenCap),
		count(Field{Path: "distributor.gear_teeth",
			Doc: "Teeth of the distributor gear; 0 where a slot and tongue drive it.", Example: "12",
			Default: "0"}, func(c *Card) *int { return &c.Distributor.GearTeeth }, 0, 200),
		measure(Field{Path: "distributor.helix_angle",
			Doc: "Helix angle of the gear; 0 deg for straight teeth.", Example: "30 deg", Default: "0 deg"},
			func(c *Card) *quantity.Angle { return &c.Distributor.HelixAngle }, 0, 80),
		measure(Field{Path: "distributor.gear_diameter",
			Doc: "Pitch diameter of the gear (halfway up the teeth); 0 mm: not measured.", Example: "30 mm",
			Default: "0 mm"}, d(func(x *Distributor) *quantity.Length { return &x.GearDiameter }), 0, 500),
		measure(Field{Path: "distributor.drop_travel",
			Doc:     "How far the unit slides down while its gear is in mesh; 0 mm: not measured.",
			Example: "14 mm", Default: "0 mm"},
			d(func(x *Distributor) *quantity.Length { return &x.DropTravel }), 0, 200),
		direction(Field{Path: "distributor.drop_turn",
			Doc: "Which way the rotor turns, seen from above, as the unit drops in: the opposite of what it did " +
				"as the old one was lifted out.", Example: "clockwise"},
			func(c *Card) *engine.Direction { return &c.Distributor.DropTurn }),
		material(Field{Path: "distributor.gear_material",
			Doc: "Material of the distributor gear: cast iron, melonised steel, bronze, composite, steel or other " +
				"(what it is may follow, as in \"other: sintered iron\").", Example: "bronze", Default: "unknown"},
			func(c *Card) *string { return &c.Distributor.GearMaterial },
			map[string]string{"melonized steel": "melonised steel", "melonised": "melonised steel",
				"melonized": "melonised steel", "hardened steel": "steel", "iron": "cast iron"},
			"cast iron", "melonised steel", "bronze", "composite", "steel"),
		material(Field{Path: "distributor.cam_material",
			Doc: "Material of the camshaft that drives it: cast iron, billet steel or other (what it is may follow, " +
				"as in \"other: chilled iron\").", Example: "billet steel", Default: "unknown"},
			func(c *Card) *string { return &c.Distributor.CamMaterial },
			map[string]string{"billet": "billet steel", "steel billet": "billet steel", "iron": "cast iron"},
			"cast iron", "billet steel"),
		measure(Field{Path: "distributor.seat_gap",
			Doc: "Gap under the flange in a dry fit without the clamp; 0 mm where it seats.", Example: "0 mm",
			Default: "0 mm"}, d(func(x *Distributor) *quantity.Length { return &x.SeatGap }), 0, 50),
		measure(Field{Path: "distributor.end_play", Doc: "Wanted end play of the shaft.", Example: "0.5 mm",
			Default: "0.5 mm"}, d(func(x *Distributor) *quantity.Length { return &x.EndPlay }), 0, 5),
		measure(Field{Path: "distributor.shim_thickness", Doc: "Thickness of one shim, compressed.",
			Example: "0.8 mm", Default: "0.8 mm"},
			d(func(x *Distributor) *quantity.Length { return &x.ShimThickness }), 0.01, 10),
		measure(Field{Path: "distributor.gear_engagement",
			Doc:     "How far the unit may be lifted before the gears engage too little; 0 mm: not measured.",
			Example: "3 mm", Default: "0 mm"},
			d(func(x *Distributor) *quantity.Length { return &x.GearEngagement }), 0, 50),
		measure(Field{Path: "distributor.rotor_tip", Doc: "Width of the rotor tip along its arc.",
			Example: "9 mm", Default: "8 mm"}, d(func(x *Distributor) *quantity.Length { return &x.RotorTip }),
			0.5, 100),
		measure(Field{Path: "distributor.terminal", Doc: "Width of a cap terminal along its arc.",
			Example: "7 mm", Default: "6 mm"}, d(func(x *Distributor) *quantity.Length { return &x.Terminal }),
			0.5, 100),
		measure(Field{Path: "distributor.radius", Doc: "Radius of the rotor tip.", Example: "27 mm",
			Default: "28 mm"}, d(func(x *Distributor) *quantity.Length { return &x.Radius }), 5, 300),
		measure(Field{Path: "distributor.air_gap", Doc: "Radial gap between rotor tip and terminal.",
			Example: "0.9 mm", Default: "1.0 mm"},
			d(func(x *Distributor) *quantity.Length { return &x.AirGap }), 0.05, 20),
		measure(Field{Path: "distributor.rotor_offset",
			Doc: "Where the rotor tip stands against terminal No. 1 when cylinder 1's active edge arrives, " +
				"ahead in rotor direction positive, so usually negative. Left out: the offset that centres the " +
				"sweep is assumed.", Example: "-21 deg"},
			func(c *Card) *quantity.Shaft { return &c.Distributor.RotorOffset }, -90, 90),
		measure(Field{Path: "distributor.rotor_play",
			Doc: "Half-width of limits within which the rotor tip stands: cap seat, place of the pickup, play " +
				"of the drive.", Example: "1 deg", Default: "1 deg"},
			func(c *Card) *quantity.Shaft { return &c.Distributor.RotorPlay }, 0, 20),
		measure(Field{Path: "distributor.housing_travel", Doc: "How far the housing may be turned each way.",
			Example: "15 deg", Default: "15 deg"},
			func(c *Card) *quantity.Shaft { return &c.Distributor.HousingTravel }, 0, 180),
		count(Field{Path: "distributor.tower_for_no1",
			Doc: "Tower chosen for cylinder 1's wire, towers counted clockwise from above.", Example: "4",
			Default: "1"}, func(c *Card) *int { return &c.Distributor.TowerForNo1 }, 1, 24),
	}
}
