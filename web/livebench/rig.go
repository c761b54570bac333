package livebench

import (
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"phasewright/bench"
	"phasewright/web/page"
)

const (
	maxBenches  = 64
	benchPeriod = 66 * time.Millisecond // from one state sent to the next
	// benchStep is the one length of a step of the bench's own time: whoever repeats the acts at their steps comes to
	// the same bench.
	benchStep    = 22 * time.Millisecond
	mostOwed     = 250 * time.Millisecond // a loop that was held up does not make up for more
	benchGrace   = 25 * time.Second       // a bench that nobody watches goes on for so long, then its time stands still
	benchForget  = 2 * time.Hour          // one that was never worked is put away after that
	benchKept    = 7 * 24 * time.Hour     // any other after that
	holdAway     = 15 * time.Second       // controls are let go when their holder's page has been gone for so long
	holdByForms  = 2 * time.Minute        // the same for a holder whose page has no script
	mostDone     = 300                    // lines kept of what was done
	mostWatchers = 200
)

// rigs are the benches that are set up in this shop. Each has a chain of its own in the book, from which it comes back
// after a new start.
type rigs struct {
	clock  func() time.Time
	random io.Reader
	log    *slog.Logger
	keeper keeper // nil: nothing is kept
	engine func(context.Context, *order) error

	mu    sync.Mutex
	byID  map[string]*rig
	shut  bool
	ended chan struct{}
	loops sync.WaitGroup
	found sync.Once // what the book holds was looked at
	saves sync.Once // the loop that saves runs
}

func newRigs(clock func() time.Time, random io.Reader, log *slog.Logger) *rigs {
	return &rigs{clock: clock, random: random, log: log, byID: map[string]*rig{}, ended: make(chan struct{})}
}

// order is what somebody wants on a bench.
type order struct {
	Name     string // of the bench; "": the next number
	From     string // form value of the engine: template-… or a job; "" is the bench's own
	Card     string // the job card's text; "" with the bench's own engine
	Config   bench.Config
	Job      *page.Head // nil: no job
	Exercise string     // "": a free bench
	Maker    person
}

// person is somebody at a device.
type person struct {
	Device string    `json:"device,omitempty"` // "" is the host's own screen
	Who    string    `json:"who"`
	Role   page.Role `json:"role"`
}

func personOf(by *page.Session) person { return person{by.Device, by.Who, by.Role} }

// set puts an engine on a new bench.
func (b *rigs) set(ctx context.Context, o order) (*rig, error) {
	b.load()
	seed, err := b.seed()
	if err != nil {
		return nil, err
	}
	r, err := newRig(o, seed, b.clock, &b.loops)
	if err != nil {
		return nil, err
	}
	r.log, r.keeper = b.log, b.keeper
	if err := b.enter(r); err != nil {
		return nil, err
	}
	if err := r.open(ctx); err != nil {
		b.drop(r.id)
		return nil, err
	}
	b.savesOn()
	return r, nil
}

// enter gives a new bench its name and address.
func (b *rigs) enter(r *rig) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.shut {
		return page.Say(http.StatusServiceUnavailable, "The program is ending.",
			"Start it again, then set the bench up.")
	}
	b.sweep()
	if len(b.byID) >= maxBenches && !b.makePlace() {
		return page.Say(http.StatusServiceUnavailable, fmt.Sprintf("All %d benches are in use.", maxBenches),
			"Put one away first, or join one.")
	}
	taken := map[string]bool{}
	for _, one := range b.byID {
		taken[strings.ToLower(one.label)] = true
	}
	if r.label = r.order.Name; taken[strings.ToLower(r.label)] {
		return page.Say(http.StatusConflict, "There is a bench called “"+r.label+"” already.",
			"Give this one another name.")
	}
	for n := 1; r.label == ""; n++ {
		if name := fmt.Sprintf("Bench %d", n); !taken[strings.ToLower(name)] {
			r.label = name
		}
	}
	for r.id == "" || b.byID[r.id] != nil {
		seed, err := b.seed()
		if err != nil {
			return err
		}
		r.id = idOf(seed)
	}
	b.byID[r.id] = r
	return nil
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
		watching, since, worked := r.quiet(now)
		if watching == 0 && (since > benchKept || since > benchForget && !worked) {
			r.close()
			delete(b.byID, id)
			r.shelve("nobody has been there for long")
		}
	}
}

// makePlace puts away the bench that has been alone the longest and was never worked.
func (b *rigs) makePlace() bool {
	now := b.clock()
	var oldest *rig
	var most time.Duration
	for _, r := range b.byID {
		if watching, since, worked := r.quiet(now); watching == 0 && !worked && since > benchGrace && since > most {
			oldest, most = r, since
		}
	}
	if oldest == nil {
		return false
	}
	oldest.close()
	delete(b.byID, oldest.id)
	oldest.shelve("another needed its place")
	return true
}

