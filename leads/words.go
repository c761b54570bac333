package leads

import (
	"fmt"
	"slices"
	"strings"

	"phasewright/quantity"
	"phasewright/words"
)

// Line is one thing to say of a lead, under a short name.
type Line struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// Lines say of a lead what it is made of, what it does and what to beware of. Where no lead can be given they say why
// instead of the parts.
func (l Lead) Lines(in Input) []Line {
	out := []Line{{"clip on", l.Where}}
	if l.Fails != "" {
		out = append(out, Line{"no test lead", l.Fails})
	} else {
		out = append(out, Line{"parts", l.parts()}, Line{"at the input", l.levels()},
			Line{"if it goes wrong", l.surge()}, Line{"edges", l.edges(in)})
	}
	s := l.Scope
	out = append(out, Line{"scope", fmt.Sprintf("%d : 1 probe and input rated for %v or more. The scope's input "+
		"sees %s to %s. An edge comes %s late", s.Ratio, s.Rated, round(s.Low), round(s.High), micro(s.Delay))})
	return append(out, Line{"mind", sentences(l.Mind)})
}

// sentences strings cautions together, each with its capital letter.
func sentences(list []string) string {
	var out []string
	for _, one := range list {
		out = append(out, words.Capital(one))
	}
	return strings.Join(out, ". ")
}

func (l Lead) parts() string {
	text := fmt.Sprint(l.Top)
	if l.Pieces > 1 {
		text = fmt.Sprintf("%d × %v in series", l.Pieces, l.Top)
	}
	text += fmt.Sprintf(" on the signal's side (%v, %v", ratedPower, ratedVolts)
	if l.Pieces > 1 {
		text += " each"
	}
	text += "). "
	if l.Bottom > 0 {
		text += fmt.Sprintf("%v from the input to ground. ", l.Bottom)
	} else {
		text += "None from the input to ground: its own resistance does. "
	}
	if l.Diodes == 1 {
		return text + "A small silicon diode each way from the input to ground"
	}
	return text + fmt.Sprintf("%d small silicon diodes in series each way from the input to ground", l.Diodes)
}

func (l Lead) levels() string {
	text := fmt.Sprintf("%s to %s for %v to %v", round(l.LowIn), round(l.HighIn), l.Low, l.High)
	if l.Bipolar {
		text += ". The tops are cut. That leaves the zero crossings where they are"
	}
	if l.Load > 0 {
		text += fmt.Sprintf(". The test lead takes %s %% of the signal", quantity.Number(100*l.Load, 1))
	}
	return text
}

func (l Lead) surge() string {
	return fmt.Sprintf("%v come to %s at the input. %s mA go through the clamp, %s mW into each of its diodes. "+
		"Each resistor takes %s mW and %s, for as long as it lasts", l.Most, round(l.Clamped),
		quantity.Number(1e3*float64(l.Current), 2), quantity.Number(1e3*float64(l.Diode), 2),
		quantity.Number(1e3*float64(l.EachPower), 0), round(l.EachVolts))
}

func (l Lead) edges(in Input) string {
	const atLeast = 2 // samples, for a place between them to be found
	text := fmt.Sprintf("corner at %s kHz. An edge comes %s late, %s° at the redline, and takes %s. The card "+
		"itself takes %s. Pulses shorter than that are missed", quantity.Number(l.Upper/1e3, 0), micro(l.Delay),
		quantity.Number(float64(l.Late), 3), micro(l.Transition), micro(quantity.Time(atLeast*1e6/in.Rate)))
	if in.Lower > 0 {
		text += fmt.Sprintf(". It loses levels below %s Hz. On the starter %s of one is gone by the next edge. "+
			"Edges are left as spikes", quantity.Number(in.Lower, -1), quantity.Chance(l.Droop))
	}
	return text
}

// round is a voltage as it is read off: three digits.
func round(v quantity.Voltage) string {
	switch {
	case v < 1:
		return quantity.Number(1e3*float64(v), 0) + " mV"
	case v < 10:
		return quantity.Number(float64(v), 2) + " V"
	}
	return quantity.Number(float64(v), 0) + " V"
}

func micro(t quantity.Time) string { return quantity.Number(float64(t), 2) + " µs" }

// Minds are the cautions that every lead shares.
func Minds() []string {
	return []string{
		"A coil's primary kills inputs. Plug wires carry tens of kilovolts and can shock you. Build the test lead " +
			"whole, clamp and all, before anything is clipped on. Try it on a battery.",
		"Clip on and off with the engine stopped and the key off. While it turns, keep hands and test leads away " +
			"from plug wires, coil tower, belts and fan.",
		"The figures of input, pickups and surges are assumed where nobody measured them. Each stands below with " +
			"its range. Measure the full scale and the impedance of the input that is used.",
	}
}

// RestsOn are this room's own numbers behind the leads, each with its range or source, and those of the input where
// they are the usual ones.
func RestsOn(list []Lead, in Input) []string {
	var out []string
	if in == SoundCard() {
		out = append(out, "a sound card's input 1 V (0.5 to 2.8) full scale, 10 kΩ (5 to 50), 20 Hz (3 to 40). "+
			"It takes 48 000 samples a second, unharmed up to 4 V (3 to 10), assumed")
	}
	for _, k := range Constants() {
		for _, l := range list {
			if slices.Contains(k.Where, l.ID) {
				out = append(out, k.Said())
				break
			}
		}
	}
	return out
}
