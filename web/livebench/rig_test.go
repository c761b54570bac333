package livebench

import (
	"encoding/json"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"phasewright/bench"
	"phasewright/record"
	"phasewright/web/page"
)

// byHand is a bench without a loop of its own: the test lets time pass.
func byHand(t testing.TB, o order, c *clock) *rig {
	t.Helper()
	if o.Config.Name == "" {
		o.Config = bench.Default()
	}
	r, err := newRig(o, 11, c.Now, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// seconds lets time pass in the loop's own steps, with the holder's page awake.
func (r *rig) seconds(c *clock, s float64) {
	for end := c.now.Add(time.Duration(s * float64(time.Second))); c.now.Before(end); {
		c.now = c.now.Add(benchPeriod)
		r.beaten = c.now
		r.tick(c.now)
	}
}

// asleepFor lets time pass with the holder's page asleep.
func (r *rig) asleepFor(c *clock, s float64) {
	for end := c.now.Add(time.Duration(s * float64(time.Second))); c.now.Before(end); {
		c.now = c.now.Add(benchPeriod)
		r.tick(c.now)
	}
}

// told is what a page knows after everything that waits for it.
func told(t testing.TB, w *watcher, known map[string]any) map[string]any {
	t.Helper()
	for {
		select {
		case text := <-w.c:
			data := strings.TrimSuffix(strings.TrimPrefix(text, "data: "), "\n\n")
			var news map[string]any
			if err := json.Unmarshal([]byte(data), &news); err != nil {
				t.Fatal(err, text)
			}
			for k, v := range news {
				known[k] = v
			}
		default:
			return known
		}
	}
}

func act(t testing.TB, r *rig, v *page.Session, tab, what string, pairs ...string) {
	t.Helper()
	if err := r.do(v, tab, what, sent(pairs...)); err != nil {
		t.Fatalf("%s %v: %v", what, pairs, err)
	}
}

func sent(pairs ...string) url.Values {
	f := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.Add(pairs[i], pairs[i+1])
	}
	return f
}

func start() *clock { return &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)} }

// A bench at rest says nothing: that its time passes is no news. Something done on it is told whole, once.
func TestBenchAtRestIsSilent(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	w, err := r.watch(ada, "t")
	if err != nil {
		t.Fatal(err)
	}
	r.seconds(c, 2)
	told(t, w, map[string]any{})
	r.seconds(c, 2)
	if len(w.c) != 0 {
		t.Errorf("told at rest: %s", <-w.c)
	}
	act(t, r, ada, "t", "light", "to", "on")
	r.seconds(c, 2)
	if now := told(t, w, map[string]any{}); now["light"] != "on" || now["labels"] == nil || now["rpm"] != "0" {
		t.Errorf("told of the light: %v", now)
	}
}

// The traces show a square wave whose steps lie where the vanes pass, and as many sparks as cylinders.
func TestTraceShowsOneCycle(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	act(t, r, ada, "t", "key", "to", "on")
	act(t, r, ada, "t", "starter", "to", "on")
	r.seconds(c, 4)
	falls := 0
	for _, e := range r.trace.events {
		if e.kind != "crank edge" || e.high {
			continue
		}
		falls++
		x := r.onAxis(e.at)
		best := 360.0
		for _, v := range r.state.VanesDeg { // vanes pull the line low as they enter (hand-made table: in-vane level low, active edge falling)
			if d := remainder(x-v[0], 720); d < best && d > -best {
				best = max(d, -d)
			}
		}
		if best > 1 {
			t.Errorf("a fall at %.1f°, no vane enters within %.1f°", x, best)
		}
	}
	if falls != 8 {
		t.Errorf("%d falls in one cycle of an eight", falls)
	}
	d := r.drawTrace()
	if n := len(d.Labels); n < 8 || n > 9 || len(d.Sparks) != n { // a starter that slows brings a ninth in by a hair
		t.Errorf("%d sparks in one cycle of an eight", len(d.Labels))
	}
	if n := strings.Count(d.CrankLine, "V"); n != 16 {
		t.Errorf("%d steps in the crank line: %s", n, d.CrankLine)
	}
	if n := strings.Count(d.CamLine, "V"); n != 2 {
		t.Errorf("%d steps in the cam line: %s", n, d.CamLine)
	}
}

