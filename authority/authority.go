// Package authority is the shop's own certificate authority: it vouches for this computer on the workshop's network, so
// that a browser that trusts it opens the pages without a warning and allows what needs a secure page.
//
// A device that trusts an authority believes whatever that authority signs. So that trusting this one can harm nothing
// else, it is name-constrained (RFC 5280, 4.2.1.10): it may vouch for private addresses and for this computer's own
// local names only. Some software does not look for constraints in the certificate that it was told to trust. The key
// of that one, the root, therefore signs once and is thrown away; what is kept is the key of an issuer below it, where
// constraints count everywhere.
package authority

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/netip"
	"strings"
	"time"
)

const (
	life     = 10 * 365 * 24 * time.Hour // of the authority: every device has to trust a new one by hand
	leafLife = 30 * 24 * time.Hour       // of the certificate that the server shows
	renewAt  = leafLife / 3              // a leaf with less life than this is replaced
	slack    = 24 * time.Hour            // certificates hold from so long before they are made: clocks differ
)

// private are the addresses that the authority may vouch for: nobody meets them beyond their own network.
var private = []netip.Prefix{
	netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("::1/128"), // this computer itself
	// RFC 1918
	netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"),
	netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("fc00::/7"),                                           // RFC 4193, unique local
	netip.MustParsePrefix("169.254.0.0/16"), netip.MustParsePrefix("fe80::/10"), // RFC 3927, RFC 4291: one line
}

// Names are the local names of a computer with the host name: "localhost" and the name under .local (RFC 6762). The
// bare host name is not among them: a computer called "shop" must not get an authority over the public top-level domain
// of that name.
func Names(host string) []string {
	first, _, _ := strings.Cut(strings.ToLower(host), ".")
	for _, r := range first {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return []string{"localhost"}
		}
	}
	if first == "" || first == "localhost" {
		return []string{"localhost"}
	}
	return []string{"localhost", first + ".local"}
}

// Authority can sign certificates for this computer.
type Authority struct {
	root, issuer *x509.Certificate
	key          *ecdsa.PrivateKey // of the issuer
}

// New makes an authority over private addresses and the local names of a computer with the host name.
func New(random io.Reader, now time.Time, host string) (*Authority, error) {
	mark := make([]byte, 2) // two authorities must not look alike in a device's list
	if _, err := io.ReadFull(random, mark); err != nil {
		return nil, err
	}
	// A common name has at most 64 characters (RFC 5280, ub-common-name).
	title := fmt.Sprintf("Phasewright %X, made on %.20s", mark, host)
	names := Names(host)
	rootKey, err := ecdsa.GenerateKey(elliptic.P256(), random)
	if err != nil {
		return nil, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), random)
	if err != nil {
		return nil, err
	}
	root := constrained(now, title, names)
	root.MaxPathLen = 1
	if root, err = sign(random, root, root, &rootKey.PublicKey, rootKey); err != nil {
		return nil, err
	}
	issuer := constrained(now, title+", issuer", names)
	issuer.MaxPathLenZero = true
	if issuer, err = sign(random, issuer, root, &key.PublicKey, rootKey); err != nil {
		return nil, err
	}
	return &Authority{root: root, issuer: issuer, key: key}, nil
}

// constrained is the outline of a certificate that may sign others, for servers at private addresses and the names
// alone.
func constrained(now time.Time, title string, names []string) *x509.Certificate {
	c := &x509.Certificate{
		Subject: pkix.Name{CommonName: title}, NotBefore: now.Add(-slack), NotAfter: now.Add(life),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: names,
	}
	for _, p := range private {
		one := &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}
		c.PermittedIPRanges = append(c.PermittedIPRanges, one)
	}
	return c
}

// sign makes the certificate with a random serial number and reads it back as others will.
func sign(random io.Reader, c, by *x509.Certificate, public *ecdsa.PublicKey, key *ecdsa.PrivateKey) (
	*x509.Certificate, error) {
	serial := make([]byte, 16)
	if _, err := io.ReadFull(random, serial); err != nil {
		return nil, err
	}
	serial[0] &= 0x7f // positive
	c.SerialNumber = new(big.Int).SetBytes(serial)
	der, err := x509.CreateCertificate(random, c, by, public, key)
	if err != nil {
		return nil, err
	}
	return x509.ParseCertificate(der)
}

