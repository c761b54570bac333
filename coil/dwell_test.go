package coil_test

import (
	"encoding/csv"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/coil"
	"phasewright/engine"
	"phasewright/quantity"
)

// primary is the coil of an invented workboat engine.
func primary() coil.Primary {
	return coil.Primary{
		Resistance: 0.55, Iron: must(coil.NewSaturating(5.2e-3, 8)), Temperature: 90, Wiring: 0.05, DriverDrop: 0.4, Target: 7, Supply: 13.8,
		DriverLimit: 12, HeatLimit: 40, OffTime: 1000, Kept: coil.Band[float64]{Low: 0.5, High: 0.7},
		Secondary: coil.Band[quantity.Capacitance]{Low: 50e-12, High: 80e-12},
	}
}

func firings(t testing.TB, n int, intervals ...quantity.Crank) *engine.Firings {
	t.Helper()
	order := make([]int, n)
	for k := range order {
		order[k] = k + 1
	}
	f, err := engine.NewFirings(order, intervals)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Between firings of N cylinders 120/(N·n) s (by definition): 8 at 7500 rpm: 2.0 ms; 8 at 6000: 2.5; 6 at 4200: 4.762.
// A companion pair fires once a turn, a coil per cylinder once in two.
func TestIntervals(t *testing.T) {
	one := coil.OneCoil(firings(t, 8))
	near(t, "eight at 7500", one.Interval(7500).Milliseconds(), 2, 1e-12)
	near(t, "eight at 6000", one.Interval(6000).Milliseconds(), 2.5, 1e-12)
	near(t, "six at 4200", coil.OneCoil(firings(t, 6)).Interval(4200).Milliseconds(), 4.762, 0.0005)
	pairs := must(coil.CompanionPairs(firings(t, 8)))
	near(t, "pair at 6000", pairs.Interval(6000).Milliseconds(), 10, 1e-12)
	near(t, "cylinder at 6000", coil.PerCylinder(firings(t, 8)).Interval(6000).Milliseconds(), 20, 1e-12)
	if pairs.Coils != 4 || !pairs.Wasted {
		t.Errorf("%+v", pairs)
	}
	near(t, "fits", float64(one.Fits(6000, 1000)), 1500, 1e-9)
	near(t, "no room", float64(one.Fits(20000, 1000)), 0, 0)
	near(t, "2.0 ms fills the interval of an eight", float64(one.SpeedFor(2000, 0)), 7500, 1e-9)
	near(t, "sparks a second", one.PerSecond(6000), 400, 1e-9)

	// odd fire, 90° vee six: 90 and 150° by turns; the shortest decides, the mean heats
	odd := firings(t, 6, 90, 150, 90, 150, 90, 150)
	s := coil.OneCoil(odd)
	near(t, "shortest", float64(s.Shortest), 90, 0)
	near(t, "mean", float64(s.Mean), 120, 0)
	if _, err := coil.CompanionPairs(odd); err == nil {
		t.Error("this odd-fire six has no companions 360° apart")
	}
	if _, err := coil.CompanionPairs(firings(t, 3)); err == nil {
		t.Error("a three has no companions")
	}
}

// A spark box of an invented maker, who states 0.9 to 2.6 ms and a pause of 0.25 ms. By arithmetic, 2.0 ms fill an
// eight's interval of 15/n s at 7500 rpm.
func TestSparkBoxTrigger(t *testing.T) {
	one := coil.OneCoil(firings(t, 8))
	box := func(width quantity.Time) coil.Box {
		return coil.Box{Width: width, Shortest: 900, Longest: 2600, Rest: 250}
	}
	b := box(2000)
	near(t, "full", float64(b.Full(one)), 7500, 1e-9)
	near(t, "crowded from", float64(b.Crowds(one)), 90/(6*2.25e-3), 1e-9)
	for _, c := range []struct {
		width quantity.Time
		at    quantity.Speed
		want  coil.TriggerVerdict
	}{
		{2000, 6000, coil.TriggerFits}, {900, 6000, coil.TriggerFits}, {850, 6000, coil.TriggerNarrow}, {2700, 3000, coil.TriggerWide},
		{2000, 7500, coil.TriggerMerges}, {2000, 7400, coil.TriggerCrowded}, {2000, 9000, coil.TriggerMerges},
	} {
		if got := box(c.width).At(one, c.at); got != c.want {
			t.Errorf("%v at %v: %v, want %v", c.width, c.at, got, c.want)
		}
	}
	if box(-1).Check() == nil || (coil.Box{Width: 2000, Shortest: 2600, Longest: 900}).Check() == nil || b.Check() != nil {
		t.Error("check of the trigger width")
	}
	// A limit that nobody stated judges nothing: only pulses that run together do.
	open := coil.Box{Width: 50}
	if got := open.At(one, 6000); got != coil.TriggerFits {
		t.Errorf("no limits stated: %v", got)
	}
	open.Width = 2600
	if got := open.At(one, 6000); got != coil.TriggerMerges { // 2.5 ms between firings
		t.Errorf("no limits stated, too wide for the interval: %v", got)
	}
}

// The dwell table: less dwell with more supply; the row's dwell gives the row's current; out of reach is said and
// never infinite.
func TestDwellTable(t *testing.T) {
	p := primary()
	supplies := coil.Supplies6To16()
	if len(supplies) != 21 || supplies[0] != 6 || supplies[20] != 16 {
		t.Fatalf("supplies %v", supplies)
	}
	table := p.DwellTable(supplies)
	for k, r := range table {
		c := p.Hot(r.Supply)
		near(t, "current after the dwell", float64(c.CurrentAt(r.Dwell)), float64(r.Reaches), 1e-9)
		// by hand: (supply − 0.4 V)/(0.55·(1+0.00393·70)+0.05 Ω)
		near(t, "final", float64(r.Final), (float64(r.Supply)-0.4)/(0.55*1.2751+0.05), 1e-9)
		if r.Target != (r.Final > 7) {
			t.Errorf("%v: final %v, target %v", r.Supply, r.Final, r.Target)
		}
		if !r.Target {
			near(t, "nine tenths", float64(r.Reaches), 0.9*float64(r.Final), 1e-12)
		}
		if k > 0 && r.Target && table[k-1].Target && r.Dwell >= table[k-1].Dwell {
			t.Errorf("%v needs no less than %v", r.Supply, table[k-1].Supply)
		}
	}
}

// A target above the last point of the coil's table is marked in every row that reaches it, and one below it in none.
func TestDwellTableMarksWhatIsNotKnown(t *testing.T) {
	p := primary()
	p.Iron = must(coil.NewCurve([]coil.CurvePoint{{Current: 0, Inductance: 5e-3}, {Current: 6, Inductance: 4e-3}}))
	for target, want := range map[quantity.Current]bool{5.5: false, 6.5: true} {
		p.Target = target
		for _, r := range p.DwellTable([]quantity.Voltage{12, 14}) {
			if r.Beyond != want {
				t.Errorf("target %v at %v: beyond %v", target, r.Supply, r.Beyond)
			}
		}
	}
}

func TestDwellCSV(t *testing.T) {
	p := primary()
	p.Target = 10
	table := p.DwellTable([]quantity.Voltage{6, 12, 14})
	var b strings.Builder
	if err := coil.WriteDwell(&b, table); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(b.String(), "supply_v,dwell_us,current_a,target_reached,final_a,stored_mj,note\r\n") {
		t.Errorf("header: %q", b.String())
	}
	rows, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatal(rows, err)
	}
	if rows[1][3] != "no" || rows[3][3] != "yes" || rows[1][6] == "" || rows[3][6] != "" {
		t.Errorf("%v", rows)
	}
	near(t, "dwell", number(t, rows[3][1]), float64(table[2].Dwell), 0.5)
	near(t, "energy", number(t, rows[3][5]), 1e3*float64(table[2].Stored), 0.005)
}

