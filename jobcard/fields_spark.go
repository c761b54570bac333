package jobcard

import (
	"phasewright/quantity"
	"phasewright/yamltext"
)

func ignitionFields() []Field {
	return []Field{
		choice(Field{Path: "ignition.output",
			Doc:     "What the controller drives: the coil itself, or the trigger input of a spark box.",
			Example: "coil driver", Default: "coil driver"},
			func(c *Card) *Output { return &c.Ignition.Output }, CoilDriver, SparkBox),
		choiceOf(Field{Path: "ignition.coils",
			Doc: "One coil for all cylinders, one for each companion pair (wasted spark), or one per cylinder. Left " +
				"out: one where the distributor steers the spark, else per cylinder.", Example: "one"},
			map[string]string{"wasted spark": string(CompanionPairs), "pairs": string(CompanionPairs),
				"coil per cylinder": string(CoilPerCylinder), "one coil": string(OneCoil), "single": string(OneCoil)},
			func(c *Card) *Coils { return &c.Ignition.Coils }, OneCoil, CompanionPairs, CoilPerCylinder),
		setting(Field{Path: "ignition.dwell",
			Doc: "Dwell: how long the coil current, or the spark box's trigger pulse, is held on before a " +
				"spark." + ask, Example: "3.2 ms"},
			func(c *Card) *Setting[quantity.Time] { return &c.Ignition.Dwell }, 50, LongestDwell),
		pairs(Field{Path: "ignition.dwell_table",
			Doc: "Instead of dwell, where the controller holds a table: dwell of the coil against supply, straight " +
				"between the points, beyond the ends as at the end.",
			Example: "[[9 V, 5.8 ms], [12 V, 3.7 ms], [14 V, 2.9 ms]]"}, func(c *Card, v []quantity.Voltage,
			t []quantity.Time) *yamltext.Fault {
			for k := range v {
				volts, dwell := between[quantity.Voltage]{3, 60}, between[quantity.Time]{50, LongestDwell}
				if ft := volts.check(v[k], "", "ignition.dwell_table"); ft != nil {
					return ft
				}
				if ft := dwell.check(t[k], "", "ignition.dwell_table"); ft != nil {
					return ft
				}
				c.Ignition.DwellTable = append(c.Ignition.DwellTable, DwellPoint{v[k], t[k]})
			}
			return nil
		}),
		setting(Field{Path: "ignition.box_pulse_least",
			Doc: "Narrowest trigger pulse that a spark box answers to, by its maker. Left out, it counts as not " +
				"given.", Example: "1 ms"},
			func(c *Card) *Setting[quantity.Time] { return &c.Ignition.BoxPulse.Least }, 1, 20000),
		setting(Field{Path: "ignition.box_pulse_most",
			Doc:     "Widest trigger pulse that its maker allows. Left out, it counts as not given.",
			Example: "4 ms"}, func(c *Card) *Setting[quantity.Time] { return &c.Ignition.BoxPulse.Most }, 1, 20000),
		setting(Field{Path: "ignition.box_pulse_rest",
			Doc: "Least pause between two trigger pulses, by the box's maker. Left out, it counts as not " +
				"given; what fits beside a pulse is then worked out with a coil's usual off time.",
			Example: "0.5 ms"},
			func(c *Card) *Setting[quantity.Time] { return &c.Ignition.BoxPulse.Rest }, 0, 20000),
		measure(Field{Path: "ignition.supply", Doc: "Supply voltage with the engine running.",
			Example: "13.8 V", Default: "13.8 V"},
			func(c *Card) *quantity.Voltage { return &c.Ignition.Supply }, 4, 60),
		measure(Field{Path: "ignition.cranking_supply", Doc: "Supply voltage while the starter turns.",
			Example: "9.6 V", Default: "9.6 V"},
			func(c *Card) *quantity.Voltage { return &c.Ignition.CrankingSupply }, 3, 60),
		measure(Field{Path: "ignition.plug_gap", Doc: "Gap of the spark plugs.", Example: "0.8 mm",
			Default: "0.8 mm"}, func(c *Card) *quantity.Length { return &c.Ignition.PlugGap }, 0.1, 3),
		count(Field{Path: "ignition.plugs",
			Doc:     "Plugs to a cylinder; of two, only one row is served.",
			Example: "1", Default: "1"}, func(c *Card) *int { return &c.Ignition.Plugs }, 1, 2),
		measured(Field{Path: "ignition.box_voltage",
			Doc: "What a spark box with its coil delivers, by its maker. Left out: no spark in hand is worked " +
				"out for a spark box.", Example: "38 kV ± 4 kV"},
			func(c *Card) *quantity.Measured[quantity.Voltage] { return &c.Ignition.BoxVoltage }, 1e3, 150e3),
	}
}

