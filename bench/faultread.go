package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasewright/engine"
	"phasewright/quantity"
)

// badFault gives `fault "housing=3" – has no unit – write …`.
func badFault(text, found, remedy string) error {
	return &quantity.Invalid{Field: fmt.Sprintf("fault %q", text), Found: found, Remedy: remedy}
}

// FindFault looks up a row of the table by name.
func FindFault(name string) (Fault, bool) {
	for _, r := range FaultTable() {
		if r.Name == name {
			return r, true
		}
	}
	return Fault{}, false
}

// ParseFaults reads settings such as "housing=+3deg", "edge=inverted", "delay" (its default size) for the engine c.
func ParseFaults(c Config, texts ...string) (Faults, error) {
	var f Faults
	given := map[string]bool{}
	for _, text := range texts {
		name, value, written := strings.Cut(text, "=")
		name = strings.TrimSpace(name)
		r, ok := FindFault(name)
		if !ok {
			return Faults{}, badFault(text, "no fault has the name "+strconv.Quote(name),
				"write one of "+strings.Join(faultNames(c), ", "))
		}
		if given[name] {
			return Faults{}, badFault(text, "the fault is given twice", "give "+name+" once")
		}
		given[name] = true
		if !r.Fits(c) {
			return Faults{}, badFault(text, "needs "+string(r.Needs)+", which this engine does not have",
				"choose another fault or another engine")
		}
		size := r.Typical
		if written {
			var err error
			if size, err = r.Read(value); err != nil {
				return Faults{}, err
			}
		}
		if size >= 100 && name == "wires" {
			a, b := int(size)/100, int(size)%100
			if max(a, b) > c.Engine.Cylinders {
				return Faults{}, badFault(text, fmt.Sprintf("this engine has %d cylinders", c.Engine.Cylinders),
					"name two of them, such as 1-2")
			}
		}
		r.Set(&f, size)
	}
	return f, f.Check(c)
}

// Read gives the size in base units of a written value.
func (r Fault) Read(value string) (float64, error) {
	text := r.Name + "=" + value
	remedy := "write " + r.Accepts() + ", such as " + r.Name + "=" + r.Default()
	var v float64
	var err error
	switch r.Kind {
	case ShaftAngle:
		v, err = measure[quantity.Shaft](value)
	case CrankAngle:
		v, err = measure[quantity.Crank](value)
	case TimeValue:
		v, err = measure[quantity.Time](value)
	case Volts:
		v, err = measure[quantity.Voltage](value)
	case Share:
		number, ok := strings.CutSuffix(strings.TrimSpace(value), "%")
		if !ok {
			return 0, badFault(text, "has no % sign", remedy)
		}
		v, err = strconv.ParseFloat(strings.TrimSpace(number), 64)
		v /= 100
	case Count:
		var n int
		n, err = strconv.Atoi(strings.TrimSpace(value))
		v = float64(n)
	case Word:
		return r.word(strings.TrimSpace(value), text, remedy)
	}
	if err != nil {
		what := "the value cannot be read"
		if p, ok := err.(*quantity.ParseError); ok {
			what = "the value " + p.Problem
		}
		return 0, badFault(text, what, remedy)
	}
	if !(v >= r.Low && v <= r.High) || math.IsNaN(v) {
		return 0, badFault(text, "the value lies outside what is accepted", remedy)
	}
	return v, nil
}

func measure[T quantity.Quantity](text string) (float64, error) {
	v, err := quantity.Parse[T](text)
	return float64(v), err
}

func (r Fault) word(value, text, remedy string) (float64, error) {
	if r.Name == "wires" {
		if value == "reversed" {
			return wiresReversed, nil
		}
		left, right, ok := strings.Cut(value, "-")
		a, errA := strconv.Atoi(left)
		b, errB := strconv.Atoi(right)
		if ok && errA == nil && errB == nil && a >= 1 && b >= 1 && a != b && a < 100 && b < 100 {
			return float64(100*a + b), nil
		}
		return 0, badFault(text, "is not a wiring fault", remedy)
	}
	if value != r.Words {
		return 0, badFault(text, "the word "+strconv.Quote(value)+" is not known here", remedy)
	}
	return 1, nil
}

func faultNames(c Config) []string {
	var names []string
	for _, r := range FaultTable() {
		if r.Fits(c) {
			names = append(names, r.Name)
		}
	}
	return names
}

// Check says which combination of faults cannot be on this engine.
func (f Faults) Check(c Config) error {
	switch {
	case float64(c.Controller.Dwell+f.Dwell) <= 0:
		return badFault(fmt.Sprintf("dwell=%gus", float64(f.Dwell)),
			fmt.Sprintf("leaves no dwell of %v", c.Controller.Dwell), "take less off")
	case c.Controller.Allowance+f.Allowance < 0:
		return badFault(fmt.Sprintf("allowance=%gus", float64(f.Allowance)),
			fmt.Sprintf("leaves an allowance below nought (it is %v)", c.Controller.Allowance), "take less off")
	case c.Crank.Delay+f.Delay+c.Ignition.SparkDelay < 0:
		return badFault(fmt.Sprintf("delay=%gus", float64(f.Delay)),
			fmt.Sprintf("leaves a signal delay below nought (it is %v)", c.Crank.Delay+c.Ignition.SparkDelay),
			"take less off")
	}
	if f.Vane != 0 && len(c.Crank.Vanes) >= 3 {
		w := c.Crank.Vanes[2] + quantity.Abs(f.Vane)
		for i := range c.Engine.Intervals {
			if room := engine.CrankToShaft(c.Engine.Intervals[i]); w >= room {
				return badFault(fmt.Sprintf("vane=%gdeg", float64(f.Vane)),
					fmt.Sprintf("makes the vane reach its neighbour, %v on", room), "bend it less")
			}
		}
	}
	return nil
}
