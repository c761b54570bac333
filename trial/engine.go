package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"phasewright/bench"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// dice draw invented figures.
type dice struct{ *rand.Rand }

// roll gives the dice of one purpose for one engine: the same seed and purpose fall the same way.
func roll(seed, purpose uint64) dice { return dice{rand.New(rand.NewPCG(seed, purpose))} }

func (d dice) between(a, b float64) float64 { return a + (b-a)*d.Float64() }

// logBetween draws as many small figures as large ones.
func (d dice) logBetween(a, b float64) float64 { return a * math.Pow(b/a, d.Float64()) }
func (d dice) one(share float64) bool          { return d.Float64() < share }
func (d dice) sign() float64                   { return float64(1 - 2*d.IntN(2)) }
func (d dice) round(a, b, step float64) float64 {
	return math.Round(d.between(a, b)/step) * step
}

func pick[T any](d dice, of ...T) T { return of[d.IntN(len(of))] }

// oddFire are intervals of engines that do not fire evenly, crank degrees (common practice, one invented).
var oddFire = [][]float64{
	{270, 450}, {315, 405}, {180, 180, 360}, {180, 270, 180, 90}, {110, 250, 110, 250},
	{90, 150, 90, 150, 90, 150}, {110, 130, 110, 130, 110, 130},
}

// built is a random engine: its card, and the bench's engine as metal and drive really stand.
type built struct {
	card  *jobcard.Card
	sheet *sheet.Sheet
	c     bench.Config
	model *bench.Model
}

// needs is what an engine must have, whatever else is drawn.
type needs struct {
	zero          quantity.Crank // half-width within which the card states the zero mark proven; 0: it does not
	reluctor, cam bool
}

// build draws an engine that a careful technician would take on: the sheet has no stop, its starter turns it, and
// without a fault it is sound. want says what it must have for the faults that it is to get. All figures are invented.
func build(seed uint64, need needs, want ...bench.Fault) (*built, error) {
	need.reluctor = slices.ContainsFunc(want, func(f bench.Fault) bool { return f.Needs == bench.NeedsCoilVR })
	var err error
	for try := range uint64(60) {
		d := roll(seed, 0xc0ffee+try)
		var b *built
		if b, err = draw(d, need); err != nil {
			continue
		}
		if slices.ContainsFunc(want, func(f bench.Fault) bool { return !f.Fits(b.c) }) {
			err = fmt.Errorf("the engine has not what %s needs", want[0].Name)
			continue
		}
		if bad := b.truth(bench.Faults{}); len(bad.broken) > 0 {
			err = fmt.Errorf("unsound as built: %v", bad.broken)
			continue
		}
		return b, nil
	}
	return nil, fmt.Errorf("no engine of seed %d – the last one drawn: %w", seed, err)
}

func draw(d dice, need needs) (*built, error) {
	text := cardText(d, need)
	b := &built{}
	var err error
	if b.card, err = jobcard.Parse("card.yaml", []byte(text)); err != nil {
		return nil, fmt.Errorf("%w\n%s", err, text)
	}
	if b.sheet, err = sheet.Make(b.card); err != nil {
		return nil, err
	}
	for _, it := range b.sheet.Items {
		if it.Verdict == sheet.Stop {
			return nil, fmt.Errorf("the sheet stops: %s: %s", it.Title, it.Because)
		}
	}
	if b.c, err = bench.FromCard(b.card); err != nil {
		return nil, err
	}
	c := &b.c
	if _, err = c.CrankOver(); err != nil {
		return nil, err
	}
	// What the card only plans with is what it is; metal and drive have their spread. Assumed.
	c.Crank.Delay = c.Controller.Allowance
	c.Distributor.Scatter = quantity.Crank(d.between(0.02, 0.12))
	c.Crank.Shift = make([]quantity.Shaft, c.Engine.Cylinders)
	for i := range c.Crank.Shift {
		c.Crank.Shift[i] = quantity.Shaft(d.between(-0.04, 0.04))
	}
	c.Light.Resolution, c.Light.Eye, c.Light.Flashes = pick(d, quantity.Crank(0.5), 0.5, 1, 0.25), 0.3, 24
	b.model, err = bench.NewModel(*c)
	return b, err
}

