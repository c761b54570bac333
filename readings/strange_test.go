package readings_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
)

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// What arithmetic alone shows, each beside the nearest thing that it is not.
func TestWhatArithmeticShows(t *testing.T) {
	steps := boat()
	steps.Steps = readings.Steps{Vanes: []float64{30}, Tooth: 48, Spacing: 120}
	six := []float64{800, 1400, 2000, 2600, 3200, 3700}
	noise := []float64{0.1, -0.15, 0.05, -0.1, 0.15, -0.05}
	commands := []float64{6, 20, 6, 20, 6, 20}
	of := func(speeds, locked []float64, shown func(i int, n, a float64) float64) []readings.Row {
		var rows []readings.Row
		for i, n := range speeds {
			a := locked[i%len(locked)]
			rows = append(rows, readings.Row{Speed: quantity.Speed(n), Locked: quantity.Crank(a),
				Shown: quantity.Crank(shown(i, n, a) + noise[i%6])})
		}
		return rows
	}
	errors := func(speeds []float64, e ...float64) []readings.Row {
		var rows []readings.Row
		for i, n := range speeds {
			rows = append(rows, readings.Row{Speed: quantity.Speed(n), Locked: 8, Shown: quantity.Crank(8 + e[i])})
		}
		return rows
	}
	for _, c := range []struct {
		name    string
		rows    []readings.Row
		set     readings.Settings
		verdict readings.Verdict
		says    string
	}{
		{"follows the command one to one and a housing error of 1.5°", of(six, commands, func(_ int, _, a float64) float64 { return a + 1.5 }),
			boat(), readings.Adjust, ""},
		{"twice the change commanded", of(six, commands, func(_ int, _, a float64) float64 { return 2*a - 5 }), boat(), readings.LookElsewhere,
			"moves twice as far as was commanded"},
		{"the same whatever is commanded", of(six, commands, func(_ int, _, a float64) float64 { return 14 }), boat(), readings.LookElsewhere,
			"shows the same whatever is commanded"},
		{"a map beside the command", of(six, commands, func(_ int, _, a float64) float64 { return a + 0.4*(a-6) }), boat(), readings.LookElsewhere,
			"The error follows the command"},
		{"twice the one advance commanded", of(six, []float64{8}, func(_ int, _, a float64) float64 { return 2 * a }), steps, readings.LookElsewhere,
			"about twice the commanded 8.0°"},
		{"as far off, but no card knows the engine", of(six, []float64{8}, func(_ int, _, a float64) float64 { return 2 * a }), boat(), readings.Adjust, ""},
		{"walks 0.5° a reading, the first speed read again", of(append(six, 800), []float64{8}, func(i int, _, a float64) float64 { return a - 0.5*float64(i) }),
			boat(), readings.LookElsewhere, "The readings walk by −"},
		{"as late with speed, the first speed read again", of(append(six, 800), []float64{8}, func(_ int, n, a float64) float64 { return a - 0.001*(n-800) }),
			boat(), readings.Adjust, ""},
		{"walks, but no speed is repeated", of(six, []float64{8}, func(i int, _, a float64) float64 { return a - 0.5*float64(i) }), boat(), readings.Adjust, ""},
		// As found: five readings that no eye makes were to be read more.
		{"scatter beyond eye and light", errors([]float64{800, 1500, 2200, 3000, 3700}, 2.5, -6, 5, -7, 6), boat(), readings.LookElsewhere,
			"read the light at one speed three times"},
		{"the same at three speeds so near that they are one", errors([]float64{850, 850, 860}, 2.5, -6, 5), boat(), readings.LookElsewhere, "scatter"},
		// As found: the housing was said to be out by −19.0° ± 469.5.
		{"850, 850 and 860 rpm", errors([]float64{850, 850, 860}, 0.5, -0.5, 0.75), boat(), readings.ReadMore, "One speed cannot tell housing from delay"},
		{"850, 850 and 900 rpm", errors([]float64{850, 850, 900}, 0.5, -0.5, 0.75), boat(), readings.ReadMore, "to tell housing from delay"},
		{"850 and 900 rpm without u", errors([]float64{850, 900}, 0.5, -0.5), boat(), readings.ReadMore, "to tell housing from delay"},
	} {
		res := fit(t, c.rows, c.set)
		if text := strings.Join(res.Advice, " "); res.Verdict != c.verdict || !strings.Contains(text, c.says) {
			t.Errorf("%s: %s, %q", c.name, res.Verdict, res.Advice)
		}
		if res.Verdict != readings.Adjust && res.Housing.Direction != readings.Leave {
			t.Errorf("%s: %s beside a turn of the housing", c.name, res.Verdict)
		}
		if res.Verdict == readings.ReadMore && (res.Offset.Known() || res.Delay.Known()) {
			t.Errorf("%s: a figure that tells nothing is given: %+v, %+v", c.name, res.Offset, res.Delay)
		}
	}
}

// Sound engines with several commands and a repeated first speed, no card and a housing or delay to adjust, are not
// taken for strange: at the 1 % of its test each look may err, three looks in at most 3 of 100.
func TestSoundEnginesAreNotStrange(t *testing.T) {
	r := newRand(31)
	const sets = 4000
	strange := 0
	for range sets {
		e := truth{constant: 3 + 2*r.Float64(), tau: 100 + 200*r.Float64()}
		var rows []readings.Row
		for i, n := range []float64{800, 1400, 2000, 2600, 3200, 3700, 800, 2000} {
			rows = append(rows, e.row([]float64{6, 14}[i%2], n, 100, 0.4*r.NormFloat64()))
		}
		if fit(t, rows, boat()).Verdict == readings.LookElsewhere {
			strange++
		}
	}
	t.Logf("%.2f %% of sound engines are called strange", 100*float64(strange)/sets)
	if float64(strange)/sets > 0.03 {
		t.Errorf("%d of %d sound engines are called strange", strange, sets)
	}
}
