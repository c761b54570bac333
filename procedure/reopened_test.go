package procedure

import (
	"testing"
	"time"
)

// A signed job that was put away for years and is opened again asks for its evidence anew, the zero mark first, and for
// everything that other people can undo. Within a break of the shop it is as it was.
func TestOpenedAgain(t *testing.T) {
	w := newWork(orderOf(t, "sandpiper"))
	if _, done := w.home(); !done || w.s.Plant.Get(Signed) != Yes {
		t.Fatal("the job does not come to its signature")
	}
	last := w.events[len(w.events)-1]
	put := Event{Version: last.Version + 1, At: last.At.Add(time.Minute), By: "host", Kind: JobArchived, Payload: []byte(`{}`)}
	at := func(away time.Duration) State {
		opened := Event{Version: put.Version + 1, At: put.At.Add(away), By: "host", Kind: JobReopened, Payload: []byte(`{}`)}
		return w.p.Fold(append(append([]Event{}, w.events...), put, opened), opened.At)
	}
	if s := at(time.Hour); s.Plant != w.s.Plant {
		t.Error("put away for an hour by mistake, the job does not stand as it did")
	}
	s := at(4 * 365 * 24 * time.Hour)
	for _, part := range []Part{Signed, Proven, Zero, Settings, Turned, Base, Idle, Range, Secured, People} {
		if s.Plant.Get(part) != No {
			t.Errorf("still: %s", Say(part, s.Plant.Get(part)))
		}
	}
	if s.Plant.Get(Unit) != NewIn || s.Plant.Get(Clamp) != Tight {
		t.Error("the unit is not where it was left")
	}
	if now := w.p.Next(s); now.Finished || now.Step == "" {
		t.Errorf("next: %+v", now)
	}
	if e := s.Log[len(s.Log)-1]; e.Title != "opened again" || len(e.Expired) == 0 {
		t.Errorf("log: %+v", e)
	}
	opened := Event{Version: put.Version + 1, At: put.At.Add(4 * 365 * 24 * time.Hour), By: "host", Kind: JobReopened, Payload: []byte(`{}`)}
	w.events, w.now = append(w.events, put, opened), opened.At
	w.s = w.p.Fold(w.events, w.now)
	if took, done := w.home(); !done {
		t.Errorf("opened again it does not come to its signature: %v", took)
	}
}
