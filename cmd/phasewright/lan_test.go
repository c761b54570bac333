package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"phasewright/authority"
)

// serving runs `serve --lan` with a book and a data folder of its own until the test ends; said is what it wrote up to
// the certificate or, in plain, the symbol.
func serving(t *testing.T, data string, args ...string) (said string, stop func()) {
	t.Helper()
	if len(lanAddresses()) == 0 {
		t.Skip("SKIPPED: this computer is on no network, so --lan was NOT tried")
	}
	t.Setenv("XDG_DATA_HOME", data)
	args = append([]string{"serve", "--lan", "--listen", ":0", "--book", filepath.Join(t.TempDir(), "a.book")}, args...)
	out, in := io.Pipe()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, args, strings.NewReader(""), io.Discard, in)
		in.Close()
	}()
	stop = func() {
		cancel()
		if status, ok := <-ended; ok && status != statusFine {
			t.Errorf("status %d", status)
		}
		close(ended)
	}
	lines := bufio.NewScanner(out)
	enough := regexp.MustCompile(`(?m)^[0-9A-F ]{47}\n[0-9A-F ]{47}$|other devices: http://.*\ncode `)
	for lines.Scan() {
		line := lines.Text()
		said += line + "\n"
		if n := utf8.RuneCountInString(line); n > 80 && !strings.HasPrefix(line, "shop book ") {
			t.Errorf("%d columns, which breaks in a terminal of 80: %s", n, line)
		}
		if enough.MatchString(said) {
			break
		}
	}
	go io.Copy(io.Discard, out)
	return said, stop
}

func authorityOf(t *testing.T, data string) *x509.Certificate {
	t.Helper()
	file := filepath.Join(data, "phasewright", "authority.pem")
	st, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	if st.Mode().Perm() != 0o600 {
		t.Errorf("others may read the authority's key: %v", st.Mode())
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	block, _ := pem.Decode(text)
	root, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		t.Fatal(err)
	}
	return root
}

// On the network the server speaks TLS unasked, under an authority that stays the same from start to start; on this
// computer it needs no certificate.
func TestLANSpeaksTLS(t *testing.T) {
	data := t.TempDir()
	said, stop := serving(t, data)
	told := regexp.MustCompile(
		`open http://localhost:(\d+) (?s:.*)other devices: (https://\S+)\ncode (?s:.*)\n([0-9A-F ]{47}\n[0-9A-F ]{47})\n`)
	m := told.FindStringSubmatch(said)
	if m == nil {
		t.Fatalf("said:\n%s", said)
	}
	port, base, shown := m[1], m[2], strings.ReplaceAll(m[3], "\n", " ")
	if strings.Contains(said, "--plain") {
		t.Errorf("warns of what was not asked for:\n%s", said)
	}
	root := authorityOf(t, data)
	pool := x509.NewCertPool()
	pool.AddCert(root)
	c := &http.Client{Timeout: 10 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport:     &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
	get := func(url string) *http.Response {
		t.Helper()
		answer, err := c.Get(url)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		return answer
	}
	answer := get("https://localhost:" + port + "/")
	if got := authority.Fingerprint(answer.TLS.PeerCertificates[0].Raw); answer.StatusCode != 200 || got != shown {
		t.Errorf("status %s, certificate %s, printed %s", answer.Status, got, shown)
	}
	if answer := get("http://localhost:" + port + "/"); answer.StatusCode != 200 {
		t.Errorf("plain on this computer: %s", answer.Status)
	}
	if to := get("http" + strings.TrimPrefix(base, "https") + "/").Header.Get("Location"); to != base+"/" {
		t.Errorf("plain over the network leads to %q, not to TLS", to)
	}
	c.CloseIdleConnections()
	stop()

	_, stop = serving(t, data)
	stop()
	if again := authorityOf(t, data); !again.Equal(root) {
		t.Error("devices have to trust a new authority after each start")
	}
}

func TestPlainIsTheExceptionAndWarned(t *testing.T) {
	data := t.TempDir()
	said, stop := serving(t, data, "--plain")
	defer stop()
	if !strings.Contains(said, "warning: --plain: ") || !strings.Contains(said, "other devices: http://") {
		t.Errorf("said:\n%s", said)
	}
	if _, err := os.Stat(filepath.Join(data, "phasewright")); err == nil {
		t.Error("an authority was made although nothing needs it")
	}
}

// What is asked for is done or refused, never replaced by something else; a refusal comes before anything is made.
func TestListenIsTakenAtItsWord(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--lan --listen 127.0.0.1:0", "error: --lan and --listen 127.0.0.1:0 do not go together"},
		{"--lan --listen localhost:0", "do not go together"},
		{"--listen :0", "add --lan"},
	} {
		file := filepath.Join(t.TempDir(), "a.book")
		// A server that runs after all ends by itself, with another status.
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		var said bytes.Buffer
		args := append([]string{"serve", "--book", file}, strings.Fields(c.args)...)
		status := run(ctx, args, strings.NewReader(""), io.Discard, &said)
		cancel()
		text := said.String()
		if status != statusUnread || !strings.Contains(text, c.want) || !strings.Contains(text, "hint: ") {
			t.Errorf("%s: status %d:\n%s", c.args, status, &said)
		}
		if _, err := os.Stat(file); err == nil {
			t.Errorf("%s: a book was made", c.args)
		}
	}
}

func TestBrokenAuthorityIsNotReplaced(t *testing.T) {
	file := filepath.Join(t.TempDir(), "authority.pem")
	if err := os.WriteFile(file, []byte("noise"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := certificates(file)
	var said bytes.Buffer
	status := statusOf(&said, err)
	text := said.String()
	if status != statusUnread || !strings.Contains(text, file) || !strings.Contains(text, "hint: ") {
		t.Errorf("status %d: %s", status, text)
	}
	if text, _ := os.ReadFile(file); string(text) != "noise" {
		t.Error("the file was written over")
	}
}

func TestAddressesThatPhonesCanUseComeFirst(t *testing.T) {
	order := []string{"192.168.1.2", "198.51.100.2", "fd00::2", "2001:db8::2"}
	for i := 1; i < len(order); i++ {
		a, b := netip.MustParseAddr(order[i-1]), netip.MustParseAddr(order[i])
		if inconvenience(a) >= inconvenience(b) {
			t.Errorf("%v does not come before %v", a, b)
		}
	}
}
