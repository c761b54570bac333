package suspects

import (
	"fmt"
	"math"
	"phasewright/engine"
	"phasewright/jobcard"
	"slices"

	"phasewright/quantity"
)

// mostItems is how many pieces can be weighed: looks with the light are few once they are together, each other thing is
// looked at once, so that only a long list of lamps comes near.
const mostItems = 1000

// items turns evidence into probes with outcomes. Evidence that this engine cannot have (a cylinder it does not have)
// is an error.
func (e *Engine) items(ev *Evidence, looks int) ([]item, error) {
	if err := e.check(ev); err != nil {
		return nil, err
	}
	b := &builder{e: e}
	b.light(ev, looks)
	lead := float64(e.c.Crank.At)
	bracket := b.bracket(ev, lead)
	for _, l := range ev.Lamps {
		at := lead
		if l.At != nil {
			at = l.At.Value
		}
		if l.Crank != "" && !slices.Contains(bracket, at) &&
			(e.c.Crank.Kind != jobcard.Reluctor || l.Crank != "no signal") {
			b.word(e.lampProbe(at, false), l.Crank)
		}
		if l.Cam != "" && e.c.CamFitted {
			b.word(e.lampProbe(at, true), l.Cam)
		}
	}
	b.number(e.turnProbe(), ev.HousingTurn, 2)
	if ev.Rotor.PointsTo != "" {
		b.word(e.towerProbe(), ev.Rotor.PointsTo)
	}
	b.number(e.tipProbe(), ev.Rotor.Off, 1)
	b.setting("rotor play", ev.Rotor.Play, 2)
	if s := ev.PistonStop; s.Before != nil && s.After != nil {
		n := Number{(s.Before.Value - s.After.Value) / 2, math.Hypot(s.Before.U, s.After.U) / 2}
		b.number(e.stopProbe(), &n, 2)
	}
	if w := ev.Engine.Starting; w != "" {
		b.word(e.startProbe(), w)
	}
	if w := ev.Engine.Running; w != "" {
		b.word(e.runProbe(), w)
	}
	if ev.Engine.Misfire != nil || ev.Engine.NoMisfire {
		if n := e.c.Engine.Cylinders; n > 2 && 4*len(ev.Engine.Misfire) >= 3*n { // what has one cause for all
			b.word(e.misfireProbe(), "most")
		} else {
			for c := 1; c <= n; c++ {
				b.list = append(b.list, e.misfireItem(c, slices.Contains(ev.Engine.Misfire, c)))
			}
		}
	}
	b.setting("battery rest", ev.Battery.Rest, 1)
	b.setting("battery cranking", ev.Battery.Cranking, 1)
	b.setting("battery running", ev.Battery.Running, 1)
	b.setting("settings lead", ev.Settings.Lead, 1)
	b.setting("settings dwell", ev.Settings.Dwell, 0)
	if w := ev.Settings.Edge; w != "" {
		b.settings("settings edge", []string{"as the card says", "the other"}[e.activeEdge(w)])
	}
	b.setting("dial", ev.Dial, 1)
	if w := ev.Cap.Traces; w != "" {
		b.word(e.traceProbe(), w)
	}
	if w := ev.Spark; w != "" {
		b.word(e.sparkProbe(), w)
	}
	b.capture(&ev.Capture)
	b.seen(observations(), 0, ev.listed())
	if ev.Seen != nil {
		b.seen(observations(), 0, ev.Seen.lost(ev.sparkAtWires()))
	}
	for i := range ev.Cylinders {
		c := &ev.Cylinders[i]
		b.seen(cylinderObservations(), c.Cylinder, &c.Seen)
	}
	numbers := 0
	b.depend()
	for i := range b.list {
		it := &b.list[i]
		e.prepare(&it.probe)
		if it.numeric() {
			numbers++
		}
	}
	if len(b.list) > mostItems || numbers > mostLines {
		return nil, fmt.Errorf("evidence – %d lamps are too many – give those near the trigger lead", len(ev.Lamps))
	}
	return b.list, nil
}

// depend says how much each of several looks counts that are not independent. The flashes on one wire, looked at again
// and again, count once in all. How strong the sparks are is one thing, seen in some ways: n looks at it count as √n.
func (b *builder) depend() {
	flashes, sparks := map[int]float64{}, 0.0
	ofSpark := func(it *item) bool {
		return slices.Contains([]string{"spark", "coil.spark", "cylinders.spark", "cylinders.jump",
			"cylinders.colour"}, it.key)
	}
	for i := range b.list {
		switch it := &b.list[i]; {
		case it.key == "light.flashes":
			flashes[it.cyl]++
		case ofSpark(it):
			sparks++
		}
	}
	for i := range b.list {
		switch it := &b.list[i]; {
		case it.key == "light.flashes":
			it.share = 1 / flashes[it.cyl]
			it.mine = it.share
		case ofSpark(it):
			it.share = 1 / math.Sqrt(sparks)
		}
	}
}

