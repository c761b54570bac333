package bench

import (
	"errors"
	"math"
	"strings"
	"testing"

	"phasewright/cranking"
	"phasewright/quantity"
)

// Every message names what was found and what is accepted.
func TestFaultTexts(t *testing.T) {
	c := Default()
	for _, tc := range []struct{ text, says string }{
		{"houzing=3deg", "write one of housing, lead"},
		{"housing=3", "has no unit"},
		{"housing=3us", "not one of a shaft angle"},
		{"housing=300deg", "-20deg to 20deg"},
		{"housing=", "no number"},
		{"edge=sideways", "inverted"},
		{"noise=5", "% sign"},
		{"noise=500%", "outside"},
		{"tooth=1.5", "-3 to +3"},
		{"wires=1", "two cylinders"},
		{"wires=1-1", "two cylinders"},
		{"wires=1-9", "8 cylinders"},
		{"polarity=reversed", "variable-reluctance"},
		{"dwell=-10ms", "no dwell"},
		{"delay=-500us", "below nought"},
		{"allowance=-500us", "below nought"},
		{"", "write one of"},
		{"housing=NaNdeg", "housing"},
	} {
		_, err := ParseFaults(c, tc.text)
		var fe *quantity.Invalid
		if !errors.As(err, &fe) || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v, want a fault error with %q", tc.text, err, tc.says)
		}
	}
	if _, err := ParseFaults(c, "delay", "delay=50us"); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("a fault given twice: %v", err)
	}
	narrow := Default()
	narrow.Crank.Vanes = same(43, 8)
	if _, err := ParseFaults(narrow, "vane=5deg"); err == nil || !strings.Contains(err.Error(), "neighbour") {
		t.Errorf("vane bent into its neighbour: %v", err)
	}
}

// Every row of the table reads its own default and its own range, and lists itself back.
func TestFaultTableReadsItself(t *testing.T) {
	c := variant(8)
	c.Crank.Kind = "variable reluctance"
	seen := map[string]bool{}
	for _, r := range FaultTable() {
		if seen[r.Name] {
			t.Errorf("%s stands twice", r.Name)
		}
		seen[r.Name] = true
		if r.Shows == "" || r.Title == "" || r.Accepts() == "" {
			t.Errorf("%s is not described", r.Name)
		}
		v, err := r.Read(r.Default())
		if err != nil || v != r.Typical {
			t.Errorf("%s: default %q reads as %g, %v", r.Name, r.Default(), v, err)
		}
		f, err := ParseFaults(c, r.Name)
		if err != nil {
			t.Errorf("%s alone: %v", r.Name, err)
			continue
		}
		if got := r.Size(f); got != r.Typical {
			t.Errorf("%s: set to %g, stands at %g", r.Name, r.Typical, got)
		}
		list := f.List()
		if len(list) != 1 {
			t.Errorf("%s lists %v", r.Name, list)
			continue
		}
		again, err := ParseFaults(c, list...)
		if err != nil || again != f {
			t.Errorf("%s written as %v reads back as %+v, %v", r.Name, list, again, err)
		}
		if r.Kind != Word && r.Kind != Count {
			for _, end := range []float64{r.Low, r.High} {
				if v, err := r.Read(r.write(end)); err != nil || math.Abs(v-end) > 1e-9*math.Abs(end) {
					t.Errorf("%s: its own limit %s reads as %g, %v", r.Name, r.write(end), v, err)
				}
			}
		}
	}
}