// cardText writes a job card as somebody might who measured the engine.
func cardText(d dice, need needs) string {
	n := pick(d, 1, 2, 2, 3, 3, 4, 4, 4, 5, 6, 6, 6, 7, 8, 8, 8, 9, 10, 12, 14, 16)
	intervals := make([]float64, n)
	for i := range intervals {
		intervals[i] = engine.CycleDegrees / float64(n)
	}
	if d.one(0.15) {
		intervals = pick(d, oddFire...)
		n = len(intervals)
	}
	least := slices.Min(intervals)
	order := []string{"1"}
	for _, v := range d.Perm(n - 1) {
		order = append(order, fmt.Sprint(v+2))
	}
	most := math.Round(min(d.between(22, 36), least-19))
	lead := math.Round(min(d.between(most+13, most+24), least-4))
	low := math.Round(d.between(0, 4))
	locked, cranking := math.Round(d.between(low+2, min(16, most))), math.Round(d.between(low, min(14, most)))
	reluctor := need.reluctor || d.one(0.25)
	kind, width := pick(d, "hall", "hall", "optical", "inductive proximity"), d.round(5, min(16, 0.17*least), 0.5)
	level, edge := pick(d, "high", "low"), pick(d, "rising", "falling")
	if reluctor {
		kind, width, level, edge = "variable reluctance", d.round(3, min(8, 0.09*least), 0.5), "high", "falling"
	}
	idle, redline, starter := d.round(600, 950, 10), d.round(3800, 6800, 100), d.round(150, 260, 5)
	use, coils := "spark and signal", "one"
	even := !slices.ContainsFunc(intervals, func(v float64) bool { return v != least })
	switch {
	case n > 8 || d.one(0.35):
		use, coils = "signal only", "per cylinder"
		if even && n%2 == 0 && d.one(0.4) {
			coils = "companion pairs"
		}
	}
	bore := d.between(74, 102)
	stroke := bore * d.between(0.85, 1.1)
	litre := math.Pi / 4 * bore * bore * stroke * float64(n) * 1e-6
	inertia := litre * d.between(0.09, 0.13) * max(1, 4/float64(n))
	allowance := d.round(30, 180, 1)
	shortest := 120e3 / redline * least / engine.CycleDegrees // ms between two firings, at the redline
	dwell := min(d.between(1.8, 3.4), 0.9*shortest-0.6)

	var b strings.Builder
	line := func(format string, v ...any) { fmt.Fprintf(&b, format+"\n", v...) }
	odd := ""
	if !even {
		var s []string
		for _, v := range intervals {
			s = append(s, fmt.Sprintf("%g deg", v))
		}
		odd = ", intervals: [" + strings.Join(s, ", ") + "]"
	}
	line(`job: {name: "drawn for the sweep, invented"}`)
	line("engine: {cylinders: %d, firing_order: [%s]%s, rotation: %s, bore: %.1f mm, stroke: %.1f mm, rod: %.1f mm,",
		n, strings.Join(order, ", "), odd, pick(d, "clockwise", "counterclockwise"), bore, stroke,
		stroke*d.between(1.6, 1.9))
	line("  compression_ratio: %.1f, inertia: %.3f kg.m2, cranking_speed: %.0f rpm, idle_speed: %.0f rpm, "+
		"redline: %.0f rpm}", d.between(7.5, 10), inertia, starter, idle, redline)
	proven := ""
	if need.zero > 0 {
		proven = fmt.Sprintf(", zero_mark: %g deg", float64(need.zero))
	}
	line("damper: {diameter: %.0f mm ± 0.3 mm%s}", d.between(135, 190), proven)
	drive := ""
	if d.one(0.7) {
		drive = fmt.Sprintf(", gear_teeth: %d, helix_angle: %.0f deg, gear_diameter: %.0f mm, drop_travel: %.0f mm, "+
			"gear_material: bronze, cam_material: billet steel", 9+d.IntN(7), d.between(20, 40), d.between(26, 36),
			d.between(10, 16))
	}
	line("distributor: {use: %s, rotation: %s, rotor_tip: %.0f mm, terminal: %.0f mm, radius: %.0f mm, "+
		"rotor_play: %.1f deg%s}", use, pick(d, "clockwise", "counterclockwise"), d.between(8, 11), d.between(6, 9),
		d.between(25, 33), d.between(0.3, 1), drive)
	line("signals:")
	line("  crank: {kind: %s, vane_width: %g deg, in_vane: %s, active_edge: %s, lead: %g deg}", kind, width, level,
		edge, lead)
	cam := camText(d, intervals, lead, reluctor)
	if use == "spark and signal" && d.one(0.07) && !need.cam {
		cam = "kind: none"
	}
	line("  cam: {%s}", cam)
	plan := ""
	if d.one(0.5) { // otherwise left out, and the allowance is planned with
		plan = fmt.Sprintf(", signal_delay: %.0f us ± 60 us", max(allowance+d.between(-40, 40), 61))
	}
	line("controller: {advance: {cranking: %g deg, locked: %g deg, min: %g deg, max: %g deg},", cranking, locked, low,
		most)
	line("  delay_allowance: %g us, delay_step: %.0f us%s, latency: 50 us ± 30 us}", allowance, d.between(3, 14), plan)
	output := "coil driver"
	if d.one(0.3) {
		output = "spark box"
	}
	line("ignition: {output: %s, coils: %s, dwell: %.2f ms}", output, coils, dwell)
	if d.one(0.4) {
		line("light: {checked: yes}")
	}
	line("tolerance: %g deg", pick(d, 1, 1, 1.5, 2))
	return b.String()
}

// camText is a cam pickup whose window ends far from every active crank edge.
func camText(d dice, intervals []float64, lead float64, reluctor bool) string {
	if reluctor && d.one(0.5) {
		return "kind: variable reluctance, vane_width: 8 deg, active_edge: falling, in_vane: high"
	}
	least := slices.Min(intervals)
	at := lead + intervals[len(intervals)-1]/2 // where a card that does not say has it: midway between two crank edges
	best, width := -1.0, 0.0
	for range 40 {
		w, top, clear := d.round(15, 90, 1), 0.0, 720.0
		for _, v := range intervals {
			for _, end := range []float64{-at + 2*w, -at - 2*w} {
				clear = min(clear, math.Abs(math.Remainder(end-(top-lead), 720)))
			}
			top += v
		}
		if clear > best {
			best, width = clear, w
		}
		if clear > 0.3*least {
			break
		}
	}
	return fmt.Sprintf("kind: %s, vane_width: %g deg, active_edge: %s, in_vane: %s", pick(d, "hall", "hall", "optical"),
		width, pick(d, "rising", "falling"), pick(d, "high", "low"))
}
