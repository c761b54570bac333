package livebench

import (
	"math"
	"strconv"
	"strings"

	"phasewright/bench"
	"phasewright/web/page"
)

// state is the bench as the page is told of it, sent whole. Angles are degrees on the screen, clockwise positive, as
// they stand at the last of A. The page is never told where the crank truly stands: marks that lie must be able to lie.
type state struct {
	A       []float64 `json:"a"`    // the crank's way in crank degrees, since the bench was set up
	Rate    float64   `json:"rate"` // crank degrees a second
	Slow    int       `json:"slow"`
	Slowed  string    `json:"slowed"`
	Housing float64   `json:"housing"`
	Wheel   float64   `json:"wheel"`
	Rotor   float64   `json:"rotor"`
	Damper  float64   `json:"damper"`
	Axis    float64   `json:"axis"` // place on the axis of the signals
	HD      float64   `json:"hd"`   // housing against the rotor
	MD      float64   `json:"md"`   // zero mark before the pointer, where the eye can follow it
	Turned  string    `json:"turned"`
	RPM     string    `json:"rpm"`
	Volts   string    `json:"volts"`
	Look    string    `json:"look"`
	Shows   string    `json:"shows"`
	Tacho   string    `json:"tacho"`
	Mark    string    `json:"mark"`

	LookWords string `json:"lookWords"`

	Crank      string       `json:"crank"`
	Cam        string       `json:"cam"`
	Sync       string       `json:"sync"`
	Key        bench.Switch `json:"key"`
	Starter    bench.Switch `json:"starter"`
	Fuel       bench.Switch `json:"fuel"`
	Power      bench.Switch `json:"power"`
	Clamp      bench.Switch `json:"clamp"`
	Light      bench.Switch `json:"light"`
	Lever      float64      `json:"lever"`
	LeverWords string       `json:"leverWords"`
	Runs       bool         `json:"runs"`
	Going      string       `json:"going"` // what the engine does, as an ear would tell
	Says       string       `json:"says"`  // speed and light in whole sentences, for whoever does not see the drawing
	signalLines
	means

	Notes    int       `json:"notes"` // heard so far
	Heard    string    `json:"heard"` // the last of them
	Did      string    `json:"did"`
	Watching int       `json:"watching"`
	Holder   string    `json:"holder"`
	Held     int       `json:"held"`
	Faults   string    `json:"faults"`
	Judged   bool      `json:"judged"`
	Towers   []string  `json:"towers"` // what stands on each, in firing order
	Asks     []askLine `json:"asks"`   // for the controls
	Version  int       `json:"version"`
	Scene    int       `json:"scene"`
}

// Speeds in crank rpm.
const (
	blurred  = 45  // above it nobody can follow a mark with the eye
	followed = 320 // up to here the distributor is drawn as fast as it turns: the starter's speeds
)

