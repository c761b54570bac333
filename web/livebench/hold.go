package livebench

import (
	"net/http"
	"slices"
	"time"

	"phasewright/web/page"
)

// How long the starter turns without a word from its holder. A page with script says every second or less that it is
// there, as long as it is awake; one without cannot.
const (
	starterSilent  = 2 * time.Second
	starterByForms = 30 * time.Second
)

// hold says who has the controls in hand. It is one page (tab) of one device; without script in the page it is the
// device.
type hold struct {
	tab, device, who string
	number           int // of the watcher, for the pages; 0 where it is not watching
	role             page.Role
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

// silence is how long the starter turns without a word from whoever holds it.
func (h *hold) silence() time.Duration {
	if h.held() && h.tab == "" {
		return starterByForms
	}
	return starterSilent
}

// back welcomes the holder's page after it was away.
func (h *hold) back(w *watcher) {
	if w.tab != "" && h.by(w.tab, w.device) {
		h.number, h.gone = w.number, time.Time{}
	}
}

// asking is somebody who asked for the controls.
type asking struct {
	tab, device, who string
	number           int
	role             page.Role
}

// askLine tells the pages who asks.
type askLine struct {
	N   int    `json:"n"` // the asker's page
	Who string `json:"who"`
}

const mostAsking = 20

// mayHold answers whether somebody has the controls; where nobody has them they are taken in passing.
func (r *rig) mayHold(by *page.Session, tab string) error {
	if r.hold.held() && !r.hold.by(tab, by.Device) {
		how := "Ask for them first."
		if by.Role >= page.Instructor {
			how = "Take them over first."
		}
		return page.Say(http.StatusConflict, r.hold.who+" holds the controls.", how)
	}
	if !r.hold.held() {
		r.seize(asking{tab, by.Device, by.Who, 0, by.Role}, "takes the controls")
	}
	r.beaten = r.clock()
	if tab == "" {
		r.hold.gone = r.beaten
	}
	return nil
}

// mayEnd answers whether somebody may put the bench away: an instructor, or whoever set it up where nobody leads it.
func (r *rig) mayEnd(by *page.Session) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	maker := r.order.Maker
	switch {
	case by.Role >= page.Instructor, r.leader == nil && maker.Device == by.Device:
		return nil
	case r.leader != nil:
		return page.Say(http.StatusConflict, r.leads()+" is in charge of this bench.", "Ask there to have it put away.")
	}
	return page.Say(http.StatusConflict, maker.Who+" set this bench up.", "Ask there, or ask the instructor.")
}

// seize gives the controls to somebody, whoever had them.
func (r *rig) seize(to asking, what string) {
	if r.hold.by(to.tab, to.device) {
		return
	}
	now := r.clock()
	r.hold = hold{tab: to.tab, device: to.device, who: to.who, role: to.role, gone: now}
	r.beaten = now
	for w := range r.watchers {
		if to.tab != "" && w.tab == to.tab && w.device == to.device {
			r.hold.number, r.hold.gone = w.number, time.Time{}
		}
	}
	r.asks = slices.DeleteFunc(r.asks, func(a asking) bool { return a.tab == to.tab && a.device == to.device })
	r.note(to.who, what)
	r.version++
}

// take gives the controls to whoever asks where they are free, where the asker's own device has them, or where the
// asker is an instructor. From anybody else they are asked for.
func (r *rig) take(by *page.Session, tab string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	defer r.push()
	to := asking{tab, by.Device, by.Who, 0, by.Role}
	h := &r.hold
	switch {
	case h.by(tab, by.Device):
	case !h.held():
		r.seize(to, "takes the controls")
	case by.Role >= page.Instructor, h.device == by.Device:
		r.seize(to, "takes the controls over from "+h.who)
	default:
		for w := range r.watchers {
			if w.tab == tab && w.device == by.Device {
				to.number = w.number
			}
		}
		r.asks = slices.DeleteFunc(r.asks, func(a asking) bool { return a.tab == tab && a.device == by.Device })
		if len(r.asks) >= mostAsking {
			return page.Say(http.StatusConflict, "Too many ask for the controls already.", "Wait a little.")
		}
		r.asks = append(r.asks, to)
		r.version++
	}
	return nil
}

// give hands the controls to somebody who asked; the holder does, or an instructor.
func (r *rig) give(by *page.Session, tab string, number int) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	defer r.push()
	if !r.hold.by(tab, by.Device) && by.Role < page.Instructor {
		return page.Say(http.StatusConflict, "The controls are not in your hands.", "Ask for them first.")
	}
	for _, a := range r.asks {
		if a.number == number {
			r.letStarterGo("the controls change hands")
			r.seize(a, "is given the controls by "+by.Who)
			return nil
		}
	}
	return page.Say(http.StatusConflict, "Nobody of that name asks any more.", "Look who asks now.")
}

// letGo frees the controls where the asker has them.
func (r *rig) letGo(by *page.Session, tab string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if !r.hold.by(tab, by.Device) {
		return
	}
	r.letStarterGo("the controls are handed back")
	r.note(by.Who, "hands the controls back")
	r.hold = hold{}
	r.version++
	r.push()
}

// beat is the holder's page saying that it is there.
func (r *rig) beat(by *page.Session, tab string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.hold.by(tab, by.Device) {
		r.beaten = r.clock()
	}
}
