package bench

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Look is a way of looking at the engine on the bench.
type Look string

// The looks that the live bench gives.
const (
	LookStarter  Look = "light on the starter"
	LookIdle     Look = "light at idle"
	LookSpeed    Look = "light at speed"
	LookWires    Look = "light on another wire"
	LookSecond   Look = "second light"
	LookTime     Look = "light at one speed for a minute"
	LookLamps    Look = "lamps at rest"
	LookStop     Look = "piston stop"
	LookThumb    Look = "compression by thumb"
	LookRuns     Look = "starting and running"
	LookSupply   Look = "voltmeter and starter"
	LookReadBack Look = "settings read back"
	LookDial     Look = "dial of the light"
	LookClamp    Look = "clamp tried by hand"
	LookSlot     Look = "housing in its slot"
	LookCap      Look = "cap and rotor"
)

// Sign is what a look shows of faults.
type Sign struct {
	Look  Look
	Shows string
}

// Signs are what somebody sees of faults on this engine with the means of the live bench, set against the same engine
// without them. None: the faults cannot be seen on it.
func (m *Model) Signs(f Faults) []Sign {
	var out []Sign
	add := func(l Look, shows string, a ...any) { out = append(out, Sign{l, fmt.Sprintf(shows, a...)}) }
	c, e := m.c, m.c.Engine
	first := c.Light.Wire
	sound := func(n quantity.Speed, wire int) Expectation { return m.Expect(Faults{}, n, wire) }
	start := m.Expect(f, e.CrankingSpeed, first)
	if d := lightDiffers(start, sound(e.CrankingSpeed, first)); d != "" {
		add(LookStarter, "%s", d)
	}
	cranks := m.cranks(f)
	if f.Supply != 0 && math.Abs(float64(f.Supply)) >= 0.3 {
		add(LookSupply, "%+.1f V, and %.0f %% of its cranking speed", float64(f.Supply), 100*cranks)
	}
	why, runs := m.Starts(f)
	if _, sound := m.Starts(Faults{}); !sound {
		why, runs = "", false // it never went
	}
	if why != "" {
		add(LookRuns, "%s", why)
	} else if runs {
		out = append(out, m.running(f, first)...)
	}
	if m.lampsDiffer(f) {
		add(LookLamps, "they change at other places")
	}
	if math.Abs(float64(f.Damper)) >= eyeTells {
		add(LookStop, "the marks at the stop lie about %+.1f°, not about nought", float64(f.Damper))
	}
	if f.HalfTurn && (c.Distributor.Steers || c.CamFitted) {
		add(LookThumb, "rotor or cam lamp stands for compression when no thumb feels it")
	}
	if f.Lead != 0 || f.Allowance != 0 || f.Dwell != 0 || f.Edge || f.Unlocked || f.Unstored != 0 {
		add(LookReadBack, "it is not what the card and the last hand say")
	}
	if math.Abs(float64(f.Dial)) >= 0.5 {
		add(LookDial, "it stands at %.1f°", float64(f.Dial))
	}
	if f.Clamp != 0 {
		add(LookClamp, "the housing moves under the hand")
		add(LookTime, "it walks by %.1f° a minute", -2*float64(f.Clamp))
	}
	if travel := c.Distributor.HousingTravel; f.Tooth != 0 && travel > 0 &&
		quantity.Abs(c.Distributor.follows(f.Tooth)) >= travel {
		add(LookSlot, "it stands at the end of its slot")
	}
	if c.Distributor.Steers && math.Abs(float64(f.Rotor)) >= seesRotor {
		add(LookCap, "the tip stands %.0f° off", float64(f.Rotor))
	}
	if s := lightsDiffer(f, e); s != "" {
		add(LookSecond, "%s", s)
	}
	return out
}

// running are the signs on an engine that goes, up to the speeds that it reaches.
func (m *Model) running(f Faults, first int) []Sign {
	e := m.c.Engine
	var out []Sign
	told := map[Look]bool{}
	add := func(l Look, shows string) {
		if !told[l] && shows != "" {
			told[l] = true
			out = append(out, Sign{l, shows})
		}
	}
	for _, share := range []float64{0, 0.15, 0.35, 0.55, 0.75, 0.95} {
		n := e.Idle + quantity.Speed(share)*(e.Redline-e.Idle)
		look := LookSpeed
		if share == 0 {
			look = LookIdle
		}
		got := m.Expect(f, n, first)
		if !m.reaches(f, n) {
			add(LookRuns, fmt.Sprintf("it does not reach %.0f rpm", float64(n)))
			break // nothing is read at a speed that it does not reach
		}
		sound := m.Expect(Faults{}, n, first)
		add(look, lightDiffers(got, sound))
		unheard := f.Noise+f.Crossfire > 0 && got.Wild-sound.Wild < seesWild // extra edges that throw no spark off
		if got.Behaviour != sound.Behaviour && !unheard {
			add(LookRuns, string(got.Behaviour))
		}
		for _, cyl := range e.FiringOrder {
			if cyl != first {
				was, is := m.Expect(Faults{}, n, cyl), m.Expect(f, n, cyl)
				// where it stands, not how it dances: that is for the light that stays on a wire
				is.FlashSD = was.FlashSD
				add(LookWires, lightDiffers(is, was))
			}
		}
	}
	return out
}

