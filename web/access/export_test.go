package access

import (
	"errors"
	"time"

	"phasewright/web/page"
)

// What the tests that see the whole server ask of pairing.

// Limits and refusals that they test.
const (
	CodeLife    = codeLife
	CodeSigns   = codeSigns
	CodeLength  = codeLength
	FreeTries   = freeTries
	MaxSenders  = maxSenders
	SenderLife  = senderLife
	SessionLife = sessionLife
)

var (
	ErrNoCode    = errNoCode
	ErrWrongCode = errWrongCode
	ErrCodeUsed  = errCodeUsed
)

// Try tries a code from an address.
func (a *Room) Try(from, code string) (page.Role, error) { return a.pairing.try(from, code) }

// Code is the present code, and whether it lets a device in.
func (a *Room) Code() (Invite, bool) { return a.pairing.now() }

// GiveBack undoes the use of a code.
func (a *Room) GiveBack(code string) { a.pairing.giveBack(code) }

// Senders is how many senders of wrong codes are remembered.
func (a *Room) Senders() int { return len(a.pairing.senders) }

// WaitOf is how long a refused sender has to wait; nought where it need not.
func WaitOf(err error) time.Duration {
	var wait waitFirst
	errors.As(err, &wait)
	return wait.left
}
