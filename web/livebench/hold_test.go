package livebench

import (
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"phasewright/bench"
	"phasewright/web/page"
)

// status is the answer's status of an error in words.
func status(err error) int {
	var p *page.UserError
	if errors.As(err, &p) {
		return p.Status
	}
	return 0
}

// One pair of hands at a time: the bench says whose, lets anybody take over, and tells who lost them.
func TestControlsChangeHands(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	one, _ := r.watch(ada, "t1")
	two, _ := r.watch(ben, "t2")
	knows, sees := told(t, one, map[string]any{}), told(t, two, map[string]any{})
	if knows["holder"] != "" {
		t.Fatalf("held by %v before anybody did anything", knows["holder"])
	}
	act(t, r, ada, "t1", "key", "to", "on") // the first to do something has them
	knows, sees = told(t, one, knows), told(t, two, sees)
	if sees["holder"] != "Ada Reed" || sees["held"] != float64(one.number) || sees["key"] != "on" {
		t.Errorf("the other page sees holder %v, page %v, key %v", sees["holder"], sees["held"], sees["key"])
	}
	err := r.do(ben, "t2", "key", sent("to", "off"))
	if status(err) != http.StatusConflict || !strings.Contains(err.Error(), "Ada Reed holds the controls") {
		t.Errorf("a second pair of hands: %v", err)
	}
	if r.state.Key != bench.On {
		t.Error("the refused control worked")
	}
	if err := r.do(ada, "another tab", "key", sent("to", "off")); status(err) != http.StatusConflict {
		t.Errorf("another page of the same device: %v", err)
	}
	if err := r.do(ben, "t1", "key", sent("to", "off")); status(err) != http.StatusConflict {
		t.Errorf("another device under the holder's page name: %v", err)
	}
	if err := r.take(ben, "t2"); err != nil {
		t.Fatal(err)
	}
	knows = told(t, one, knows)
	if knows["holder"] != "Ada Reed" || page.AsJSON(knows["asks"]) != `[{"n":2,"who":"Ben Hale"}]` {
		t.Errorf("asked for, and the holder is told: %v holds, %v ask", knows["holder"], knows["asks"])
	}
	if err := r.give(ben, "t2", two.number); status(err) != http.StatusConflict {
		t.Errorf("the asker gives them to himself: %v", err)
	}
	if err := r.give(ada, "t1", 99); status(err) != http.StatusConflict {
		t.Errorf("given to nobody: %v", err)
	}
	if err := r.give(ada, "t1", two.number); err != nil {
		t.Fatal(err)
	}
	knows = told(t, one, knows)
	if knows["holder"] != "Ben Hale" || knows["held"] != float64(two.number) || !strings.Contains(knows["did"].(string), "by Ada Reed") || page.AsJSON(knows["asks"]) != "[]" {
		t.Errorf("the former holder is told: %v, %v, %v, %v", knows["holder"], knows["held"], knows["did"], knows["asks"])
	}
	act(t, r, ben, "t2", "key", "to", "off")
	r.letGo(ada, "t1") // not hers any more
	if !r.hold.by("t2", "b") {
		t.Error("somebody else let the holder's controls go")
	}
	if err := r.take(eve, "t3"); err != nil || !r.hold.by("t3", "e") {
		t.Errorf("an instructor takes over at once: %v", err)
	}
	_ = r.take(ben, "t2")
	if !r.hold.by("t3", "e") {
		t.Error("a student took over from the instructor")
	}
	r.letGo(eve, "t3")
	if told(t, one, knows)["holder"] != "" {
		t.Error("let go, and still held")
	}
}

// Who leads a bench has it put away; where nobody does, whoever set it up.
func TestWhoMayPutABenchAway(t *testing.T) {
	c := start()
	for _, one := range []struct {
		maker, by *page.Session
		may       bool
	}{{eve, ada, false}, {eve, eve, true}, {ada, ada, true}, {ada, ben, false}, {ada, eve, true}} {
		r := byHand(t, order{Maker: personOf(one.maker)}, c)
		if err := r.mayEnd(one.by); (err == nil) != one.may {
			t.Errorf("set up by %s, put away by %s: %v", one.maker.Who, one.by.Who, err)
		}
	}
	r := byHand(t, order{Maker: personOf(ada)}, c)
	if err := r.hide(eve, []string{"delay=200us"}, 3); err != nil {
		t.Fatal(err)
	}
	if r.mayEnd(ada) == nil {
		t.Error("a student put away what an instructor hid a fault in")
	}
}

