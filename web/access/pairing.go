package access

import (
	"cmp"
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"math/big"
	"slices"
	"strings"
	"sync"
	"time"

	"phasewright/web/page"
)

// Nobody can void a code from outside, so its length alone has to withstand guessing. Ten of thirty signs are 30^10 =
// 5.9e14 codes. One address gets in some 20 tries in the life of a code: a few free ones, then growing waits. Whoever
// has all 65 536 addresses of a large network gets in 1.3e6 tries and finds one code in 4.5e8. Whoever never has to
// wait, at 100 000 answers a second (assumed: many times what two cores give, BenchmarkGuess), gets in 6e7 tries in ten
// minutes and finds one code in ten million.
const (
	codeLength  = 10
	codeLife    = 10 * time.Minute
	freeTries   = 3               // wrong tries of one sender without a wait
	firstWait   = 2 * time.Second // after the next one; then twice as long after each more
	longestWait = time.Minute     // so that who shares an address with a guesser gets a turn
	senderLife  = time.Hour       // how long a sender's wrong tries are remembered
	maxSenders  = 1000
)

// codeSigns are the signs of codes: letters and figures that are not mistaken for each other on a screen or a bad
// print.
const codeSigns = "ABCDEFGHJKMNPQRSTVWXYZ23456789"

// Refusals of pairing.
var (
	errNoCode    = errors.New("there is no code at present – ask for one at the host's screen, under Devices")
	errWrongCode = errors.New("that is not the code on the host's screen – read it again")
	errTooOften  = errors.New("too many wrong codes came from this device")
	errCodeUsed  = errors.New("this code has been used by as many devices as it was made for – " +
		"if yours is not among them, tell whoever is at the host's screen, and ask for a new code")
)

// waitFirst refuses a try that comes too early after wrong ones; it is an errTooOften.
type waitFirst struct{ left time.Duration }

func (w waitFirst) Error() string {
	return fmt.Sprintf("%v – wait %d s, then read the code again", errTooOften, w.seconds())
}
func (w waitFirst) Is(target error) bool { return target == errTooOften }
func (w waitFirst) seconds() int         { return int((w.left + time.Second - 1) / time.Second) }

// Invite is a code under which devices may pair until it expires or is used up.
type Invite struct {
	Code    string
	Role    page.Role // of the devices that use it
	Devices int       // how many it is for
	Left    int       // how many may still use it
	Expires time.Time
	URL     string // what the QR carries; "" where the server listens on loopback only
}

// Spaced is the code in two groups, for reading aloud.
func (i Invite) Spaced() string {
	if len(i.Code) != codeLength {
		return i.Code
	}
	return i.Code[:codeLength/2] + " " + i.Code[codeLength/2:]
}

// pairing holds the present code and each sender's wrong tries.
type pairing struct {
	mu      sync.Mutex
	clock   func() time.Time
	rand    io.Reader
	code    Invite
	shared  SharedStore // keeps the code for several servers; nil where there is one
	senders map[string]*sender
}

// sender is one address from which wrong codes came.
type sender struct {
	Addr  string
	Wrong int       // tries in all
	Last  time.Time // the last of them

	row   int       // wrong ones since the last right one
	until time.Time // no try counts before
}

func newPairing(clock func() time.Time, random io.Reader) *pairing {
	return &pairing{clock: clock, rand: random, senders: map[string]*sender{}}
}

// begin makes a new code for so many devices; the one before is void.
func (p *pairing) begin(role page.Role, devices int) (Invite, error) {
	code := make([]byte, codeLength)
	for i := range code {
		n, err := rand.Int(p.rand, big.NewInt(int64(len(codeSigns))))
		if err != nil {
			return Invite{}, err
		}
		code[i] = codeSigns[n.Int64()]
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	made := Invite{Code: string(code), Role: role, Devices: devices, Left: devices, Expires: p.clock().Add(codeLife)}
	err := p.change(func() error { p.code = made; return nil })
	return made, err
}

// change does something with the code that all servers have; p.mu is held.
func (p *pairing) change(how func() error) error {
	if p.shared == nil {
		return how()
	}
	return p.shared.ChangeCode(func(now Invite) (Invite, error) {
		p.code = now
		err := how()
		return p.code, err
	})
}

// look reads the code that all servers have; p.mu is held.
func (p *pairing) look() {
	if p.shared != nil {
		if now, err := p.shared.Code(); err == nil {
			p.code = now
		}
	}
}

// end makes the present code void.
func (p *pairing) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	_ = p.change(func() error { p.code = Invite{}; return nil }) // where it cannot be kept, it is over soon by itself
}

// now gives the present code, used up or not, and whether it lets a device in.
func (p *pairing) now() (Invite, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.look()
	return p.code, p.fresh() && p.code.Left > 0
}

func (p *pairing) fresh() bool { return p.code.Code != "" && p.clock().Before(p.code.Expires) }

// try checks a code from a sender. The right one is used up by one device.
func (p *pairing) try(from, code string) (page.Role, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.clock()
	s := p.senders[from]
	if s != nil && now.Before(s.until) {
		return page.Nobody, waitFirst{s.until.Sub(now)}
	}
	if p.look(); !p.fresh() {
		return page.Nobody, errNoCode // there is nothing to guess
	}
	if subtle.ConstantTimeCompare([]byte(signsOf(code)), []byte(p.code.Code)) != 1 {
		p.wrong(from, now)
		return page.Nobody, errWrongCode
	}
	err := p.change(func() error {
		if p.code.Left == 0 {
			return errCodeUsed
		}
		p.code.Left--
		return nil
	})
	if err != nil {
		return page.Nobody, err
	}
	if s != nil {
		s.row = 0
	}
	return p.code.Role, nil
}

// giveBack undoes the use of a code by a device that could not be paired after all.
func (p *pairing) giveBack(code string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	_ = p.change(func() error {
		if p.code.Code == signsOf(code) && p.code.Left < p.code.Devices {
			p.code.Left++
		}
		return nil
	})
}

// wrong counts a wrong try and sets the wait before the sender's next.
func (p *pairing) wrong(from string, now time.Time) {
	s := p.senders[from]
	if s == nil || now.Sub(s.Last) >= senderLife {
		p.forget(now)
		s = &sender{Addr: from}
		p.senders[from] = s
	}
	s.Wrong++
	s.row++
	s.Last = now
	if more := s.row - freeTries; more > 0 {
		s.until = now.Add(min(firstWait<<min(more-1, 10), longestWait))
	}
}

// forget drops senders of long ago and, where there is no room for one more, the one that has been silent for longest:
// memory stays bounded.
func (p *pairing) forget(now time.Time) {
	var oldest *sender
	for k, s := range p.senders {
		if now.Sub(s.Last) >= senderLife {
			delete(p.senders, k)
		} else if oldest == nil || s.Last.Before(oldest.Last) {
			oldest = s
		}
	}
	if len(p.senders) >= maxSenders {
		delete(p.senders, oldest.Addr)
	}
}

// strangers are the senders of wrong codes in the last hour, the latest first.
func (p *pairing) strangers() []sender {
	p.mu.Lock()
	defer p.mu.Unlock()
	var all []sender
	for _, s := range p.senders {
		if p.clock().Sub(s.Last) < senderLife {
			all = append(all, *s)
		}
	}
	slices.SortFunc(all, func(a, b sender) int {
		return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.Addr, b.Addr))
	})
	return all
}

// signsOf gives what was typed as a code is written: in capitals, without the blanks and dashes that people put in.
func signsOf(s string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '–' || r == '\t' || r == '\u00a0' {
			return -1
		}
		return r
	}, strings.ToUpper(s))
}
