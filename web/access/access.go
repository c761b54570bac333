// Package access decides who may do what: the host's own screen is trusted, every other device pairs first, with a
// code from the host's screen, and has the role that the code was made for. A request is answered only where it was
// addressed to this server and, if it changes something, came from one of its own pages.
package access

import (
	"io"
	"net/http"
	"sync/atomic"
	"time"

	"phasewright/authority"
	"phasewright/web/page"
)

// Config is what the guard needs to know of the server around it.
type Config struct {
	Random io.Reader
	// Hosts are names, without port, by which other devices may call this computer.
	Hosts []string
	// Base gives the address that is shown to other devices; nil on loopback.
	Base func() string
	// Authority keeps the certificates; nil is plain http.
	Authority *authority.Keeper
	// HostName stands beside what is done at this computer's own screen.
	HostName string
	// Devices keeps paired devices over a restart; nil keeps them until the program ends.
	Devices DeviceStore
}

// Room is the guard with its pages.
type Room struct {
	*page.Site
	config   Config
	hosts    map[string]bool
	devices  *devices
	pairing  *pairing
	hostName atomic.Pointer[string]
}

// New reads the paired devices.
func New(site *page.Site, c Config) (*Room, error) {
	a := &Room{Site: site, config: c, hosts: map[string]bool{}, pairing: newPairing(site.Clock, c.Random)}
	a.hostName.Store(&c.HostName)
	for _, h := range c.Hosts {
		a.hosts[h] = true
	}
	a.pairing.shared, _ = c.Devices.(SharedStore)
	var err error
	a.devices, err = newDevices(c.Devices, site.Clock, c.Random)
	return a, err
}

// Routes are the addresses of pairing, devices, and the look of the pages on a device.
func (a *Room) Routes() {
	a.Handle("GET /pair", page.Nobody, a.pairPage)
	a.Handle("POST /pair", page.Nobody, a.pairPost)
	a.Handle("GET /pair/authority.crt", page.Nobody, a.authorityFile)
	a.Handle("POST /look", page.Nobody, lookPost)
	a.Handle("GET /devices", page.Instructor, a.devicesPage)
	a.Handle("POST /devices/code", page.Instructor, a.codePost)
	a.Handle("POST /devices/name", page.Instructor, a.namePost)
	a.Handle("POST /devices/remove", page.Instructor, a.removePost)
	a.Handle("POST /devices/role", page.Instructor, a.rolePost)
}

// Session finds out who sends a request. The cookie of a device in use is lengthened on the way.
func (a *Room) Session(w http.ResponseWriter, r *http.Request) *page.Session {
	s := &page.Session{}
	if c, err := r.Cookie(cookieCalled("look", r.TLS != nil)); err == nil && (c.Value == "night" || c.Value == "day") {
		s.Night = c.Value
	}
	if atHost(r) {
		s.Role, s.Host, s.Who = page.Instructor, true, *a.hostName.Load()
		s.Paired = a.devices.beside("")
		return s
	}
	if c, err := r.Cookie(cookieCalled(cookieName, r.TLS != nil)); err == nil {
		if d, again, ok := a.devices.find(c.Value); ok {
			s.Role, s.Who, s.Device, s.Paired = d.Role, d.Name, d.ID, a.devices.beside(d.ID)
			if again {
				http.SetCookie(w, sessionCookie(c.Value, r.TLS != nil))
			}
		}
	}
	return s
}

// Admit answers a request that no page may see, and says whether it lets it through.
func (a *Room) Admit(w http.ResponseWriter, r *http.Request, by *page.Session) bool {
	switch {
	case !a.hostAllowed(r):
		const what = "this address is not one that Phasewright answers to – use the address shown on the host's screen"
		http.Error(w, what, http.StatusMisdirectedRequest)
	case !page.Safe(r) && r.Method != http.MethodPost:
		w.Header().Set("Allow", "GET, HEAD, POST")
		http.Error(w, "method not known – pages are read with GET and changed with POST", http.StatusMethodNotAllowed)
	case !page.Safe(r) && !sameOrigin(r):
		http.Error(w, "this did not come from one of Phasewright's own pages – open the page and do it there",
			http.StatusForbidden)
	case a.inClear(r, by):
		toTLS(w, r)
	default:
		return true
	}
	return false
}

// inClear says whether a request came over the network unprotected although the server speaks TLS.
func (a *Room) inClear(r *http.Request, by *page.Session) bool {
	return a.config.Authority != nil && r.TLS == nil && !by.Host
}

// toTLS leads a request that came in clear to the same page over TLS. The way there is not to be remembered: the same
// address may speak plain http another day.
func toTLS(w http.ResponseWriter, r *http.Request) {
	if !page.Safe(r) {
		http.Error(w, "this line is not protected – open the page under https:// and do it there", http.StatusForbidden)
		return
	}
	http.Redirect(w, r, "https://"+r.Host+r.URL.RequestURI(), http.StatusTemporaryRedirect)
}

// Invite makes a pairing code for so many devices of a role; codes made before are void.
func (a *Room) Invite(role page.Role, devices int) (Invite, error) {
	i, err := a.pairing.begin(role, devices)
	if err == nil {
		i.URL = a.inviteURL(i)
	}
	return i, err
}

func (a *Room) inviteURL(i Invite) string {
	if a.config.Base == nil {
		return ""
	}
	return a.config.Base() + "/pair?code=" + i.Code
}

// lookPost keeps the choice of day or night on the device that made it.
func lookPost(q *page.Request) error {
	c := &http.Cookie{Name: cookieCalled("look", q.TLS != nil), Value: q.PostForm.Get("look"), Path: "/",
		MaxAge: int((365 * 24 * time.Hour).Seconds()), HttpOnly: true, SameSite: http.SameSiteStrictMode,
		Secure: q.TLS != nil}
	if c.Value != "day" && c.Value != "night" {
		c.Value, c.MaxAge = "", -1
	}
	http.SetCookie(q.W, c)
	return q.Done(q.PostForm.Get("back"))
}

// Devices are the paired devices, first paired first.
func (a *Room) Devices() []Device { return a.devices.list() }
