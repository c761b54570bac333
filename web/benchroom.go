package web

import (
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"phasewright/bench"
	"phasewright/quantity"
)

// Limits of the benches that may stand at once.
const (
	maxRooms    = 12
	roomIdle    = 30 * time.Minute      // after the last watcher left
	roomTick    = 50 * time.Millisecond // twenty states a second; the page carries the motion on between them
	maxWatchers = 200
)

// room is a bench that several screens watch and work at together. Its time runs while somebody watches.
type room struct {
	id, title string
	card      string // name of the engine
	config    bench.Config
	exercise  *bench.Exercise
	drawing   benchDrawing

	mu       sync.Mutex
	session  *bench.Session
	state    bench.State
	last     []byte // the frame last sent
	watchers map[chan []byte]bool
	running  bool
	left     time.Time // when the last watcher left
	notes    []string  // what one hears, newest first
	sparks   int
	tower    int // where the last spark went
	outcome  *bench.Outcome
	revealed []string
	stopped  bool
}

// rooms is the table of benches.
type rooms struct {
	mu    sync.Mutex
	byID  map[string]*room
	order []string
	clock func() time.Time
}

func newRooms(clock func() time.Time) *rooms { return &rooms{byID: map[string]*room{}, clock: clock} }

// add puts a bench up; one that nobody has watched for long makes room.
func (rs *rooms) add(r *room) error {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	now := rs.clock()
	for i := 0; i < len(rs.order); i++ {
		old := rs.byID[rs.order[i]]
		if old.idle(now) {
			delete(rs.byID, old.id)
			rs.order = append(rs.order[:i], rs.order[i+1:]...)
			i--
		}
	}
	if len(rs.order) >= maxRooms {
		return fmt.Errorf("%d benches stand already", maxRooms)
	}
	r.left = now
	rs.byID[r.id] = r
	rs.order = append(rs.order, r.id)
	return nil
}

func (rs *rooms) get(id string) (*room, bool) {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	r, ok := rs.byID[id]
	return r, ok
}

func (rs *rooms) list() []*room {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	var all []*room
	for _, id := range rs.order {
		all = append(all, rs.byID[id])
	}
	return all
}

// close ends all benches.
func (rs *rooms) close() {
	for _, r := range rs.list() {
		r.mu.Lock()
		r.stopped = true
		for w := range r.watchers {
			close(w)
		}
		r.watchers = nil
		r.mu.Unlock()
	}
}

func (r *room) idle(now time.Time) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.watchers) == 0 && now.Sub(r.left) > roomIdle
}

// watch joins a screen to the bench; its channel gets each frame, or the newest where it is slow.
func (r *room) watch() (chan []byte, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.stopped || len(r.watchers) >= maxWatchers {
		return nil, false
	}
	w := make(chan []byte, 1)
	if r.watchers == nil {
		r.watchers = map[chan []byte]bool{}
	}
	r.watchers[w] = true
	r.push()
	if !r.running {
		r.running = true
		go r.run()
	}
	return w, true
}

func (r *room) leave(w chan []byte, now time.Time) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.watchers, w)
	r.left = now
}

// run lets the bench's time pass while somebody watches.
func (r *room) run() {
	tick := time.NewTicker(roomTick)
	defer tick.Stop()
	for range tick.C {
		r.mu.Lock()
		if len(r.watchers) == 0 || r.stopped {
			r.running = false
			r.mu.Unlock()
			return
		}
		r.step(quantity.Time(roomTick.Microseconds()))
		r.push()
		r.mu.Unlock()
	}
}

// step takes the bench on; the caller holds the lock.
func (r *room) step(dt quantity.Time) {
	r.state = r.session.Step(dt)
	for _, n := range r.state.Notes {
		r.notes = append([]string{n.Text}, r.notes...)
	}
	if len(r.notes) > 4 {
		r.notes = r.notes[:4]
	}
	for _, e := range r.state.Events {
		if e.Kind == bench.Spark.String() {
			r.sparks++
			r.tower = r.state.Tower
		}
	}
}

// push sends the present frame to all who watch; the caller holds the lock. A frame that says nothing new is not sent.
func (r *room) push() {
	frame, err := json.Marshal(r.frame())
	if err != nil {
		panic("a bench frame that cannot be written: " + err.Error()) // plain numbers always can
	}
	for w := range r.watchers {
		select {
		case w <- frame:
		default: // slow: the newest takes the place of the one waiting
			select {
			case <-w:
			default:
			}
			w <- frame
		}
	}
	r.last = frame
}

// do works a control and shows what came of it at once.
func (r *room) do(act func(*bench.Session) error) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	err := act(r.session)
	r.step(0)
	r.push()
	return err
}
