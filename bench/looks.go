package bench

import (
	"math"
	"slices"
)

// UnsafeAct is something that could have hurt somebody, and how.
type UnsafeAct struct {
	TimeS  float64 `json:"time_s"`
	Act    string  `json:"act"`
	Hazard string  `json:"hazard"`
}

// danger keeps an unsafe act and says so. The same act again within a while is one.
func (s *Session) danger(act, hazard string) {
	const again = 10 // s
	now := s.time / 1e6
	for i := len(s.unsafe) - 1; i >= 0; i-- {
		if u := &s.unsafe[i]; u.Act == act && now-u.TimeS < again {
			return
		}
	}
	s.unsafe = append(s.unsafe, UnsafeAct{now, act, hazard})
	s.note("unsafe: " + act)
}

// looks is what of the engine has been looked at, since the last change where a change makes a look worthless.
type looks struct {
	base                bool // base timing: light on the starter, fuel off, clamp tight
	starter, idle, high glimpses
	wires               [maxWires]int // flashes seen on each wire by either light
	lamp                bool          // the crank lamp changed while the housing was turned
	stop                [2]float64    // mark before the pointer with the piston against the stop, forward and back
	stops               [2]bool
	pushed              int // cylinder whose compression was felt last; 0: none
	turns               int
}

const maxWires = 17

// glimpses are the last flashes on a wire.
type glimpses struct {
	shown, time [24]float64
	n           int // ever
}

func (g *glimpses) add(shown, time float64) {
	i := g.n % len(g.shown)
	g.shown[i], g.time[i] = shown, time
	g.n++
}

// enough flashes to have read a mark by.
const enough = 4

// marks are what an eye reads of the last flashes before now, µs.
func (g *glimpses) marks(now float64) []float64 {
	out := []float64{}
	if g.n == 0 {
		return out
	}
	var v []float64
	const lasting, most = 2.5e6, 12 // µs, flashes: four come in 2.5 s on a starter; assumed
	for i := max(0, g.n-most); i < g.n; i++ {
		if k := i % len(g.shown); now-g.time[k] < lasting {
			v = append(v, g.shown[k])
		}
	}
	return append(out, marksOf(v)...)
}

// read is the mark that was read, whenever that was: false where there was none, or two.
func (g *glimpses) read() (float64, bool) {
	if g.n < enough {
		return 0, false
	}
	m := marksOf(slices.Clone(g.shown[:min(g.n, len(g.shown))]))
	return m[0], len(m) == 1
}

// marksOf are what an eye reads of flashes, degrees within half a turn either way: the middle flash where they lie
// together, and where they fall in two places the middle of each, the one with more flashes first. Never a place
// between them, where nothing is seen. v is put in another order.
func marksOf(v []float64) []float64 {
	if len(v) == 0 {
		return nil
	}
	ref := v[len(v)/2] // about one flash, so that a scale end at 180° does not split the flashes
	for i := range v {
		v[i] = ref + wrap(v[i]-ref, 360)
	}
	slices.Sort(v)
	middle := func(part []float64) float64 {
		m := len(part) / 2
		if len(part)%2 == 0 && part[m]-part[m-1] < eyeParts {
			return (part[m-1] + part[m]) / 2
		}
		return part[m]
	}
	cut, widest := 0, eyeParts
	for i := 1; i < len(v); i++ {
		if gap := v[i] - v[i-1]; gap > widest {
			cut, widest = i, gap
		}
	}
	few := min(cut, len(v)-cut)
	if cut == 0 || float64(few) < bothSeen*float64(len(v)) {
		return []float64{wrap(middle(v), 360)}
	}
	left, right := wrap(middle(v[:cut]), 360), wrap(middle(v[cut:]), 360)
	if cut > len(v)-cut {
		return []float64{left, right}
	}
	return []float64{right, left}
}

// changed makes worthless what was read before an adjustment.
func (k *looks) changed() {
	k.base = false
	k.glimpsed()
	k.wires = [maxWires]int{}
}

// glimpsed forgets the readings of the first light.
func (k *looks) glimpsed() { k.starter.n, k.idle.n, k.high.n = 0, 0, 0 }

// flash takes a flash of the first light.
func (k *looks) flash(s *Session, shown, time float64) {
	wire := s.lights[0].wire
	k.other(s, wire)
	if wire != 1 || !s.clampTight {
		return
	}
	rpm := s.rate() * (1e6 / 6)
	switch e := s.c.Engine; {
	case s.starter == On:
		if s.fuel == Off {
			k.starter.add(shown, time)
			k.base = k.base || k.starter.n >= enough
		}
	case rpm < 1.4*float64(e.Idle):
		k.idle.add(shown, time)
	case rpm > highFrom*float64(e.Redline):
		k.high.add(shown, time)
	}
}

// other takes a flash on any wire.
func (k *looks) other(_ *Session, wire int) {
	if wire < maxWires {
		k.wires[wire]++
	}
}

// elsewhere says whether a light was read on a wire other than the first.
func (k *looks) elsewhere() bool {
	return slices.ContainsFunc(k.wires[2:], func(n int) bool { return n >= enough })
}

// turned takes in what was felt while the crank was turned by hand.
func (k *looks) turned(s *Session, from, to float64) {
	if s.stopIn {
		read := math.Round(2*wrap(s.rig.s.damper-to, 360)) / 2
		switch s.stopAt(to) {
		case "forward":
			k.stop[0], k.stops[0] = read, true
			s.note("the piston meets the stop")
		case "back":
			k.stop[1], k.stops[1] = read, true
			s.note("the piston meets the stop")
		}
	}
	if s.thumb && to > from {
		for a := from + 1; a <= to; a++ {
			if s.feels(a) == "pushes" {
				if k.pushed != s.plugOut || k.turns != int(math.Floor(a/720)) {
					s.note("compression pushes at the thumb")
				}
				k.pushed, k.turns = s.plugOut, int(math.Floor(a/720))
				break
			}
		}
	}
}
