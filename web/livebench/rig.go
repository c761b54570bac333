package livebench

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"sync"
	"time"

	"phasewright/bench"
	"phasewright/web/page"
)

const (
	maxBenches   = 8
	benchPeriod  = 66 * time.Millisecond // from one state sent to the next
	benchGrace   = 25 * time.Second      // a bench that nobody watches goes on for so long, then its time stands still
	benchForget  = 2 * time.Hour         // and is put away after that
	holdAway     = 15 * time.Second      // controls are let go when their holder's page has been gone for so long
	holdByForms  = 2 * time.Minute       // the same for a holder whose page has no script
	starterAway  = 3 * time.Second       // the starter is let go much sooner
	mostSamples  = 3                     // crank angles in one state
	mostDone     = 300                   // lines kept of what was done
	mostWatchers = 200
)

// rigs are the benches that are set up in this shop. They live in memory: the book keeps work on engines, not practice.
type rigs struct {
	clock  func() time.Time
	random io.Reader
	log    *slog.Logger
	mu     sync.Mutex
	byID   map[string]*rig
	shut   bool
	loops  sync.WaitGroup
}

func newRigs(clock func() time.Time, random io.Reader, log *slog.Logger) *rigs {
	return &rigs{clock: clock, random: random, log: log, byID: map[string]*rig{}}
}

// order is what somebody wants on a bench.
type order struct {
	From     string // form value of the engine: template-… or a job; "" is the bench's own
	Config   bench.Config
	Job      *page.Head // nil: no job
	Exercise string     // "": a free bench
}

// set puts an engine on a new bench.
func (b *rigs) set(o order) (*rig, error) {
	seed, err := b.seed()
	if err != nil {
		return nil, err
	}
	r, err := newRig(o, seed, b.clock, &b.loops)
	if err != nil {
		return nil, err
	}
	r.log = b.log
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.shut {
		return nil, page.Say(http.StatusServiceUnavailable, "The program is ending.",
			"Start it again, then set the bench up.")
	}
	b.sweep()
	if len(b.byID) >= maxBenches && !b.makePlace() {
		return nil, page.Say(http.StatusServiceUnavailable, fmt.Sprintf("All %d benches are in use.", maxBenches),
			"Put one away first, or join one.")
	}
	for r.id == "" || b.byID[r.id] != nil {
		if seed, err = b.seed(); err != nil {
			return nil, err
		}
		r.id = idOf(seed)
	}
	b.byID[r.id] = r
	return r, nil
}

// idOf is a short name for a bench, of signs that are not mistaken for each other.
func idOf(n uint64) string {
	const signs = "abcdefghjkmnpqrstuvwxyz23456789"
	id := make([]byte, 6)
	for i := range id {
		id[i] = signs[n%uint64(len(signs))]
		n /= uint64(len(signs))
	}
	return string(id)
}

func (b *rigs) seed() (uint64, error) {
	var raw [8]byte
	_, err := io.ReadFull(b.random, raw[:])
	return binary.LittleEndian.Uint64(raw[:]), err
}

// sweep puts benches away that nobody has touched for long.
func (b *rigs) sweep() {
	now := b.clock()
	for id, r := range b.byID {
		if watching, since := r.quiet(now); watching == 0 && since > benchForget {
			r.close()
			delete(b.byID, id)
		}
	}
}

// makePlace puts away the bench that has been alone the longest.
func (b *rigs) makePlace() bool {
	now := b.clock()
	var oldest *rig
	var most time.Duration
	for _, r := range b.byID {
		if watching, since := r.quiet(now); watching == 0 && since > benchGrace && since > most {
			oldest, most = r, since
		}
	}
	if oldest == nil {
		return false
	}
	oldest.close()
	delete(b.byID, oldest.id)
	return true
}

