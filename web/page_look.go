package web

import (
	"net/http"
	"strings"
	"unicode"
	"unicode/utf8"
)

// lookPost keeps the choice of day or night on the device that made it.
func (s *Server) lookPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	c := &http.Cookie{Name: cookieCalled("look", r.TLS != nil), Value: r.PostForm.Get("look"), Path: "/",
		MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil}
	if c.Value != "day" && c.Value != "night" {
		c.Value, c.MaxAge = "", -1
	}
	http.SetCookie(w, c)
	return done(w, r, r.PostForm.Get("back"))
}

// ownPath lets only a path of this server through, so that a form cannot send people elsewhere. Control characters have
// no business in a header, and browsers drop some of them: "/", a tab and "/" would be the "//" of another host.
func ownPath(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) ||
		strings.ContainsFunc(to, unicode.IsControl) || !utf8.ValidString(to) {
		return "/"
	}
	return to
}
