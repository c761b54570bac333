package trial

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/suspects"
	"phasewright/verdict"
)

// ByJudge is the technician who reads the light, asks the judge, and does what its next line says: a look, a cure, or
// more readings, until the timing is shown on every cylinder and on the right one, and nothing is broken. He
// understands the line by its words, as anybody must who has nothing else.
type ByJudge struct{}

// Name says who it is.
func (ByJudge) Name() string { return "by the judge" }

// mostTurns is how often he asks before he gives up.
const mostTurns = 30

// phasing is no look: it is the housing set again by the lamp, with the crank at the trigger lead's mark.
const phasing look = "phased again"

// atWork is the technician with what he has written down.
type atWork struct {
	s       *Shop
	e       verdict.Evidence
	rows    []readings.Row
	housing quantity.Shaft // turned so far, with the rotor positive
	seen    suspects.Evidence
	done    map[look]int // how often each look was made since anything was changed
	high    quantity.Speed
}

// Tune asks and does.
func (ByJudge) Tune(ctx context.Context, s *Shop) (Outcome, error) {
	w := &atWork{s: s, done: map[look]int{}, high: 0.7 * s.j.c.Engine.Redline}
	w.e = verdict.Evidence{Card: s.j.card, Sheet: s.j.sheet}
	if err := w.readAll(); err != nil {
		return HandedOn, nil // no flash: there is something to mend before any timing
	}
	for range mostTurns {
		j, err := w.ask()
		if err != nil {
			return Stuck, err
		}
		if j.Verdict == readings.Pass && len(j.Clauses.In(verdict.Broken))+len(j.Clauses.In(verdict.AtOdds)) == 0 {
			if out, err := w.rest(ctx, &j); out != "" || err != nil {
				return out, err
			}
			continue
		}
		if j.Cure != nil {
			if err := w.cure(j.Cure); err != nil {
				return HandedOn, nil
			}
			continue
		}
		if out, err := w.follow(ctx, &j); out != "" || err != nil {
			return out, err
		}
	}
	return Stuck, nil
}

// rest is what is left once the timing is shown on wire 1: that it is so on every cylinder, and on the right one. Of
// the other clauses the trial keeps no score.
func (w *atWork) rest(ctx context.Context, j *verdict.Judgement) (Outcome, error) {
	shown := func(id verdict.ID) bool { return j.Clauses.Get(id).State == verdict.Shown }
	switch {
	case shown(verdict.EveryCylinder) && shown(verdict.RightCylinder):
		return Right, nil
	case !shown(verdict.EveryCylinder):
		return w.record(ctx)
	case w.done[lookWires] > 0:
		return HandedOn, nil
	}
	for _, l := range []look{lookWires, lookCompress, lookRuns, lookCap} {
		w.done[l]++
		w.s.See(&w.seen, l)
		if name := w.s.Mend(l); name != "" {
			return "", w.afresh(name)
		}
	}
	return "", nil
}

// record makes a recording, once since anything was changed; after that nothing more is to be looked at, and the engine
// goes to somebody who opens the unit.
func (w *atWork) record(ctx context.Context) (Outcome, error) {
	const it look = "recording"
	if w.done[it] > 0 {
		return HandedOn, nil
	}
	w.done[it]++
	r, err := w.s.Record(ctx)
	if err != nil {
		return HandedOn, nil
	}
	w.e.Captures = append(w.e.Captures, verdict.Capture{Name: "run", Result: r, After: len(w.e.Changes)})
	return "", nil
}

// ask fits what was read and lays all before the judge.
func (w *atWork) ask() (verdict.Judgement, error) {
	set := readings.FromCard(w.s.j.card)
	last := w.rows[len(w.rows)-1]
	set.AllowanceNow, set.AllowanceOpen, set.HighestReading = last.Allowance, false, w.high
	fit, err := readings.Fit(w.rows, set)
	if err != nil {
		return verdict.Judgement{}, err
	}
	from := len(w.rows)
	for from > 0 && w.rows[from-1].SameSettings(last) {
		from--
	}
	proof, err := readings.Prove(nil, w.rows[from:], set, set, readings.Simulation{Draws: 5_000, Seed: 1})
	if err != nil {
		return verdict.Judgement{}, err
	}
	w.e.Card = w.s.j.card
	w.e.Light = &verdict.Light{Rows: w.rows, Fit: fit, Proof: proof}
	kept := w.seen
	w.e.Seen = &verdict.Seen{Evidence: &kept, After: len(w.e.Changes)}
	return verdict.Judge(w.e), nil
}

// readAll reads at three speeds and at the first once more: what walks with time shows there.
func (w *atWork) readAll() error {
	e := w.s.j.c.Engine
	for _, n := range []quantity.Speed{e.Idle, min((e.Idle+w.high)/2, e.Redline/2), w.high, e.Idle} {
		if err := w.read(n, 1); err != nil {
			return err
		}
	}
	return nil
}

// read reads once, and once more where the figure is asked back.
func (w *atWork) read(n quantity.Speed, wire int) error {
	for again := range 2 {
		r, err := w.s.Read(n, wire)
		if err != nil {
			return err
		}
		row := readings.Row{Speed: r.Speed, Shown: quantity.Crank(math.Remainder(float64(r.Shown), 360)),
			Locked: r.Locked, U: r.U, Allowance: r.Allowance, AllowanceStated: true, Housing: w.housing, Wire: wire,
			Confirmed: again == 1}
		if err := row.Check(); err != nil {
			return err
		}
		if asked := readings.FromCard(w.s.j.card).Doubts([]readings.Row{row}); len(asked) == 0 || row.Confirmed {
			w.rows = append(w.rows, row)
			return nil
		}
	}
	return nil
}

