package leads_test

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/quantity"
)

func card(t testing.TB, name string, swap ...string) *jobcard.Card {
	t.Helper()
	for _, e := range examples.Cards() {
		if e.Name != name {
			continue
		}
		text := e.YAML
		for i := 0; i < len(swap); i += 2 {
			if !strings.Contains(text, swap[i]) {
				t.Fatalf("%s does not hold %q", name, swap[i])
			}
			text = strings.Replace(text, swap[i], swap[i+1], 1)
		}
		c, err := jobcard.Parse(name, []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	t.Fatalf("no example %s", name)
	return nil
}

func made(t testing.TB, c *jobcard.Card, in leads.Input) map[string]leads.Lead {
	t.Helper()
	list, err := leads.Make(c, in)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]leads.Lead{}
	for _, l := range list {
		out[l.ID] = l
	}
	return out
}

// IEC 60063, table of E12 and E24 (values from memory; every catalogue of resistors repeats them). E12 is every second
// value of E24, and no value lies more than 5 % from 10^(k/24).
func TestSeriesArePreferredValues(t *testing.T) {
	want := "1 1.2 1.5 1.8 2.2 2.7 3.3 3.9 4.7 5.6 6.8 8.2"
	var got []string
	for r := quantity.Resistance(1); r < 10; r = leads.E12.Least(r * 1.0001) {
		got = append(got, quantity.Number(float64(r), -1))
	}
	if s := strings.Join(got, " "); s != want {
		t.Errorf("E12: %s, want %s", s, want)
	}
	r := quantity.Resistance(100)
	for k := range 24 {
		if off := float64(r)/(100*math.Pow(10, float64(k)/24)) - 1; math.Abs(off) > 0.05 {
			t.Errorf("E24 %d: %v lies %.1f %% off", k, r, 100*off)
		}
		r = leads.E24.Least(r * 1.0001)
	}
	if r != 1000 {
		t.Errorf("a decade of E24 ends at %v", r)
	}
	rapid.Check(t, func(t *rapid.T) {
		v := quantity.Resistance(rapid.Float64Range(0.1, 1e8).Draw(t, "ohms"))
		for _, s := range []leads.Series{leads.E12, leads.E24} {
			up, down := s.Least(v), s.Most(v)
			if up < v*(1-1e-8) || down > v*(1+1e-8) || up/v > 1.25 || v/down > 1.25 {
				t.Fatalf("%v lies between %v and %v", v, down, up)
			}
			if again := s.Least(up); math.Abs(float64(again/up)-1) > 1e-8 {
				t.Fatalf("%v is not its own least value: %v", up, again)
			}
		}
	})
}

// The Hall pickup of the work boat on 13.8 V, by hand. The lead may take a twentieth of a signal behind 4.7 kΩ: at least
// 89.3 kΩ, E12 100 kΩ; 100 V of surge put 0.1 W into it, less than half of 0.25 W. 13.8 V are to give 0.5 V: foot
// 100·0.5/13.3 = 3.759 kΩ with 10 kΩ in parallel, so 6.024 kΩ, E24 5.6 kΩ, foot 3.590 kΩ: 13.8·3.590/(3.590 + 104.7) =
// 0.4575 V. Behind 3.471 kΩ 300 pF make 1.041 µs: edge 0.722 µs late, 4200 rpm 0.0182°.
func TestAHallPickupByHand(t *testing.T) {
	l := made(t, card(t, "sandpiper"), leads.SoundCard())["crank"]
	if l.Pieces != 1 || l.Top != 100e3 || l.Bottom != 5600 || l.Diodes != 2 {
		t.Fatalf("%d × %v, %v, %d diodes", l.Pieces, l.Top, l.Bottom, l.Diodes)
	}
	for _, x := range []struct {
		name            string
		got, want, near float64
	}{
		{"greatest level", float64(l.HighIn), 0.4575, 0.0003}, {"least level", float64(l.LowIn), 0.4575 * 5 / 13.8, 0.0003},
		{"late, µs", float64(l.Delay), 0.722, 0.001}, {"late, degrees", float64(l.Late), 0.0182, 0.0001},
		{"transition, µs", float64(l.Transition), 1.041 * math.Log(9), 0.002},
		{"corner, kHz", l.Upper / 1e3, 1e3 / (2 * math.Pi * 1.041), 0.2},
	} {
		if math.Abs(x.got-x.want) > x.near {
			t.Errorf("%s: %g, by hand %g", x.name, x.got, x.want)
		}
	}
}

// Whatever the input, parts keep their ratings, the input keeps its own, and what cannot be is said.
func TestLeadsKeepEveryRating(t *testing.T) {
	cards := []*jobcard.Card{card(t, "sandpiper"), card(t, "mill-pump"), card(t, "gorse-hill"),
		card(t, "sandpiper", "supply: 13.8 V", "supply: 27.6 V")}
	rapid.Check(t, func(t *rapid.T) {
		in := leads.SoundCard()
		in.FullScale = quantity.Voltage(rapid.Float64Range(0.05, 20).Draw(t, "full scale"))
		in.Impedance = quantity.Resistance(math.Pow(10, rapid.Float64Range(2.7, 7).Draw(t, "impedance")))
		in.Stands = in.FullScale * quantity.Voltage(rapid.Float64Range(1, 4).Draw(t, "stands"))
		list, err := leads.Make(cards[rapid.IntRange(0, 3).Draw(t, "card")], in)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range list {
			switch {
			case l.EachPower > 0.126 || l.EachVolts > 250.1:
				t.Fatalf("%s: %v and %v at one resistor", l.ID, l.EachPower, l.EachVolts)
			case l.Fails == "" && l.Clamped > in.Stands:
				t.Fatalf("%s: %v at an input that stands %v", l.ID, l.Clamped, in.Stands)
			case l.Current > 5.01e-3:
				t.Fatalf("%s: %v through the clamp", l.ID, l.Current)
			case !l.Bipolar && l.HighIn > in.FullScale:
				t.Fatalf("%s: %v on a full scale of %v", l.ID, l.HighIn, in.FullScale)
			case l.Load > 0.0501 && l.Own > 0:
				t.Fatalf("%s takes %.3f of its signal", l.ID, l.Load)
			case !(l.LowIn > 0) || !(l.Delay > 0) || !(l.Upper > 0):
				t.Fatalf("%+v", l)
			}
		}
	})
}

// A spark box has no coil that the controller switches, and nobody is sent to its terminals.
func TestABoxHasNoSwitchedCoil(t *testing.T) {
	got := made(t, card(t, "gorse-hill"), leads.SoundCard())
	if _, there := got["primary"]; there {
		t.Error("a lead for the coil's switched end beside a spark box")
	}
	if !strings.Contains(strings.Join(got["driver"].Mind, " "), "kills") {
		t.Error("the box's terminals are not warned of")
	}
	boat := made(t, card(t, "sandpiper"), leads.SoundCard())
	for id, words := range map[string]string{"primary": "kills inputs", "clamp": "tens of kilovolts"} {
		if !strings.Contains(strings.Join(boat[id].Mind, " "), words) {
			t.Errorf("%s does not say %q: %q", id, words, boat[id].Mind)
		}
	}
}

func TestInputsThatCannotBe(t *testing.T) {
	for name, change := range map[string]func(*leads.Input){
		"scale": func(in *leads.Input) { in.FullScale = 0 }, "no number": func(in *leads.Input) { in.FullScale = quantity.Voltage(math.NaN()) },
		"impedance": func(in *leads.Input) { in.Impedance = 10 }, "rate": func(in *leads.Input) { in.Rate = 0 },
		"stands": func(in *leads.Input) { in.Stands = 0.1 }, "lower": func(in *leads.Input) { in.Lower = -1 },
	} {
		in := leads.SoundCard()
		change(&in)
		if _, err := leads.Make(card(t, "sandpiper"), in); err == nil {
			t.Errorf("%s went through", name)
		}
	}
}

// A general-purpose circuit simulator is given each lead's parts: level, clamp and edge agree.
func TestAgainstCircuitSimulator(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: leads against a circuit simulator")
	}
	if _, err := exec.LookPath("ngspice"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("ngspice is not installed: leads were not checked against a circuit simulator")
		}
		t.Skip("NOT CHECKED: ngspice is not installed, so leads were not compared with a circuit simulator")
	}
	in := leads.SoundCard()
	all := made(t, card(t, "sandpiper"), in)
	for id, l := range made(t, card(t, "mill-pump"), in) { // variable reluctance
		all["mill "+id] = l
	}
	for name, l := range all {
		t.Run(name, func(t *testing.T) {
			// the source steps from nought to v and stays
			run := func(v float64) (at []float64, volts []float64) {
				net := "lead\n" + fmt.Sprintf("V1 s 0 PWL(0 0 1u 0 1.01u %g 1 %g)\nRs s a %g\n", v, v, max(float64(l.Own), 1e-3)) +
					fmt.Sprintf("R1 a in %g\nR3 in 0 %g\nC1 in 0 300p\n", float64(l.Pieces)*float64(l.Top), float64(in.Impedance))
				if l.Bottom > 0 {
					net += fmt.Sprintf("R2 in 0 %g\n", float64(l.Bottom))
				}
				for k := range l.Diodes {
					up, down := fmt.Sprintf("u%d", k+1), fmt.Sprintf("d%d", k+1)
					from, to := fmt.Sprintf("u%d", k), fmt.Sprintf("d%d", k)
					if k == 0 {
						from, to = "in", "in"
					}
					if k == l.Diodes-1 {
						up, down = "0", "0"
					}
					net += fmt.Sprintf("DU%d %s %s small\nDD%d %s %s small\n", k, from, up, k, down, to)
				}
				net += ".model small D(IS=2.5n N=1.7514 RS=0.6 CJO=0.2p TT=1n)\n.options reltol=1e-5 abstol=1e-11 method=gear temp=27\n" +
					".tran 5n 60u 0 20n\n.control\nset wr_singlescale\nrun\nwrdata out.txt v(in)\nquit\n.endc\n.end\n"
				dir := t.TempDir()
				if err := os.WriteFile(filepath.Join(dir, "lead.cir"), []byte(net), 0o600); err != nil {
					t.Fatal(err)
				}
				cmd := exec.Command("ngspice", "-b", "lead.cir")
				cmd.Dir = dir
				log, runErr := cmd.CombinedOutput()
				f, err := os.Open(filepath.Join(dir, "out.txt"))
				if err != nil {
					t.Fatalf("no output (%v):\n%s", runErr, log)
				}
				defer f.Close()
				for s := bufio.NewScanner(f); s.Scan(); {
					cells := strings.Fields(s.Text())
					x, err1 := strconv.ParseFloat(cells[0], 64)
					y, err2 := strconv.ParseFloat(cells[1], 64)
					if err1 != nil || err2 != nil {
						t.Fatalf("line %q", s.Text())
					}
					at, volts = append(at, x*1e6), append(volts, y)
				}
				if len(at) < 100 || at[len(at)-1] < 59 {
					t.Fatalf("%d rows, the run broke off:\n%s", len(at), log)
				}
				return at, volts
			}
			near := func(what string, got, want, share float64) {
				t.Helper()
				if math.Abs(got/want-1) > share {
					t.Errorf("%s: %.5g, the simulator has %.5g", what, got, want)
				}
			}
			_, most := run(float64(l.Most))
			near("clamped", float64(l.Clamped), most[len(most)-1], 0.002)
			if !l.Bipolar { // diodes that are calm take next to nothing of the greatest signal
				_, high := run(float64(l.High))
				near("greatest level", float64(l.HighIn), high[len(high)-1], 0.01)
			}
			// an edge so small that the diodes do not count: its end, its middle and its transition by IEEE 181
			at, low := run(float64(l.Low) / 10)
			end := low[len(low)-1]
			near("level of a tenth of the least signal", float64(l.LowIn)/10, end, 0.002)
			cross := func(share float64) float64 {
				for k := range low {
					if k > 0 && low[k] >= share*end {
						return at[k-1] + (at[k]-at[k-1])*(share*end-low[k-1])/(low[k]-low[k-1])
					}
				}
				return math.NaN()
			}
			near("delay", float64(l.Delay), cross(0.5)-1.005, 0.02) // the middle of the step, which itself takes 10 ns
			near("transition", float64(l.Transition), cross(0.9)-cross(0.1), 0.02)
		})
	}
}
