package suspects

import (
	"math"
	"slices"
	"strings"
)

// State is what the engine must be in for an observation.
type State string

// The states, in order of hazard.
const (
	Standing  State = "standing"   // engine stopped, hands clear of moving parts
	ByHand    State = "by hand"    // crank turned by hand: coil, injectors and starter off
	KeyOn     State = "key on"     // power on, engine stopped
	OnStarter State = "on starter" // cranking, fuel off
	Starts    State = "starts"     // cranking with fuel: it may start
	Runs      State = "runs"       // idle and fast idle
	HighSpeed State = "high speed" // above half the redline
)

// hazard is what the state can do to a person, and the minutes that its care is worth in the choice: our judgement.
func (s State) hazard() (string, float64) {
	switch s {
	case ByHand:
		return "coil, injectors and starter off before the crank is turned by hand", 0.5
	case KeyOn:
		return "", 0
	case OnStarter:
		return "turning engine and high tension: fuel off, tools off the crank, hands clear", 1
	case Starts:
		return "the engine may start or kick: in neutral, chocked, hands clear, extinguisher at hand", 2
	case Runs:
		return "belts, fan and hot parts within reach; high tension", 1.5
	case HighSpeed:
		return "high speed: stand clear of fan and belts, not for longer than the reading takes", 3
	}
	return "", 0
}

// Advice is an observation that would help.
type Advice struct {
	Observation string   `json:"observation"` // what to do
	ID          string   `json:"id"`
	Key         string   `json:"key"`                // of the evidence that it fills
	Cylinder    int      `json:"cylinder,omitempty"` // that it is of
	Bits        float64  `json:"bits"`               // expected information about which explanation is true
	Minutes     float64  `json:"minutes"`
	State       State    `json:"state"`
	Hazard      string   `json:"hazard,omitempty"`
	Outcomes    []string `json:"outcomes,omitempty"`
	Unit        string   `json:"unit,omitempty"`
	Tells       string   `json:"tells"` // what it would say of whom
}

// candidate is an observation with its cost.
type candidate struct {
	probe
	minutes float64
	state   State
}

// candidates are the observations with minutes of work; minutes are our judgement. cylinders are those to look at one
// by one.
func (e *Engine) candidates(cylinders ...int) []candidate {
	c := &e.c
	idle := max(float64(c.Engine.Idle), 1.05*float64(c.Controller.CrankingBelow))
	high := math.Round(min(3500, 0.85*float64(c.Engine.Redline))/50) * 50
	mid := math.Round((idle+high)/2/50) * 50
	rpm := func(n float64, wire int, other bool) lightCase {
		return lightCase{rpm: n, wire: wire, other: other, base: true}
	}
	state := func(n float64) State {
		if n > 0.5*float64(c.Engine.Redline) {
			return HighSpeed
		}
		return Runs
	}
	lead := float64(c.Crank.At)
	out := []candidate{
		{e.shownProbe(rpm(float64(c.Engine.CrankingSpeed), 1, false)), 1.5, OnStarter},
		{e.shownProbe(rpm(idle, 1, false)), 1, Runs},
		{e.shownProbe(rpm(mid, 1, false)), 1, state(mid)},
		{e.shownProbe(rpm(high, 1, false)), 1, state(high)},
		{e.shownProbe(rpm(idle, 1, true)), 2, Runs},
		{e.shownProbe(rpm(high, 1, true)), 2, state(high)},
		{e.flashProbe(rpm(idle, 1, false)), 0.5, Runs},
		{e.flashProbe(rpm(math.Round(0.55*float64(c.Engine.Redline)/50)*50, 1, false)), 1, HighSpeed},
		{e.tachoProbe(rpm(idle, 1, false)), 0.3, Runs},
		{e.walkProbe(), 6, Runs},
		{e.readBackProbe(false, false), 0.5, KeyOn},
		{e.lampProbe(lead+3, false), 4, ByHand},
		{e.lampProbe(lead-3, false), 4, ByHand},
		{e.turnProbe(), 6, ByHand},
		{e.stopProbe(), 15, ByHand},
		{e.startProbe(), 1.5, Starts},
		{e.runProbe(), 3, Runs},
		{e.misfireProbe(), 4, Runs},
		{e.sparkProbe(), 3, OnStarter},
		{e.syncProbe(), 0.5, OnStarter},
		{e.edgesProbe(), 8, OnStarter},
		{e.extraProbe(), 8, HighSpeed},
		{e.extraAtProbe(), 8, HighSpeed},
		{e.scatterProbe(), 8, Runs},
		{e.swingProbe(), 8, Runs},
		{e.vaneProbe(), 8, OnStarter},
		{e.offsetProbe(), 20, Runs},
		{e.markDelayProbe(), 20, HighSpeed},
	}
	if c.CamFitted {
		out = append(out, candidate{e.lampProbe(lead, true), 4, ByHand})
	}
	if c.Distributor.Steers {
		out = append(out, candidate{e.towerProbe(), 4, ByHand}, candidate{e.tipProbe(), 5, ByHand},
			candidate{e.traceProbe(), 2, Standing})
	}
	if n := c.Engine.Cylinders; n > 2 {
		third, half := c.Engine.FiringOrder[2], c.Engine.FiringOrder[n/2]
		out = append(out, candidate{e.shownProbe(rpm(idle, third, false)), 1.5, Runs})
		if half != third {
			out = append(out, candidate{e.shownProbe(rpm(idle, half, false)), 1.5, Runs})
		}
	}
	at := map[string]struct {
		minutes float64
		state   State
	}{
		"settings lead": {0.5, KeyOn}, "settings dwell": {0.5, KeyOn}, "settings edge": {0.5, KeyOn},
		"dial":         {0.3, Standing},
		"battery rest": {0.5, Standing}, "battery cranking": {1, OnStarter}, "battery running": {1, Runs},
		"rotor play": {2.5, Standing},
	}
	for _, q := range e.settingsProbes() {
		m, ok := at[q.id]
		if !ok || q.id == "rotor play" && !c.Distributor.Steers {
			continue
		}
		out = append(out, candidate{q, m.minutes, m.state})
	}
	list := observations()
	for i := range list {
		if o := &list[i]; o.ask != "" && (o.needs == nil || o.needs(c)) {
			out = append(out, candidate{o.whole(), o.minutes, o.state})
		}
	}
	for _, cyl := range cylinders {
		list := cylinderObservations()
		for i := range list {
			if o := &list[i]; o.ask != "" && (o.needs == nil || o.needs(c)) {
				out = append(out, candidate{o.probe(cyl, ""), o.minutes, o.state})
			}
		}
	}
	for i := range out {
		e.prepare(&out[i].probe)
	}
	return out
}

