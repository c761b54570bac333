package bench

import (
	"bufio"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"phasewright/cranking"
	"phasewright/quantity"
)

// Reading is one row of a technician's table: what light and tachometer showed, and what was believed to be commanded.
type Reading struct {
	Speed     quantity.Speed // as the light's tachometer shows it
	Shown     quantity.Crank
	Locked    quantity.Crank
	U         quantity.Crank // standard uncertainty that the reader states: eye and rounding
	Allowance quantity.Time  // believed in force
	Note      string
}

// TakeReading runs the engine at a steady speed and reads the light on a wire: the middle one of the flashes, seen by
// an eye, rounded to the light's resolution. Below the controller's cranking limit the engine turns on its starter.
// after is how long it has run, for a housing that creeps. It is false where the light does not flash.
func TakeReading(c Config, f Faults, speed quantity.Speed, wire int, after quantity.Time,
	seed uint64) (Reading, bool, error) {
	return takeReading(c, f, speed, wire, after, nil, seed)
}

func takeReading(c Config, f Faults, speed quantity.Speed, wire int, after quantity.Time, turn *cranking.Turning,
	seed uint64) (Reading, bool, error) {
	c.Light.Wire = wire
	flashes := max(c.Light.Flashes, 1)
	const untilSync = 6 // cycles until the controller has sync and the light has seen two sparks
	cycle := 120e6 / float64(speed)
	var p Profile
	cranking := speed < c.Controller.CrankingBelow
	if cranking {
		cycle = 120e6 / float64(c.Engine.CrankingSpeed)
		p = Cranking(quantity.Time(cycle * float64(flashes+untilSync)))
	} else {
		p = Hold(speed, quantity.Time(cycle*float64(flashes+untilSync)))
	}
	f2 := f
	f2.Housing -= quantity.Shaft(float64(f.Clamp) * after.Seconds() / 60)
	r, err := newRigOn(c, f2, p, turn, seed)
	if err != nil {
		return Reading{}, false, err
	}
	var buffer [64]float64
	v := buffer[:0]
	skip := 2
	r.Run(func(e *Event) bool {
		if e.Kind == Flash {
			if skip--; skip < 0 {
				v = append(v, float64(e.Shown))
			}
		}
		return len(v) < flashes
	})
	if len(v) < 2 {
		return Reading{}, false, nil
	}
	rng := rand.New(rand.NewPCG(seed, 0xd1b54a32d192ed03))
	return c.read(f, v, speed, cranking, rng), true, nil
}

func (c Config) read(f Faults, v []float64, speed quantity.Speed, cranking bool, rng *rand.Rand) Reading {
	ref := v[len(v)/2] // about one flash, so that a scale end at 180° does not split the flashes
	for i := range v {
		v[i] = ref + wrap(v[i]-ref, 360)
	}
	slices.Sort(v)
	l := c.Light
	shown := v[len(v)/2]
	if len(v)%2 == 0 {
		shown = (v[len(v)/2-1] + shown) / 2
	}
	shown += float64(l.Eye) * rng.NormFloat64()
	out := Reading{Locked: c.Controller.Locked, Allowance: c.Controller.Allowance + f.Allowance + f.Unstored}
	if f.Misread > 0 && rng.Float64() < f.Misread {
		shown += 10 * float64(1-2*rng.IntN(2))
	}
	if l.Resolution > 0 {
		shown = float64(l.Resolution) * math.Round(shown/float64(l.Resolution))
	}
	out.Shown = quantity.Crank(wrap(shown, 720))
	out.U = quantity.Crank(math.Hypot(float64(l.Eye), float64(l.Resolution)/math.Sqrt(12)))
	n := float64(speed)
	if cranking {
		n, out.Locked, out.Note = float64(c.Engine.CrankingSpeed), c.Controller.Cranking, "cranking"
	}
	if f.TwoSpark {
		n *= 2
	}
	const digit = 10 // rpm, the last digit of the tachometer
	out.Speed = quantity.Speed(digit * math.Round(n/digit))
	return out
}

// TakeReadings reads the light once at each speed of a plan, in order, a minute apart. Speeds at which the light does
// not flash give no row and are counted in dark.
func TakeReadings(c Config, f Faults, speeds []quantity.Speed, wire int,
	seed uint64) (rows []Reading, dark int, err error) {
	for i, n := range speeds {
		r, ok, err := TakeReading(c, f, n, wire, quantity.Seconds(60*float64(i)), seed+uint64(i)*0x9e3779b97f4a7c15)
		if err != nil {
			return nil, 0, err
		}
		if !ok {
			dark++
			continue
		}
		rows = append(rows, r)
	}
	return rows, dark, nil
}

// WriteReadings writes rows as CSV (RFC 4180): rpm, shown_deg, locked_deg, u_deg, allowance_us, note. Degrees BTDC.
func WriteReadings(w io.Writer, rows []Reading) error {
	b := bufio.NewWriter(w)
	b.WriteString("rpm,shown_deg,locked_deg,u_deg,allowance_us,note\n")
	number := func(v float64, decimals int) string {
		s := strconv.FormatFloat(v, 'f', decimals, 64)
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		if s == "-0" {
			s = "0"
		}
		return s
	}
	for _, r := range rows {
		for i, s := range []string{number(float64(r.Speed), 1), number(float64(r.Shown), 4),
			number(float64(r.Locked), 4), number(float64(r.U), 4), number(float64(r.Allowance), 3)} {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(s)
		}
		b.WriteByte(',')
		if strings.ContainsAny(r.Note, ",\"\r\n") {
			b.WriteString(`"` + strings.ReplaceAll(r.Note, `"`, `""`) + `"`)
		} else {
			b.WriteString(r.Note)
		}
		b.WriteByte('\n')
	}
	return b.Flush()
}

// Speeds picks the speeds at which a profile is read with the light: each steady part once, a sweep at five places, the
// starter once.
func (p Profile) Speeds(c Config) []quantity.Speed {
	var out []quantity.Speed
	for _, part := range p {
		switch {
		case part.Kind == OnStarter:
			out = append(out, c.Engine.CrankingSpeed)
		case part.From == part.To:
			out = append(out, part.From)
		default:
			for i := 0.0; i < 5; i++ {
				out = append(out, part.From+quantity.Speed(i/4)*(part.To-part.From))
			}
		}
	}
	return out
}
