package access

import (
	"crypto/rand"
	"errors"
	"slices"
	"sync"
	"testing"
	"time"

	"phasewright/web/page"
)

// sharedMemory is what two servers share.
type sharedMemory struct {
	mu   sync.Mutex
	all  []Device
	code Invite
	away error // why it cannot be reached
}

func (s *sharedMemory) Load() ([]Device, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.all), s.away
}

func (s *sharedMemory) Save(all []Device) error {
	return s.Change(func([]Device) ([]Device, error) { return all, nil })
}

func (s *sharedMemory) Change(change func([]Device) ([]Device, error)) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.away != nil {
		return s.away
	}
	all, err := change(slices.Clone(s.all))
	if err == nil {
		s.all = all
	}
	return err
}

func (s *sharedMemory) Code() (Invite, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.code, s.away
}

func (s *sharedMemory) ChangeCode(change func(Invite) (Invite, error)) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.away != nil {
		return s.away
	}
	code, err := change(s.code)
	if err == nil {
		s.code = code
	}
	return err
}

// A code from one server pairs a device at another, once; a device is known to all, and sent away from all.
func TestServersShareCodesAndDevices(t *testing.T) {
	kept := &sharedMemory{}
	server := func() (*pairing, *devices) {
		p := newPairing(time.Now, rand.Reader)
		p.shared = kept
		d, err := newDevices(kept, time.Now, rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		return p, d
	}
	hereCodes, here := server()
	thereCodes, there := server()
	invite, err := hereCodes.begin(page.Work, 1)
	if err != nil {
		t.Fatal(err)
	}
	if got, ok := thereCodes.now(); !ok || got.Code != invite.Code {
		t.Errorf("the other server shows the code %q", got.Code)
	}
	if role, err := thereCodes.try("192.0.2.1", invite.Code); err != nil || role != page.Work {
		t.Fatal(role, err)
	}
	if _, err := hereCodes.try("192.0.2.2", invite.Code); !errors.Is(err, errCodeUsed) {
		t.Errorf("the code lets a second device in: %v", err)
	}
	one, secret, err := there.add("phone 1", page.Work)
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(2 * lookSooner)
	if d, _, ok := here.find(secret); !ok || d.ID != one.ID {
		t.Error("a device that was paired at the other server is not known here")
	}
	if _, _, err := here.add("phone 2", page.Look); err != nil {
		t.Fatal(err)
	}
	if err := here.setRole(one.ID, page.Look); err != nil {
		t.Fatal(err)
	}
	there.read = time.Time{} // a second later
	if d, _, ok := there.find(secret); !ok || d.Role != page.Look || len(there.list()) != 2 {
		t.Errorf("%+v, %v", d, there.list())
	}
	kept.away = errors.New("away")
	there.read = time.Time{}
	if _, _, ok := there.find(secret); !ok {
		t.Error("a device is sent away because the list cannot be read")
	}
	if err := there.remove(one.ID); err == nil {
		t.Error("a device was sent away where that cannot be kept")
	}
	kept.away = nil
	if err := there.remove(one.ID); err != nil {
		t.Fatal(err)
	}
	here.read = time.Time{}
	if _, _, ok := here.find(secret); ok {
		t.Error("a device that was sent away at the other server is let in here")
	}
}