func TestProfileTexts(t *testing.T) {
	for text, want := range map[string]string{
		"hold 3000 rpm for 10 s":                      "hold 3000 rpm for 10 s",
		"sweep 800..4000 rpm in 20 s":                 "sweep 800..4000 rpm in 20 s",
		"sweep 800 rpm .. 4000 rpm in 500 ms":         "sweep 800..4000 rpm in 0.5 s",
		"steps 800, 1500, 3000 rpm for 5 s each":      "hold 800 rpm for 5 s|hold 1500 rpm for 5 s|hold 3000 rpm for 5 s",
		"crank 3 s then hold 900 rpm for 2 s":         "crank 3 s|hold 900 rpm for 2 s",
		"crank 3 s then sweep 900..2000 rpm in 200ms": "crank 3 s|sweep 900..2000 rpm in 0.2 s",
	} {
		p, err := ParseProfile(text)
		var got []string
		for _, part := range p {
			got = append(got, part.String())
		}
		if err != nil || strings.Join(got, "|") != want {
			t.Errorf("%q: %v %v, want %s", text, got, err, want)
		}
	}
	for _, text := range []string{"", "hold", "hold 3000 for 10 s", "hold 3000 rpm", "hold 3000 rpm for 10", "sweep 1 rpm in 2 s", "crank", "crank 0 s", "run 3 s", "hold 1 rpm, 2 rpm for 3 s", "steps for 3 s"} {
		var pe *quantity.Invalid
		if _, err := ParseProfile(text); !errors.As(err, &pe) || !strings.Contains(err.Error(), "hold SPEED for TIME") {
			t.Errorf("%q: %v", text, err)
		}
	}
	c := Default()
	for _, p := range []Profile{nil, Hold(9000, 1e6), Hold(1, 1e6), Hold(1000, -1), Hold(quantity.Speed(math.NaN()), 1e6), Sweep(800, 9000, 1e6), Hold(1000, quantity.Seconds(1e9))} {
		var pe *quantity.Invalid
		if _, err := NewRig(c, Faults{}, p, 1); !errors.As(err, &pe) {
			t.Errorf("%v: %v, want a refusal", p, err)
		}
	}
}

func TestConfigsThatCannotBe(t *testing.T) {
	for name, spoil := range map[string]func(*Config){
		"cylinders": func(c *Config) { c.Engine.Cylinders = 0 },
		"order":     func(c *Config) { c.Engine.FiringOrder = []int{1, 1, 2, 3, 4, 5, 6, 7} },
		"intervals": func(c *Config) { c.Engine.Intervals = same720(8, 91) },
		"vane":      func(c *Config) { c.Crank.Vanes = same(45, 8) },
		"rod":       func(c *Config) { c.Engine.Rod = 20 },
		"inertia":   func(c *Config) { c.Engine.Inertia = quantity.Inertia(math.NaN()) },
		"kind":      func(c *Config) { c.Crank.Kind = "magic" },
		"edge":      func(c *Config) { c.Crank.ActiveEdge = "" },
		"wire":      func(c *Config) { c.Light.Wire = 9 },
		"redline":   func(c *Config) { c.Engine.Redline = 10 },
	} {
		c := Default()
		c.Engine.FiringOrder = append([]int(nil), c.Engine.FiringOrder...)
		spoil(&c)
		var ce *quantity.Invalid
		if _, err := NewRig(c, Faults{}, Hold(1000, 1e6), 1); !errors.As(err, &ce) || strings.Count(err.Error(), " – ") != 2 {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := CrankingBias(c, cranking.DefaultSpread()); err == nil {
			t.Errorf("%s: cranking bias of an engine that cannot be", name)
		}
	}
}

func same720(n int, v quantity.Crank) []quantity.Crank {
	out := make([]quantity.Crank, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func FuzzFaultsAndProfiles(f *testing.F) {
	for _, s := range []string{"housing=+3deg", "wires=3-5", "noise=5%", "delay", "edge=inverted", "hold 3000 rpm for 10 s", "sweep 800..4000 rpm in 20 s then crank 2 s", "steps 1,2 rpm for 1 s each"} {
		f.Add(s)
	}
	c := Default()
	f.Fuzz(func(t *testing.T, text string) {
		faults, err := ParseFaults(c, text)
		if err != nil {
			faults = Faults{}
			if !strings.Contains(err.Error(), " – ") {
				t.Errorf("message without a remedy: %v", err)
			}
		} else if again, err := ParseFaults(c, faults.List()...); err != nil || again != faults {
			t.Errorf("%q lists as %v, which reads as %+v, %v", text, faults.List(), again, err)
		}
		p, err := ParseProfile(text)
		if err != nil {
			p = Hold(1500, quantity.Milliseconds(100))
		}
		if p.Check(c) == nil && p.Duration() > 3e6 {
			return
		}
		r, err := NewRig(c, faults, p, 1)
		if err != nil {
			return
		}
		last := quantity.Time(0)
		r.Run(func(e *Event) bool {
			if e.Time < last || math.IsNaN(float64(e.Time)) {
				t.Fatalf("%q: time goes back from %v to %v", text, last, e.Time)
			}
			last = e.Time
			return true
		})
	})
}
