package leads

import (
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Signal is one that can be recorded on an engine.
type Signal struct {
	ID, Title string
	Where     string // to clip on
	Kind      string
	Low, High quantity.Voltage    // least and greatest peak that the input should see
	Most      quantity.Voltage    // what may come when something goes wrong; the parts are chosen for it
	Own       quantity.Resistance // of the source
	Bipolar   bool                // it is read where it crosses zero, so that its tops may be cut
	Mind      []string            // what to beware of
}

const (
	ground = "connect the ground of the test lead to the ground of this pickup or driver, at one place. Run the " +
		"recorder from its own battery. A mains cable closes a loop through the engine"
	kilovolts = "plug wires, coil tower and cap carry tens of kilovolts while you stand beside them. Clip on and " +
		"off with the engine stopped and the key off. Keep hands and test lead away from them"
)

// Signals are those of a card's engine.
func Signals(c *jobcard.Card) []Signal {
	out := []Signal{pickup(c, "crank", "Crank pickup", c.Signals.Crank.Kind)}
	if c.Signals.Cam.Fitted {
		out = append(out, pickup(c, "cam", "Cam pickup", c.Signals.Cam.Kind))
	}
	high := highest(c)
	driver := Signal{ID: "driver", Title: "Coil driver, its input", Kind: "logic",
		Where: "on the wire from the controller to the coil driver, before the driver", Low: logicLow, High: high,
		Most: surge(high), Own: pulledUpBy, Mind: []string{ground,
			"a controller that holds the driver inside has no such wire. Its pin is the coil's switched end, below"}}
	clamp := Signal{ID: "clamp", Title: "Clamp on wire 1", Kind: "inductive clamp", Low: clampLow, High: clampHigh,
		Where: "round the plug wire of cylinder 1, over sound insulation", Most: clampMost, Own: clampOwn,
		Mind: []string{kilovolts, "no divider helps where the spark jumps into the clamp. Its insulation is what " +
			"protects the input"}}
	if c.Ignition.Output == jobcard.SparkBox {
		driver.Title, driver.Where = "Trigger of the spark box", "on the wire from the controller to the spark box's "+
			"trigger input"
		driver.Mind = []string{ground, "never clip onto the box's coil terminals. It stores a shock that kills, " +
			"after the key is off too"}
		return append(out, driver, clamp)
	}
	primary := Signal{ID: "primary", Title: "Coil, its switched end", Kind: "primary",
		Where: "on the coil's switched end, only where neither the driver's input nor a current clamp can be had",
		Low:   high, High: flyback, Most: flybackMost, Mind: []string{
			"a coil's primary kills inputs. It kicks to hundreds of volts at every spark. Clip nothing here " +
				"without every part of this test lead in place", kilovolts, ground}}
	return append(out, driver, primary, clamp)
}

func pickup(c *jobcard.Card, id, title string, kind jobcard.PickupKind) Signal {
	s := Signal{ID: id, Title: title, Kind: string(kind), Where: "on the pickup's signal wire", Low: logicLow,
		High: highest(c), Own: pulledUpBy, Mind: []string{ground}}
	s.Most = surge(s.High)
	if kind == jobcard.Reluctor {
		s.Low, s.High, s.Most, s.Own, s.Bipolar = reluctorLow, reluctorHigh, reluctorMost, reluctorOwn, true
		s.Mind = append(s.Mind, "where neither of the pickup's two wires is grounded, use two test leads on two "+
			"inputs. Ground neither wire")
	}
	return s
}

// highest is the highest supply with the engine running.
func highest(c *jobcard.Card) quantity.Voltage { return c.Ignition.Supply }

// surge is what a supply may reach when the battery comes off while the alternator charges.
func surge(supply quantity.Voltage) quantity.Voltage {
	const twelve quantity.Voltage = 18 // a 12 V system never stands higher
	if supply > twelve {
		return dump24
	}
	return dump12
}
