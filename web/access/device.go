package access

import (
	"cmp"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"slices"
	"sync"
	"time"

	"phasewright/web/page"
)

// Device is a paired phone, tablet or desk. Only a hash of its session is kept.
type Device struct {
	ID       string    `json:"id"`
	Name     string    `json:"name"`
	Role     page.Role `json:"role"`
	Session  string    `json:"session"` // SHA-256 of the cookie, hexadecimal
	PairedAt time.Time `json:"paired_at"`
	SeenAt   time.Time `json:"seen_at"`

	renewed time.Time // when the session was last lengthened in the store
}

// DeviceStore keeps paired devices over a restart. Save replaces what was kept.
type DeviceStore interface {
	Load() ([]Device, error)
	Save([]Device) error
}

// SharedStore is a DeviceStore that other servers use too. Change lets change make another list of the one that all of
// them see, while no other can; ChangeCode does so with the pairing code.
type SharedStore interface {
	DeviceStore
	Change(change func([]Device) ([]Device, error)) error
	ChangeCode(change func(Invite) (Invite, error)) error
	Code() (Invite, error)
}

const (
	lookAgain    = time.Second            // after which a list that other servers change is read again
	lookSooner   = 100 * time.Millisecond // for a session that is not in it
	cookieName   = "phasewright"
	sessionLife  = 30 * 24 * time.Hour
	maxDevices   = 200
	seenInterval = time.Minute    // how coarse SeenAt is
	renewEvery   = 24 * time.Hour // a phone in daily use costs one write a day
)

var errNoDevice = page.Say(http.StatusNotFound, "That device is not paired any more.",
	"Load the list of devices again.")

// devices is the table of paired devices.
type devices struct {
	mu    sync.Mutex
	byID  map[string]*Device
	store DeviceStore
	clock func() time.Time
	rand  io.Reader
	read  time.Time // when a shared list was last read
}

func newDevices(store DeviceStore, clock func() time.Time, rand io.Reader) (*devices, error) {
	d := &devices{byID: map[string]*Device{}, store: store, clock: clock, rand: rand}
	if store == nil {
		return d, nil
	}
	kept, err := store.Load()
	if err != nil {
		return nil, fmt.Errorf("paired devices – cannot be read – remove the file to start with none: %w", err)
	}
	d.take(kept)
	return d, nil
}

// take makes a kept list the present one. What this server saw of a device meanwhile it goes on knowing.
func (d *devices) take(kept []Device) {
	before := d.byID
	d.byID = map[string]*Device{}
	for i := range kept {
		one := &kept[i]
		one.renewed = one.SeenAt
		if d.clock().Sub(one.SeenAt) >= sessionLife {
			continue
		}
		if known := before[one.ID]; known != nil && known.SeenAt.After(one.SeenAt) {
			one.SeenAt = known.SeenAt
		}
		d.byID[one.ID] = one
	}
}

// look reads a list again that other servers change, where it was not read for so long. Where that cannot be, the list
// stays as it was; d.mu is held.
func (d *devices) look(age time.Duration) {
	shared, ok := d.store.(SharedStore)
	if !ok || time.Since(d.read) < age {
		return
	}
	d.read = time.Now()
	if kept, err := shared.Load(); err == nil {
		d.take(kept)
	}
}

// keep does a change and keeps it: on the list that all servers see, where others do; d.mu is held.
func (d *devices) keep(how func() error) error {
	shared, ok := d.store.(SharedStore)
	if !ok {
		if err := how(); err != nil {
			return err
		}
		return d.save()
	}
	return shared.Change(func(kept []Device) ([]Device, error) {
		d.take(kept)
		err := how()
		return d.sorted(), err
	})
}

