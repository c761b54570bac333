package main

import (
	"cmp"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/netip"
	"os"
	"slices"
	"time"

	"phasewright/authority"
	"phasewright/web/access"
)

// lanAddresses are this computer's addresses on its networks, without loopback and link-local ones: IPv4 first, as
// every phone has it, and private ones before public ones, as our certificates can vouch for them.
func lanAddresses() []netip.Addr {
	var all []netip.Addr
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range addrs {
		if n, err := netip.ParsePrefix(a.String()); err == nil && n.Addr().IsGlobalUnicast() {
			all = append(all, n.Addr())
		}
	}
	slices.SortStableFunc(all, func(a, b netip.Addr) int { return cmp.Compare(inconvenience(a), inconvenience(b)) })
	return all
}

// inconvenience ranks addresses for other devices to use; less is better.
func inconvenience(a netip.Addr) int {
	n := 0
	if a.Is6() {
		n += 2
	}
	if !authority.MayVouch(a) {
		n++
	}
	return n
}

// certificates reads the authority kept in the file, or makes one, and keeps a certificate under it for this computer's
// addresses.
func certificates(file string) (*authority.Keeper, error) {
	a, err := readAuthority(file)
	if errors.Is(err, fs.ErrNotExist) || err == nil && !a.Good(time.Now()) {
		a, err = makeAuthority(file)
	}
	if err != nil {
		return nil, err
	}
	return authority.NewKeeper(a, rand.Reader, time.Now, lanAddresses)
}

func readAuthority(file string) (*authority.Authority, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	a, err := authority.Read(text)
	if err != nil {
		return nil, hinted{fmt.Errorf("%s: the certificate authority cannot be used: %w", file, err),
			"put the file back from a backup, or take it away: the devices then have to trust a new one"}
	}
	return a, nil
}

func makeAuthority(file string) (*authority.Authority, error) {
	host, err := os.Hostname()
	if err != nil {
		host = "localhost" // a computer without a name is reached by its addresses
	}
	a, err := authority.New(rand.Reader, time.Now(), host)
	if err != nil {
		return nil, err
	}
	text, err := a.PEM()
	if err != nil {
		return nil, err
	}
	return a, writePrivate(file, text)
}

// writePrivate writes a file that only its owner may read, whole or not at all.
func writePrivate(name string, data []byte) error {
	return writeMode(name, 0o600, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// deviceFile keeps the paired devices beside the book.
type deviceFile struct{ name string }

func (d deviceFile) Load() ([]access.Device, error) {
	data, err := os.ReadFile(d.name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []access.Device
	if err := json.Unmarshal(data, &out); err != nil {
		return nil, hinted{fmt.Errorf("%s: the list of paired devices is damaged: %w", d.name, err),
			"take the file away and pair the devices again"}
	}
	return out, nil
}

func (d deviceFile) Save(devices []access.Device) error {
	data, err := json.MarshalIndent(devices, "", "  ")
	if err != nil {
		return err
	}
	return writePrivate(d.name, data)
}
