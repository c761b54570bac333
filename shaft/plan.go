package shaft

import (
	"fmt"
	"math"
	"strings"

	"phasewright/jobcard"
	"phasewright/waveform"
)

// plan is what the first stretch taught: roles, which edges count, the wheel, and where cam, mark and sparks stand on it.
type plan struct {
	s        *setup
	ps       []*profile
	cast     *casting
	a        assignment
	roles    []Role
	reasons  []string
	findings []Finding
	doubts   []string

	activeRising  bool
	activeBecause string
	w             *wheel // nil: the shaft cannot be followed

	cam      camPlan
	mark     markPlan
	spark    map[int]sparkPlan
	occupied []float64 // share of cycles with a spark after vane k
	perSlot  float64   // sparks in an occupied interval
	first    int       // vane of cylinder 1's active edge
	firstBy  string    // how it was told
	usual    float64   // middle of S·t/T, degrees
	scatter  float64   // its spread from one cycle to the next
}

type camPlan struct {
	on         bool
	refRising  bool       // edge by which cycles are told: the one farther from active crank edges
	at         [2]float64 // place of falling [0] and rising [1]; NaN: not known
	narrowHigh bool
}

type markPlan struct {
	on        bool
	topRising bool    // edge that stands at TDC
	at        float64 // place on one turn, at no speed
	drift     float64 // how that moves with speed, degrees per rpm
	width     float64 // degrees of the pulse
}

type sparkPlan struct {
	sparkRising bool // edge that is the spark
	driver      bool // the pulse is a dwell
	by          string
}

// edgeAssumed is why an edge was taken for the active one where nothing told.
const edgeAssumed = "assumed: both edges look alike"

func (p *plan) find(id, channel, text, remedy string) {
	p.findings = append(p.findings, Finding{ID: id, Channel: channel, Text: text, Remedy: remedy})
}

func (p *plan) doubt(format string, a ...any) { p.doubts = append(p.doubts, fmt.Sprintf(format, a...)) }

func newPlan(s *setup, channels []waveform.Channel, edges []waveform.Edge) *plan {
	p := &plan{s: s, ps: profiles(channels, edges), spark: map[int]sparkPlan{}}
	p.cast = newCasting(s, p.ps)
	p.a = p.cast.best()
	p.roles, p.reasons = make([]Role, len(channels)), make([]string, len(channels))
	for i := range channels {
		p.roles[i], p.reasons[i] = p.cast.explain(p.a, i)
	}
	p.checkRoles()
	if p.a.crank < 0 || p.a.vanes < 1 || p.a.vanes > mostVanes {
		return p
	}
	p.chooseSparkEdges()
	p.chooseActiveEdge()
	p.learn(channels)
	if p.w != nil {
		p.checkPolarity()
	}
	return p
}

func (p *plan) name(i int) string { return p.ps[i].name }

// checkRoles names what is missing, doubled, swapped or doubtful.
func (p *plan) checkRoles() {
	a := p.a
	edges := false
	for _, q := range p.ps {
		edges = edges || len(q.rise)+len(q.fall) > 0
		if q.duplicateOf >= 0 && q.usable {
			p.find(FoundSameChannels, q.name, fmt.Sprintf("%s carries the same edges as %s", q.name, p.name(q.duplicateOf)),
				"check that the probes sit on different wires")
		}
		if r := p.s.given(q.name); r != "" && r != Unknown && !q.usable {
			p.doubt("%s was stated to be %s, but it %s", q.name, r, q.reason)
		}
	}
	for _, name := range p.s.stated() {
		known := false
		for _, q := range p.ps {
			known = known || q.name == name
		}
		if !known {
			p.find(FoundNoChannel, name, fmt.Sprintf("no channel is called %q", name), "write the name as the recording has it: "+p.names())
		}
	}
	for i, q := range p.ps {
		if why := p.cast.unsure[i]; why != "" {
			p.doubt("%s: %s, and the recording bears out both nearly as well; %s", q.name, why, stateRole(Unknown))
		}
	}
	switch {
	case len(p.ps) == 0:
		p.find(FoundNoEdges, "", "the recording has no channels", "record at least the crank pickup")
		return
	case !edges:
		p.find(FoundNoEdges, "", "no channel changes: pickups unpowered, probes off, or the engine stood still", "measure the supply at the pickup, then record while cranking")
		return
	case a.crank < 0:
		p.find(FoundNoCrank, "", "no crank signal found: "+p.whyNoCrank(), stateRole(Crank)+", or record crank and cam pickup together while the engine turns")
		return
	}
	crank := p.name(a.crank)
	if a.cam < 0 {
		p.find(FoundNoCam, "", "no cam signal found: cylinder 1's compression stroke cannot be told from its exhaust stroke", "record the cam pickup too; if it is there, "+stateRole(Cam))
	}
	if len(a.sparks) == 0 {
		p.find(FoundNoSpark, "", "no spark signal found: only the pickups are judged", "record the coil driver, a current clamp, or a clamp on wire 1")
	}
	if a.mark < 0 {
		p.find(FoundNoMark, "", "no mark once a turn at TDC: spark angles count from the active edge, absolute timing is not known", "record a mark sensor set at the damper's proven zero mark")
	}
	p.checkSwap()
	if q := p.ps[a.crank]; !q.growthKnown && q.named != Crank && p.s.given(crank) != Crank {
		p.doubt("speed hardly changed: that %s is the crank signal rests on counts and order alone; if in doubt, %s", crank, stateRole(Crank))
	}
	if a.vanes == 0 {
		p.find(FoundVaneCount, crank, "the number of vanes cannot be told: no cam or mark to count between, no number of cylinders given", "give a job card or the number of cylinders")
	} else if n := p.s.cylinders; n > 0 && n != a.vanes {
		p.find(FoundVaneCount, crank, fmt.Sprintf("%d crank pulses a cycle where %d cylinders need %d", a.vanes, n, n), "check the job card, the vane wheel and the probe")
	}
}

