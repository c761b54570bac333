package bench

import (
	"phasewright/engine"
	"phasewright/quantity"
)

// EventKind says what happened.
type EventKind uint8

// What happens on the bench.
const (
	CrankEdge EventKind = iota // at the controller's crank input
	CamEdge                    // at its cam input
	Mark                       // the damper's zero mark passes the pointer's true place: once a turn
	Charge                     // the driver switches the coil on, or the spark box's trigger
	Cut                        // and off
	Spark                      // at a plug
	Flash                      // of the light
	kinds
)

// String names the kind.
func (k EventKind) String() string {
	return [...]string{"crank edge", "cam edge", "mark", "charge", "cut", "spark", "flash", ""}[k]
}

// Event is one thing that happens, in order of time.
type Event struct {
	Kind      EventKind
	High      bool          // level after an edge
	Active    bool          // of an edge: the controller acts on it
	Extra     bool          // of an edge: noise or crossfire, no vane passed
	Late      bool          // of a spark: the wait was shorter than the controller's latency
	Weak      bool          // of a spark: little energy, or a gap to the tower that takes most of it
	Time      quantity.Time // since the run began
	Turned    float64       // crank degrees since the run began; 0 is TDC firing of cylinder 1
	Speed     quantity.Speed
	Cylinder  int            // of a spark or flash: whose plug; 0: none
	Advance   quantity.Crank // of a spark: true degrees before that cylinder's TDC of compression, −360 < a ≤ 360
	Commanded quantity.Crank // of a spark: what the controller meant
	Dwell     quantity.Time  // of a cut or spark
	Shown     quantity.Crank // of a flash: advance read on the damper, as from a mark at that cylinder's own TDC
}

// Position is where on the cycle the crank stands.
func (e *Event) Position() engine.Position { return engine.At(quantity.Crank(e.Turned)) }

// item is something due at a known time.
type item struct {
	time  float64
	what  EventKind
	high  bool
	extra bool
	late  bool
	cyl   int32   // of a flash
	from  int32   // of a cut: firing
	meant float64 // of a cut: commanded advance
	begun float64 // and when its charge began
}

// queue holds what is due, the soonest last, so that taking it moves nothing; it is short.
type queue struct {
	items [48]item
	n     int
}

// push keeps the order, first come first served among equals; what does not fit is dropped, which only a storm of extra
// edges can bring about.
func (q *queue) push(it *item) {
	if q.n == len(q.items) {
		return
	}
	i := q.n
	for i > 0 && q.items[i-1].time <= it.time {
		q.items[i] = q.items[i-1]
		i--
	}
	q.items[i] = *it
	q.n++
}

func (q *queue) soonest() *item { return &q.items[q.n-1] }
