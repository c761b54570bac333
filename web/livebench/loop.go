package livebench

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"time"

	"phasewright/bench"
	"phasewright/beside"
	"phasewright/quantity"
	"phasewright/web/page"
)

// watcher is one page that follows a bench.
type watcher struct {
	number int
	tab    string // made by the page, kept over reloads
	device string
	who    string
	role   page.Role
	c      chan string // the latest state, where it was not taken yet
}

// watch lets a page follow the bench and wakes it.
func (r *rig) watch(by *page.Session, tab string) (*watcher, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.shut {
		return nil, page.Say(http.StatusGone, "This bench was put away.", "Set it up anew under Bench.")
	}
	if len(r.watchers) >= mostWatchers {
		return nil, page.Say(http.StatusServiceUnavailable, "Too many pages watch this bench.",
			"Close some, then load this page again.")
	}
	r.numbers++
	w := &watcher{number: r.numbers, tab: tab, device: by.Device, who: by.Who, role: by.Role,
		c: make(chan string, 1)}
	r.watchers[w] = true
	r.hold.back(w)
	r.touch()
	r.push()
	return w, nil
}

// leave takes a page off. The starter is let go with it; the controls it held are kept for it a while.
func (r *rig) leave(w *watcher) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.watchers, w)
	now := r.clock()
	if !r.shows(w.tab) {
		if r.hold.by(w.tab, w.device) {
			r.hold.gone = now
			r.letStarterGo("the holder’s page is gone")
		}
		r.asks = slices.DeleteFunc(r.asks, func(a asking) bool { return a.tab == w.tab && a.device == w.device })
	}
	r.touched = now
	r.push()
}

// shows says whether a page with the tab still follows.
func (r *rig) shows(tab string) bool {
	for w := range r.watchers {
		if w.tab == tab {
			return true
		}
	}
	return false
}

// touch notes that somebody is there and sees to it that time passes.
func (r *rig) touch() {
	now := r.clock()
	r.touched = now
	if r.running || r.shut || r.loops == nil {
		return
	}
	r.running, r.last = true, now
	r.loops.Add(1)
	beside.Start(r.run)
}

// run is the bench's own goroutine. An invariant that breaks there ends this bench and nothing else.
func (r *rig) run() {
	defer r.loops.Done()
	broken := beside.Caught(r.loop)
	if broken == "" {
		return
	}
	number, where := page.TroubleNumber()
	r.log.Error("a bench broke down", "number", number, "bench", r.id, "err", broken)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.broke = &page.UserError{Status: http.StatusGone,
		What: "Something went wrong inside the program, and this bench was put away.",
		Do:   "Set it up anew under Bench. " + where}
	r.end()
}

// farewell is what a page is told when the bench has ended.
func (r *rig) farewell() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.broke != nil {
		return r.broke.Error()
	}
	return "This bench was put away."
}

// loop lets time pass on the bench until it is put away or nobody cares.
func (r *rig) loop() {
	tick := time.NewTicker(benchPeriod)
	defer tick.Stop()
	for {
		select {
		case <-r.ended:
			return
		case <-tick.C:
			if !r.tick(r.clock()) {
				return
			}
		}
	}
}

// tick brings the bench up to now and tells everybody; false: nobody is there, and time stands still.
func (r *rig) tick(now time.Time) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.watchers) == 0 && now.Sub(r.touched) > benchGrace {
		r.running = false
		return false
	}
	r.tend(now)
	r.pass(now)
	r.push()
	return true
}

// tend lets go of what nobody holds any more.
func (r *rig) tend(now time.Time) {
	h := &r.hold
	if r.state.Starter == bench.On && now.Sub(r.beaten) > h.silence() {
		r.letStarterGo("nothing was heard from the holder’s page")
	}
	if h.held() && !h.gone.IsZero() && now.Sub(h.gone) > h.patience() {
		r.letStarterGo("nobody holds the controls")
		r.note(h.who, "hands the controls back")
		*h = hold{}
		r.version++
	}
}

// letStarterGo is the dead man’s handle: the starter turns only while somebody is known to hold it.
func (r *rig) letStarterGo(why string) {
	if r.state.Starter != bench.On {
		return
	}
	who := cmp.Or(r.hold.who, "the bench")
	if r.apply(who, "starter", url.Values{"to": {string(bench.Off)}}) == nil { // letting go is never refused
		r.note(who, "starter let go: "+why)
	}
}

// pass lets time pass up to now, in whole steps.
func (r *rig) pass(now time.Time) {
	r.owed = min(r.owed+max(now.Sub(r.last), 0), mostOwed)
	r.last = now
	r.samples = r.samples[:0]
	for ; r.owed >= benchStep; r.owed -= benchStep {
		r.step()
	}
}

// step lets one step of the bench's time pass.
func (r *rig) step() {
	before := r.state.TurnedDeg
	r.state = r.session.Step(quantity.Time(benchStep.Microseconds()))
	r.steps++
	r.samples = append(r.samples, r.state.TurnedDeg-r.base.start)
	r.trace.add(&r.state, before)
	for _, n := range r.state.Notes {
		r.notes++
		r.heard = doneLine{At: r.clock(), TS: n.TimeS, What: n.Text}
	}
	r.mean.add(r.state.TimeS, r.state.TurnedDeg)
}

// refreshed takes in what a control changed, without letting time pass.
func (r *rig) refreshed() {
	before := r.state.TurnedDeg
	r.state = r.session.Step(0)
	r.keyed = r.keyed || r.state.Key == bench.On
	if r.state.TurnedDeg != before {
		r.trace = trace{} // turned by hand: what passed before is another place
		r.mean = meanSpeed{}
		r.samples = append(r.samples[:0], r.state.TurnedDeg-r.base.start)
	}
}

// note writes down what somebody did that changes nothing on the engine.
func (r *rig) note(who, what string) {
	r.keep(did{Step: r.steps, Who: who, Say: what})
	r.tell(who, what)
}

// keep has something done put into the book, soon.
func (r *rig) keep(d did) {
	r.worked = true
	if r.chain != "" {
		r.acts = append(r.acts, d)
	}
}

// tell puts a line on the list of what was done.
func (r *rig) tell(who, what string) {
	if what == "" {
		return
	}
	r.done = append(r.done, doneLine{r.clock(), r.state.TimeS, who, what})
	if len(r.done) > mostDone {
		r.done = append(r.done[:0:0], r.done[len(r.done)-mostDone:]...)
	}
}

// push sends the state to every watcher where more than the time has changed. A page that is slow gets the latest.
func (r *rig) push() {
	now := page.AsJSON(r.now())
	if now == r.sent {
		return
	}
	r.sent = now
	text := `data: {"t":` + short(r.state.TimeS, 3) + "," + now[1:] + "\n\n"
	for w := range r.watchers {
		select {
		case <-w.c:
		default:
		}
		w.c <- text
	}
}

// meanSpeed is the speed over the last half second or so: what a tachometer would show.
type meanSpeed struct{ time, turned [12]float64 }

func (m *meanSpeed) add(time, turned float64) {
	copy(m.time[:], m.time[1:])
	copy(m.turned[:], m.turned[1:])
	m.time[len(m.time)-1], m.turned[len(m.turned)-1] = time, turned
}

func (m *meanSpeed) rpm() float64 {
	first := 0
	for first < len(m.time)-1 && m.time[first] == 0 {
		first++
	}
	dt := m.time[len(m.time)-1] - m.time[first]
	if dt <= 0 {
		return 0
	}
	return (m.turned[len(m.turned)-1] - m.turned[first]) / dt / 6
}
