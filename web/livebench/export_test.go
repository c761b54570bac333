package livebench

import (
	"strings"

	"phasewright/web/page"
)

// What the tests that see the whole server ask of a bench.

// Limits that they test.
const (
	MaxBenches = maxBenches
	Period     = benchPeriod
	Grace      = benchGrace
)

// Knows says whether there is a control of a name.
func Knows(control string) bool { return controls()[control] != nil }

// At finds the bench behind an address.
func (o *Room) At(path string) (*rig, error) { return o.rigs.find(strings.TrimPrefix(path, "/bench/")) }

// Count is how many benches are set up.
func (o *Room) Count() int { return len(o.rigs.list()) }

// PutAway takes a bench off, as from another screen.
func (o *Room) PutAway(path string) { o.rigs.putAway(strings.TrimPrefix(path, "/bench/"), "a test") }

// Break takes the engine off the bench, so that its loop breaks.
func (r *rig) Break() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.session = nil
}

// Crank lets four seconds pass without waiting for them.
func (r *rig) Crank() {
	r.mu.Lock()
	defer r.mu.Unlock()
	for range 180 {
		r.step()
	}
}

// Hidden are the faults in the engine.
func (r *rig) Hidden() []string { return r.faults.List() }

// Watch follows the bench: heard gives what was sent since.
func (r *rig) Watch(by *page.Session, tab string) (heard func() string, leave func(), err error) {
	w, err := r.watch(by, tab)
	if err != nil {
		return nil, nil, err
	}
	return func() (all string) {
		for len(w.c) > 0 {
			all += <-w.c
		}
		return all
	}, func() { r.leave(w) }, nil
}

// Watching is how many pages follow the bench.
func (r *rig) Watching() int {
	n, _, _ := r.quiet(r.clock())
	return n
}

// Missing is the delay that is left over, µs.
func (r *rig) Missing() float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.session.Truth().DelayUS
}

// Allowance is what stands on the controller's screen, µs.
func (r *rig) Allowance() float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	_, _, s := r.session.Settings()
	return float64(s.Allowance)
}

// Stands is the engine's own clock and place, and what the book knows of the attempt.
func (r *rig) Stands() (timeS, turnedDeg float64, attempt int, judged bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.state.TimeS, r.state.TurnedDeg, r.number, r.verdict != nil
}
