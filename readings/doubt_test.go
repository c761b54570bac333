package readings_test

import (
	"fmt"
	"strings"
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
)

// Each figure that is asked back, with the nearest one that is not. The work boat: firing order 1-5-3-6-2-4, redline
// 4200 rpm, starter 180 rpm, advances 2 to 34°, locked at 8°, vane 2·15 = 30° and tooth 720/12 = 60° of the crank, so
// that one fault reaches 60° beyond what is commanded.
func TestUnlikelyFiguresAreAskedBack(t *testing.T) {
	set := readings.FromCard(cardOf(t, "sandpiper"))
	sound := []readings.Row{{Speed: 800, Shown: 8, Locked: 8, U: 0.3}, {Speed: 2000, Shown: 8, Locked: 8, U: 0.3}}
	row := func(rpm, shown float64, wire int) readings.Row {
		return readings.Row{Speed: quantity.Speed(rpm), Shown: quantity.Crank(shown), Locked: 8, U: 0.3, Wire: wire}
	}
	for _, c := range []struct {
		name string
		row  readings.Row
		says string // "": nothing is asked
	}{
		{"a digit too many", row(20000, 8, 1), "far above the redline of 4 200 rpm"},
		{"a tenth above the redline", row(4620, 8, 1), ""},
		{"just beyond that", row(4621, 8, 1), "far above the redline"},
		{"slower than any starter", row(39, 8, 1), "slower than a starter turns"},
		{"a weak starter", row(60, 12, 1), ""},
		{"one tooth beyond the largest advance", row(1500, 94, 1), ""},
		{"more than that", row(1500, 94.5, 1), "lies outside −58° to 94°"},
		{"one tooth below the least", row(1500, -58, 1), ""},
		{"less than that", row(1500, -58.5, 1), "lies outside"},
		{"twice the commanded", row(1500, 16, 1), "about twice the commanded 8.0°"},
		{"1.1° off twice the commanded", row(1500, 17.1, 1), ""},
		// The same speed: u = √(0.3² + 0.5²/12) = 0.333° of one, 3·√2·0.333 = 1.41° of the difference.
		{"the same speed, 1.4° apart", row(2050, 9.4, 1), ""},
		{"the same speed, 1.5° apart", row(2050, 9.5, 1), "1.5° away from row 2 at the same speed. Eye and light leave 1.4°"},
		{"4 % away", row(2081, 9.5, 1), ""},
		{"the same speed on another wire", row(2000, 9.5, 6), ""},
		// No. 5 comes 120° after No. 1: 8° of its own is 8 − 120 = −112° at the zero mark of No. 1.
		{"read against No. 1's mark", row(1500, -112, 5), "is what No. 1's zero mark would show. Its own top dead centre lies 120.0° after that"},
		{"No. 2 comes 480°, so 120° again", row(1500, -110, 2), "write 10.0°"},
		{"No. 4 comes 600°, so 240°", row(1500, 128, 4), "lies 240.0° after that"},
		{"the companion shares the mark", row(1500, 8, 6), ""},
		{"on its own mark", row(1500, 7, 5), ""},
		{"a cylinder that is not there", row(1500, 8, 7), "no cylinder 7"},
	} {
		set.Resolution = 0.5
		d := set.Ask(sound, c.row)
		switch {
		case c.says == "" && d != nil:
			t.Errorf("%s: asked %q", c.name, d.Because)
		case c.says != "" && (d == nil || !strings.Contains(strings.ReplaceAll(d.Because+"; "+d.Remedy, "\u2009", " "), c.says)):
			t.Errorf("%s: asked %+v, want %q", c.name, d, c.says)
		}
		if d == nil {
			continue
		}
		c.row.Confirmed = true
		if again := set.Ask(sound, c.row); (again == nil) != d.CanBe() {
			t.Errorf("%s: confirmed, and asked %+v", c.name, again)
		}
	}
}

// A card without a thing to ask by asks nothing, and of three at one speed the odd one is asked about, whichever came
// first.
func TestWhoIsAskedOfRepeats(t *testing.T) {
	rows := plain([]float64{1500, 1500, 1510}, []float64{14, 8, 8.5}, 8)
	if d := boat().Doubts(rows); d != nil {
		t.Errorf("without a card: %+v", d)
	}
	set := readings.FromCard(cardOf(t, "sandpiper"))
	if d := set.Doubts(rows); len(d) != 1 || d[0].Row != 1 {
		t.Errorf("three readings: %+v", d)
	}
	if d := set.Doubts(rows[:2]); len(d) != 1 || d[0].Row != 2 {
		t.Errorf("two readings: %+v", d)
	}
}

