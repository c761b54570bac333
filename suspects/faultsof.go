package suspects

import (
	"phasewright/bench"
	"phasewright/jobcard"
)

// faultsOf is the table as it is on an engine, with which of them fit it.
func faultsOf(c *bench.Config) (t [faultCount]fault, fits [faultCount]bool) {
	benchFaultTable(&t)
	shopFaultTable(&t)
	fill(&t)
	table := bench.FaultTable()
	for k := range t {
		if k < benchFaults {
			t[k].name, t[k].title = table[k].Name, table[k].Title
			fits[k] = c == nil || table[k].Fits(*c)
			continue
		}
		fits[k] = c == nil || t[k].needs == nil || t[k].needs(c)
	}
	if c == nil {
		return t, fits
	}
	if c.Ignition.Output == jobcard.SparkBox { // a box that takes some of the short pulses and not others
		t[dwell].shows = with(t[dwell].shows, map[string]odds{"spark": {"weak": 40, "none": 20},
			"engine.running": {"will not rev": 35, "runs rough": 30, "cuts out": 10}, "engine.worse": {"always": 30},
			"light.flashes": {"steady": 45, "comes and goes": 45}})
	}
	if coils(c) { // a coil, and its driver, for each cylinder
		d := &t[deadCoil]
		d.stops, d.one = false, true
		d.shows = with(d.shows, oneRough(odds{"always": 35, "under load": 25, "hot": 15}))
		for _, key := range []string{"spark", "coil.spark", "cylinders.spark", "light.flashes", "engine.misfire",
			"coil.trigger", "cylinders.plug", "cylinders.cut_drop"} {
			delete(d.shows, key)
		}
		t[orderTable].mine = map[string]odds{"engine.misfire": {"misfires": 92}, "cylinders.cut_drop": {"little": 90},
			"cylinders.plug": {"wet": 45}, "cylinders.moves_with": {"nothing": 92}}
		t[orderTable].shows = map[string]odds{"settings.order": {"wrong": 96},
			"engine.starting": {"starts": 60, "nothing": 10, "spits through the intake": 15,
				"bangs in the exhaust": 13},
			"engine.running":     {"runs rough": 78, "does not run": 16},
			"engine.backfire":    {"intake": 45, "exhaust": 35},
			"engine.misfire":     {"misfires": 8},
			"cylinders.plug":     {"wet": 30},
			"engine.worse":       {"always": 50},
			"cylinders.spark":    {"strong": 94},
			"fuel.mixture":       {"rich": 15},
			"cylinders.cut_drop": {"little": 45}}
	} else { // it reaches the injectors only
		t[orderTable].shows = map[string]odds{"settings.order": {"wrong": 96}, "engine.running": {"runs rough": 22},
			"fuel.mixture": {"lean": 12, "rich": 15}}
	}
	return t, fits
}

// names of the faults as the bench and a file of priors write them.
func names() (out [faultCount]string) {
	t, _ := faultsOf(nil)
	for k := range t {
		out[k] = t[k].name
	}
	return out
}
