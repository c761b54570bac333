package recording

import (
	"testing"
	"time"
)

// How long reading will take is said once that can be told.
func TestTimeToGo(t *testing.T) {
	at := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
	for want, c := range map[string]progress{
		"being read once those before it are done": {total: 100},
		"being read":                            {total: 100, began: at},
		"being read: 1 %":                       {done: 1, total: 100, began: at},
		"being read: 50 %, about 10 s to go":    {done: 50, total: 100, began: at},
		"being read: 99 %, a few seconds to go": {done: 99, total: 100, began: at},
		"being read: 5 %, about 4 min to go":    {done: 5, total: 100, began: at.Add(-2 * time.Second)},
	} {
		if got := c.words(at.Add(10 * time.Second)); got != want {
			t.Errorf("%+v: %q, want %q", c, got, want)
		}
	}
	if got := (progress{done: 50, total: -1, began: at}).words(at.Add(time.Minute)); got != "being read" {
		t.Errorf("of unknown size: %q", got)
	}
}