// Read reads what PEM wrote.
func Read(text []byte) (*Authority, error) {
	var certs []*x509.Certificate
	var key *ecdsa.PrivateKey
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		switch block.Type {
		case "CERTIFICATE":
			c, err := x509.ParseCertificate(block.Bytes)
			if err != nil {
				return nil, err
			}
			certs = append(certs, c)
		case "PRIVATE KEY":
			k, err := x509.ParsePKCS8PrivateKey(block.Bytes)
			if err != nil {
				return nil, err
			}
			key, _ = k.(*ecdsa.PrivateKey)
		}
	}
	if len(certs) != 2 || key == nil {
		return nil, errors.New("it must hold two certificates and a private key")
	}
	a := &Authority{root: certs[0], issuer: certs[1], key: key}
	if err := a.issuer.CheckSignatureFrom(a.root); err != nil {
		return nil, err
	}
	if !key.PublicKey.Equal(a.issuer.PublicKey) {
		return nil, errors.New("the private key does not belong to its certificate")
	}
	return a, nil
}

// PEM is the authority with its key, for a file that nobody else may read.
func (a *Authority) PEM() ([]byte, error) {
	key, err := x509.MarshalPKCS8PrivateKey(a.key)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, b := range []pem.Block{
		{Type: "CERTIFICATE", Bytes: a.root.Raw}, {Type: "CERTIFICATE", Bytes: a.issuer.Raw},
		{Type: "PRIVATE KEY", Bytes: key},
	} {
		if err := pem.Encode(&out, &b); err != nil {
			return nil, err
		}
	}
	return out.Bytes(), nil
}

// Good says whether a leaf made now would live its whole life under the authority.
func (a *Authority) Good(now time.Time) bool {
	return !now.Before(a.root.NotBefore) && now.Add(leafLife).Before(a.root.NotAfter)
}

// Root is the certificate that devices are asked to trust (DER).
func (a *Authority) Root() []byte { return a.root.Raw }

// Title is what devices list the authority under.
func (a *Authority) Title() string { return a.root.Subject.CommonName }

// Names are the names that the authority may vouch for.
func (a *Authority) Names() []string { return a.root.PermittedDNSDomains }

// MayVouch says whether the authority may vouch for the address.
func MayVouch(address netip.Addr) bool {
	for _, p := range private {
		if p.Contains(address.Unmap().WithZone("")) {
			return true
		}
	}
	return false
}

// leaf signs a certificate for a server at the addresses, with the chain that a client needs to check it. Addresses
// that the authority may not vouch for are left out: with one of them in it, a client would refuse the whole
// certificate.
func (a *Authority) leaf(random io.Reader, now time.Time, addresses []netip.Addr) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), random)
	if err != nil {
		return nil, err
	}
	c := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "Phasewright on this computer"},
		NotBefore: now.Add(-slack), NotAfter: now.Add(leafLife - slack),
		BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:    a.Names(), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1), net.IPv6loopback},
	}
	for _, one := range addresses {
		if MayVouch(one) {
			c.IPAddresses = append(c.IPAddresses, one.Unmap().WithZone("").AsSlice())
		}
	}
	if c, err = sign(random, c, a.issuer, &key.PublicKey, a.key); err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{c.Raw, a.issuer.Raw}, PrivateKey: key, Leaf: c}, nil
}

// Fingerprint is the SHA-256 of a certificate in pairs, as browsers show it; with blanks, where a narrow page may break
// the line.
func Fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	text := strings.ToUpper(hex.EncodeToString(sum[:]))
	pairs := make([]string, 0, len(sum))
	for i := 0; i < len(text); i += 2 {
		pairs = append(pairs, text[i:i+2])
	}
	return strings.Join(pairs, " ")
}