// lightDiffers says what an eye sees to be other than on a sound engine; "" for nothing.
func lightDiffers(got, sound Expectation) string {
	switch by := wrap(float64(got.Shown-sound.Shown), 360); {
	case got.Flashes != sound.Flashes && !got.Flashes:
		return "it stays dark"
	case got.Flashes != sound.Flashes:
		return "it flashes"
	case !got.Flashes:
		return ""
	case got.Tacho != sound.Tacho:
		return "its tachometer shows another speed"
	case math.Abs(by) >= eyeTells:
		return fmt.Sprintf("%+.1f°", by)
	case float64(got.FlashSD-sound.FlashSD) >= eyeTells/2:
		return "the mark dances"
	case got.Wild-sound.Wild >= seesWild:
		return "flashes stand elsewhere"
	}
	return ""
}

// lightsDiffer says how two lights disagree on one wire.
func lightsDiffer(f Faults, e Engine) string {
	late := float64(f.Dial) + 6e-6*float64(f.LightDelay)*0.95*float64(e.Redline)
	switch {
	case f.TwoSpark:
		return "the lights disagree by double"
	case math.Abs(late) >= eyeTells:
		return fmt.Sprintf("the lights disagree by up to %.1f°", late)
	}
	return ""
}

// lampsDiffer says whether the lamps at rest show anything else within two degrees anywhere in two turns.
func (m *Model) lampsDiffer(f Faults) bool {
	a, b := newSetup(m.c, Faults{}), newSetup(m.c, f)
	lamps := func(s *setup, at float64) [2]Glow {
		l := [2]Glow{s.glow(&s.crank, s.n, at), NoSignal}
		if s.sync {
			l[1] = s.glow(&s.cam, 1, at)
		}
		if s.swapped {
			l[0], l[1] = l[1], l[0]
		}
		return l
	}
	differ := 0
	for at := range 720 {
		if lamps(a, float64(at)) != lamps(b, float64(at)) {
			differ++
		}
	}
	return differ >= 2
}

// cranks is the share of its cranking speed that the starter reaches on the battery as it is, by the balance of mean
// torques: nought where the starter gives less than the engine takes.
//
// On v of its voltage the starter gives v·stall·(1 − n/(v·free)) = stall·(v − n/free). The engine takes about the
// torque that it took before, stall·(1 − mean/free), so it turns at n = mean − (1 − v)·free.
func (m *Model) cranks(f Faults) float64 {
	if m.turn == nil {
		return 1
	}
	v := max(float64(m.c.Starter.Rest+f.Supply), 0) / float64(m.c.Starter.Rest)
	return max(0, 1-(1-v)*float64(m.turn.Free/m.turn.Mean))
}

// Starts says whether the engine starts and runs by itself, and if not, why: nobody takes a reading above the starter's
// speed on one that does not.
func (m *Model) Starts(f Faults) (why string, starts bool) {
	const tooSlow = 0.4 // of its cranking speed: it hangs at the first compression; assumed
	if f.Supply < 0 && (m.cranks(f) < tooSlow || float64(m.c.Starter.Loaded+f.Supply) < m.c.dropsOut()) {
		return "the starter does not turn it over, or the controller drops out", false
	}
	for _, n := range []quantity.Speed{m.c.Engine.CrankingSpeed, m.c.Engine.Idle} {
		switch b := m.Expect(f, n, m.c.Light.Wire).Behaviour; b {
		case NoSpark, SpitsBack: // one that kicks back may start for all that
			return string(b), false
		}
	}
	return "", true
}

// reaches says whether the engine, started, comes to a speed.
func (m *Model) reaches(f Faults, n quantity.Speed) bool {
	switch m.Expect(f, n, m.c.Light.Wire).Behaviour {
	case NoSpark, SpitsBack:
		return false
	}
	return true
}

// Reads says whether a reading can be taken at a speed: on the starter always, above it where the engine starts and
// comes to that speed by itself.
func (m *Model) Reads(f Faults, n quantity.Speed) bool {
	if n < m.c.Controller.CrankingBelow {
		return true
	}
	_, starts := m.Starts(f)
	return starts && m.reaches(f, n)
}

// Offer lists the faults, each at its typical size, that can be seen on this engine with the means of the live bench.
// A misreading is the reader's own, so no bench can hide it. The others that are not in it would be guesses.
func Offer(c Config) []Fault {
	m, err := NewModel(c)
	if err != nil {
		return nil
	}
	var out []Fault
	for _, r := range FaultTable() {
		var f Faults
		r.Set(&f, r.Typical)
		if m.Seen(f) == nil {
			out = append(out, r)
		}
	}
	return out
}

// Seen is nil where the faults can be hidden in this engine and each of them be seen, and else says which not and why.
func (m *Model) Seen(f Faults) error {
	if err := f.Check(m.c); err != nil {
		return err
	}
	for _, r := range FaultTable() {
		size := r.get(f)
		if size == 0 {
			continue
		}
		var one Faults
		r.Set(&one, size)
		text := one.List()[0]
		switch travel := m.c.Distributor.HousingTravel; {
		case !r.Fits(m.c):
			return badFault(text, "needs "+string(r.Needs)+", which this engine does not have", "choose another fault")
		case r.Name == "misread":
			return badFault(text, "is the reader's own mistake, and whoever looks here reads for himself",
				"choose another fault")
		case r.Name == "flashes" && !newSetup(m.c, Faults{}).pairs:
			return badFault(text, "needs coils that serve two cylinders", "choose another fault or another engine")
		case travel > 0 && quantity.Abs(one.Housing) > travel:
			return badFault(text, fmt.Sprintf("is more than the slot of the housing, %v each way", travel), "give less")
		case len(m.Signs(one)) == 0:
			return badFault(text, "shows nothing on this engine",
				"choose a larger size, another fault or another engine")
		}
	}
	return nil
}
