package jobcard

import (
	"fmt"
	"regexp"
	"strings"

	"phasewright/yamltext"
)

// Cycle is how many strokes the engine takes for one firing.
type Cycle string

// FourStroke is the only cycle that is served: a firing in two crank turns, a distributor at half of crank speed.
const FourStroke Cycle = "four-stroke"

// onlyFourStroke says why a two-stroke engine is refused.
const onlyFourStroke = "this tool serves four-stroke engines only: a two-stroke engine fires at every turn of the " +
	"crank, and every angle, spacing and dwell here would be wrong for it"

// Served says what this tool is made for.
const Served = "Served: four-stroke engines of 1 to 24 cylinders, firing evenly or unevenly. The distributor " +
	"carries one crank vane a firing and turns at half of crank speed. With cap and rotor, coils per cylinder, or " +
	"wasted spark (one coil a companion pair). Of two plugs a cylinder only one row. Not served: two-stroke and " +
	"rotary-piston engines, toothed crank wheels."

// twoStrokes finds a text that speaks of a two-stroke engine.
var twoStrokes = regexp.MustCompile(`(?i)\b(?:two|2)[ _-]?(?:stroke|cycle)\b`)

// cycle refuses two-stroke engines in words that name them.
func cycle(f Field) Field {
	also := map[string]string{"4 stroke": string(FourStroke), "4": string(FourStroke), "four": string(FourStroke),
		"4stroke": string(FourStroke), "4 cycle": string(FourStroke), "four cycle": string(FourStroke)}
	plain := choiceOf(f, also, func(c *Card) *Cycle { return &c.Engine.Cycle }, FourStroke)
	f = plain
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		if w := plainWord(v.Text); w == "2" || w == "two" || twoStrokes.MatchString(v.Text) {
			return yamltext.Wrong("is a two-stroke engine",
				"it is not served, do not work by this card: "+onlyFourStroke)
		}
		return plain.set(c, v)
	}
	return f
}

// namesStrokes finds a key in which people would say how many strokes an engine takes, and twoOf such a value.
var (
	namesStrokes = regexp.MustCompile(`(?i)(?:^|\.)[a-z_ -]*(?:strokes|two.?stroke|2.?stroke|cycles?|type|kind)$`)
	twoOf        = regexp.MustCompile(`(?i)\bstrokes\b\W*(?:2|two)\b|(?:two|2)[ _-]?(?:stroke|cycle)`)
)

// nameTwoStrokes says of unknown keys that speak of a two-stroke engine that it is one, before anything else.
func (p *reader) nameTwoStrokes() {
	for _, f := range p.Faults {
		_, known := p.values[f.Path]
		if !known && namesStrokes.MatchString(f.Path) && twoOf.MatchString(f.Source) {
			f.Problem = "speaks of a two-stroke engine"
			f.Remedy = "it is not served, do not work by this card: " + onlyFourStroke
		}
	}
}

// twoStroke is the path of a free text of the card that speaks of a two-stroke engine; "" where none does.
func twoStroke(c *Card) string {
	switch {
	case twoStrokes.MatchString(c.Job.Name):
		return "job.name"
	case twoStrokes.MatchString(c.Job.Note):
		return "job.note"
	}
	return ""
}

// Kind says what of that this engine is: "four-stroke, 6 cylinders, even fire, one coil through cap (evenly spaced) and
// rotor, one plug a cylinder".
func (c *Card) Kind() string {
	cylinders := "1 cylinder"
	if n := c.Engine.Cylinders; n > 1 {
		cylinders = fmt.Sprintf("%d cylinders", n)
	}
	fire := "even fire"
	if !c.EvenFire() {
		fire = "odd fire"
	}
	coils := map[Coils]string{OneCoil: "one coil", CompanionPairs: "wasted spark: one coil a companion pair",
		CoilPerCylinder: "a coil per cylinder"}[c.Ignition.Coils]
	if c.Ignition.Output == SparkBox {
		coils = strings.Replace(coils, "coil", "spark-box coil", 1)
	}
	if c.Distributor.Use == SparkAndSignal {
		spaced := ""
		switch {
		case c.Engine.Cylinders == 1:
		case !c.EvenFire() && c.Assumed("distributor.cap"):
			spaced = " (" + string(c.Distributor.Cap) + ", not stated: look at it)"
		case c.Distributor.Cap == EvenCap:
			spaced = " (evenly spaced)"
		default:
			spaced = " (unevenly spaced)"
		}
		coils += " through cap" + spaced + " and rotor"
	}
	plugs := "one plug a cylinder"
	if c.Ignition.Plugs == 2 {
		plugs = "two plugs a cylinder, of which one row is served"
	}
	return strings.Join([]string{string(FourStroke), cylinders, fire, coils, plugs}, ", ")
}
