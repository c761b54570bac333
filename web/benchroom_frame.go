package web

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"phasewright/bench"
)

// field is one thing the page is told, its value in JSON.
type field struct{ name, value string }

// Speeds in crank rpm. Above blurred nobody can follow a mark with the eye; above traceOften the signals are redrawn less often.
const (
	blurred    = 45
	followed   = 320 // up to here the distributor is drawn as fast as it turns: the starter's speeds
	traceOften = 420
)

// traceEvery says at which states the signals are sent along: a picture that repeats itself need not come fifteen times a second.
func traceEvery(rpm float64) int {
	switch {
	case rpm < blurred:
		return 1
	case rpm < traceOften:
		return 2
	}
	return 4
}

// slowed says how many times slower than it is the distributor is drawn, so that the eye can follow: on the starter not at all, above
// that at most one turn of the shaft a second.
func slowed(rpm float64) int {
	if rpm < followed {
		return 1
	}
	for _, k := range []int{2, 5, 10, 20, 50} {
		if rpm/120/float64(k) <= 1 {
			return k
		}
	}
	return 100
}

func slowedWords(slow int, rpm float64) string {
	switch {
	case rpm == 0:
		return "at rest"
	case slow == 1:
		return "as it turns"
	}
	return strconv.Itoa(slow) + " × slower"
}

// frame gives what is to be sent: everything there is, made only where somebody needs it, and what changed since it was last called ("" for nothing).
func (r *room) frame() (all func() string, changed string) {
	if r.sent == nil {
		r.sent = map[string]string{}
	}
	fields := r.fields()
	var b strings.Builder
	for _, f := range fields {
		if r.sent[f.name] == f.value {
			continue
		}
		if r.sent[f.name] = f.value; f.name == "t" {
			continue // the time alone is no news
		}
		if b.Len() == 0 {
			b.WriteString(`data: {"t":` + short(r.state.TimeS, 3))
		}
		b.WriteString(`,"` + f.name + `":` + f.value)
	}
	if b.Len() > 0 {
		b.WriteString("}\n\n")
	}
	sent := r.sent
	return func() string {
		var b strings.Builder
		b.WriteString(`data: {"all":true`)
		for _, name := range fieldOrder(fields, sent) {
			b.WriteString(`,"` + name + `":` + sent[name])
		}
		b.WriteString("}\n\n")
		return b.String()
	}, b.String()
}

// fieldOrder is the names of all that was ever sent, those of now first.
func fieldOrder(now []field, sent map[string]string) []string {
	names := make([]string, 0, len(sent))
	for _, f := range now {
		names = append(names, f.name)
	}
	for _, late := range []string{"crankLine", "camLine", "coilLine", "sparkLine", "labels", "sparks", "md"} {
		if _, ok := sent[late]; ok && !hasField(now, late) {
			names = append(names, late)
		}
	}
	return names
}

func hasField(all []field, name string) bool {
	for _, f := range all {
		if f.name == name {
			return true
		}
	}
	return false
}

