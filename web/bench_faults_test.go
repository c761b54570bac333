package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/record"
)

// A class on phones sees the same bench; what is hidden is in no page and no stream until it is revealed, and only an instructor hides and reveals.
func TestHiddenFaultLeaksToNobody(t *testing.T) {
	s := newShop(t)
	b := s.bench(url.Values{})
	room := s.roomOf(b)
	look, work := s.pairPhone(Look), s.pairPhone(Work)
	as := func(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }
	page := func(c *http.Cookie) string {
		w := s.do(request("GET", b, phoneAddr, nil, as(c)))
		wantCode(t, w, 200)
		return w.Body.String()
	}
	for _, path := range []string{"/hide", "/reveal"} {
		wantCode(t, s.do(request("POST", b+path, phoneAddr, form("fault", "delay"), as(work))), 403)
	}
	for _, path := range []string{"/do", "/take", "/judge", "/away"} {
		wantCode(t, s.do(request("POST", b+path, phoneAddr, form("do", "key", "to", "on"), as(look))), 403)
	}
	wantCode(t, s.post(b+"/hide", form("fault", "delay", "size", "230us", "fault", "damper", "size", "4.3deg")), 303)
	w, err := room.watch(&visit{role: Look, who: "class", device: "c"}, "t")
	if err != nil {
		t.Fatal(err)
	}
	if got := room.faults; float64(got.Delay) != 230 || float64(got.Damper) != 4.3 {
		t.Fatalf("hidden: %v", got.List())
	}
	for _, role := range []*http.Cookie{look, work} {
		text := page(role)
		for _, secret := range []string{"230\u202fµs", "4.3°", bench.FaultTable()[0].Title, "damper ring", "signal delay"} {
			if strings.Contains(strings.ToLower(text), strings.ToLower(secret)) {
				t.Errorf("the page says %q", secret)
			}
		}
		wantIn(t, text, "a fault is hidden")
		if works := strings.Contains(text, `action="`+b+`/`); works != (role == work) {
			t.Errorf("a device that may look only is offered controls, or one that may work is not: %v", works)
		}
	}
	stream := ""
	for len(w.c) > 0 {
		stream += <-w.c
	}
	for _, secret := range []string{"230", "4.3", "delay", "damper ring"} {
		if strings.Contains(stream, secret) {
			t.Errorf("the stream says %q: %s", secret, stream)
		}
	}
	wantIn(t, stream, `"faults":"hidden"`)
	wantIn(t, s.get(b).Body.String(), "230\u202fµs") // the instructor's own screen
	wantCode(t, s.do(request("POST", b+"/do", phoneAddr, form("do", "key", "to", "on"), as(work))), 303)
	wantCode(t, s.do(request("POST", b+"/away", phoneAddr, nil, as(s.pairPhone(Work)))), 409) // somebody else is at it
	wantCode(t, s.post(b+"/reveal", nil), 303)
	text := page(look)
	for _, part := range []string{"230\u202fµs", "4.3°", "What was hidden", "What was done", "key on", "Ada Reed, phone"} {
		wantIn(t, text, part)
	}
	if again, _ := room.watch(ben, "u"); !strings.Contains(<-again.c, `"faults":"revealed"`) {
		t.Error("the stream does not say that it is revealed")
	}
}