// Load by hand for a linear coil: over one charge ∫i dt = (V·t − L·i)/R and ∫R·i² dt = V·∫i dt − ½·L·i²; times sparks a
// second. Heat is the winding's share.
func TestLoadByHand(t *testing.T) {
	p := primary()
	p.Iron, p.Temperature, p.Wiring, p.DriverDrop = must(coil.Linear(5.2e-3)), 20, 0.11, 0
	p.Kept = coil.Band[float64]{Low: 0.4, High: 0.7}
	s := coil.OneCoil(firings(t, 6))
	l := p.LoadAt(p.Hot(13.2), s, 3000, 2500)
	const v, r, tt = 13.2, 0.66, 2.5e-3
	i := v / r * (1 - math.Exp(-r*tt/5.2e-3))
	passed := (v*tt - 5.2e-3*i) / r
	heat := v*passed - 0.5*5.2e-3*i*i
	near(t, "current", float64(l.Current), i, 1e-12)
	near(t, "mean current", float64(l.Mean), 150*passed, 1e-9)     // 6·3000/120 = 150 sparks a second
	near(t, "copper", float64(l.Copper), 150*heat*0.55/0.66, 1e-9) // the rest heats the wiring
	near(t, "duty", l.Duty, 150*tt, 1e-12)
	near(t, "lost at most", float64(l.Lost.High), 150*0.6*0.5*5.2e-3*i*i, 1e-9) // kept 0.4
	near(t, "lost at least", float64(l.Lost.Low), 150*0.3*0.5*5.2e-3*i*i, 1e-9) // kept 0.7
	near(t, "heat", float64(l.Heat().High), float64(l.Copper+l.Lost.High), 1e-12)
	p.DriverDrop = 1.5 // the driver's heat: its drop times the mean current
	d := p.LoadAt(p.Hot(13.2), s, 3000, 2500)
	near(t, "driver", float64(d.Driver), 1.5*float64(d.Mean), 1e-12)
	p.DriverDrop = 0
	// at 12000 rpm the interval is 1.667 ms: 0.667 ms are left
	near(t, "what fits", float64(p.LoadAt(p.Hot(13.2), s, 12000, 2500).Applied), 1e4/6-1000, 1e-9)
}

