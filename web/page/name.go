package page

import (
	"net/http"
	"net/url"
	"time"
)

// nameKeptFor is how long a device keeps the name of whoever works at it.
const nameKeptFor = 365 * 24 * time.Hour

// nameCookie is what the name is kept under.
const nameCookie = "name"

// Name is the name that was last written on the sender's device; "" where none was.
func (q *Request) Name() string {
	c, err := q.Cookie(nameCookie)
	if err != nil {
		return ""
	}
	name, err := url.QueryUnescape(c.Value)
	if err != nil {
		return ""
	}
	return CleanName(name)
}

// RememberName keeps a name on the sender's device for the next form that asks for one.
func (q *Request) RememberName(name string) {
	if name == "" || name == q.Name() {
		return
	}
	http.SetCookie(q.W, &http.Cookie{Name: nameCookie, Value: url.QueryEscape(name), Path: "/",
		MaxAge: int(nameKeptFor.Seconds()), HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: q.TLS != nil})
}
