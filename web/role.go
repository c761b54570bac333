package web

import (
	"context"
	"net/http"
)

// Role says what a device may do. A higher role may do all that a lower one may.
type Role int

// The roles. Nobody is a device that has not been paired.
const (
	Nobody     Role = iota
	Look            // sees every page, changes nothing
	Work            // records readings, cards, steps, captures
	Instructor      // also pairs and sends away devices, and hides faults on the bench
)

var roleWords = [...]string{"nobody", "look", "work", "instructor"}

func (r Role) String() string {
	if r < Nobody || r > Instructor {
		return "nobody"
	}
	return roleWords[r]
}

// ParseRole reads what String prints; anything else is Nobody.
func ParseRole(s string) Role {
	for i, w := range roleWords {
		if s == w {
			return Role(i)
		}
	}
	return Nobody
}

// visit is one request's view of its sender.
type visit struct {
	role   Role
	who    string // name for the record
	device string // device id; "" at the host's own screen
	host   bool   // at the host's own screen
	renew  string // session whose cookie is due to be given again; "" mostly
	night  string // "day", "night", or "" to follow the device
}

// May says in templates whether the visitor has at least the role.
func (v *visit) May(role string) bool { return v.role >= ParseRole(role) }

// Who is the name that goes on the record.
func (v *visit) Who() string { return v.who }

// Host says whether the visitor sits at the host's own screen.
func (v *visit) Host() bool { return v.host }

// Night is the look chosen on this device.
func (v *visit) Night() string { return v.night }

// Role is the role in words.
func (v *visit) Role() string { return v.role.String() }

type visitKey struct{}

func withVisit(r *http.Request, v *visit) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), visitKey{}, v))
}