func remainder(a, b float64) float64 {
	for a > b/2 {
		a -= b
	}
	for a < -b/2 {
		a += b
	}
	return a
}

// A ring that slipped reads wrong on the tape by what it slipped, standing and under the light, and nothing that
// the page is told gives the truth away: the marks of a sound and of a slipped damper start from the same place of
// the metal.
func TestSlippedRingMovesTheMarks(t *testing.T) {
	at := func(fault string) *rig {
		c := start()
		r := byHand(t, order{}, c)
		if err := r.hide(eve, []string{fault}, 5); err != nil {
			t.Fatal(err)
		}
		w, _ := r.watch(ada, "t")
		defer r.leave(w)
		act(t, r, ada, "t", "key", "to", "on")
		act(t, r, ada, "t", "light", "to", "on")
		act(t, r, ada, "t", "starter", "to", "on")
		r.seconds(c, 5)
		return r
	}
	sound, slipped := at("damper=0deg"), at("damper=6deg")
	for _, r := range []*rig{sound, slipped} {
		// A zero mark that stands d before the pointer is drawn d back from it against the running direction; a tape
		// line of d degrees lies d ahead of zero.
		if got, want := r.damperAngle(), -r.base.crank*r.markDeg(); remainder(got-want, 360) > 0.01 || remainder(got-want, 360) < -0.01 {
			t.Errorf("the damper is drawn at %.2f°, its mark %.2f° before the pointer", got, r.markDeg())
		}
		now := r.now()
		if now.Look != "lit" {
			t.Fatalf("the light is on, and the damper is seen %s", now.Look)
		}
		drawn := now.Damper
		if d := remainder(-drawn/r.base.crank-*r.state.ShownDeg, 360); d > 0.1 || d < -0.1 {
			t.Errorf("by the flash the tape shows %.2f° at the pointer, the light %.2f°", -drawn/r.base.crank, *r.state.ShownDeg)
		}
	}
	if d := slipped.markDeg() - sound.markDeg(); remainder(d-6, 360) > 0.2 || remainder(d-6, 360) < -0.2 {
		t.Errorf("the same crank, marks %.2f° apart, want 6°", d)
	}
	if a, b := sound.state.ShownDeg, slipped.state.ShownDeg; a == nil || b == nil || *b-*a < 5.5 || *b-*a > 6.5 {
		t.Errorf("light shows %v and %v, want 6° more", a, b)
	}
	same := func(kind string) (x, y float64) {
		for _, e := range sound.trace.events {
			if e.kind == kind {
				x = sound.onAxis(e.at)
			}
		}
		for _, e := range slipped.trace.events {
			if e.kind == kind {
				y = slipped.onAxis(e.at)
			}
		}
		return x, y
	}
	if x, y := same("cam edge"); remainder(x-y-6, 720) > 0.5 || remainder(x-y-6, 720) < -0.5 {
		t.Errorf("by the slipped marks the cam edge comes at %.1f°, by sound ones at %.1f°: want 6° less", y, x)
	}
}

