package authority

import (
	"crypto/tls"
	"io"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// Keeper has a certificate ready that is valid and fits this computer's addresses, for as long as the server runs.
type Keeper struct {
	*Authority
	random    io.Reader
	clock     func() time.Time
	addresses func() []netip.Addr

	mu   sync.Mutex
	now  *tls.Certificate
	from []netip.Addr // the addresses it was made for
}

// NewKeeper makes the first certificate. It asks clock and addresses again as connections come.
func NewKeeper(a *Authority, random io.Reader, clock func() time.Time, addresses func() []netip.Addr) (*Keeper, error) {
	k := &Keeper{Authority: a, random: random, clock: clock, addresses: addresses}
	return k, k.renew()
}

// renew makes a certificate for the present addresses.
func (k *Keeper) renew() error {
	from := k.addresses()
	c, err := k.leaf(k.random, k.clock(), from)
	if err != nil {
		return err
	}
	k.now, k.from = c, from
	return nil
}

// Leaf is the certificate for a connection that comes in at the address; the zero Addr asks for the one that is shown
// at present. It is made anew when a third of its life is left, when the clock was set back, and when this computer has
// been given another address. Where making one fails, the one before is used for what it is still worth.
func (k *Keeper) Leaf(at netip.Addr) *tls.Certificate {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.clock()
	worn := now.Before(k.now.Leaf.NotBefore) || now.Add(renewAt).After(k.now.Leaf.NotAfter)
	elsewhere := at.IsValid() && k.now.Leaf.VerifyHostname(at.String()) != nil && !slices.Equal(k.addresses(), k.from)
	if worn || elsewhere {
		k.renew() // see above
	}
	return k.now
}

// TLS is the configuration of a server that shows the kept certificate.
func (k *Keeper) TLS() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
			// The zero value where the line is no network's.
			at, _ := netip.ParseAddrPort(hello.Conn.LocalAddr().String())
			return k.Leaf(at.Addr().Unmap().WithZone("")), nil
		},
	}
}

// Shown is the fingerprint of the certificate that browsers see at present.
func (k *Keeper) Shown() string { return Fingerprint(k.Leaf(netip.Addr{}).Certificate[0]) }
