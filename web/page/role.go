package page

import "slices"

// Role says what a device may do. A higher role may do all that a lower one may.
type Role int

// The roles. Nobody is a device that has not been paired.
const (
	Nobody     Role = iota
	Look            // sees every page, changes nothing
	Work            // records readings, cards, steps, captures
	Instructor      // also pairs and sends away devices, and hides faults on the bench
)

var roleWords = []string{"nobody", "look", "work", "instructor"}

func (r Role) String() string {
	if r < Nobody || r > Instructor {
		return "nobody"
	}
	return roleWords[r]
}

// ParseRole reads what String prints; anything else is Nobody.
func ParseRole(s string) Role { return max(Role(slices.Index(roleWords, s)), Nobody) }

// Session says who sends a request.
type Session struct {
	Role   Role
	Who    string // name beside what is done
	Device string // device id; "" at the host's own screen
	Host   bool   // at the host's own screen
	Paired bool   // a device beside the sender's is paired
	Renew  string // secret whose cookie is due to be given again; "" mostly
	Night  string // look chosen on this device: "day", "night", or "" to follow the device
}

// May says in templates whether the sender has at least the role.
func (s *Session) May(role string) bool { return s.Role >= ParseRole(role) }

// CanWork says whether the sender may record.
func (s *Session) CanWork() bool { return s.Role >= Work }
