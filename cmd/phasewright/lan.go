package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/big"
	"net"
	"os"
	"strings"
	"time"

	"phasewright/web"
)

// lanAddresses are this computer's addresses on its networks, IPv4 first, without loopback and link-local ones.
func lanAddresses() []string {
	var four, six []string
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range addrs {
		n, ok := a.(*net.IPNet)
		if !ok || !n.IP.IsGlobalUnicast() {
			continue
		}
		if n.IP.To4() != nil {
			four = append(four, n.IP.String())
		} else {
			six = append(six, n.IP.String())
		}
	}
	return append(four, six...)
}

// certificate reads the self-made certificate kept beside the book, or makes one for the addresses; the fingerprint is the SHA-256 of the certificate.
func certificate(file string, hosts []string) (tls.Certificate, string, error) {
	cert, err := tls.LoadX509KeyPair(file, file)
	if err == nil {
		var leaf *x509.Certificate
		if leaf, err = x509.ParseCertificate(cert.Certificate[0]); err == nil && time.Now().Before(leaf.NotAfter) && covers(leaf, hosts) {
			return cert, fingerprint(cert.Certificate[0]), nil
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return cert, "", hinted{fmt.Errorf("%s: the certificate cannot be used: %w", file, err), "take the file away; a new one is made"}
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return cert, "", err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return cert, "", err
	}
	made := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "phasewright on this computer"}, DNSNames: []string{"localhost"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().AddDate(2, 0, 0), KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1), net.IPv6loopback},
	}
	for _, h := range hosts {
		made.IPAddresses = append(made.IPAddresses, net.ParseIP(h))
	}
	der, err := x509.CreateCertificate(rand.Reader, made, made, &key.PublicKey, key)
	if err != nil {
		return cert, "", err
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return cert, "", err
	}
	pemText := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private})...)
	if err := writePrivate(file, pemText); err != nil {
		return cert, "", err
	}
	cert, err = tls.X509KeyPair(pemText, pemText)
	return cert, fingerprint(der), err
}

func covers(leaf *x509.Certificate, hosts []string) bool {
	for _, h := range hosts {
		if leaf.VerifyHostname(h) != nil {
			return false
		}
	}
	return true
}

// fingerprint prints a SHA-256 in pairs, as browsers show it.
func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	text := strings.ToUpper(hex.EncodeToString(sum[:]))
	var pairs []string
	for i := 0; i < len(text); i += 2 {
		pairs = append(pairs, text[i:i+2])
	}
	return strings.Join(pairs, ":")
}

func secured(l net.Listener, cert tls.Certificate) net.Listener {
	return tls.NewListener(l, &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}})
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

func (d deviceFile) Load() ([]web.Device, error) {
	data, err := os.ReadFile(d.name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []web.Device
	if err := json.Unmarshal(data, &out); err != nil {
		return nil, hinted{fmt.Errorf("%s: the list of paired devices is damaged: %w", d.name, err), "take the file away and pair the devices again"}
	}
	return out, nil
}

func (d deviceFile) Save(devices []web.Device) error {
	data, err := json.MarshalIndent(devices, "", "  ")
	if err != nil {
		return err
	}
	return writePrivate(d.name, data)
}
