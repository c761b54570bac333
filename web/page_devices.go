package web

import (
	"html/template"
	"net/http"
)

type devicesBody struct {
	Base, Fingerprint, HostName, Until string
	Invite                             *Invite
	QR                                 template.HTML
	Devices                            []deviceLine
}

type deviceLine struct {
	ID, Name, Role, Paired, Seen string
	Others                       []string // roles it could have instead
}

// devicesPage shows the pairing code and the paired devices.
func (s *Server) devicesPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	b := devicesBody{Base: s.Base, Fingerprint: s.Fingerprint, HostName: *s.hostName.Load()}
	if i, ok := s.pairing.now(); ok && s.Base != "" {
		i.URL = s.inviteURL(i)
		svg, err := qrSVG(i.URL)
		if err != nil {
			return err
		}
		b.Invite, b.QR, b.Until = &i, svg, i.Expires.In(s.Clock().Location()).Format("15:04:05")
	}
	for _, d := range s.devices.list() {
		line := deviceLine{ID: d.ID, Name: d.Name, Role: d.Role.String(), Paired: s.when(d.PairedAt), Seen: s.when(d.SeenAt)}
		for role := Look; role <= Instructor; role++ {
			if role != d.Role {
				line.Others = append(line.Others, role.String())
			}
		}
		b.Devices = append(b.Devices, line)
	}
	return s.render(w, r, v, page{View: "devices", Title: "Devices", Where: "Devices", Body: b})
}

func (s *Server) devicesCode(w http.ResponseWriter, r *http.Request, v *visit) error {
	role, err := formRole(r)
	if err != nil {
		return err
	}
	if _, err := s.Invite(role); err != nil {
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