// Both speeds of Reach are where it changes: a hair above Full the needed dwell no longer fits, a hair above Cooks the
// heat passes the limit.
func TestReachIsTheEdge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := primary()
		p.HeatLimit = quantity.Power(rapid.Float64Range(5, 60).Draw(t, "limit"))
		s := coil.Share{Shortest: 90, Mean: 90, Coils: 1}
		c := p.Hot(quantity.Voltage(rapid.Float64Range(8, 16).Draw(t, "supply")))
		dwell := quantity.Time(rapid.Float64Range(1500, 6000).Draw(t, "dwell"))
		r := p.ReachAt(c, s, dwell)
		if r.Full > 0 {
			if below, above := s.Fits(r.Full*0.999, p.OffTime), s.Fits(r.Full*1.001, p.OffTime); below < r.Needed || above >= r.Needed {
				t.Fatalf("needed %v, fits %v below and %v above", r.Needed, below, above)
			}
		}
		worst := quantity.Power(0)
		for n := quantity.Speed(200); n < 20000; n += 100 {
			worst = max(worst, p.LoadAt(c, s, n, dwell).Copper)
		}
		if math.IsInf(float64(r.Cooks), 1) {
			if worst > p.HeatLimit*1.001 {
				t.Fatalf("never cooks, yet %v against %v", worst, p.HeatLimit)
			}
			return
		}
		if below, above := p.LoadAt(c, s, r.Cooks*0.999, dwell).Copper, p.LoadAt(c, s, r.Cooks, dwell).Copper; below > p.HeatLimit || math.Abs(float64(above/p.HeatLimit)-1) > 1e-6 {
			t.Fatalf("limit %v, %v below, %v at the edge", p.HeatLimit, below, above)
		}
	})
}