// add pairs a device and gives the secret for its cookie.
func (d *devices) add(name string, role page.Role) (Device, string, error) {
	raw := make([]byte, 40)
	if _, err := io.ReadFull(d.rand, raw); err != nil {
		return Device{}, "", err
	}
	secret := base64.RawURLEncoding.EncodeToString(raw[:32])
	now := d.clock()
	one := Device{ID: hex.EncodeToString(raw[32:]), Name: name, Role: role, Session: hashOf(secret), PairedAt: now,
		SeenAt: now, renewed: now}
	d.mu.Lock()
	defer d.mu.Unlock()
	err := d.keep(func() error {
		if len(d.byID) >= maxDevices {
			return fmt.Errorf("pairing – %d devices are paired already – remove some at the host's screen", maxDevices)
		}
		d.byID[one.ID] = &one
		return nil
	})
	if err != nil && d.byID[one.ID] == nil {
		return Device{}, "", err
	}
	return one, secret, err
}

// find looks a session up and notes that the device was seen. A day after the last time its session is lengthened in
// the store too, so that a device in use outlives a restart, and its cookie is due again; where that cannot be written
// it is tried again a minute later, and until then the session counts as before.
func (d *devices) find(secret string) (found Device, again, ok bool) {
	want, now := hashOf(secret), d.clock()
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.look(lookAgain); !d.has(want) {
		d.look(lookSooner)
	}
	for _, one := range d.byID {
		if one.Session != want { // hashes are compared: timing tells nothing about the secret
			continue
		}
		if now.Sub(one.SeenAt) >= sessionLife {
			delete(d.byID, one.ID)
			break
		}
		if now.Sub(one.SeenAt) > seenInterval {
			one.SeenAt = now
			if now.Sub(one.renewed) >= renewEvery {
				again = d.keep(func() error { return nil }) == nil
				if again && d.byID[one.ID] != nil {
					d.byID[one.ID].renewed = now
				}
			}
		}
		return *one, again, true
	}
	return Device{}, false, false
}

// remove sends a device away; it has to pair again.
func (d *devices) remove(id string) error {
	return d.change(id, func(*Device) { delete(d.byID, id) })
}

// setRole changes what a device may do.
func (d *devices) setRole(id string, role page.Role) error {
	return d.change(id, func(one *Device) { one.Role = role })
}

func (d *devices) change(id string, how func(*Device)) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.keep(func() error {
		one, ok := d.byID[id]
		if !ok {
			return errNoDevice
		}
		how(one)
		return nil
	})
}

func (d *devices) has(session string) bool {
	for _, one := range d.byID {
		if one.Session == session {
			return true
		}
	}
	return false
}

// list gives the devices, first paired first.
func (d *devices) list() []Device {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.look(lookAgain)
	return d.sorted()
}

// beside says whether another device than this one is paired.
func (d *devices) beside(id string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	n := len(d.byID)
	if _, ok := d.byID[id]; ok {
		n--
	}
	return n > 0
}

func (d *devices) sorted() []Device {
	all := make([]Device, 0, len(d.byID))
	for _, one := range d.byID {
		all = append(all, *one)
	}
	slices.SortFunc(all, func(a, b Device) int {
		return cmp.Or(a.PairedAt.Compare(b.PairedAt), cmp.Compare(a.ID, b.ID))
	})
	return all
}

func (d *devices) save() error {
	if d.store == nil {
		return nil
	}
	return d.store.Save(d.sorted())
}

func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// cookieCalled is the name of a cookie on a line that is secure or not. Browsers let nothing that came in clear replace
// a secure cookie: with one name for both, a device of before would never pair again where the server is started in
// plain. The prefix keeps other servers on this computer from setting the secure one (RFC 6265bis, 4.1.3.2).
func cookieCalled(name string, secure bool) string {
	if secure {
		return "__Host-" + name
	}
	return name
}

// sessionCookie is the cookie that a paired device carries: not readable by script, not sent from other sites.
func sessionCookie(secret string, secure bool) *http.Cookie {
	return &http.Cookie{Name: cookieCalled(cookieName, secure), Value: secret, Path: "/",
		MaxAge: int(sessionLife.Seconds()), HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: secure}
}
