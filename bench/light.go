package bench

import (
	"bufio"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"phasewright/cranking"
	"phasewright/quantity"
)

// Reading is one row of a technician's table: what light and tachometer showed, and what was believed to be commanded.
type Reading struct {
	Speed     quantity.Speed // as the light's tachometer shows it; of the starter or the drive where it stays dark
	Dark      bool           // the light did not flash: Shown and U say nothing
	Shown     quantity.Crank // within half a turn either way
	Two       bool           // a second mark stands there as well: no eye reads the place between them
	Also      quantity.Crank // where
	Locked    quantity.Crank
	U         quantity.Crank // standard uncertainty that the reader states: eye and rounding
	Allowance quantity.Time  // believed in force
	Note      string
}

// TakeReading runs the engine at a steady speed and reads the light on a wire: the middle one of the flashes, seen by
// an eye, rounded to the light's resolution. Below the controller's cranking limit the engine turns on its starter.
// after is how long it has run, for a housing that creeps. It is false where the light does not flash; the reading is
// then a dark one.
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
		return c.dark(f, speed, cranking), false, nil
	}
	rng := rand.New(rand.NewPCG(seed, 0xd1b54a32d192ed03))
	return c.read(f, v, speed, cranking, rng), true, nil
}

func (c Config) read(f Faults, v []float64, speed quantity.Speed, cranking bool, rng *rand.Rand) Reading {
	l := c.Light
	marks := marksOf(v)
	out := c.dark(f, speed, cranking)
	shown := marks[0] + float64(l.Eye)*rng.NormFloat64()
	if f.Misread > 0 && rng.Float64() < f.Misread {
		shown += 10 * float64(1-2*rng.IntN(2))
	}
	if l.Resolution > 0 {
		shown = float64(l.Resolution) * math.Round(shown/float64(l.Resolution))
	}
	if len(marks) > 1 {
		out.Two, out.Also = true, quantity.Crank(math.Round(2*marks[1])/2)
	}
	out.Dark, out.Shown = false, quantity.Crank(wrap(shown, 360))
	out.U = quantity.Crank(math.Hypot(float64(l.Eye), float64(l.Resolution)/math.Sqrt(12)))
	if f.TwoSpark {
		out.Speed *= 2
	}
	return out
}

// dark is what is known of a look before the light has flashed.
func (c Config) dark(f Faults, speed quantity.Speed, cranking bool) Reading {
	out := Reading{Dark: true, Speed: speed, Locked: c.Controller.Locked,
		Allowance: c.Controller.Allowance + f.Allowance + f.Unstored}
	if cranking {
		out.Speed, out.Locked, out.Note = c.Engine.CrankingSpeed, c.Controller.Cranking, "cranking"
	}
	const digit = 10 // rpm, the last digit of the tachometer
	out.Speed = quantity.Speed(digit * math.Round(float64(out.Speed)/digit))
	return out
}

// TakeReadings reads the light once at each speed of a plan, in order, a minute apart. A speed at which the light does
// not flash gives a dark row, and one at which two marks stand gives both. Speeds that the engine does not reach by
// itself with its faults give none.
func TakeReadings(c Config, f Faults, speeds []quantity.Speed, wire int,
	seed uint64) ([]Reading, error) {
	var rows []Reading
	m, err := NewModel(c)
	if err != nil {
		return nil, err
	}
	for i, n := range speeds {
		if !m.Reads(f, n) {
			continue
		}
		r, _, err := TakeReading(c, f, n, wire, quantity.Seconds(60*float64(i)), seed+uint64(i)*0x9e3779b97f4a7c15)
		if err != nil {
			return nil, err
		}
		rows = append(rows, r)
		if r.Two {
			r.Shown, r.Also = r.Also, r.Shown
			rows = append(rows, r)
		}
	}
	return rows, nil
}

// WriteReadings writes rows as CSV (RFC 4180): rpm, shown_deg, locked_deg, u_deg, allowance_us, note. Degrees BTDC, or
// none where the light did not flash.
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
		if r.Two {
			r.Note = strings.TrimPrefix(r.Note+", one of two marks", ", ")
		}
		shown, u := number(float64(r.Shown), 4), number(float64(r.U), 4)
		if r.Dark {
			shown, u = "none", ""
		}
		for i, s := range []string{number(float64(r.Speed), 1), shown, number(float64(r.Locked), 4), u,
			number(float64(r.Allowance), 3)} {
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