// check says what this engine cannot have shown.
func (e *Engine) check(ev *Evidence) error {
	n := e.c.Engine.Cylinders
	cylinder := func(where string, c int) error {
		if c < 0 || c > n {
			return fmt.Errorf("%s – there is no cylinder %d on this engine – write 1 to %d", where, c, n)
		}
		return nil
	}
	for _, l := range ev.Light {
		if err := cylinder("light.wire", l.Wire); err != nil {
			return err
		}
		if !(l.Speed > 0) {
			return fmt.Errorf("light.speed – %g rpm is no speed – write the speed of the reading such as 750 rpm",
				l.Speed)
		}
	}
	for i := range ev.Cylinders {
		if err := cylinder("cylinders.cylinder", ev.Cylinders[i].Cylinder); err != nil {
			return err
		}
	}
	for _, c := range ev.Engine.Misfire {
		if err := cylinder("engine.misfire", c); err != nil {
			return err
		}
	}
	if w := ev.Rotor.PointsTo; w != "" && w != "between" {
		c := 0
		if _, err := fmt.Sscan(w, &c); err != nil || c < 1 || c > n {
			return fmt.Errorf("rotor.points_to – %q is no cylinder of this engine – write 1 to %d, or between", w, n)
		}
	}
	return nil
}

// bracket looks for two lamps close together of which one stands on either side of the active edge: that measures where
// the edge is. It gives their places.
func (b *builder) bracket(ev *Evidence, lead float64) []float64 {
	const near = 10 // degrees
	type lamp struct {
		at   float64
		high bool
	}
	var list []lamp
	for _, l := range ev.Lamps {
		if l.Crank == "high" || l.Crank == "low" {
			at := lead
			if l.At != nil {
				at = l.At.Value
			}
			list = append(list, lamp{at, l.Crank == "high"})
		}
	}
	slices.SortFunc(list, func(x, y lamp) int { return order(y.at, x.at) }) // in running direction
	for i := 1; i < len(list); i++ {
		x, y := list[i-1], list[i]
		if x.high == y.high || x.at-y.at > near || y.high != (b.e.c.Crank.ActiveEdge == jobcard.Rising) ||
			b.e.c.Crank.Kind == jobcard.Reluctor {
			continue
		}
		width := (x.at - y.at) / math.Sqrt(12)
		turn := -float64(engine.CrankToShaft(quantity.Crank((x.at+y.at)/2 - lead)))
		b.number(b.e.bracketProbe(x.at, y.at), &Number{turn, math.Hypot(width, 0.6) / 2}, 1)
		return []float64{x.at, y.at}
	}
	return nil
}

// builder collects items.
type builder struct {
	e    *Engine
	list []item
}

func (b *builder) word(q probe, w string) {
	k := slices.Index(q.outcomes, w)
	if k < 0 {
		return
	}
	b.list = append(b.list, item{probe: q, outcome: k, words: w})
}

func (b *builder) number(q probe, n *Number, decimals int) {
	if n == nil {
		return
	}
	u := q.u
	if n.U > 0 {
		u = n.U
	}
	b.list = append(b.list, item{probe: q, y: n.Value, v: u * u, words: quantity.Number(n.Value, decimals) + q.unit})
}

func (b *builder) find(id string) (probe, bool) {
	for _, q := range b.e.settingsProbes() {
		if q.id == id {
			return q, true
		}
	}
	return probe{}, false
}

func (b *builder) setting(id string, n *Number, decimals int) {
	if q, ok := b.find(id); ok {
		b.number(q, n, decimals)
	}
}

func (b *builder) settings(id, w string) {
	if q, ok := b.find(id); ok && w != "" {
		b.word(q, w)
	}
}

