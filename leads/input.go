package leads

import (
	"strconv"
	"strings"

	"phasewright/quantity"
)

// Input is a sound card's input.
type Input struct {
	FullScale quantity.Voltage    // peak that reads as full
	Impedance quantity.Resistance // to ground
	Lower     float64             // Hz below which it passes ever less; 0: it passes direct voltage
	Rate      float64             // samples a second
	Stands    quantity.Voltage    // peak that does it no harm
}

// SoundCard is a line input as most are: 1 V (0.5 to 2.8) full scale, 10 kΩ (5 to 50), 20 Hz (3 to 40), 48,000 samples
// a second, unharmed up to 4 V (3 to 10). All assumed; a card's own papers say better.
func SoundCard() Input {
	return Input{FullScale: 1, Impedance: 10e3, Lower: 20, Rate: 48e3, Stands: 4}
}

// Check reports figures that no input has.
func (in Input) Check() error {
	switch {
	case !(in.FullScale >= 0.05 && in.FullScale <= 20):
		return quantity.Bad("full scale", "write 0.05 V to 20 V, such as 1 V", "%v", in.FullScale)
	case !(in.Impedance >= 500 && in.Impedance <= 10e6):
		return quantity.Bad("impedance", "write 500 ohm to 10 Mohm, such as 10 kohm", "%v", in.Impedance)
	case !(in.Lower >= 0 && in.Lower <= 200):
		return quantity.Bad("lower limit", "write 0 Hz to 200 Hz, such as 20", "%g Hz", in.Lower)
	case !(in.Rate >= 8000 && in.Rate <= 1e6):
		return quantity.Bad("rate", "write 8000 to 1000000 samples a second, such as 48000", "%g", in.Rate)
	case !(in.Stands >= in.FullScale && in.Stands <= 100):
		return quantity.Bad("what the input stands", "write full scale or more, up to 100 V", "%v", in.Stands)
	}
	return nil
}

// Setting is one figure of an input that people may give.
type Setting struct {
	Name, Words, Example string
	set                  func(in *Input, text string) error
}

// Settings are the figures of an input in the order in which they are asked for.
func Settings() []Setting {
	return []Setting{
		{"full_scale", "peak that reads as full", "1 V", func(in *Input, text string) (err error) {
			in.FullScale, err = quantity.Parse[quantity.Voltage](text)
			in.Stands = max(in.Stands, in.FullScale)
			return err
		}},
		{"impedance", "resistance to ground", "10 kohm", func(in *Input, text string) (err error) {
			in.Impedance, err = quantity.Parse[quantity.Resistance](text)
			return err
		}},
		{"stands", "peak that does it no harm", "4 V", func(in *Input, text string) (err error) {
			in.Stands, err = quantity.Parse[quantity.Voltage](text)
			return err
		}},
		{"corner", "lower limit in Hz, 0 for none", "20", func(in *Input, text string) (err error) {
			if in.Lower, err = strconv.ParseFloat(text, 64); err != nil {
				return quantity.Bad("lower limit", "write hertz such as 20", "%q is not a number", text)
			}
			return nil
		}},
	}
}

// With gives the input with what was written for its figures, by name, in order; blank is as it was. The name of the
// first figure that cannot be comes with the error.
func (in Input) With(written map[string]string) (out Input, wrong string, err error) {
	for _, s := range Settings() {
		text := strings.TrimSpace(written[s.Name])
		if text == "" {
			continue
		}
		next := in
		if err := s.set(&next, text); err != nil {
			return in, s.Name, err
		}
		if err := next.Check(); err != nil {
			return in, s.Name, err
		}
		in = next
	}
	return in, "", nil
}
