package recording

import (
	"context"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/shaft"
	"phasewright/waveform"
	"phasewright/web/page"
)

// What the tests that see the whole server ask of recordings.

// Limits that they test.
const (
	SmallFile      = smallFile
	MostWaiting    = mostWaiting
	MostWaitingOne = mostWaitingOne
	KeptWaves      = keptWaves
	DeskColumns    = deskColumns
	PhoneColumns   = phoneColumns
)

// AnomalyWords says a kind of wrong pulse.
func AnomalyWords(k shaft.Kind) string { return anomalyWords(k) }

// Add lets work wait for its turn as if it read a file.
func (r *Room) Add(job string, f book.Attachment, device string, work func(context.Context) error) error {
	return r.queue.add(job, f, device, work)
}

// Ending is closed when the room is.
func (r *Room) Ending() <-chan struct{} { return r.queue.ctx.Done() }

// Stop stops the reading of a file.
func (r *Room) Stop(by *page.Session, job string, sha book.Hash) error {
	return r.queue.end(by, job, sha)
}

// Queue counts the recordings that are read, wait or could not be read, and those that wait.
func (r *Room) Queue() (known, waiting int) {
	r.queue.mu.Lock()
	defer r.queue.mu.Unlock()
	return len(r.queue.tasks), len(r.queue.waiting)
}

// SetTurn sets how long a short reading may take.
func (r *Room) SetTurn(d time.Duration) {
	r.queue.mu.Lock()
	defer r.queue.mu.Unlock()
	r.queue.turn = d
}

// Long says whether a long reading is under way, and whether something of it was read.
func (r *Room) Long() (busy, some bool) {
	r.queue.mu.Lock()
	defer r.queue.mu.Unlock()
	t := r.queue.busy[long]
	return t != nil, t != nil && t.done > 0
}

// HoldViews keeps every new view waiting until the function that it gives is called.
func (r *Room) HoldViews() (release func()) {
	turn := r.waves.turn
	for range wavesAtOnce {
		turn <- struct{}{}
	}
	return func() {
		for range wavesAtOnce {
			<-turn
		}
	}
}

// ForgetWaves is what a new start of the program does: no overview is kept.
func (r *Room) ForgetWaves() { r.waves = newWaves() }

// Kept are the recordings whose overviews are kept, the one not looked at for longest first.
func (r *Room) Kept(t testing.TB) []book.Hash {
	t.Helper()
	if len(r.waves.kept) != len(r.waves.order) {
		t.Fatalf("%d kept in an order of %d", len(r.waves.kept), len(r.waves.order))
	}
	return r.waves.order
}

// Open opens a recording whose overview is kept, as a view does.
func (r *Room) Open(t testing.TB, sha book.Hash) (done func()) {
	t.Helper()
	f := r.waves.get(sha).file
	if err := f.open(t.Context()); err != nil {
		t.Fatal(err)
	}
	return f.done
}

// Pretend shows a file as being read, so much of it since a time.
func (r *Room) Pretend(job string, f book.Attachment, done int64, began time.Time) {
	r.queue.tasks[taskID(job, f.SHA256)] = &task{progress: progress{done: done, total: f.Size, began: began}}
	delete(r.waves.kept, f.SHA256)
}

// DrawAlone draws one channel of a recording over a stretch as the page would at so many columns and mm, with the marks
// on it. What the recording showed is not known, but for the speed where it is above 0, rpm.
func DrawAlone(t testing.TB, r *waveform.Result, role shaft.Role, speed []shaft.TimePoint, from, to float64,
	columns int, width float64) (string, []drawing.WaveMark) {
	t.Helper()
	looks, err := r.Overview.View(t.Context(), []int{0}, waveform.Second(from), waveform.Second(to), columns)
	if err != nil {
		t.Fatal(err)
	}
	res := &shaft.Result{Series: &shaft.Series{Speed: speed}}
	trace, _ := traceOf(&r.Channels[0], role, looks[0], res)
	d, _, err := drawing.Waveform{Width: width, Title: "t", Desc: "d", From: from, To: to, Traces: []drawing.Trace{trace}}.Draw()
	if err != nil {
		t.Fatal(err)
	}
	return d.SVG(drawing.InPage), trace.Marks
}
