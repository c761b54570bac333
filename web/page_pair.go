package web

import (
	"errors"
	"net/http"
	"strconv"
	"strings"
	"unicode"
)

type pairBody struct {
	Code, Wrong, Name, NameWrong string

	Paired    bool   // already: only the steps to trust are of use
	InClear   bool   // the line between this device and the server is not protected
	Authority string // what the shop's authority is called; "" where there is none
}

// pairPage asks for the code. A code in the address, as the QR carries it, only fills the field: reading a page pairs nothing.
func (s *Server) pairPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.pairForm(w, r, v, 0, pairBody{Code: signsOf(r.URL.Query().Get("code"))})
}

func (s *Server) pairForm(w http.ResponseWriter, r *http.Request, v *visit, status int, b pairBody) error {
	b.Paired = v.role != Nobody && b.Code == "" && status == 0
	b.InClear = r.TLS == nil && !v.host
	if s.Authority != nil {
		b.Authority = s.Authority.Title()
	}
	return s.render(w, r, v, page{View: "pair", Title: "Pair this device", Where: "Pair", Status: status, Body: b})
}

func (s *Server) pairPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	b := pairBody{Code: r.PostForm.Get("code"), Name: cleanName(r.PostForm.Get("name"))}
	if b.Name == "" {
		b.NameWrong = "The record needs a name – write yours."
		return s.pairForm(w, r, v, http.StatusUnprocessableEntity, b)
	}
	role, err := s.pairing.try(remote(r), b.Code)
	if err != nil {
		status := http.StatusForbidden
		if wait := (waitFirst{}); errors.As(err, &wait) { // not even looked at
			status = http.StatusTooManyRequests
			w.Header().Set("Retry-After", strconv.Itoa(wait.seconds()))
		} else if errors.Is(err, errWrongCode) { // where there is no code to guess, a stranger cannot fill the log
			s.Log.Warn("pairing refused", "from", remote(r), "err", err)
		}
		b.Wrong = err.Error()
		return s.pairForm(w, r, v, status, b)
	}
	d, secret, err := s.devices.add(b.Name, role)
	if err != nil {
		s.pairing.giveBack(b.Code)
		return err
	}
	s.Log.Info("device paired", "id", d.ID, "role", role.String(), "from", remote(r))
	http.SetCookie(w, sessionCookie(secret, r.TLS != nil))
	return done(w, r, "/")
}

// authorityFile gives the certificate that devices are asked to trust. It is public: who has it can check signatures,
// not make them.
func (s *Server) authorityFile(w http.ResponseWriter, r *http.Request, v *visit) error {
	if s.Authority == nil {
		return say(http.StatusNotFound, "This server has no certificates.", "Start it with --lan and without --plain.")
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert") // the type at which browsers offer to install it
	w.Write(s.Authority.Root())                                  // a client that has gone is no news
	return nil
}

// cleanName makes one line of at most nameLimit characters out of what was typed.
func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar || unicode.Is(unicode.Cf, r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, " "))
	s = strings.Join(strings.Fields(s), " ")
	if runes := []rune(s); len(runes) > nameLimit {
		s = strings.TrimSpace(string(runes[:nameLimit]))
	}
	return s
}
