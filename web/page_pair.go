package web

import (
	"errors"
	"net/http"
	"strings"
	"unicode"
)

type pairBody struct{ Code, Wrong, Name, NameWrong, Fingerprint string }

// pairPage asks for the code. A code in the address, as the QR carries it, only fills the field: reading a page pairs nothing.
func (s *Server) pairPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	if v.role != Nobody && r.URL.Query().Get("code") == "" {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	return s.pairForm(w, r, v, 0, pairBody{Code: digitsOf(r.URL.Query().Get("code"))})
}

func (s *Server) pairForm(w http.ResponseWriter, r *http.Request, v *visit, status int, b pairBody) error {
	b.Fingerprint = s.Fingerprint
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
		if !errors.Is(err, errTooOften) { // those are bounded: a sender may be wrong five times a minute
			s.Log.Warn("pairing refused", "from", remote(r), "err", err)
		}
		if errors.Is(err, errTooOften) {
			status = http.StatusTooManyRequests
			w.Header().Set("Retry-After", "60")
		}
		b.Wrong = err.Error()
		return s.pairForm(w, r, v, status, b)
	}
	d, secret, err := s.devices.add(b.Name, role)
	if err != nil {
		return err
	}
	s.Log.Info("device paired", "id", d.ID, "role", role.String(), "from", remote(r))
	http.SetCookie(w, sessionCookie(secret, r.TLS != nil))
	return done(w, r, "/")
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
