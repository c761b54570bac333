package web

import (
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"math/big"
	"sync"
	"time"
)

// Pairing limits. A code has eight digits and dies after ten minutes or thirty wrong tries from all senders together, so that
// guessing it succeeds about three times in ten million codes.
const (
	codeDigits   = 8
	codeLife     = 10 * time.Minute
	triesPerTurn = 5 // wrong tries of one sender in triesTurn
	triesTurn    = time.Minute
	triesInAll   = 30 // wrong tries of all senders before the code is void
	maxSenders   = 1000
)

// Refusals of pairing.
var (
	errNoCode    = errors.New("there is no code at present – ask for one at the host's screen, under Devices")
	errWrongCode = errors.New("that is not the code on the host's screen – read it again")
	errTooOften  = errors.New("too many wrong codes from this device – wait a minute, then read the code again")
	errCodeVoid  = errors.New("too many wrong codes were tried, so this one is void – ask for a new one at the host's screen")
)

// Invite is a code under which devices may pair until it expires.
type Invite struct {
	Code    string // eight digits
	Role    Role   // of the devices that use it
	Expires time.Time
	URL     string // what the QR carries; "" where the server listens on loopback only
}

// Spaced is the code in two groups of four, for reading aloud.
func (i Invite) Spaced() string {
	if len(i.Code) != codeDigits {
		return i.Code
	}
	return i.Code[:4] + " " + i.Code[4:]
}

// pairing holds the present code and counts wrong tries.
type pairing struct {
	mu    sync.Mutex
	clock func() time.Time
	rand  io.Reader
	code  Invite
	wrong int
	tries map[string]*turn
}

type turn struct {
	since time.Time
	wrong int
}

func newPairing(clock func() time.Time, random io.Reader) *pairing {
	return &pairing{clock: clock, rand: random, tries: map[string]*turn{}}
}

// begin makes a new code; the one before is void.
func (p *pairing) begin(role Role) (Invite, error) {
	limit := big.NewInt(100_000_000)
	n, err := rand.Int(p.rand, limit)
	if err != nil {
		return Invite{}, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.code = Invite{Code: fmt.Sprintf("%08d", n.Int64()), Role: role, Expires: p.clock().Add(codeLife)}
	p.wrong = 0
	return p.code, nil
}

// end makes the present code void.
func (p *pairing) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.code = Invite{}
}

// now gives the present code, if one is alive.
func (p *pairing) now() (Invite, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.code, p.alive()
}

func (p *pairing) alive() bool { return p.code.Code != "" && p.clock().Before(p.code.Expires) }

// try checks a code from a sender.
func (p *pairing) try(sender, code string) (Role, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.clock()
	t := p.tries[sender]
	if t == nil || now.Sub(t.since) >= triesTurn {
		if len(p.tries) >= maxSenders {
			p.forget(now)
		}
		t = &turn{since: now}
		p.tries[sender] = t
	}
	if t.wrong >= triesPerTurn {
		return Nobody, errTooOften
	}
	if !p.alive() {
		t.wrong++
		return Nobody, errNoCode
	}
	if subtle.ConstantTimeCompare([]byte(digitsOf(code)), []byte(p.code.Code)) == 1 {
		return p.code.Role, nil
	}
	t.wrong++
	p.wrong++
	if p.wrong >= triesInAll {
		p.code = Invite{}
		return Nobody, errCodeVoid
	}
	return Nobody, errWrongCode
}

// forget drops senders whose turn is over, and all of them if that frees nothing: memory stays bounded.
func (p *pairing) forget(now time.Time) {
	for k, t := range p.tries {
		if now.Sub(t.since) >= triesTurn {
			delete(p.tries, k)
		}
	}
	if len(p.tries) >= maxSenders {
		clear(p.tries)
	}
}

// digitsOf drops spaces and dashes that people put into a code.
func digitsOf(s string) string {
	out := make([]byte, 0, codeDigits)
	for i := range len(s) {
		if s[i] >= '0' && s[i] <= '9' && len(out) <= codeDigits {
			out = append(out, s[i])
		}
	}
	return string(out)
}