// A ring that slipped reads wrong on the tape by what it slipped, standing and under the light, and nothing that the page is told gives the truth away:
// the marks of a sound and of a slipped damper start from the same place of the metal.
func TestSlippedRingMovesTheMarks(t *testing.T) {
	at := func(fault string) *room {
		c := start()
		r := byHand(t, benchOrder{}, c)
		f, err := bench.ParseFaults(r.config, fault)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.hide(eve, f, 5); err != nil {
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
	for _, r := range []*room{sound, slipped} {
		// A zero mark that stands d before the pointer is drawn d back from it against the running direction; a tape line of d degrees lies d ahead of zero.
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

// An exercise by its controls: timing falls back with speed; the allowance is raised by what the bench itself says is missing, stored, and in force only
// after a power-cycle. The judge is the bench's own truth.
func TestExerciseIsJudged(t *testing.T) {
	c := start()
	r := byHand(t, benchOrder{Exercise: "falls-back"}, c)
	w, _ := r.watch(ada, "t")
	defer r.leave(w)
	if r.hides() != "hidden" {
		t.Error("an exercise hides nothing")
	}
	if err := r.judge(ada, "t", []string{"no such"}); status(err) != 422 {
		t.Error(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(r.judge(ada, "t", nil))
	if r.outcome.Passed || r.outcome.Truth.WorstDeg < 1 {
		t.Fatalf("passed untouched: %+v", *r.outcome)
	}
	missing := r.outcome.Truth.DelayUS
	act(t, r, ada, "t", "key", "to", "on")
	_, _, s := r.session.Settings()
	act(t, r, ada, "t", "settings", "allowance", figure(float64(s.Allowance)+missing, 0))
	must(r.judge(ada, "t", nil))
	if r.outcome.Passed {
		t.Error("passed with the cure on the screen only")
	}
	act(t, r, ada, "t", "store")
	act(t, r, ada, "t", "cycle")
	must(r.judge(ada, "t", nil))
	if !r.outcome.Passed {
		t.Errorf("not passed after the cure: %s", r.outcome.Debrief)
	}
	srv := newShop(t)
	b := r.body(srv.Server, &visit{role: Look})
	if b.Outcome == nil || b.Outcome.Word != "goal reached" || !strings.HasSuffix(b.Outcome.Lines[0].Value, "°") {
		t.Errorf("the debrief shows no error in degrees: %+v", b.Outcome)
	}
	if err := byHand(t, benchOrder{}, c).judge(ada, "t", nil); status(err) != 409 {
		t.Errorf("a free bench judged: %v", err)
	}
}

// Every exercise can be set up on every example that it fits, and every control of the page is one that the bench knows.
func TestEveryExerciseOnEveryExample(t *testing.T) {
	for _, name := range []string{"sandpiper", "gorse-hill", "heron-ferry", "mill-pump", "tern-single", "ember-twelve"} {
		card, _ := record.ParseCard(example(t, name))
		config, err := bench.FromCard(card)
		if err != nil {
			t.Fatal(name, err)
		}
		for _, x := range append([]bench.Exercise{{}}, bench.Exercises()...) {
			c := start()
			r, err := newRoom(benchOrder{Config: config, Exercise: x.Name}, 3, c.Now, nil)
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
	s := newShop(t)
	text := s.get(s.bench(form("exercise", "two-faults"))).Body.String()
	known := controls()
	for i, part := range strings.Split(text, `name="do" value="`) {
		if name, _, ok := strings.Cut(part, `"`); i > 0 && ok && known[name] == nil && name != "take" && name != "leave" {
			t.Errorf("the page has a control %q that the bench does not know", name)
		}
	}
}

// Without script: turn the housing, crank, read the light, all by forms and pages.
func TestBenchWithoutScript(t *testing.T) {
	s := newShop(t)
	b := s.bench(form())
	room := s.roomOf(b)
	post := func(pairs ...string) {
		t.Helper()
		wantCode(t, s.post(b+"/do", form(pairs...)), http.StatusSeeOther)
	}
	post("do", "clamp", "to", "off")
	post("do", "housing", "by", "0,5", "way", "against")
	wantIn(t, s.get(b).Body.String(), "0.5° against the rotor")
	post("do", "clamp", "to", "on")
	post("do", "key", "to", "on")
	post("do", "light", "to", "on")
	post("do", "starter", "to", "on")
	room.mu.Lock()
	for range 60 { // four seconds of cranking, without waiting for them
		room.state = room.session.Step(66000)
		room.mean.add(room.state.TimeS, room.state.TurnedDeg)
	}
	room.mu.Unlock()
	text := s.get(b).Body.String()
	wantIn(t, text, "as the flash shows it")
	wantIn(t, text, "by the flash ")
	wantIn(t, text, ">you hold the controls<")
	s.Close()
}
