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

// bayCookie is what the bay is kept under.
const bayCookie = "bay"

// Name is the name that was last written on the sender's device; "" where none was.
func (q *Request) Name() string { return q.kept(nameCookie) }

// Bay is where the sender's device stands in the shop; "" where nobody said.
func (q *Request) Bay() string { return q.kept(bayCookie) }

func (q *Request) kept(what string) string {
	c, err := q.Cookie(what)
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
	if name != "" && name != q.Name() {
		q.keep(nameCookie, name)
	}
}

// RememberBay keeps on the sender's device where it stands; "" forgets it.
func (q *Request) RememberBay(bay string) { q.keep(bayCookie, bay) }

func (q *Request) keep(what, value string) {
	age := int(nameKeptFor.Seconds())
	if value == "" {
		age = -1
	}
	http.SetCookie(q.W, &http.Cookie{Name: what, Value: url.QueryEscape(value), Path: "/", MaxAge: age, HttpOnly: true,
		SameSite: http.SameSiteStrictMode, Secure: q.TLS != nil})
}
