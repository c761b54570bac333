package livebench

import (
	"net/http"
	"time"

	"phasewright/web/page"
)

// hold says who has the controls in hand. It is one page (tab) of one device; without script in the page it is the
// device.
type hold struct {
	tab, device, who string
	number           int // of the watcher, for the pages; 0 where it is not watching
	// gone is since when its page is gone, or when it last did something without script; zero: it is there.
	gone time.Time
}

func (h *hold) held() bool { return h.who != "" }

func (h *hold) by(tab, device string) bool { return h.held() && h.tab == tab && h.device == device }

func (h *hold) patience() time.Duration {
	if h.tab == "" {
		return holdByForms
	}
	return holdAway
}

// back welcomes the holder's page after it was away.
func (h *hold) back(w *watcher) {
	if w.tab != "" && h.by(w.tab, w.device) {
		h.number, h.gone = w.number, time.Time{}
	}
}

// mayHold answers whether somebody has the controls; where nobody has them they are taken in passing.
func (r *rig) mayHold(by *page.Session, tab string) error {
	if r.hold.held() && !r.hold.by(tab, by.Device) {
		return page.Say(http.StatusConflict, r.hold.who+" holds the controls.", "Take them over first, or ask.")
	}
	if !r.hold.held() {
		r.seize(by, tab)
	}
	if tab == "" {
		r.hold.gone = r.clock()
	}
	return nil
}

// mayEnd answers whether somebody may put the bench away.
func (r *rig) mayEnd(by *page.Session, tab string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.hold.held() && !r.hold.by(tab, by.Device) && by.Role < page.Instructor {
		return page.Say(http.StatusConflict, r.hold.who+" holds the controls of this bench.",
			"Ask, or take them over first.")
	}
	return nil
}

// seize gives the controls to somebody, whoever had them.
func (r *rig) seize(by *page.Session, tab string) {
	if r.hold.by(tab, by.Device) {
		return
	}
	what := "takes the controls"
	if r.hold.held() {
		what = "takes the controls over from " + r.hold.who
	}
	r.hold = hold{tab: tab, device: by.Device, who: by.Who, gone: r.clock()}
	for w := range r.watchers {
		if tab != "" && w.tab == tab && w.device == by.Device {
			r.hold.number, r.hold.gone = w.number, time.Time{}
		}
	}
	r.note(by.Who, what)
	r.version++
}