// A holder whose page goes away: the starter is let go at once, the controls a little later; coming back in time keeps
// them.
func TestHolderGoesAway(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	other, _ := r.watch(ben, "t2")
	one, _ := r.watch(ada, "t1")
	act(t, r, ada, "t1", "key", "to", "on")
	act(t, r, ada, "t1", "starter", "to", "on")
	r.seconds(c, 2)
	r.leave(one)
	if r.state.Starter != bench.Off {
		t.Error("the starter runs on with nobody at it")
	}
	r.seconds(c, 4)
	if !r.hold.held() {
		t.Error("the controls were let go too soon")
	}
	back, _ := r.watch(ada, "t1")
	r.seconds(c, 60)
	if !r.hold.by("t1", "a") || r.hold.number != back.number {
		t.Error("the holder came back and lost the controls")
	}
	r.leave(back)
	r.seconds(c, holdAway.Seconds()+1)
	if r.hold.held() {
		t.Error("held by somebody who is gone")
	}
	sees := told(t, other, map[string]any{})
	r.seconds(c, 0.1) // it was slow; now there is room
	if sees = told(t, other, sees); sees["holder"] != "" {
		t.Errorf("the others still read %v", sees["holder"])
	}
	act(t, r, ben, "t2", "key", "to", "off")
}

// A phone that falls asleep keeps its line open and says nothing: the starter is let go after two seconds, the line of
// what was done says why, and the controls stay where they are.
func TestStarterIsADeadMansHandle(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	_, _ = r.watch(ada, "t1")
	act(t, r, ada, "t1", "key", "to", "on")
	act(t, r, ada, "t1", "starter", "to", "on")
	for range 20 {
		r.asleepFor(c, 0.6)
		r.beat(ada, "t1")
	}
	if r.state.Starter != bench.On {
		t.Fatal("let go while the page says that it is there")
	}
	r.beat(ben, "t1")
	r.asleepFor(c, starterSilent.Seconds()-0.2)
	if r.state.Starter != bench.On {
		t.Error("let go too soon")
	}
	r.beat(ben, "t2") // somebody else's word does not count
	r.asleepFor(c, 0.4)
	if r.state.Starter != bench.Off || !r.hold.by("t1", "a") {
		t.Errorf("after %v of silence: starter %s, held by %q", starterSilent, r.state.Starter, r.hold.who)
	}
	if last := r.done[len(r.done)-1].What; !strings.Contains(last, "nothing was heard") {
		t.Errorf("the last line: %s", last)
	}
	act(t, r, ada, "t1", "starter", "to", "on")
	r.asleepFor(c, starterSilent.Seconds()+0.2)
	if r.state.Starter != bench.Off {
		t.Error("the second time it cranks on")
	}
}

// Without script a device holds as a whole, and not for ever.
func TestHoldByForms(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	other, _ := r.watch(ben, "t2")
	act(t, r, ada, "", "key", "to", "on")
	r.seconds(c, 60)
	if err := r.do(ben, "t2", "key", sent("to", "off")); status(err) != http.StatusConflict {
		t.Errorf("held for a minute: %v", err)
	}
	act(t, r, ada, "", "clamp", "to", "off")
	r.seconds(c, holdByForms.Seconds()+1)
	act(t, r, ben, "t2", "clamp", "to", "on")
	told(t, other, map[string]any{})
}

// Time passes while somebody watches and a little longer; then it stands still and nothing runs.
func TestTimeStandsStillAlone(t *testing.T) {
	c := start()
	r := byHand(t, order{}, c)
	w, _ := r.watch(ada, "t1")
	r.seconds(c, 100)
	if r.state.TimeS < 99 {
		t.Errorf("100 s with a watcher: %.1f s on the bench", r.state.TimeS)
	}
	r.leave(w)
	r.seconds(c, benchGrace.Seconds()-1)
	if !r.tick(c.now) {
		t.Error("stopped before its time")
	}
	r.seconds(c, 3)
	if r.tick(c.now) {
		t.Error("goes on alone")
	}
	at := r.state.TimeS
	c.now = c.now.Add(time.Hour)
	if again, _ := r.watch(ada, "t1"); again == nil || r.state.TimeS != at {
		t.Errorf("the bench lost %.1f s of its own time", r.state.TimeS-at)
	}
	r.seconds(c, 1)
	if gone := r.state.TimeS - at; gone > 1.3 {
		t.Errorf("an hour away came all at once: %.1f s", gone)
	}
}