// seenState says which states what was seen forbids or makes idle talk.
func seenState(ev *Evidence) map[State]string {
	barred := map[State]string{}
	bar := func(why string, states ...State) {
		for _, s := range states {
			if barred[s] == "" {
				barred[s] = why
			}
		}
	}
	switch ev.Engine.Starting {
	case "kicks back", "spits through the intake", "bangs in the exhaust":
		bar("the engine "+ev.Engine.Starting+": not with fuel until the cause is found", Starts, Runs, HighSpeed)
	case "nothing":
		bar("the engine does not start", Runs, HighSpeed)
	}
	if ev.Engine.Running == "does not run" {
		bar("the engine does not run", Runs, HighSpeed)
	}
	if ev.Clamp == "slips" {
		bar("the clamp slips: tighten it before any check of the timing", OnStarter, Starts, Runs, HighSpeed)
	}
	return barred
}

// fetch is what every look costs beside itself, in minutes: fetch the tool, walk round, write it down. Our judgement;
// it keeps a string of idle half-minute looks from going before one that settles the matter.
const fetch = 6

// settled is how many bits it is worth that a look settles the matter. Our judgement.
const settled = 1.5

// least is how many bits a look must be expected to tell for it to be advised.
const least = 0.01

// without says why no light can be read: nobody has seen a spark.
func without(ev *Evidence) string {
	none := ev.Spark == "none" || ev.Seen != nil && ev.Seen.Said["coil.spark"] == "none"
	for _, l := range ev.Light {
		none = none || l.Flashes == "none" && l.Wire < 2
	}
	if none {
		return "there is no spark to read a light by"
	}
	return ""
}

// advise ranks the observations by what they are expected to tell of the cure for each minute, hazard counted as
// minutes.
func (w *weighed) advise(r *Result, ev *Evidence, limits Limits) {
	r.Observations = []Advice{}
	barred := seenState(ev)
	if without(ev) != "" {
		barred[Runs], barred[HighSpeed], barred[Starts] = without(ev), without(ev), without(ev)
	}
	done := map[string]bool{}
	for _, it := range w.items {
		done[it.id] = true
		if it.cyl == 0 {
			done[it.key] = it.key != "light.shown" && !strings.HasPrefix(it.key, "lamps.")
		}
	}
	for _, l := range ev.Light {
		if l.Shown != nil || l.OutOfSight || l.Flashes == "none" {
			done[w.e.shownProbe(lightCase{rpm: l.Speed, wire: max(l.Wire, 1), other: l.Which == "other"}).id] = true
		}
	}
	if ev.Engine.Misfire != nil || ev.Engine.NoMisfire {
		done["misfire"] = true
	}
	if ev.Seen != nil {
		for key := range ev.Seen.Said {
			done[key] = true
		}
	}
	if ev.Engine.Starting == "nothing" { // there is no when to its trouble
		done["engine.worse"] = true
	}
	f := w.forecast()
	r.BitsLeft = f.entropy
	type scored struct {
		a     Advice
		score float64
	}
	var list []scored
	for _, c := range w.e.candidates(ev.Engine.Misfire[:min(len(ev.Engine.Misfire), 2)]...) {
		if done[c.id] || done[c.key] && c.cyl == 0 && c.key != "light.shown" || limits.Unsafe[c.id] != "" ||
			limits.Barred[c.state] != "" || barred[c.state] != "" ||
			strings.HasPrefix(c.key, "light.") && without(ev) != "" {
			continue
		}
		bits, settling := f.worth(&c.probe)
		if bits < least {
			continue
		}
		h, extra := c.state.hazard()
		list = append(list, scored{Advice{Observation: c.ask, ID: c.id, Key: c.key, Cylinder: c.cyl, Bits: bits,
			Minutes: c.minutes, State: c.state, Hazard: h, Outcomes: c.outcomes, Unit: c.unit},
			(bits + settled*settling) / (c.minutes + extra + fetch)})
		list[len(list)-1].a.Tells = f.tells(&c.probe)
	}
	slices.SortStableFunc(list, func(a, b scored) int { return order(b.score, a.score) })
	for i, s := range list {
		if i == 6 {
			break
		}
		r.Observations = append(r.Observations, s.a)
	}
	if len(r.Observations) > 0 && !r.Settled {
		r.Next = &r.Observations[0]
	}
}

// Observes says whether an observation has the id.
func (e *Engine) Observes(id string) bool {
	var all []int
	for c := 1; c <= e.c.Engine.Cylinders; c++ {
		all = append(all, c)
	}
	for _, c := range e.candidates(all...) {
		if c.id == id {
			return true
		}
	}
	return false
}