// fields is the bench as the page is told of it. Angles are degrees on the screen, clockwise positive; a is the crank's way in crank degrees.
func (r *room) fields() []field {
	st := &r.state
	f := make([]field, 0, 48)
	add := func(name, value string) { f = append(f, field{name, value}) }
	number := func(name string, v float64, places int) { add(name, short(v, places)) }
	text := func(name, v string) { add(name, quoted(v)) }

	number("t", st.TimeS, 3)
	way := r.samples
	if len(way) == 0 || st.SpeedRPM == 0 {
		way = []float64{r.turned()}
	}
	parts := make([]string, len(way))
	for i, a := range way {
		parts[i] = short(a, 1)
	}
	add("a", "["+strings.Join(parts, ",")+"]")
	rpm := r.mean.rpm()
	if st.SpeedRPM == 0 {
		rpm = 0
	}
	number("rate", math.Round(rpm*6), 0)
	slow := slowed(rpm)
	number("slow", float64(slow), 0)
	text("slowed", slowedWords(slow, rpm))
	housing, wheel, rotor, damper := r.offsets()
	number("housing", housing, 2)
	number("wheel", wheel, 1)
	number("rotor", rotor, 1)
	number("damper", damper, 1)
	number("hd", st.HousingDeg, 1)
	number("axis", round720(r.base.start-r.base.ring), 1)
	text("turned", housingWords(st.HousingDeg))
	text("rpm", figure(roundTo(rpm, 10), 0))
	text("volts", figure(st.SupplyV, 1))
	look, shows := r.strobe(rpm)
	text("look", look)
	if look == "lit" {
		number("frozen", round360(-r.base.crank**st.FrozenDeg), 1)
	} else {
		add("frozen", "null")
	}
	text("shows", shows)
	text("tacho", tachoWords(st))
	text("mark", r.markWords(look, shows))
	if rpm <= blurred {
		number("md", math.Round(r.markDeg()), 0)
	}
	text("lookWords", map[string]string{"lit": "as the flash shows it", "blur": "too fast for the eye: use the light", "still": ""}[look])

	text("crank", r.lamp(st.CrankLamp, "crank edge", rpm))
	if r.config.CamFitted {
		text("cam", r.lamp(st.CamLamp, "cam edge", rpm))
	}
	text("sync", st.Sync)
	for _, s := range []struct {
		name string
		is   bench.Switch
	}{{"key", st.Key}, {"starter", st.Starter}, {"fuel", st.Fuel}, {"power", st.SparkPower}, {"clamp", st.Clamp}, {"light", st.Light}} {
		text(s.name, string(s.is))
	}
	number("lever", st.LeverRPM, 0)
	text("leverWords", figure(st.LeverRPM, 0))
	add("runs", strconv.FormatBool(st.Runs && rpm > 0.4*float64(r.config.Engine.Idle)))

	if every := traceEvery(rpm); r.ticks%every == 0 {
		d := r.drawTrace()
		text("crankLine", d.Crank)
		text("camLine", d.Cam)
		text("coilLine", d.Coil)
		text("sparkLine", d.Spark)
		f = append(f, field{"labels", asJSON(d.Labels)}, field{"sparks", asJSON(d.Sparks)})
	}
	if r.notes > 0 {
		add("heard", asJSON([]any{r.notes, r.heard.What}))
	}
	if n := len(r.done); n > 0 {
		text("did", r.done[n-1].Who+" "+r.done[n-1].What)
	}
	number("watching", float64(len(r.watchers)), 0)
	text("holder", r.hold.who)
	number("held", float64(r.hold.number), 0)
	text("faults", r.hides())
	number("version", float64(r.version), 0)
	number("scene", float64(r.scene), 0)
	return f
}

// strobe says how the damper is seen: still (follow the crank), blurred, or lit by the light; and what the tape then shows.
func (r *room) strobe(rpm float64) (look, shows string) {
	st := &r.state
	switch {
	case st.FrozenDeg != nil && st.ShownDeg != nil:
		return "lit", figure(roundTo(*st.ShownDeg, 0.5), 1) + "°"
	case rpm > blurred:
		return "blur", "–"
	}
	return "still", "–"
}

// lamp is what a pickup's lamp does, in a word.
func (r *room) lamp(g bench.Glow, kind string, rpm float64) string {
	if r.state.Key != bench.On {
		return "no power"
	}
	if rpm < blurred {
		return string(g)
	}
	for i := len(r.trace.events) - 1; i >= 0; i-- {
		if r.trace.events[i].kind == kind {
			return "pulses"
		}
	}
	return string(g)
}

// housingWords says how far the housing has been turned.
func housingWords(h float64) string {
	switch text := figure(math.Abs(h), 1); {
	case text == figure(0, 1):
		return "as found"
	case h > 0:
		return text + "° against the rotor"
	default:
		return text + "° with the rotor"
	}
}

func tachoWords(st *bench.State) string {
	if st.TachoRPM == 0 {
		return "–"
	}
	return figure(st.TachoRPM, 0)
}

// markWords says where the zero mark stands, for a crank that one can see.
func (r *room) markWords(look, shows string) string {
	switch look {
	case "lit":
		return "by the flash " + shows + " before TDC"
	case "blur":
		return "turns too fast to be read"
	}
	d := r.markDeg()
	switch text := figure(math.Abs(d), 1); {
	case text == figure(0, 1):
		return "zero mark at the pointer"
	case d > 0:
		return "zero mark " + text + "° before the pointer"
	default:
		return "zero mark " + text + "° past the pointer"
	}
}

func roundTo(v, unit float64) float64 { return math.Round(v/unit) * unit }

func quoted(s string) string { return asJSON(s) }

// asJSON prints what is known to be printable.
func asJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "null"
	}
	return string(b)
}

// MarshalJSON keeps labels short on the line.
func (l traceLabel) MarshalJSON() ([]byte, error) {
	return json.Marshal([2]string{l.X, l.Text})
}
