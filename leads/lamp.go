package leads

import (
	"fmt"
	"slices"
	"strings"

	"phasewright/jobcard"
	"phasewright/quantity"
)

// Lamp is how an ordinary light-emitting diode shows the level of a pickup's output while the engine stands.
type Lamp struct {
	Pickup string // which ones of this engine: "crank", "cam", "crank and cam"
	Kind   jobcard.PickupKind
	Ways   []LampWay // one for each output that this kind may have; none where no lamp can show it
	Meter  string    // what shows the signal instead
}

// LampWay is the lamp on one kind of output.
type LampWay struct {
	Output  string           // in the trade's words
	Lit     jobcard.Level    // of the output while the lamp is lit
	Drives  quantity.Current // what such an output stands; the maker's word wins
	Between string           // where the chain of resistor and diode goes
	With    []LampResistor
}

// LampResistor is the resistor in series at one supply.
type LampResistor struct {
	Supply  quantity.Voltage
	Value   quantity.Resistance // E12
	Current quantity.Current    // through the diode, at most
	Power   quantity.Power      // in the resistor then
	Rated   quantity.Power      // that it must be rated for
}

// powers are the ratings that shops stock.
var powers = []quantity.Power{0.25, 0.5, 1, 2}

// lampResistor is the smallest of E12 that lets no more than the current through: (supply − forward voltage) ÷ current,
// the diode's lowest forward voltage counted. Half of its rating is used.
func lampResistor(supply quantity.Voltage, most quantity.Current) LampResistor {
	over := float64(supply - ledLowest)
	r := LampResistor{Supply: supply, Value: E12.Least(quantity.Resistance(over / float64(most)))}
	r.Current = quantity.Current(over / float64(r.Value))
	r.Power = quantity.Power(over * over / float64(r.Value))
	for _, r.Rated = range powers {
		if r.Power <= derated*r.Rated {
			break
		}
	}
	return r
}

// Lamps are those of an engine's pickups: one entry for each kind that it has.
func Lamps(c *jobcard.Card) []Lamp {
	crank := lampOf(c.Signals.Crank.Kind, c.Ignition.Supply)
	crank.Pickup = "crank"
	if !c.Signals.Cam.Fitted {
		return []Lamp{crank}
	}
	cam := lampOf(c.Signals.Cam.Kind, c.Ignition.Supply)
	if cam.Kind == crank.Kind {
		crank.Pickup = "crank and cam"
		return []Lamp{crank}
	}
	cam.Pickup = "cam"
	return []Lamp{crank, cam}
}

// lampOf is the lamp for a kind of pickup on a supply, and on a controller's own low one where a pickup may live on it.
func lampOf(kind jobcard.PickupKind, supply quantity.Voltage) Lamp {
	const sinks, sources = "supply and output", "output and ground"
	both := func(most quantity.Current) []LampResistor {
		return []LampResistor{lampResistor(supply, most), lampResistor(logicLow, most)}
	}
	switch kind {
	case jobcard.Reluctor:
		return Lamp{Kind: kind, Meter: "no lamp. It gives no level at standstill, and too little for a lamp on the " +
			"starter. Read it on a scope, or on a meter at AC volts, while the starter turns"}
	case jobcard.Proximity:
		return Lamp{Kind: kind, Ways: []LampWay{
			{"NPN", jobcard.Low, switchDrives, sinks, []LampResistor{lampResistor(supply, ledCurrent)}},
			{"PNP", jobcard.High, switchDrives, sources, []LampResistor{lampResistor(supply, ledCurrent)}}}}
	case jobcard.Optical:
		return Lamp{Kind: kind, Ways: []LampWay{{"open collector", jobcard.Low, opticalDrives, sinks, both(ledLittle)}}}
	}
	return Lamp{Kind: kind, Ways: []LampWay{{"open collector", jobcard.Low, hallDrives, sinks, both(ledCurrent)}}}
}

// Says is the resistor in one line, such as "1.5 kΩ, 0.25 W".
func (r LampResistor) Says() string { return fmt.Sprintf("%v, %v", r.Value, r.Rated) }

// Lines say how the lamp is wired, what it shows and what the output can drive.
func (l Lamp) Lines() []Line {
	name := fmt.Sprintf("lamp, %s pickup (%s)", l.Pickup, l.Kind)
	if len(l.Ways) == 0 {
		return []Line{{name, l.Meter}}
	}
	var out []Line
	for _, w := range l.Ways {
		var with []string
		for _, r := range w.With {
			with = append(with, fmt.Sprintf("%s at %v (%s mA)", r.Says(), r.Supply,
				quantity.Number(1e3*float64(r.Current), 1)))
		}
		out = append(out, Line{name, fmt.Sprintf("%s: between %s, on while %s. Resistor %s. Such an output drives "+
			"%s mA",
			w.Output, w.Between, w.Lit, strings.Join(with, " or "), quantity.Number(1e3*float64(w.Drives), 0))})
	}
	return out
}

// LampMinds are what to beware of with a lamp.
func LampMinds() []string {
	return []string{
		"Key off while it is wired. It is fed by the pickup's own supply wire. Meter that wire. Then choose the " +
			"resistor.",
		"Take the signal wire off the controller while the lamp is on. A supply above its input's must not reach " +
			"it.",
		"Take the lamp off and put the wire back before the starter turns.",
	}
}

// LampRestsOn are this room's own numbers behind the lamps of an engine; none where it has no lamp.
func LampRestsOn(c *jobcard.Card) []string {
	var out []string
	for _, k := range Constants() {
		if slices.ContainsFunc(Lamps(c), func(l Lamp) bool {
			return len(l.Ways) > 0 && (slices.Contains(k.Where, lampWhere) || slices.Contains(k.Where, lampOn(l.Kind)))
		}) {
			out = append(out, k.Said())
		}
	}
	return out
}