func coilFields() []Field {
	return []Field{
		measure(Field{Path: "coil.resistance", Doc: "Primary resistance at 20 °C.", Example: "0.55 ohm",
			Demand: "charging current follows from it"},
			func(c *Card) *quantity.Resistance { return &c.Coil.Resistance }, 0.02, 20),
		measure(Field{Path: "coil.inductance", Doc: "Primary inductance, unsaturated.", Example: "5.2 mH",
			Demand: "charging time follows from it"},
			func(c *Card) *quantity.Inductance { return &c.Coil.Inductance }, 1e-5, 0.1),
		measure(Field{Path: "coil.saturates_at",
			Doc: "Current at which the inductance has halved: L = L0/(1+(i/Is)²). Left out with no curve or " +
				"charge: the iron is taken not to saturate.", Example: "8 A"},
			func(c *Card) *quantity.Current { return &c.Coil.SaturatesAt }, 0.1, 200),
		pairs(Field{Path: "coil.curve", Doc: "Instead of saturates_at: inductance dλ/di against current.",
			Example: "[[0 A, 5.2 mH], [4 A, 4.2 mH], [8 A, 2.6 mH]]"}, func(c *Card, i []quantity.Current,
			l []quantity.Inductance) *yamltext.Fault {
			for k := range i {
				if i[k] < 0 || !(l[k] > 0) {
					return yamltext.Wrong("has a negative current or an inductance that is not above 0",
						"write currents from 0 A up and inductances above 0 mH")
				}
				if k > 0 && l[k] > l[k-1]*1.0001 {
					return yamltext.Wrong("has an inductance that grows with current",
						"iron only loses inductance as current rises; look at the order of the rows")
				}
				c.Coil.Curve = append(c.Coil.Curve, CurvePoint{i[k], l[k]})
			}
			return nil
		}),
		pairs(Field{Path: "coil.charge",
			Doc: "Instead of saturates_at: measured current against time from switching on, at ignition.supply; " +
				"a saturation current is fitted to it.",
			Example: "[[1 ms, 2.5 A], [2 ms, 5.4 A], [3 ms, 8.8 A]]"}, func(c *Card, t []quantity.Time,
			i []quantity.Current) *yamltext.Fault {
			for k := range t {
				if !(t[k] > 0) || !(i[k] > 0) || k > 0 && !(i[k] > i[k-1]) {
					return yamltext.Wrong("has a current that does not rise with time",
						"write times and currents above 0, both rising")
				}
				c.Coil.Charge = append(c.Coil.Charge, ChargePoint{t[k], i[k]})
			}
			return nil
		}),
		measure(Field{Path: "coil.target", Doc: "Current the coil should reach before a spark.", Example: "7 A",
			Demand: "the dwell is chosen for it"}, func(c *Card) *quantity.Current { return &c.Coil.Target }, 0.1, 200),
		measure(Field{Path: "coil.wiring", Doc: "Resistance of leads and connectors in series with the coil.",
			Example: "0.05 ohm", Default: "0.05 ohm"},
			func(c *Card) *quantity.Resistance { return &c.Coil.Wiring }, 0, 10),
		measure(Field{Path: "coil.driver_drop", Doc: "Voltage across the coil driver while it conducts.",
			Example: "1.2 V", Default: "1.0 V"}, func(c *Card) *quantity.Voltage { return &c.Coil.DriverDrop }, 0, 6),
		measure(Field{Path: "coil.driver_limit",
			Doc:     "Highest current the driver stands. Left out: one and a half times the target is assumed.",
			Example: "12 A"}, func(c *Card) *quantity.Current { return &c.Coil.DriverLimit }, 0.1, 500),
		measure(Field{Path: "coil.temperature", Doc: "Temperature of the winding when hot.", Example: "80 degC",
			Default: "80 degC"}, func(c *Card) *quantity.Temperature { return &c.Coil.Temperature }, -40, 200),
		measure(Field{Path: "coil.heat_limit", Doc: "Heat the coil stands for long.", Example: "35 W",
			Default: "35 W"}, func(c *Card) *quantity.Power { return &c.Coil.HeatLimit }, 0.5, 1000),
		measure(Field{Path: "coil.off_time",
			Doc: "Least time off between two charges of one coil: burn and recovery.", Example: "0.6 ms",
			Default: "0.6 ms"}, func(c *Card) *quantity.Time { return &c.Coil.OffTime }, 0, 10000),
		measure(Field{Path: "coil.secondary_capacitance",
			Doc: "Capacitance of secondary winding, leads and plug together.", Example: "80 pF",
			Default: "80 pF"}, func(c *Card) *quantity.Capacitance { return &c.Coil.SecondaryCapacitance },
			1e-12, 1e-8),
		ratio(Field{Path: "coil.efficiency",
			Doc:     "Share of the stored energy that reaches the secondary before the spark jumps.",
			Example: "0.6", Default: "0.6"}, func(c *Card) *float64 { return &c.Coil.Efficiency }, 0.05, 1),
		measure(Field{Path: "coil.ceiling",
			Doc: "Highest voltage the secondary is built for or clamped to. Left out: only the stored energy " +
				"limits it.", Example: "40 kV"}, func(c *Card) *quantity.Voltage { return &c.Coil.Ceiling },
			1e3, 150e3),
	}
}