func (p *plan) names() string {
	s := ""
	for i, q := range p.ps {
		if i > 0 {
			s += ", "
		}
		if s += q.name; len(s) > 200 {
			return s + " …"
		}
	}
	return s
}

func (p *plan) whyNoCrank() string {
	var open []string
	for i, q := range p.ps {
		if p.cast.unsure[i] != "" {
			open = append(open, q.name)
		}
	}
	if len(open) > 0 {
		return strings.Join(open, " and ") + " could be it or be something else, and the recording bears out both nearly as well"
	}
	if len(p.ps) == 1 {
		q := p.ps[0]
		if !q.usable {
			return fmt.Sprintf("the one channel, %s, %s", q.name, q.reason)
		}
		if q.growthKnown && q.growth <= 0.45 {
			return fmt.Sprintf("the one channel, %s, keeps its pulse width when the period changes, as a spark does", q.name)
		}
		return fmt.Sprintf("the one channel, %s, has pulses, but nothing to tell their number a turn by", q.name)
	}
	if p.a.cam >= 0 && p.a.mark >= 0 {
		return fmt.Sprintf("%s and %s look like cam and mark, and no other channel follows them", p.name(p.a.cam), p.name(p.a.mark))
	}
	sparks, usable := 0, 0
	for _, q := range p.ps {
		if q.usable {
			usable++
			if q.growthKnown && q.growth <= 0.45 {
				sparks++
			}
		}
	}
	switch {
	case usable == 0:
		return "no channel has enough pulses"
	case sparks == usable:
		return "all pulses keep their width when the period changes, as sparks do"
	}
	return "no channel's pulses follow a turning shaft that another channel bears out"
}

// checkSwap tells crank and cam leads that were exchanged: by the names of the channels or by what the user stated.
func (p *plan) checkSwap() {
	a := p.a
	if a.cam < 0 {
		return
	}
	crank, cam := p.ps[a.crank], p.ps[a.cam]
	stated := p.s.given(crank.name) == Crank || p.s.given(cam.name) == Cam
	forth, back := p.cast.one[a.crank][a.cam], p.cast.one[a.cam][a.crank]
	const remedy = "exchange the two leads at the controller, or the two probes"
	if stated && forth.usual <= 1 && back.usual >= 2 && back.share > 0.7 {
		p.find(FoundSwapped, crank.name, fmt.Sprintf("crank and cam look swapped: %s gives %d pulses for one of %s; a controller finds no sync that way", cam.name, back.usual, crank.name), remedy)
		p.w = nil
		p.a.vanes = 0
	} else if crank.named == Cam && cam.named == Crank {
		p.find(FoundSwapped, crank.name, fmt.Sprintf("crank and cam look swapped: %s gives %d pulses for one of %s; a controller finds no sync that way", crank.name, forth.usual, cam.name), remedy)
	}
}

