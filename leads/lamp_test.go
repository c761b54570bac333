package leads_test

import (
	"math"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/leads"
)

// Worked out by hand with Ohm's law and the series E12 of IEC 60063: a red diode of 1.7 V at 10 mA on 14.2 V needs
// 12.5 V ÷ 10 mA = 1250 Ω, in E12 1.5 kΩ: 8.33 mA and 104 mW, which is less than half of 0.25 W. On 28 V it is 26.3 V:
// 2630 Ω, 2.7 kΩ, 9.74 mA and 256 mW, more than half of 0.5 W, so 1 W.
func TestLampResistorsByHand(t *testing.T) {
	for _, x := range []struct {
		name, swap, with string
		way, at          int
		value            float64
		mA, mW, rated    float64
	}{
		{"sandpiper", "supply: 13.8 V", "supply: 14.2 V", 0, 0, 1500, 8.33, 104.2, 0.25},
		{"sandpiper", "supply: 13.8 V", "supply: 28 V", 0, 0, 2700, 9.74, 256.2, 1},
		{"sandpiper", "supply: 13.8 V", "supply: 14.2 V", 0, 1, 330, 10, 33, 0.25}, // (5 − 1.7) V at 10 mA: 330 Ω as it is
	} {
		l := leads.Lamps(card(t, x.name, x.swap, x.with))[0]
		r := l.Ways[x.way].With[x.at]
		near := func(got, want float64) bool { return math.Abs(got-want) < 0.005*want }
		if float64(r.Value) != x.value || !near(1e3*float64(r.Current), x.mA) || !near(1e3*float64(r.Power), x.mW) ||
			float64(r.Rated) != x.rated {
			t.Errorf("%s: %+v", x.with, r)
		}
	}
}

// Which output lights the lamp at which level follows from what pulls where: an open collector and an NPN switch sink,
// a PNP switch feeds. No lamp is promised more than its output can drive, and a variable-reluctance pickup gets none.
func TestLampOfEachKind(t *testing.T) {
	for kind, want := range map[jobcard.PickupKind][]string{
		jobcard.Hall:      {"open collector: between supply and output, on while low"},
		jobcard.Optical:   {"open collector: between supply and output, on while low"},
		jobcard.Proximity: {"NPN: between supply and output, on while low", "PNP: between output and ground, on while high"},
		jobcard.Reluctor:  {"no lamp", "scope", "AC volts"},
	} {
		lamps := leads.Lamps(card(t, "sandpiper", "crank: {kind: hall", "crank: {kind: "+string(kind)))
		said := ""
		for _, line := range lamps[0].Lines() {
			said += line.Name + ": " + line.Text + "\n"
		}
		for _, word := range want {
			if !strings.Contains(said, word) {
				t.Errorf("%s does not say %q: %s", kind, word, said)
			}
		}
		for _, w := range lamps[0].Ways {
			for _, r := range w.With {
				if r.Current > w.Drives {
					t.Errorf("%s: %v through an output of %v", kind, r.Current, w.Drives)
				}
			}
		}
		if (len(lamps[0].Ways) == 0) != (kind == jobcard.Reluctor) {
			t.Errorf("%s: %+v", kind, lamps[0].Ways)
		}
	}
}

// Every number behind a lamp is said where a card has a lamp of that kind, and nowhere else.
func TestLampSaysWhatItRestsOn(t *testing.T) {
	hall := strings.Join(leads.LampRestsOn(card(t, "sandpiper")), "; ")
	if !strings.Contains(hall, "red light-emitting diode") || !strings.Contains(hall, "open collector drives") ||
		strings.Contains(hall, "optical") || strings.Contains(hall, "proximity") {
		t.Errorf("two Hall pickups rest on %s", hall)
	}
	none := leads.LampRestsOn(card(t, "sandpiper", "crank: {kind: hall", "crank: {kind: variable reluctance",
		"cam: {kind: hall", "cam: {kind: variable reluctance"))
	if len(none) != 0 {
		t.Errorf("no lamp rests on %v", none)
	}
}

// Pickups of one kind share a lamp, those of two kinds have one each, and an engine without a cam pickup has the
// crank's alone.
func TestLampsOfAnEngine(t *testing.T) {
	names := func(swap ...string) (out []string) {
		for _, l := range leads.Lamps(card(t, "sandpiper", swap...)) {
			out = append(out, l.Pickup)
		}
		return out
	}
	if got := strings.Join(names(), "; "); got != "crank and cam" {
		t.Errorf("one kind: %s", got)
	}
	if got := strings.Join(names("crank: {kind: hall", "crank: {kind: optical"), "; "); got != "crank; cam" {
		t.Errorf("two kinds: %s", got)
	}
}