// What waits for an answer does not count, all of it at once, and a typed digit brings no pass; confirmed it counts.
func TestAskedReadingsDoNotCount(t *testing.T) {
	set := readings.FromCard(cardOf(t, "sandpiper"))
	rows := plain([]float64{800, 2000, 3000, 20000}, []float64{8, 8.25, 7.75, 8}, 8)
	rows = append(rows, readings.Row{Speed: 3700, Shown: 108, Locked: 8})
	res := fit(t, rows, set)
	if res.Used != 3 || len(res.Asked) != 2 || res.Asked[0].Row != 4 || res.Asked[1].Row != 5 || res.Verdict == readings.Pass {
		t.Errorf("%d readings count, %s, asked %+v", res.Used, res.Verdict, res.Asked)
	}
	text := strings.Join(res.Warnings, "\n")
	for _, say := range []string{"row 4 is not counted: ", "row 5 is not counted: ", "put yes under confirmed"} {
		if !strings.Contains(text, say) {
			t.Errorf("warnings do not say %q: %s", say, text)
		}
	}
	if n := len(set.Counted(rows)); n != 3 {
		t.Errorf("%d rows count", n)
	}
	rows[4].Confirmed = true
	if res = fit(t, rows, set); len(set.Counted(rows)) != 4 || !strings.Contains(strings.Join(res.Warnings, " "), "row 5 is unlikely, and was confirmed") {
		t.Errorf("confirmed: %d readings count, %q", len(set.Counted(rows)), res.Warnings)
	}
}

// Readings of one sound engine are hardly ever asked back: three standard uncertainties are passed by 1 pair in 370
// (normal distribution), here by at most 1 in 100 sets of twelve with six pairs each, times two for luck.
func TestSoundReadingsAreSeldomAskedBack(t *testing.T) {
	set := readings.FromCard(cardOf(t, "sandpiper"))
	r := newRand(21)
	asked := 0
	const sets = 5000
	for range sets {
		e := truth{constant: r.NormFloat64(), tau: 100 + 100*r.Float64()}
		var rows []readings.Row
		for _, n := range []float64{800, 1300, 1900, 2500, 3100, 3700, 800, 1300, 1900, 2500, 3100, 3700} {
			row := e.row(8, n, 85, 0.3*r.NormFloat64())
			row.U = 0.3
			rows = append(rows, row)
		}
		if len(set.Doubts(rows)) > 0 {
			asked++
		}
	}
	// 6 pairs of 1/370 each are 1.6 %.
	if share := float64(asked) / sets; share > 0.025 {
		t.Errorf("%.2f %% of sound sets are asked about", 100*share)
	} else {
		t.Logf("%.2f %% of sound sets are asked about", 100*share)
	}
}

func TestConfirmedAndWireInTheFile(t *testing.T) {
	text := "rpm,shown_deg,locked_deg,wire,confirmed\n800,8,8,,\n800,8,8,6,Yes\n800,8,8,1,no\n"
	table := read(t, text)
	want := []readings.Row{{Speed: 800, Shown: 8, Locked: 8}, {Speed: 800, Shown: 8, Locked: 8, Wire: 6, Confirmed: true},
		{Speed: 800, Shown: 8, Locked: 8, Wire: 1}}
	if fmt.Sprint(table.Rows) != fmt.Sprint(want) {
		t.Errorf("rows %+v", table.Rows)
	}
	var b strings.Builder
	if err := table.Write(&b); err != nil {
		t.Fatal(err)
	}
	if again := read(t, b.String()); fmt.Sprint(again.Rows) != fmt.Sprint(want) {
		t.Errorf("written and read again: %+v\n%s", again.Rows, b.String())
	}
	for _, c := range []struct{ line, says string }{
		{"800,8,8,2.5,", `readings.csv:2:9: wire "2.5" is no cylinder: 2.5; write the number of the cylinder`},
		{"800,8,8,0,", "is no cylinder"},
		{"800,8,8,25,", "is no cylinder"},
		{"800,8,8,2,perhaps", `confirmed "perhaps" is neither yes nor no; write yes`},
	} {
		_, err := readings.Read(strings.NewReader("rpm,shown_deg,locked_deg,wire,confirmed\n"+c.line+"\n"), "readings.csv")
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.line, err)
		}
	}
}
