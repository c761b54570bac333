package web

import (
	"crypto/tls"
	"log/slog"
	"net"
	"sync"
	"time"

	"phasewright/beside"
)

// helloWait is how long a new connection may take to say its first byte.
const helloWait = 10 * time.Second

// bothWays listens for TLS and plain http on one port and tells them apart by the first byte, so that this computer's
// own browser needs no certificate, and an address typed without https leads on.
type bothWays struct {
	net.Listener
	config *tls.Config
	log    *slog.Logger
	ready  chan accepted
	done   chan struct{}
	close  sync.Once
}

type accepted struct {
	net.Conn
	err error
}

func listenBothWays(l net.Listener, config *tls.Config, log *slog.Logger) *bothWays {
	b := &bothWays{Listener: l, config: config, log: log, ready: make(chan accepted), done: make(chan struct{})}
	beside.Start(func() {
		if broken := beside.Caught(b.run); broken != "" {
			b.log.Error("listening broke down", "err", broken)
			b.hand(accepted{nil, errBroken})
		}
	})
	return b
}

// run accepts until the listener is closed. Connections that say nothing hold nobody up.
func (b *bothWays) run() {
	for {
		c, err := b.Listener.Accept()
		if err == nil {
			beside.Start(func() {
				if broken := beside.Caught(func() { b.tell(c) }); broken != "" { // this one connection's alone
					b.log.Error("a connection broke down", "from", c.RemoteAddr(), "err", broken)
					c.Close()
				}
			})
			continue
		}
		if !b.hand(accepted{nil, err}) {
			return
		}
	}
}

// hand gives a connection or an error to Accept; false once nobody accepts any more.
func (b *bothWays) hand(a accepted) bool {
	select {
	case b.ready <- a:
		return true
	case <-b.done:
		return false
	}
}

// tell reads the first byte: a TLS handshake begins with 22 (RFC 8446, 5.1), which is no letter of a method.
func (b *bothWays) tell(c net.Conn) {
	first := make([]byte, 1)
	c.SetReadDeadline(time.Now().Add(helloWait)) // a connection that fails here fails at the read
	if _, err := c.Read(first); err != nil {
		c.Close()
		return
	}
	c.SetReadDeadline(time.Time{})
	said := &begun{Conn: c, first: first}
	c = said
	if first[0] == 22 {
		c = tls.Server(said, b.config)
	}
	if !b.hand(accepted{c, nil}) {
		c.Close()
	}
}

func (b *bothWays) Accept() (net.Conn, error) {
	select {
	case a := <-b.ready:
		return a.Conn, a.err
	case <-b.done:
		return nil, net.ErrClosed
	}
}

func (b *bothWays) Close() error {
	b.close.Do(func() { close(b.done) })
	return b.Listener.Close()
}

// begun is a connection whose first byte has been read already.
type begun struct {
	net.Conn
	first []byte
}

func (b *begun) Read(p []byte) (int, error) {
	if len(b.first) > 0 && len(p) > 0 {
		n := copy(p, b.first)
		b.first = b.first[n:]
		return n, nil
	}
	return b.Conn.Read(p)
}