// slowed says how many times slower than it is the distributor is drawn, so that the eye can follow: on the starter not
// at all, above that at most one turn of the shaft a second.
func slowed(rpm float64) int {
	if rpm < followed {
		return 1
	}
	for _, k := range []int{2, 5, 10, 20, 50} {
		if shaftTurn(6*rpm) <= 360*float64(k) {
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

// now gives the bench as the page is told of it.
func (r *rig) now() state {
	st := &r.state
	rpm := r.mean.rpm()
	if st.SpeedRPM == 0 {
		rpm = 0
	}
	n := state{Rate: math.Round(rpm * 6), Slow: slowed(rpm),
		HD: rounded(st.HousingDeg, 10), Turned: housingWords(st.HousingDeg), Axis: rounded(r.onAxis(st.TurnedDeg), 10),
		RPM: page.Figure(roundTo(rpm, 10), 0), Volts: page.Figure(st.SupplyV, 1), Tacho: tachoWords(st),
		Crank: r.lamp(st.CrankLamp, "crank edge", rpm), Cam: r.lamp(st.CamLamp, "cam edge", rpm), Sync: st.Sync,
		Key: st.Key, Starter: st.Starter, Fuel: st.Fuel, Power: st.SparkPower, Clamp: st.Clamp, Light: st.Light,
		Lever: math.Round(st.LeverRPM), LeverWords: page.Figure(st.LeverRPM, 0),
		Runs: st.Runs && rpm > 0.4*float64(r.config.Engine.Idle), signalLines: r.drawTrace(), means: r.means(),
		Notes: r.notes, Heard: r.heard.What, Watching: len(r.watchers), Holder: r.hold.who, Held: r.hold.number,
		Faults: r.hides(), Judged: r.verdict != nil, Version: r.version, Scene: r.scene,
		Towers: r.towerNames(), Asks: []askLine{}}
	for _, a := range r.asks {
		n.Asks = append(n.Asks, askLine{a.number, a.who})
	}
	for _, a := range r.samples {
		n.A = append(n.A, rounded(a, 100))
	}
	if len(n.A) == 0 || st.SpeedRPM == 0 {
		n.A = []float64{rounded(r.turned(), 100)}
	}
	n.Slowed = slowedWords(n.Slow, rpm)
	n.Housing, n.Wheel, n.Rotor, n.Damper = r.angles()
	n.Look, n.Shows = r.strobe(rpm)
	n.Mark = r.markWords(n.Look, n.Shows)
	n.Going = going(n.Runs, rpm)
	n.Says = says(&n)
	switch n.Look {
	case "lit":
		n.Damper, n.LookWords = round360(-r.base.crank**st.FrozenDeg), "as the flash shows it"
	case "blur":
		n.LookWords = "too fast for the eye: use the light"
	}
	if rpm <= blurred {
		n.MD = math.Round(r.markDeg())
	}
	if len(r.done) > 0 {
		last := r.done[len(r.done)-1]
		n.Did = last.Who + " " + last.What
	}
	return n
}

// strobe says how the damper is seen: still (follow the crank), blurred, or lit by the light; and what the tape then
// shows.
func (r *rig) strobe(rpm float64) (look, shows string) {
	st := &r.state
	switch {
	case st.FrozenDeg != nil && len(st.MarksDeg) > 1:
		return "lit", marksWords(st.MarksDeg)
	case st.FrozenDeg != nil && st.ShownDeg != nil:
		return "lit", page.Figure(roundTo(*st.ShownDeg, 0.5), 1) + "°"
	case rpm > blurred:
		return "blur", "–"
	}
	return "still", "–"
}

// going says what the engine does.
func going(runs bool, rpm float64) string {
	switch {
	case runs:
		return "The engine runs."
	case rpm > 0:
		return "The starter turns the engine."
	}
	return "The engine stands."
}

// says puts speed, light and mark into sentences.
func says(n *state) string {
	text := n.Going
	if n.RPM != page.Figure(0, 0) {
		text += " Speed " + n.RPM + " rpm."
	}
	switch n.Look {
	case "lit":
		if after, late := strings.CutPrefix(n.Shows, "−"); late {
			return text + " The light shows " + after + " after TDC."
		}
		return text + " The light shows " + n.Shows + " before TDC."
	case "blur":
		return text + " The light shows nothing."
	}
	return text + " " + page.Sentence(n.Mark)
}

// lamp is what a pickup's lamp does, in a word.
func (r *rig) lamp(g bench.Glow, kind string, rpm float64) string {
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
	switch text := page.Figure(math.Abs(h), 1); {
	case text == page.Figure(0, 1):
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
	return page.Figure(st.TachoRPM, 0)
}

// markWords says where the zero mark stands, for a crank that one can see.
func (r *rig) markWords(look, shows string) string {
	switch look {
	case "lit":
		return "by the flash " + shows + " before TDC"
	case "blur":
		return "turns too fast to be read"
	}
	d := r.markDeg()
	switch text := page.Figure(math.Abs(d), 1); {
	case text == page.Figure(0, 1):
		return "zero mark at the pointer"
	case d > 0:
		return "zero mark " + text + "° before the pointer"
	default:
		return "zero mark " + text + "° past the pointer"
	}
}

func roundTo(v, unit float64) float64 { return math.Round(v/unit) * unit }

// rounded gives a number in tenths, hundredths or other parts of one. Adding nought makes −0 a plain 0.
func rounded(v, parts float64) float64 { return math.Round(v*parts)/parts + 0 }
