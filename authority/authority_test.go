package authority

import (
	"bytes"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"net"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"
)

// An invented shop computer.
const host = "bench-pc"

var day = time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)

func made(t *testing.T) *Authority {
	t.Helper()
	a, err := New(rand.Reader, day, host)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// trusts verifies a chain for a name or an address as a device does that trusts the root.
func trusts(a *Authority, chain *tls.Certificate, now time.Time, name string) error {
	roots, between := x509.NewCertPool(), x509.NewCertPool()
	roots.AddCert(a.root)
	for _, der := range chain.Certificate[1:] {
		c, err := x509.ParseCertificate(der)
		if err != nil {
			return err
		}
		between.AddCert(c)
	}
	how := x509.VerifyOptions{DNSName: name, Roots: roots, Intermediates: between, CurrentTime: now}
	_, err := chain.Leaf.Verify(how)
	return err
}

func TestVouchesForThisComputer(t *testing.T) {
	a := made(t)
	leaf, err := a.leaf(rand.Reader, day, []netip.Addr{netip.MustParseAddr("192.168.3.7"),
		netip.MustParseAddr("fd12::7"), netip.MustParseAddr("198.51.100.7"), netip.MustParseAddr("2001:db8::7")}) // the last two are public
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"192.168.3.7", "fd12::7", "127.0.0.1", "::1", "localhost", "bench-pc.local"} {
		if err := trusts(a, leaf, day, name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, name := range []string{"198.51.100.7", "2001:db8::7", "bench-pc", "192.168.3.8"} {
		if trusts(a, leaf, day, name) == nil {
			t.Errorf("%s is vouched for", name)
		}
	}
	if life := leaf.Leaf.NotAfter.Sub(leaf.Leaf.NotBefore); life > 90*24*time.Hour {
		t.Errorf("the certificate lives %v", life)
	}
}

// Whoever steals the file can sign what they like: devices that trust the authority refuse it outside private networks.
func TestStolenKeyVouchesForNothingElse(t *testing.T) {
	a := made(t)
	forge := func(names []string, addresses ...net.IP) *tls.Certificate {
		c := &x509.Certificate{NotBefore: day, NotAfter: day.Add(time.Hour), DNSNames: names, IPAddresses: addresses,
			ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
		c, err := sign(rand.Reader, c, a.issuer, &a.key.PublicKey, a.key)
		if err != nil {
			t.Fatal(err)
		}
		return &tls.Certificate{Certificate: [][]byte{c.Raw, a.issuer.Raw}, Leaf: c}
	}
	if err := trusts(a, forge([]string{"bench-pc.local"}, net.IPv4(10, 0, 0, 9)), day, "10.0.0.9"); err != nil {
		t.Fatalf("the forgery itself is wrong: %v", err)
	}
	refused := func(forged *tls.Certificate, name string) {
		t.Helper()
		if err := trusts(a, forged, day, name); err == nil || !strings.Contains(err.Error(), "not permitted") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, n := range []string{"example.com", "bench-pc", "other.local", "local", "bench-pc.local.example.com", "com"} {
		refused(forge([]string{n}), n)
	}
	// just outside the private ranges, or for documentation
	for _, n := range []string{"198.51.100.7", "9.255.255.255", "172.32.0.1", "192.169.0.1", "100.64.0.1",
		"2001:db8::1"} {
		refused(forge(nil, net.ParseIP(n)), n)
	}
	if err := trusts(a, forge([]string{"localhost", "example.com"}), day, "localhost"); err == nil {
		t.Error("a name too many does not spoil the certificate")
	}
}

// Software that looks for no constraints in a root must find nobody who can sign with its key.
func TestRootKeyIsThrownAway(t *testing.T) {
	a := made(t)
	text, err := a.PEM()
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(text, []byte("PRIVATE KEY-----\n")); n != 2 { // begin and end of one
		t.Errorf("%d lines around private keys", n)
	}
	if a.key.PublicKey.Equal(a.root.PublicKey) {
		t.Error("the key kept is the root's")
	}
	for _, c := range []*x509.Certificate{a.root, a.issuer} {
		names := slices.Equal(c.PermittedDNSDomains, []string{"localhost", "bench-pc.local"})
		if !c.IsCA || !c.PermittedDNSDomainsCritical || len(c.PermittedIPRanges) != len(private) || !names {
			t.Errorf("%s: constraints %v %v", c.Subject, c.PermittedDNSDomains, c.PermittedIPRanges)
		}
		if !slices.Equal(c.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
			t.Errorf("%s: may be used for %v", c.Subject, c.ExtKeyUsage)
		}
	}
}

func TestNamesAreLocalOnes(t *testing.T) {
	for in, want := range map[string]string{"bench-pc": "bench-pc.local", "Bench-PC.example.com": "bench-pc.local",
		"shop": "shop.local", "com": "com.local",
		"": "", "localhost": "", "a b": "", "werkbänk": "", "*": ""} {
		all := []string{"localhost"}
		if want != "" {
			all = append(all, want)
		}
		if got := Names(in); !slices.Equal(got, all) {
			t.Errorf("Names(%q) = %q, want %q", in, got, all)
		}
	}
}

func TestTitlesFitAndDiffer(t *testing.T) {
	long := strings.Repeat("long-", 20)
	a, err := New(rand.Reader, day, long)
	if err != nil {
		t.Fatal(err)
	}
	b, err := New(rand.Reader, day, long)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(a.issuer.Subject.CommonName); n > 64 { // RFC 5280, appendix A, ub-common-name
		t.Errorf("%d characters: %s", n, a.issuer.Subject.CommonName)
	}
	if a.Title() == b.Title() || a.Title() == a.issuer.Subject.CommonName { // one chance in 65 536 that this is none
		t.Errorf("%q and %q are hard to tell apart", a.Title(), b.Title())
	}
}

func TestReadGivesBackWhatWasKept(t *testing.T) {
	a := made(t)
	text, err := a.PEM()
	if err != nil {
		t.Fatal(err)
	}
	again, err := Read(text)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := again.leaf(rand.Reader, day, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := trusts(a, leaf, day, "localhost"); err != nil || !bytes.Equal(a.Root(), again.Root()) {
		t.Errorf("devices have to trust it anew: %v", err)
	}
	other, err := made(t).PEM()
	if err != nil {
		t.Fatal(err)
	}
	part := func(text []byte, n int) []byte {
		for range n {
			_, text = pem.Decode(text)
		}
		b, _ := pem.Decode(text)
		return pem.EncodeToMemory(b)
	}
	for name, bad := range map[string][]byte{"empty": nil, "noise": []byte("nothing"), "cut short": text[:len(text)/2],
		"no key":             append(part(text, 0), part(text, 1)...),
		"a key of another":   slices.Concat(part(text, 0), part(text, 1), part(other, 2)),
		"a root of another":  slices.Concat(part(other, 0), part(text, 1), part(text, 2)),
		"broken certificate": bytes.Replace(text, part(text, 0)[40:80], bytes.Repeat([]byte("A"), 40), 1)} {
		if _, err := Read(bad); err == nil {
			t.Errorf("%s was read", name)
		}
	}
}

func TestAuthorityIsGoodWhileLeavesFitUnderIt(t *testing.T) {
	a := made(t)
	for _, c := range []struct {
		at   time.Duration
		want bool
	}{{0, true}, {life - leafLife - time.Hour, true}, {life - leafLife + time.Hour, false}, {-2 * slack, false}} {
		if got := a.Good(day.Add(c.at)); got != c.want {
			t.Errorf("after %v: %v", c.at, got)
		}
	}
}

// The certificate is renewed while the server runs: in time, and after the computer was given another address.
func TestKeeperRenews(t *testing.T) {
	a := made(t)
	now, addresses := day, []netip.Addr{netip.MustParseAddr("192.168.3.7")}
	k, err := NewKeeper(a, rand.Reader, func() time.Time { return now }, func() []netip.Addr { return addresses })
	if err != nil {
		t.Fatal(err)
	}
	old := netip.MustParseAddr("192.168.3.7")
	first := k.Leaf(old)
	now = now.Add(leafLife - renewAt - slack - time.Hour)
	if k.Leaf(old) != first {
		t.Error("renewed with more than a third of its life left")
	}
	if err := trusts(a, first, now, "192.168.3.7"); err != nil {
		t.Error(err)
	}
	now = now.Add(2 * time.Hour)
	second := k.Leaf(old)
	if second == first {
		t.Error("not renewed with a third of its life left")
	}

	moved := netip.MustParseAddr("10.1.2.3")
	if k.Leaf(moved) != second {
		t.Error("renewed for an address that this computer does not have")
	}
	addresses = []netip.Addr{moved}
	third := k.Leaf(moved)
	if err := trusts(a, third, now, "10.1.2.3"); err != nil {
		t.Errorf("after a change of address: %v", err)
	}
	if k.Leaf(netip.MustParseAddr("fe80::1")) != third {
		t.Error("renewed although the addresses are the same: every such connection would cost a key")
	}
	if k.Leaf(netip.Addr{}) != third || k.Shown() != Fingerprint(third.Certificate[0]) {
		t.Error("what is shown is not the present one")
	}

	now = now.Add(-2 * leafLife) // the clock was wrong and is set right
	if err := trusts(a, k.Leaf(moved), day, "10.1.2.3"); err == nil {
		t.Error("the test sets the clock back too little")
	}
	now = day
	if err := trusts(a, k.Leaf(moved), now, "10.1.2.3"); err != nil {
		t.Errorf("after the clock was set: %v", err)
	}
}