// changed forgets which looks were made: they may be made again, and recordings from before no longer count.
func (w *atWork) changed(c procedure.Change) {
	w.e.Changes = append(w.e.Changes, c)
	w.e.Captures = nil
	w.done = map[look]int{phasing: w.done[phasing], lookStop: w.done[lookStop]}
}

// cure turns and sets as advised, in one stop, and reads again.
func (w *atWork) cure(c *verdict.Cure) error {
	by := quantity.Shaft(c.Housing.TurnDeg)
	switch c.Housing.Direction {
	case readings.WithRotor:
		by = -by
	case readings.Leave:
		by = 0
	}
	var set *quantity.Time
	if c.Allowance.Changes() {
		to := w.s.Allowance() + quantity.Time(c.Allowance.Change)
		if v := float64(c.Allowance.Set); !math.IsNaN(v) {
			to = quantity.Time(v)
		}
		set = &to
	}
	w.s.Correct(by, set)
	w.housing -= by
	if by != 0 {
		w.changed(procedure.HousingTurned)
	}
	if set != nil {
		w.changed(procedure.AllowanceSet)
	}
	return w.readAll()
}

// words is the table of what a line of the judge asks for, in the order in which they are tried.
var words = []struct {
	says string
	look look
}{
	{"piston stop", lookStop}, {"lamp at rest", lookLamps}, {"active edge", lookLamps}, {"edge, lead", lookBack},
	{"rotor points", lookRotor}, {"follow the wires", lookWires}, {"which wire goes where", lookWires},
	{"wires against the map", lookWires}, {"command back", lookLock}, {"commanded advance back", lookLock},
	{"locked", lookLock}, {"dial", lookDial}, {"two sparks", lookDial}, {"clamp by hand", lookClamp},
	{"tighten the clamp", lookClamp}, {"read them back", lookBack}, {"settings back", lookBack},
	{"compression", lookCompress},
}

// follow does the look that the judge's next line asks for. It ends with an outcome where that is the end.
func (w *atWork) follow(ctx context.Context, j *verdict.Judgement) (Outcome, error) {
	e := w.s.j.c.Engine
	for _, x := range words {
		if !strings.Contains(j.Next, x.says) || w.done[x.look] > 0 {
			continue
		}
		w.done[x.look]++
		w.s.See(&w.seen, x.look)
		if name := w.s.Mend(x.look); name != "" {
			return "", w.afresh(name)
		}
		return "", nil
	}
	again := strings.Contains(j.Next, "phase with the lamp again") ||
		w.done[lookStop]+w.done[lookLamps]+w.done[lookDial] > 0 // it was nothing of these
	if j.Verdict == readings.LookElsewhere && w.done[phasing] == 0 && again {
		w.s.Phase()
		w.changed(procedure.UnitMoved)
		w.done[phasing]++ // once, however often something is changed after it
		w.rows, w.housing = nil, 0
		if err := w.readAll(); err != nil {
			return HandedOn, nil
		}
		return "", nil
	}
	more := func(n quantity.Speed, wire int) (Outcome, error) {
		it := look(fmt.Sprint("more on ", wire))
		if w.done[it] == 2 && w.done[lookStop] == 0 { // the mark's own doubt is what more readings cannot lessen
			w.done[lookStop]++
			w.s.See(&w.seen, lookStop)
			if name := w.s.Mend(lookStop); name != "" {
				return "", w.afresh(name)
			}
			return "", nil
		}
		if w.done[it] > 5 {
			return w.record(ctx)
		}
		w.done[it]++
		if err := w.read(n, wire); err != nil {
			return HandedOn, nil
		}
		return "", nil
	}
	next := min(max(quantity.Speed(w.e.Light.Fit.Next), e.Idle), w.high)
	switch {
	case strings.Contains(j.Next, "second light"):
		w.s.Cost.Minutes += 2
		w.s.stop()
		if w.s.j.f.LightDelay != 0 {
			w.s.j.f.LightDelay = 0 // the other light is used from now on
			return "", w.afresh("lightdelay")
		}
		return w.record(ctx)
	case strings.Contains(j.Next, "companion's wire") && w.done["other wire"] == 0:
		w.done["other wire"]++
		return more(e.Idle, w.other())
	case strings.Contains(j.Next, "three times"), strings.Contains(j.Next, "same speeds"),
		strings.Contains(j.Next, "read at"), strings.Contains(j.Next, "read again"), strings.HasPrefix(j.Next, "read "):
		return more(next, 1)
	}
	return w.record(ctx)
}

// other is the cylinder half a cycle from the first.
func (w *atWork) other() int {
	order := w.s.j.c.Engine.FiringOrder
	return order[len(order)/2]
}

// afresh is the work after something was mended: what was read before it does not count.
func (w *atWork) afresh(name string) error {
	change := procedure.SettingsChanged
	switch name {
	case "damper":
		change = procedure.MarkMoved
		w.seen.PistonStop = suspects.PistonStop{}
		w.s.See(&w.seen, lookStop) // proves the new mark
	case "wires", "tower":
		change = procedure.WiresMoved
	case "tooth":
		change = procedure.UnitMoved
	}
	for _, l := range []look{lookLamps, lookLock, lookDial, lookClamp, lookBack, lookWires, lookRotor} {
		if _, found := mended[l][name]; found { // he looks at what he has mended
			w.seen.Lamps = slices.DeleteFunc(w.seen.Lamps, func(suspects.Lamp) bool { return l == lookLamps })
			w.s.j.see(&w.seen, l, true, w.s.d)
		}
	}
	w.changed(change)
	w.e.CardAfter = len(w.e.Changes) // which states the mark as it is proven now
	w.rows, w.housing = nil, 0
	return w.readAll()
}
