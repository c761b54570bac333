package web

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"phasewright/authority"
)

type devicesBody struct {
	Base, HostName, Until string
	Shown, Root           string  // fingerprints of the certificate shown and of the authority; "" in plain
	Invite                *Invite // nil where there is no code, or it has expired
	QR                    template.HTML
	Strangers             []strangerLine
	More                  int // addresses of strangers that are not listed
	Most                  int // devices that a code may be for
	Devices               []deviceLine
}

// strangerLine is an address from which wrong codes came.
type strangerLine struct {
	Addr, Last string
	Wrong      int
}

const strangersListed = 5

type deviceLine struct {
	ID, Name, Role, Paired, Seen string
	Others                       []string // roles it could have instead
}

// devicesPage shows the pairing code and the paired devices.
func (s *Server) devicesPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	b := devicesBody{HostName: *s.hostName.Load(), Most: maxDevices}
	if s.Base != nil {
		b.Base = s.Base()
	}
	if s.Authority != nil {
		b.Shown, b.Root = s.Authority.Shown(), authority.Fingerprint(s.Authority.Root())
	}
	if i, ok := s.pairing.now(); b.Base != "" && s.Clock().Before(i.Expires) {
		b.Invite = &i
		if ok {
			svg, err := qrSVG(s.inviteURL(i))
			if err != nil {
				return err
			}
			b.QR, b.Until = svg, i.Expires.In(s.Clock().Location()).Format("15:04:05")
		}
	}
	strangers := s.pairing.strangers()
	for _, one := range strangers[:min(len(strangers), strangersListed)] {
		b.Strangers = append(b.Strangers, strangerLine{one.Addr, s.when(one.Last), one.Wrong})
	}
	b.More = len(strangers) - len(b.Strangers)
	for _, d := range s.devices.list() {
		line := deviceLine{ID: d.ID, Name: d.Name, Role: d.Role.String(), Paired: s.when(d.PairedAt), Seen: s.when(d.SeenAt)}
		for role := Look; role <= Instructor; role++ {
			if role != d.Role {
				line.Others = append(line.Others, role.String())
			}
		}
		b.Devices = append(b.Devices, line)
	}
	return s.render(w, r, v, page{View: "devices", Title: "Devices", Where: "Devices", Live: true, Body: b})
}

func (s *Server) devicesCode(w http.ResponseWriter, r *http.Request, v *visit) error {
	role, err := formRole(r)
	if err != nil {
		return err
	}
	devices, err := strconv.Atoi(strings.TrimSpace(cmp.Or(r.PostForm.Get("devices"), "1")))
	if err != nil || devices < 1 || devices > maxDevices {
		return say(http.StatusUnprocessableEntity, "A code is for a whole number of devices.",
			fmt.Sprintf("Write a number from 1 to %d.", maxDevices))
	}
	if _, err := s.InviteMany(role, devices); err != nil {
		return err
	}
	return done(w, r, "/devices")
}

func (s *Server) devicesName(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	name := cleanName(r.PostForm.Get("name"))
	if name == "" {
		return say(http.StatusUnprocessableEntity, "The record needs a name.", "Write the name of whoever works at this screen.")
	}
	s.hostName.Store(&name)
	return done(w, r, "/devices")
}

func (s *Server) devicesRemove(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	id := r.PostForm.Get("id")
	found, err := s.devices.remove(id)
	if err != nil {
		return err
	}
	if !found {
		return errNoDevice
	}
	s.Log.Info("device sent away", "id", id, "by", v.who)
	s.live.closeDevice(id)
	s.pairing.end() // a code that was seen must not let it straight in again
	return done(w, r, "/devices")
}

func (s *Server) devicesRole(w http.ResponseWriter, r *http.Request, v *visit) error {
	role, err := formRole(r)
	if err != nil {
		return err
	}
	found, err := s.devices.setRole(r.PostForm.Get("id"), role)
	if err != nil {
		return err
	}
	if !found {
		return errNoDevice
	}
	s.Log.Info("device has another role", "id", r.PostForm.Get("id"), "role", role.String(), "by", v.who)
	return done(w, r, "/devices")
}

var errNoDevice = say(http.StatusNotFound, "That device is not paired any more.", "Load the list of devices again.")

func formRole(r *http.Request) (Role, error) {
	if err := r.ParseForm(); err != nil {
		return Nobody, err
	}
	role := ParseRole(r.PostForm.Get("role"))
	if role == Nobody {
		return Nobody, say(http.StatusUnprocessableEntity, "That is not something a device may do.", "Choose look, work or instructor.")
	}
	return role, nil
}