func (b *rigs) find(id string) (*rig, error) {
	b.mu.Lock()
	r := b.byID[id]
	b.mu.Unlock()
	if r == nil {
		return nil, page.Say(http.StatusNotFound,
			"This bench is not there any more: it was put away, or the host was started again.",
			"Set it up anew under Bench.")
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.broke != nil {
		return nil, r.broke
	}
	return r, nil
}

// list gives the benches, those set up last first.
func (b *rigs) list() []*rig {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.sweep()
	return slices.SortedFunc(maps.Values(b.byID), func(x, y *rig) int {
		return cmp.Or(y.made.Compare(x.made), cmp.Compare(x.id, y.id))
	})
}

func (b *rigs) putAway(id string) {
	b.mu.Lock()
	r := b.byID[id]
	delete(b.byID, id)
	b.mu.Unlock()
	if r != nil {
		r.close()
	}
}

// close ends every bench and waits until nothing runs.
func (b *rigs) close() {
	b.mu.Lock()
	b.shut = true
	for id, r := range b.byID {
		r.close()
		delete(b.byID, id)
	}
	b.mu.Unlock()
	b.loops.Wait()
}

// rig is one bench with the people around it. Everything below mu belongs to whoever holds mu.
type rig struct {
	id     string
	order  order
	config bench.Config
	made   time.Time
	clock  func() time.Time
	loops  *sync.WaitGroup
	ended  chan struct{} // closed when the bench is put away
	log    *slog.Logger

	mu       sync.Mutex
	session  *bench.Session
	exercise *bench.Exercise
	state    bench.State
	base     pose
	trace    trace
	last     time.Time // up to which time has passed on the bench
	touched  time.Time // somebody came, went or did something
	running  bool
	shut     bool
	broke    *page.UserError // an invariant broke in the loop: what to tell; nil while the bench is sound

	watchers map[*watcher]bool
	numbers  int
	hold     hold
	sent     string // the state as last sent
	samples  []float64
	mean     meanSpeed

	faults   bench.Faults  // what was hidden
	offer    []bench.Fault // what may be: made when first asked for
	hiddenBy string        // "" where nothing was hidden by hand
	revealed bool
	outcome  *bench.Outcome
	judgedBy string
	done     []doneLine
	heard    doneLine
	notes    int // heard so far
	version  int // of what the page fetches anew
	scene    int // of what must be drawn anew
}

// doneLine is one thing done or heard.
type doneLine struct {
	At   time.Time
	TS   float64 // on the bench's own clock
	Who  string
	What string
}

func newRig(o order, seed uint64, clock func() time.Time, loops *sync.WaitGroup) (*rig, error) {
	config, now := o.Config, clock()
	r := &rig{order: o, config: config, made: now, clock: clock, loops: loops, ended: make(chan struct{}),
		last: now, touched: now, watchers: map[*watcher]bool{}}
	if o.Exercise != "" {
		x, ok := bench.FindExercise(o.Exercise)
		if !ok {
			return nil, page.Refuse("There is no exercise of that name.", "Choose one from the list.")
		}
		s, err := x.Start(config, seed)
		if err != nil {
			return nil, page.Refuse(err.Error()+".", "Choose another exercise or another engine.")
		}
		if r.faults, err = bench.ParseFaults(config, s.Reveal()...); err != nil {
			return nil, err
		}
		r.exercise = &x
		return r, r.place(s)
	}
	s, err := bench.NewSession(config, bench.Faults{}, seed)
	if err != nil {
		return nil, refuseEngine(err)
	}
	return r, r.place(s)
}

// place puts a session on the bench and looks at how it stands.
func (r *rig) place(s *bench.Session) error {
	r.session, r.state = s, s.Step(0)
	r.trace, r.samples, r.mean = trace{}, nil, meanSpeed{}
	r.outcome, r.judgedBy, r.revealed = nil, "", false
	r.scene++
	r.version++
	var err error
	r.base, err = newPose(r)
	return err
}

// reset puts the same engine back with faults hidden in it.
func (r *rig) reset(f bench.Faults, seed uint64, by string) error {
	s, err := bench.NewSession(r.config, f, seed)
	if err != nil {
		return err
	}
	r.faults, r.exercise, r.hiddenBy = f, nil, by
	r.done = nil
	return r.place(s)
}

// hides says how the bench stands about hidden faults: none, hidden, revealed.
func (r *rig) hides() string {
	switch {
	case r.revealed:
		return "revealed"
	case r.exercise != nil, len(r.faults.List()) > 0:
		return "hidden"
	}
	return "none"
}

// quiet says how many watch and how long ago anything happened.
func (r *rig) quiet(now time.Time) (watching int, since time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.watchers), now.Sub(r.touched)
}

// close ends the bench; whoever watches is told.
func (r *rig) close() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.end()
}

func (r *rig) end() {
	if !r.shut {
		r.shut = true
		close(r.ended)
	}
}

// line says in the list how a bench stands.
func (r *rig) line() rigLine {
	r.mu.Lock()
	defer r.mu.Unlock()
	l := rigLine{ID: r.id, Name: r.name(), About: r.about(), State: page.Count(len(r.watchers), "screen") + " watching",
		Holder: "nobody holds the controls"}
	if r.hold.held() {
		l.Holder = r.hold.who + " holds the controls"
	}
	if r.broke != nil {
		l.State, l.Holder = "put away", r.broke.What
	}
	return l
}

// name is what the engine on the bench is called.
func (r *rig) name() string {
	if r.order.Job != nil {
		return r.order.Job.Name
	}
	return r.config.Name
}

// about says what the bench is set up for.
func (r *rig) about() string {
	if r.exercise != nil {
		return "exercise: " + r.exercise.Title
	}
	switch r.hides() {
	case "hidden":
		return "a fault is hidden"
	case "revealed":
		return "what was hidden is shown"
	}
	return "free bench"
}