func (b *rigs) find(id string) (*rig, error) {
	b.load()
	b.mu.Lock()
	r := b.byID[id]
	b.mu.Unlock()
	if r == nil {
		return nil, page.Say(http.StatusNotFound, "This bench is not there any more: it was put away.",
			"Set it up anew under Bench.")
	}
	if !r.wait() {
		return nil, page.Say(http.StatusServiceUnavailable, "This bench is being brought back from the book.",
			"Load the page again in a moment.")
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
	b.load()
	b.mu.Lock()
	defer b.mu.Unlock()
	b.sweep()
	return slices.SortedFunc(maps.Values(b.byID), func(x, y *rig) int {
		return cmp.Or(y.made.Compare(x.made), cmp.Compare(x.id, y.id))
	})
}

// drop forgets a bench that never came to be.
func (b *rigs) drop(id string) *rig {
	b.mu.Lock()
	r := b.byID[id]
	delete(b.byID, id)
	b.mu.Unlock()
	if r != nil {
		r.close()
	}
	return r
}

func (b *rigs) putAway(id, why string) {
	if r := b.drop(id); r != nil {
		r.shelve(why)
	}
}

// close ends every bench, saves how each stands, and waits until nothing runs.
func (b *rigs) close() {
	b.mu.Lock()
	if !b.shut {
		close(b.ended)
	}
	b.shut = true
	all := slices.Collect(maps.Values(b.byID))
	clear(b.byID)
	b.mu.Unlock()
	for _, r := range all {
		r.close()
		b.saveOne(r, true)
	}
	b.loops.Wait()
}

// rig is one bench with the people around it. Everything below mu belongs to whoever holds mu.
type rig struct {
	id     string
	label  string // what it is called in the list
	order  order
	config bench.Config
	made   time.Time
	clock  func() time.Time
	loops  *sync.WaitGroup
	ended  chan struct{} // closed when the bench is put away
	log    *slog.Logger
	keeper keeper
	awake  chan struct{} // closed once it stands as the book left it; nil: it was set up in this run

	pen sync.Mutex // held by whoever writes this bench's chain; taken before mu

	mu       sync.Mutex
	session  *bench.Session
	exercise *bench.Exercise
	state    bench.State
	base     pose
	trace    trace
	last     time.Time // up to which time has passed on the bench
	owed     time.Duration
	touched  time.Time // somebody came, went or did something
	running  bool
	shut     bool
	broke    *page.UserError // an invariant broke in the loop: what to tell; nil while the bench is sound

	watchers map[*watcher]bool
	numbers  int
	hold     hold
	asks     []asking
	beaten   time.Time // when the holder's page last said that it is there
	sent     string    // the state as last sent
	samples  []float64
	mean     meanSpeed

	attempt
	offer  []bench.Fault // what may be hidden: made when first asked for
	asleep *kept         // what the book tells of it; nil once its engine stands so
	chain  string        // in the book; "" where nothing is kept
	leader *person       // the instructor who opened it or hid something in it; nil: nobody leads
	past   []pastAttempt
	done   []doneLine
	heard  doneLine

	notes   int // heard so far
	version int // of what the page fetches anew
	scene   int // of what must be drawn anew
}

// doneLine is one thing done or heard.
type doneLine struct {
	At   time.Time
	TS   float64 // on the bench's own clock
	Who  string
	What string
}

// newRig puts an engine on a bench, for its first attempt.
func newRig(o order, seed uint64, clock func() time.Time, loops *sync.WaitGroup) (*rig, error) {
	now := clock()
	r := &rig{order: o, label: o.Name, config: o.Config, made: now, clock: clock, loops: loops,
		ended: make(chan struct{}), last: now, touched: now, watchers: map[*watcher]bool{}}
	if o.Maker.Role >= page.Instructor {
		r.leader = &r.order.Maker
	}
	if o.Exercise != "" {
		x, ok := bench.FindExercise(o.Exercise)
		if !ok {
			return nil, page.Refuse("There is no exercise of that name.", "Choose one from the list.")
		}
		r.exercise = &x
	}
	return r, r.begin(1, seed, nil)
}

// place puts a session on the bench and looks at how it stands.
func (r *rig) place(s *bench.Session) error {
	r.session, r.state = s, s.Step(0)
	r.trace, r.samples, r.mean = trace{}, nil, meanSpeed{}
	r.scene++
	r.version++
	var err error
	r.base, err = newPose(r)
	return err
}

// quiet says how many watch, how long ago anything happened, and whether it was ever worked.
func (r *rig) quiet(now time.Time) (watching int, since time.Duration, worked bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.watchers), now.Sub(r.touched), r.worked || r.number > 1
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

const mostNamed = 6 // of those who watch, in the list

// line says in the list how a bench stands.
func (r *rig) line() rigLine {
	r.mu.Lock()
	defer r.mu.Unlock()
	l := rigLine{ID: r.id, Name: r.label, Engine: r.name(), About: r.about(), State: "nobody is here"}
	if all := r.present(); len(all) > 0 {
		l.State = strings.Join(all[:min(len(all), mostNamed)], ", ")
		if more := len(all) - mostNamed; more > 0 {
			l.State += fmt.Sprintf(" and %d more", more)
		}
	}
	if r.hold.held() {
		l.Holder = r.hold.who + " holds the controls"
	}
	if r.broke != nil {
		l.State, l.Holder = "put away", r.broke.What
	}
	return l
}

// present are the names of those who watch.
func (r *rig) present() []string {
	var all []string
	for w := range r.watchers {
		all = append(all, w.who)
	}
	slices.Sort(all)
	return slices.Compact(all)
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
	hides := map[string]string{"none": "free bench", "hidden": "a fault is hidden",
		"revealed": "what was hidden is shown"}[r.hides()]
	if r.exercise != nil {
		hides = "exercise: " + r.exercise.Title
	}
	if r.verdict != nil {
		hides += ", judged"
	}
	return hides
}

// leads says who leads the bench; "": nobody.
func (r *rig) leads() string {
	if r.leader == nil {
		return ""
	}
	return r.leader.Who
}