// chooseSparkEdges tells for each spark channel which edge is the spark.
func (p *plan) chooseSparkEdges() {
	k := p.ps[p.a.crank]
	for _, i := range p.a.sparks {
		q := p.ps[i]
		pulseHigh := q.narrowHigh
		if d := math.Log((q.lowSteady + 1e-4) / (q.highSteady + 1e-4)); q.growthKnown && math.Abs(d) > math.Ln2 {
			pulseHigh = d > 0 // the state that lasts equally long at all speeds; at one speed the longer one does, by its length
		}
		width := q.high
		if !pulseHigh {
			width = q.low
		}
		end := width >= 0.3e-3
		if q.ramp {
			p.doubt("%s climbs as a coil's current does: its dwell counts from where the current has passed a good part of its way, so the driver's is longer", q.name)
		}
		by := "a driver's pulse: it ends in the spark"
		if !end {
			by = "a short pulse, as of a clamp: it begins with the spark"
		}
		tight := func(t []float64) float64 {
			stride := p.a.vanes
			if rateBetween(k.rise, q.rise)*float64(stride) < 1.5 {
				stride = 1 // one firing a cycle
			}
			return math.Min(orInf(scatters(k.rise, t, stride)), orInf(scatters(k.fall, t, stride))) + 1e-4 // few edges and coarse samples tell no finer
		}
		on, off := q.rise, q.fall
		if !pulseHigh {
			on, off = off, on
		}
		if r := tight(on) / tight(off); r > 2 && !end && width > 0.1e-3 {
			end, by = true, "the end of the pulse follows the crank edges more tightly"
		} else if r < 0.5 && end {
			end, by = false, "the start of the pulse follows the crank edges more tightly"
		}
		switch p.s.opt.SparkAt {
		case PulseOn:
			end, by = false, "as stated"
		case PulseOff:
			end, by = true, "as stated"
		}
		p.spark[i] = sparkPlan{sparkRising: pulseHigh != end, driver: width >= 0.3e-3, by: by}
	}
}

// sparkTimes are the sparks of all channels up to the limit kept.
func (p *plan) sparkTimes() []float64 {
	var all []float64
	for _, i := range p.a.sparks {
		t := p.ps[i].fall
		if p.spark[i].sparkRising {
			t = p.ps[i].rise
		}
		all = merge(all, t)
	}
	return all
}

func merge(a, b []float64) []float64 {
	if len(a) == 0 {
		return b
	}
	out := make([]float64, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if a[0] <= b[0] {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}

// chooseActiveEdge settles which electrical edge of the crank pickup counts.
func (p *plan) chooseActiveEdge() {
	q := p.ps[p.a.crank]
	rise, fall := math.NaN(), math.NaN()
	if sparks := p.sparkTimes(); len(sparks) > 8 {
		rise, fall = follows(q.rise, sparks, p.a.vanes)+1e-5, follows(q.fall, sparks, p.a.vanes)+1e-5
	}
	seen := jobcard.Edge("")
	if r := rise / fall; r > 1.5 {
		seen = jobcard.Falling
	} else if r < 1/1.5 {
		seen = jobcard.Rising
	}
	if stated := p.s.active; stated != "" {
		p.activeRising = stated == jobcard.Rising
		p.activeBecause = "as stated"
		if seen != "" && seen != stated {
			remedy := "correct the active edge in the controller, or on the job card"
			if p.s.reluctor || q.zero {
				remedy = "with a reluctance pickup its two wires are reversed, most likely: swap them; else correct the active edge in the controller, or on the job card"
			}
			p.find(FoundWrongEdge, q.name, fmt.Sprintf("the sparks are timed from the %s edge of %s, but the %s edge is stated as the active one", seen, q.name, stated), remedy)
		}
		return
	}
	switch {
	case seen != "":
		p.activeRising = seen == jobcard.Rising
		p.activeBecause = "the sparks are timed from it"
	default:
		r, f := unevenness(q.rise, p.a.vanes), unevenness(q.fall, p.a.vanes)
		switch {
		case r < f/2 && f > 2e-3:
			p.activeRising, p.activeBecause = true, "these edges are spaced more evenly"
		case f < r/2 && r > 2e-3:
			p.activeBecause = "these edges are spaced more evenly"
		default:
			p.activeBecause = edgeAssumed
			p.doubt("the active edge of %s cannot be told from the recording: falling assumed; state it on the job card", q.name)
		}
	}
}

// unevenness is the middle difference between neighbouring intervals, as a share of the interval, with a change of speed over the cycle taken out.
func unevenness(t []float64, n int) float64 {
	if n < 2 {
		return 0
	}
	var d []float64
	for i := n; i+n < len(t); i++ {
		mean := (t[i+n] - t[i-n]) / float64(2*n)
		if mean > 0 {
			d = append(d, math.Abs((t[i+1]-t[i])/mean-1))
		}
	}
	return median(d)
}