// An exercise by its controls: timing falls back with speed; the allowance is raised by what the bench itself says is
// missing, stored, and in force only after a power-cycle. The judge is the bench's own truth, asked once an attempt.
func TestExerciseIsJudged(t *testing.T) {
	c := start()
	r := byHand(t, order{Exercise: "falls-back"}, c)
	w, _ := r.watch(ada, "t")
	defer r.leave(w)
	if r.hides() != "hidden" {
		t.Error("an exercise hides nothing")
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := r.judge(ada, "t", nil); status(err) != 409 || !strings.Contains(err.Error(), "key was never on") {
		t.Errorf("judged with the key never on: %v", err)
	}
	act(t, r, ada, "t", "key", "to", "on")
	if err := r.judge(ada, "t", []string{"no such"}); status(err) != 422 {
		t.Error(err)
	}
	missing := r.session.Truth().DelayUS
	must(r.judge(ada, "t", nil))
	if r.verdict.Outcome.Passed || len(r.verdict.Outcome.Checks) < 4 || r.verdict.Truth.WorstDeg < 1 {
		t.Fatalf("passed untouched: %+v", r.verdict.Outcome)
	}
	cure := func(end ...string) {
		t.Helper()
		act(t, r, ada, "t", "key", "to", "on")
		_, _, s := r.session.Settings()
		act(t, r, ada, "t", "settings", "allowance", page.Figure(float64(s.Allowance)+missing, 0))
		for _, what := range end {
			act(t, r, ada, "t", what)
		}
	}
	cure("store", "cycle")
	if err := r.judge(ada, "t", nil); status(err) != 409 || r.verdict.Outcome.Passed {
		t.Errorf("a second word on one attempt: %v, passed %v", err, r.verdict.Outcome.Passed)
	}
	must(r.again(ada, "t", 12))
	if r.number != 2 || r.verdict != nil || len(r.past) != 1 || r.past[0].Word != "goal not reached" {
		t.Fatalf("another attempt: number %d, %+v, past %+v", r.number, r.verdict, r.past)
	}
	missing = r.session.Truth().DelayUS
	cure()
	must(r.judge(ada, "t", nil))
	if r.verdict.Outcome.Passed {
		t.Error("passed with the cure on the screen only")
	}
	must(r.again(ada, "t", 13))
	missing = r.session.Truth().DelayUS
	cure("store", "cycle")
	must(r.judge(ada, "t", nil))
	if left := r.verdict.Truth.DelayUS; left > 1 || left < -1 {
		t.Errorf("%.0f µs left after the cure", left)
	}
	if r.verdict.Outcome.Passed {
		t.Error("passed though nothing was read after the cure")
	}
	b := r.body(&page.Session{Role: page.Look})
	if b.Outcome == nil || len(b.Outcome.Checks) < 4 || len(b.Outcome.Lines) == 0 || !strings.HasSuffix(b.Outcome.Lines[0].Value, "°") {
		t.Errorf("alone, and the debrief shows no checks and no error in degrees: %+v", b.Outcome)
	}
	if err := byHand(t, order{}, c).judge(ada, "t", nil); status(err) != 409 {
		t.Errorf("a free bench judged: %v", err)
	}
}

// Where an instructor leads, the word is told at once and the truth when the instructor tells it; the instructor's own
// practice alone keeps nothing back.
func TestTruthIsTheInstructorsToTell(t *testing.T) {
	c := start()
	r := byHand(t, order{Exercise: "falls-back", Maker: personOf(eve)}, c)
	_, _ = r.watch(ada, "t")
	act(t, r, ada, "t", "key", "to", "on")
	if err := r.judge(ada, "t", nil); err != nil {
		t.Fatal(err)
	}
	b := r.body(ada)
	if b.Outcome == nil || b.Outcome.Word != "goal not reached" || b.Outcome.Lines != nil || b.Secret != nil || b.Done != nil {
		t.Errorf("judged, and a student is told %+v, hidden %v, done %v", b.Outcome, b.Secret, b.Done)
	}
	if err := r.again(ada, "t", 3); status(err) != 409 {
		t.Errorf("a student begins anew where an instructor leads: %v", err)
	}
	if err := r.release(eve); err != nil {
		t.Fatal(err)
	}
	if b = r.body(ada); len(b.Outcome.Lines) == 0 || len(b.Secret) != 1 {
		t.Errorf("released, and a student is told %+v, hidden %v", b.Outcome, b.Secret)
	}
	told := byHand(t, order{Exercise: "falls-back", Maker: personOf(eve)}, c)
	act(t, told, ada, "t", "key", "to", "on")
	if err := told.release(eve); err != nil {
		t.Fatal(err)
	}
	if err := told.judge(ada, "t", nil); status(err) != 409 {
		t.Errorf("judged after the truth was told: %v", err)
	}
	alone := byHand(t, order{Exercise: "falls-back", Maker: personOf(eve)}, c)
	act(t, alone, eve, "t", "key", "to", "on")
	if err := alone.judge(eve, "t", nil); err != nil || !alone.released {
		t.Errorf("alone, and told nothing: %v", err)
	}
}

// A fault that an instructor hides in an exercise comes to the exercise's own; brief, goal and judge stay.
func TestHidingKeepsTheExercise(t *testing.T) {
	c := start()
	r := byHand(t, order{Exercise: "falls-back"}, c)
	if err := r.hide(eve, []string{"damper=4deg"}, 5); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(r.faults.List(), " "); r.exercise == nil || !strings.Contains(got, "damper=4deg") || !strings.Contains(got, "delay=") {
		t.Errorf("exercise %v, hidden %s", r.exercise, got)
	}
	if err := r.hide(eve, []string{"delay=300us"}, 5); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(r.faults.List(), " "); got != "delay=300us" {
		t.Errorf("named by both, hidden %s", got)
	}
}

// The cap shows what hangs on a tower once its wire was followed, as it is and not as the card has it; until then tower
// and spark go by a letter. What is swapped afterwards shows swapped.
func TestCapShowsTheWiresAsTheyAre(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	const sound = "1 5 6 8 4 2 7 3" // the bench's own eight fires in this order
	if got := strings.Join(r.towerNames(), " "); got != sound {
		t.Fatalf("with nothing hidden the cap shows %s", got)
	}
	if err := r.hide(eve, []string{"wires=6-8"}, 5); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(r.towerNames(), " "); got != "A B C D E F G H" {
		t.Fatalf("with a fault hidden the cap shows %s", got)
	}
	act(t, r, ada, "t", "key", "to", "on")
	act(t, r, ada, "t", "starter", "to", "on")
	r.seconds(c, 4)
	for _, l := range r.now().Labels {
		if !strings.Contains("ABCDEFGH", l[1]) {
			t.Errorf("a spark is called %s before any wire was followed", l[1])
		}
	}
	if err := r.do(ada, "t", "follow", sent("tower", "2")); status(err) != 409 {
		t.Errorf("a wire followed on a turning engine: %v", err)
	}
	act(t, r, ada, "t", "starter", "to", "off")
	r.seconds(c, 3)
	act(t, r, ada, "t", "follow", "tower", "2")
	if got := strings.Join(r.towerNames(), " "); got != "A B 8 D E F G H" {
		t.Errorf("the third tower's wire was followed: %s", got)
	}
	act(t, r, ada, "t", "key", "to", "off")
	act(t, r, ada, "t", "swap", "one", "2", "two", "3")
	if got := strings.Join(r.towerNames(), " "); got != "A B 6 D E F G H" {
		t.Errorf("changed over: %s", got)
	}
	act(t, r, ada, "t", "follow", "tower", "all")
	if got := strings.Join(r.towerNames(), " "); got != sound {
		t.Errorf("all followed: %s", got)
	}
	if err := r.do(ada, "t", "swap", sent("one", "2", "two", "99")); status(err) != 409 {
		t.Errorf("a tower that is not there: %v", err)
	}
}

// Two pages on one bench know the same, whether they came early, late, or were too slow to take everything.
func TestEveryPageKnowsTheSame(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	early, err := r.watch(ada, "t1")
	if err != nil {
		t.Fatal(err)
	}
	one := told(t, early, map[string]any{})
	act(t, r, ada, "t1", "key", "to", "on")
	act(t, r, ada, "t1", "light", "to", "on")
	act(t, r, ada, "t1", "starter", "to", "on")
	slow, _ := r.watch(ben, "t2")
	for range 30 {
		r.seconds(c, 0.2)
		one = told(t, early, one)
	}
	if len(slow.c) != 1 {
		t.Fatalf("%d states wait for a slow page", len(slow.c))
	}
	two := told(t, slow, map[string]any{})
	late, _ := r.watch(eve, "t3")
	r.seconds(c, 0.1)
	one, two = told(t, early, one), told(t, slow, two)
	three := told(t, late, map[string]any{})
	if len(one) < 40 {
		t.Errorf("only %d things are told", len(one))
	}
	for k := range one {
		a, b, z := page.AsJSON(one[k]), page.AsJSON(two[k]), page.AsJSON(three[k])
		if a != b || a != z || a == "null" {
			t.Errorf("%s: %s, %s, %s", k, a, b, z)
		}
	}
	if one["sync"] != "held" || one["crank"] != "pulses" || one["watching"].(float64) != 3 {
		t.Errorf("after six seconds on the starter: sync %v, crank lamp %v, %v watching", one["sync"], one["crank"], one["watching"])
	}
}

// What the page is told to draw puts a vane's edge at its pickup at the angle at which the bench says that the edge
// passes, the rotor at the tower whose cylinder sparks, and the zero mark at the pointer at TDC: worked out here from
// the bench's own state by another way round.
func TestDrawingAgreesWithTheBench(t *testing.T) {
	for _, name := range []string{"sandpiper", "gorse-hill", "heron-ferry", "mill-pump", "ember-twelve"} {
		card, mistakes := record.ParseCard(example(t, name))
		if len(mistakes) > 0 {
			t.Fatal(mistakes)
		}
		config, err := bench.FromCard(card)
		if err != nil {
			t.Fatal(err)
		}
		c := start()
		r := byHand(t, order{Config: config}, c)
		act(t, r, ada, "t", "key", "to", "on")
		turnRotor, turnCrank := float64(config.Distributor.Rotation), float64(config.Engine.Rotation)
		near := func(what string, got, want, within float64) {
			t.Helper()
			if d := remainder(got-want, 360); d > within || d < -within {
				t.Errorf("%s: %s at %.2f°, want %.2f°", name, what, got, want)
			}
		}
		check := func(when string) {
			t.Helper()
			st := r.state
			housing, wheel, rotor, damper := r.angles()
			a := r.turned()
			for k, v := range st.VanesDeg {
				if v[0] == v[1] {
					continue
				}
				togo := (v[0] - st.CrankDeg) / 2 // shaft degrees until the leading edge meets the pickup
				edge := r.base.vanes[k] + wheel + turnRotor*togo
				near(when+": vane edge at its pickup", edge, crankPickupAt+housing, 0.03)
			}
			near(when+": zero mark", damper, turnCrank*st.CrankDeg, 0.03)
			if len(r.base.towers) > 0 {
				near(when+": rotor after the first tower", turnRotor*(rotor-housing-r.base.first), st.RotorDeg, 0.03)
				at := r.towerAt(a)
				tower := float64(r.base.towers[at].Angle)
				if d := remainder(rotor-housing-tower, 360); d > 360/float64(len(r.base.towers)) || d < -360/float64(len(r.base.towers)) {
					t.Errorf("%s, %s: the rotor stands %.1f° from tower %d", name, when, d, at)
				}
				if at+1 != st.Tower {
					t.Errorf("%s, %s: tower %d, the bench says %d", name, when, at+1, st.Tower)
				}
			}
		}
		check("as found")
		act(t, r, ada, "t", "crank", "by", "123")
		check("turned by hand")
		act(t, r, ada, "t", "clamp", "to", "off")
		act(t, r, ada, "t", "housing", "by", "4.5")
		check("housing against the rotor")
		if got, _, _, _ := r.angles(); remainder(got+turnRotor*4.5, 360) > 0.01 || remainder(got+turnRotor*4.5, 360) < -0.01 {
			t.Errorf("%s: 4.5° against the rotor turn the housing on the drawing by %.2f°", name, got)
		}
		act(t, r, ada, "t", "power", "to", "off")
		act(t, r, ada, "t", "half")
		act(t, r, ada, "t", "power", "to", "on")
		check("half a turn round")
		act(t, r, ada, "t", "starter", "to", "on")
		r.seconds(c, 1.3)
		check("on the starter")
	}
}

// Every exercise can be set up on every example that it fits.
func TestEveryExerciseOnEveryExample(t *testing.T) {
	for _, name := range []string{"sandpiper", "gorse-hill", "heron-ferry", "mill-pump", "tern-single", "ember-twelve"} {
		card, _ := record.ParseCard(example(t, name))
		config, err := bench.FromCard(card)
		if err != nil {
			t.Fatal(name, err)
		}
		for _, x := range append([]bench.Exercise{{}}, bench.Exercises()...) {
			c := start()
			r, err := newRig(order{Config: config, Exercise: x.Name}, 3, c.Now, nil)
			if err != nil {
				if x.Name != "wires" && status(err) != 422 {
					t.Errorf("%s, %s: %v", name, x.Name, err)
				}
				continue
			}
			w, _ := r.watch(ada, "t")
			act(t, r, ada, "t", "key", "to", "on")
			act(t, r, ada, "t", "starter", "to", "on")
			r.seconds(c, 0.5)
			r.leave(w)
		}
	}
}

// clock is a clock that tests move.
type clock struct{ now time.Time }

func (c *clock) Now() time.Time { return c.now }

var (
	ada = &page.Session{Role: page.Work, Who: "Ada Reed", Device: "a"}
	ben = &page.Session{Role: page.Work, Who: "Ben Hale", Device: "b"}
	eve = &page.Session{Role: page.Instructor, Who: "Eve Marsh", Device: "e"}
)

// example is a job card that the repository ships.
func example(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile("../../examples/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
