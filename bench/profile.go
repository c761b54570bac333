package bench

import (
	"fmt"
	"math"
	"strings"

	"phasewright/quantity"
)

// Profile is how the crank is driven: parts one after the other.
type Profile []Part

// Part is one stretch of a profile. Kind Crank turns on the starter (torque balance); Ramp goes from From to To at constant acceleration, and steadily
// where both are equal.
type Part struct {
	Kind     PartKind
	From, To quantity.Speed
	For      quantity.Time
}

// PartKind is the sort of a part.
type PartKind string

// The parts a profile is made of.
const (
	OnStarter PartKind = "crank"
	Ramp      PartKind = "ramp"
)

// ProfileGrammar tells a person how a speed profile is written.
const ProfileGrammar = `parts separated by "then":
  hold SPEED for TIME            hold 3000 rpm for 10 s
  sweep SPEED..SPEED in TIME     sweep 800..4000 rpm in 20 s
  steps SPEED, SPEED ... for TIME each   steps 800, 1500, 3000 rpm for 5 s each
  crank TIME                     crank 3 s  (on the starter, by torque balance)`

// badProfile gives `speed profile "hold 3000" – … – write …`.
func badProfile(text, found, remedy string) error {
	return &quantity.Invalid{Field: fmt.Sprintf("speed profile %q", text), Found: found, Remedy: remedy}
}

// Hold is a steady speed for a time.
func Hold(n quantity.Speed, t quantity.Time) Profile { return Profile{{Ramp, n, n, t}} }

// Sweep changes speed at a constant rate.
func Sweep(from, to quantity.Speed, t quantity.Time) Profile { return Profile{{Ramp, from, to, t}} }

// Cranking turns the engine on the starter.
func Cranking(t quantity.Time) Profile { return Profile{{Kind: OnStarter, For: t}} }

// Duration is the length of the whole profile.
func (p Profile) Duration() quantity.Time {
	var sum quantity.Time
	for _, part := range p {
		sum += part.For
	}
	return sum
}

// ParseProfile reads a profile written as ProfileGrammar says.
func ParseProfile(text string) (Profile, error) {
	var out Profile
	for _, piece := range strings.Split(text, "then") {
		piece = strings.TrimSpace(piece)
		parts, what := parsePiece(piece)
		if what != "" {
			return nil, badProfile(text, what, "write "+ProfileGrammar)
		}
		out = append(out, parts...)
	}
	return out, nil
}

func parsePiece(piece string) (Profile, string) {
	verb, rest, _ := strings.Cut(piece, " ")
	switch verb {
	case "hold", "steps":
		left, right, ok := strings.Cut(rest, " for ")
		if !ok {
			return nil, fmt.Sprintf("%q does not say for how long", piece)
		}
		if verb == "steps" {
			right = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(right), "each"))
		}
		t, what := readTime(right)
		if what != "" {
			return nil, what
		}
		var out Profile
		for _, s := range withUnit(strings.Split(left, ",")) {
			n, err := quantity.Parse[quantity.Speed](s)
			if err != nil {
				return nil, err.Error()
			}
			out = append(out, Part{Ramp, n, n, t})
		}
		if verb == "hold" && len(out) != 1 {
			return nil, "hold takes one speed; steps takes several"
		}
		return out, ""
	case "sweep":
		left, right, ok := strings.Cut(rest, " in ")
		from, to, both := strings.Cut(left, "..")
		if !ok || !both {
			return nil, fmt.Sprintf("%q does not say from where, to where and in what time", piece)
		}
		t, what := readTime(right)
		if what != "" {
			return nil, what
		}
		ends := withUnit([]string{from, to})
		a, errA := quantity.Parse[quantity.Speed](ends[0])
		b, errB := quantity.Parse[quantity.Speed](ends[1])
		if errA != nil {
			return nil, errA.Error()
		}
		if errB != nil {
			return nil, errB.Error()
		}
		return Profile{{Ramp, a, b, t}}, ""
	case "crank":
		t, what := readTime(rest)
		if what != "" {
			return nil, what
		}
		return Cranking(t), ""
	}
	return nil, fmt.Sprintf("%q begins with none of hold, sweep, steps, crank", piece)
}

func readTime(text string) (quantity.Time, string) {
	t, err := quantity.Parse[quantity.Time](strings.TrimSpace(text))
	if err != nil {
		return 0, err.Error()
	}
	if !(t > 0) {
		return 0, fmt.Sprintf("a time of %v", t)
	}
	return t, ""
}

// withUnit lends the unit of the last entry to those before that have none: "800, 1500, 3000 rpm".
func withUnit(list []string) []string {
	last := strings.TrimSpace(list[len(list)-1])
	unit := strings.TrimSpace(strings.TrimLeft(last, "0123456789. "))
	out := make([]string, len(list))
	for i, s := range list {
		s = strings.TrimSpace(s)
		if s != "" && strings.Trim(s, "0123456789.") == "" {
			s += " " + unit
		}
		out[i] = s
	}
	return out
}

const fastest = 1.25 // times the redline: what a profile may ask

// Check says what in the profile the engine cannot do.
func (p Profile) Check(c Config) error {
	if len(p) == 0 {
		return badProfile("", "is empty", "write "+ProfileGrammar)
	}
	for _, part := range p {
		if !(part.For > 0) || float64(part.For) > 48*3600e6 {
			return badProfile(part.String(), "lasts no time, or more than 48 hours", "give a time above nought")
		}
		if part.Kind == OnStarter {
			continue
		}
		for _, n := range []quantity.Speed{part.From, part.To} {
			if !(n >= 20) || float64(n) > fastest*float64(c.Engine.Redline) || math.IsNaN(float64(n)) {
				return badProfile(part.String(), fmt.Sprintf("asks for %v", n),
					fmt.Sprintf("give 20 rpm to %v, a quarter above the redline of %v", quantity.Speed(fastest)*c.Engine.Redline, c.Engine.Redline))
			}
		}
	}
	return nil
}

// String writes the part as the grammar has it.
func (p Part) String() string {
	switch {
	case p.Kind == OnStarter:
		return fmt.Sprintf("crank %g s", p.For.Seconds())
	case p.From == p.To:
		return fmt.Sprintf("hold %g rpm for %g s", float64(p.From), p.For.Seconds())
	}
	return fmt.Sprintf("sweep %g..%g rpm in %g s", float64(p.From), float64(p.To), p.For.Seconds())
}