// light turns looks with the light, and what was believed of the allowance, into items.
func (b *builder) light(ev *Evidence, atMost int) {
	e := b.e
	card := float64(e.c.Controller.Allowance)
	first, final, stated := card, card, false
	for _, l := range ev.Light {
		if l.Allowance == nil {
			continue
		}
		if !stated {
			first = l.Allowance.Value
		}
		stated, final = true, l.Allowance.Value
	}
	// unlike the card: as bench has it, a change that is not in force counts from the card's value
	believed := stated && math.Abs(first-card) > 1
	changed := stated && math.Abs(final-first) > 1
	looks := e.looks(ev, first, final, changed, believed)
	if len(looks) > atMost {
		looks = e.together(looks, atMost)
	}
	for i := range looks {
		l := &looks[i]
		c := l.lightCase
		if l.number {
			q := e.shownProbe(c)
			if l.of > 1 {
				q.saw += fmt.Sprintf(" (mean of %d readings)", l.of)
			}
			shows := fmt.Sprintf("shows %s° (%s° commanded)", quantity.Number(l.y, 1), quantity.Number(l.asked, 1))
			b.list = append(b.list, item{probe: q, y: l.y, v: l.v, shift: l.shift, words: shows, rpm: l.rpm,
				wire: l.wire})
			b.list[len(b.list)-1].id = fmt.Sprintf("%s #%d", q.id, len(b.list))
		}
		if l.flashes != "" {
			b.word(e.flashProbe(c), l.flashes)
		} else if l.number { // a number was read, so it did flash
			// The number itself weighs what the bench's faults make of it, no flash among that.
			q := e.flashProbe(c)
			q.outcomes = []string{"it flashes", "none"}
			q.chances = func(_ *point, out []float64) { out[0], out[1] = 0.995, 0.005 }
			b.list = append(b.list, item{probe: q, words: "it flashes"})
		}
		if l.flashes != "" && l.flashes != "none" || l.number || l.outOfSight {
			w := "in sight"
			if l.outOfSight {
				w = "out of sight"
			}
			if l.outOfSight || !l.number {
				b.word(e.markProbe(c), w)
			}
		}
		if l.tacho != "" {
			b.word(e.tachoProbe(c), l.tacho)
		}
	}
	if stated {
		slopes := map[int]float64{allowance: 1, unstored: 1}
		if changed { // it is the change that is not in force, not what was there before
			delete(slopes, unstored)
		}
		q := flat("allowance believed", "delay allowance believed in force", "", "µs", card, 3, 400, slopes,
			[nuisances]float64{})
		q.odd = 0.002 // changed on purpose is the allowance's fault, alone or beside a delay that it answers
		b.number(q, &Number{Value: first}, 0)
	}
	if changed {
		q := flat("allowance changed", "delay allowance changed by", "", "µs", 0, 1, 400, map[int]float64{unstored: 1},
			[nuisances]float64{})
		size := e.priors.Size[unstored]
		q.vary = func(in set) float64 {
			if in.has(unstored) {
				return 0
			}
			return size // a change of any size is as likely where it was stored
		}
		b.number(q, &Number{Value: final - first}, 0)
	}
	if a := ev.Settings.Allowance; a != nil {
		q := b.e.readBackProbe(changed, believed)
		b.number(q, a, 0)
		b.list[len(b.list)-1].shift = final - first
	}
}

func shiftOf(l Light, told float64) float64 {
	if l.Locked == nil {
		return 0
	}
	return l.Locked.Value - told
}

// readBackProbe is the delay allowance in force.
func (e *Engine) readBackProbe(changed, believed bool) probe {
	slopes := map[int]float64{allowance: 1}
	if changed || !believed {
		slopes[unstored] = -1
	}
	return flat("settings allowance", "delay allowance read back", "read the delay allowance back from the controller",
		"µs", float64(e.c.Controller.Allowance), 3, 400, slopes, [nuisances]float64{})
}

// capture turns what a recording showed into items.
func (b *builder) capture(c *Capture) {
	e := b.e
	pick := func(q probe, k int) {
		b.list = append(b.list, item{probe: q, outcome: k, words: q.outcomes[k]})
	}
	if c.Edges != nil {
		pick(e.edgesProbe(), e.edgesOutcome(c.Edges.Value))
	}
	if c.Extra != nil {
		pick(e.extraProbe(), extraOutcome(c.Extra.Value))
	}
	if c.Scatter != nil {
		pick(e.scatterProbe(), scatterOutcome(c.Scatter.Value))
	}
	if w := c.ExtraAt; w != "" {
		if c.Extra == nil { // there are some, or nobody could say when they come
			pick(e.extraProbe(), 1)
		}
		b.word(e.extraAtProbe(), w)
	}
	if c.Swing != nil {
		pick(e.swingProbe(), scatterOutcome(math.Abs(c.Swing.Value)))
	}
	if w := c.Vane; w != "" {
		b.word(e.vaneProbe(), w)
	}
	if w := c.Sync; w != "" {
		b.word(e.syncProbe(), w)
	}
	b.number(e.offsetProbe(), c.Offset, 2)
	b.number(e.markDelayProbe(), c.Delay, 0)
	b.setting("capture dwell", c.Dwell, 0)
}
