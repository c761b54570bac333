package livebench

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/bench"
	"phasewright/web/page"
)

// trace keeps what the signals did over the last cycle of 720°, by the damper's own marks.
type trace struct{ events []passed }

// passed is one event with the crank's way since the bench was set up, degrees.
type passed struct {
	at       float64
	kind     string
	high     bool
	cylinder int
}

// The parts of the drawing of signals, in its own units.
const (
	traceLeft, traceWide = 46.0, 294.0
	crankLow, crankHigh  = 18.0, 5.0
	camLow, camHigh      = 39.0, 26.0
	coilLow, coilHigh    = 60.0, 49.0
	sparkTop             = 45.0
	mostTraced           = 400
)

// add takes in the events of one step that ended in st and began at before. An event knows its place on the cycle only:
// going back from the end, each lies less than a cycle before the one after it.
func (t *trace) add(st *bench.State, before float64) {
	if len(st.Events) == 0 && st.TurnedDeg-before < 720 {
		t.forget(st.TurnedDeg)
		return
	}
	fresh := make([]passed, 0, len(st.Events))
	at, place := st.TurnedDeg, st.CrankDeg
	for i := len(st.Events) - 1; i >= 0; i-- {
		e := &st.Events[i]
		back := math.Mod(place-e.CrankDeg+720, 720)
		if back > 719.99 {
			back = 0
		}
		at, place = at-back, e.CrankDeg
		if e.Kind == "mark" {
			continue // the true top dead centre is nobody's to see
		}
		fresh = append(fresh, passed{at, e.Kind, e.High, e.Cylinder})
	}
	slices.Reverse(fresh)
	t.events = append(t.events, fresh...)
	t.forget(st.TurnedDeg)
}

// forget drops what is more than a cycle old.
func (t *trace) forget(now float64) {
	keep := 0
	for keep < len(t.events) && t.events[keep].at <= now-720 {
		keep++
	}
	keep = max(keep, len(t.events)-mostTraced)
	if keep > 0 {
		t.events = append(t.events[:0], t.events[keep:]...)
	}
}

// onAxis is where on the axis an event stands: degrees 0…720 from a passing of the zero mark, by the marks as one sees
// them.
func (r *rig) onAxis(at float64) float64 {
	x := math.Mod(at-r.base.ring, 720)
	if x < 0 {
		x += 720
	}
	return x
}

// signalLines are the signals as the page draws them.
type signalLines struct {
	CrankLine string       `json:"crankLine"` // path data, as the other lines
	CamLine   string       `json:"camLine"`
	CoilLine  string       `json:"coilLine"`
	SparkLine string       `json:"sparkLine"`
	Labels    [][2]string  `json:"labels"` // place, tower or plug
	Sparks    [][2]float64 `json:"sparks"` // crank's way modulo 720, tower in firing order
}

// step is a change of level at a place on the axis.
type step struct {
	x    float64
	high bool
}

// drawTrace draws the last cycle.
func (r *rig) drawTrace() signalLines {
	var crank, cam, coil []step
	d := signalLines{Labels: [][2]string{}, Sparks: [][2]float64{}}
	var spark strings.Builder
	names := r.sparkNames()
	for _, e := range r.trace.events {
		x := r.onAxis(e.at)
		switch e.kind {
		case "crank edge":
			crank = append(crank, step{x, e.high})
		case "cam edge":
			cam = append(cam, step{x, e.high})
		case "charge":
			coil = append(coil, step{x, true})
		case "cut":
			coil = append(coil, step{x, false})
		case "spark":
			at := traceX(x)
			spark.WriteString("M" + at + " " + short(coilLow, 1) + "V" + short(sparkTop, 1))
			d.Labels = append(d.Labels, [2]string{at, names(e.cylinder)})
			way := math.Mod(e.at-r.base.start, 720)
			if way < 0 {
				way += 720
			}
			d.Sparks = append(d.Sparks, [2]float64{rounded(way, 10), float64(r.towerAt(e.at - r.base.start))})
		}
	}
	d.SparkLine = spark.String()
	d.CrankLine = squareWave(crank, crankLow, crankHigh, level(r.state.CrankLamp))
	d.CamLine = squareWave(cam, camLow, camHigh, level(r.state.CamLamp))
	d.CoilLine = squareWave(coil, coilLow, coilHigh, levelLow)
	return d
}

// restLevel is where a line without edges lies.
type restLevel int

const (
	levelNone restLevel = iota // no signal: no line
	levelLow
	levelHigh
)

func level(g bench.Glow) restLevel {
	switch g {
	case bench.GlowHigh:
		return levelHigh
	case bench.GlowLow:
		return levelLow
	}
	return levelNone
}

// squareWave draws levels over one cycle; the line begins as it ends.
func squareWave(steps []step, low, high float64, rest restLevel) string {
	var b strings.Builder
	y := func(up bool) string {
		if up {
			return short(high, 1)
		}
		return short(low, 1)
	}
	end := "H" + short(traceLeft+traceWide, 1)
	if len(steps) == 0 {
		if rest == levelNone {
			return ""
		}
		return "M" + short(traceLeft, 1) + " " + y(rest == levelHigh) + end
	}
	slices.SortStableFunc(steps, func(a, b step) int { return cmp.Compare(a.x, b.x) })
	now := steps[len(steps)-1].high
	b.WriteString("M" + short(traceLeft, 1) + " " + y(now))
	for _, s := range steps {
		if s.high == now {
			continue
		}
		now = s.high
		b.WriteString("H" + traceX(s.x) + "V" + y(now))
	}
	b.WriteString(end)
	return b.String()
}

func traceX(x float64) string { return short(traceLeft+x*traceWide/720, 1) }

// short prints a number for a drawing with at most so many decimals.
func short(v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// signalRow is one line of the table that says in figures what the traces show.
type signalRow struct{ Name, Count, At string }

// rowPlaces is how many places a row lists.
const rowPlaces = 16

// signalRows lists the last cycle: places in degrees from a passing of the zero mark, by the marks.
func (r *rig) signalRows() []signalRow {
	row := func(name, kind string, counts func(passed) bool) signalRow {
		var at []float64
		for _, e := range r.trace.events {
			if e.kind == kind && counts(e) {
				at = append(at, r.onAxis(e.at))
			}
		}
		slices.Sort(at)
		var words []string
		for _, x := range at[:min(len(at), rowPlaces)] {
			words = append(words, page.Figure(x, 0)+"°")
		}
		if len(at) > rowPlaces {
			words = append(words, "…")
		}
		return signalRow{name, strconv.Itoa(len(at)), cmp.Or(strings.Join(words, " "), "none")}
	}
	rises, falls := func(e passed) bool { return e.high }, func(e passed) bool { return !e.high }
	rows := []signalRow{row("crank rises", "crank edge", rises), row("crank falls", "crank edge", falls)}
	if r.config.CamFitted {
		rows = append(rows, row("cam rises", "cam edge", rises), row("cam falls", "cam edge", falls))
	}
	rows = append(rows, row("coil on", "charge", func(passed) bool { return true }))
	var sparks []string
	names := r.sparkNames()
	for _, e := range r.trace.events {
		if e.kind == "spark" {
			sparks = append(sparks, page.Figure(r.onAxis(e.at), 0)+"° on "+names(e.cylinder))
		}
	}
	listed := strings.Join(sparks[:min(len(sparks), rowPlaces)], ", ")
	return append(rows, signalRow{"sparks", strconv.Itoa(len(sparks)), cmp.Or(listed, "none")})
}
