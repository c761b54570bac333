package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"phasewright/book"
	"phasewright/examples"
	"phasewright/web"
)

type serveCommand struct {
	Book   string `help:"The shop book; made if it does not exist. Left out: one in your own data folder." placeholder:"FILE"`
	Listen string `help:"Address and port to listen on." default:"127.0.0.1:7720"`
	LAN    bool   `name:"lan" help:"Let phones and tablets on the workshop's network in, after pairing with a code."`
	TLS    bool   `name:"tls" help:"Speak TLS with a certificate of our own making, whose fingerprint stands beside the pairing code."`
	Demo   bool   `help:"Open a throw-away book with the built-in example in it."`
}

// heapLimit is what Go's own memory is kept to, as far as that can be: with the program's code, the database's pages and a capture being read while fifty
// screens look on, the whole then stays within 64 MiB (scripts/load).
const heapLimit = 38 << 20

// keepHeap limits Go's own memory to so many bytes, unless whoever started the program set a limit.
func keepHeap(bytes int64) {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(bytes)
	}
}

func (c *serveCommand) Run(a *app) error {
	keepHeap(heapLimit)
	path, cleanup, err := c.bookPath()
	if err != nil {
		return err
	}
	defer cleanup()
	b, err := book.Open(a.ctx, path, book.Options{})
	if err != nil {
		return err
	}
	defer b.Close()
	path = b.Path() // by whatever link it was named: devices and certificate lie beside the book itself
	if c.Demo {
		if err := fillDemo(a.ctx, b); err != nil {
			return err
		}
	}

	l, err := net.Listen("tcp", c.address())
	if err != nil {
		return hinted{fmt.Errorf("cannot listen on %s: %w", c.address(), err), "is it running already? --listen 127.0.0.1:0 takes any free port"}
	}
	defer l.Close()
	port := l.Addr().(*net.TCPAddr).Port
	config := web.Config{Book: b, Version: version(), Templates: templates(), Devices: deviceFile{path + ".devices.json"}}
	scheme := "http"
	if c.LAN {
		config.Hosts = lanAddresses()
		if len(config.Hosts) == 0 {
			return hinted{errors.New("this computer has no address on a network"), "join the workshop's network first, or leave --lan out"}
		}
	}
	if c.TLS {
		scheme = "https"
		cert, fingerprint, err := certificate(path+".tls.pem", config.Hosts)
		if err != nil {
			return err
		}
		config.Fingerprint = fingerprint
		l = secured(l, cert)
	}
	if c.LAN {
		config.Base = fmt.Sprintf("%s://%s", scheme, net.JoinHostPort(config.Hosts[0], fmt.Sprint(port)))
	}
	server, err := web.New(config)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.err, "shop book %s\nopen %s://localhost:%d in a browser on this computer; Ctrl-C ends\n", path, scheme, port)
	if c.LAN {
		if err := invite(a, server, config); err != nil {
			return err
		}
	}
	return server.Serve(a.ctx, l)
}

// invite prints the address, the pairing code and its QR symbol for the first phone.
func invite(a *app, server *web.Server, config web.Config) error {
	i, err := server.Invite(web.Work)
	if err != nil {
		return err
	}
	qr, err := web.TerminalQR(i.URL)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.err, "other devices: %s  code %s, until %s\n%s", config.Base, i.Spaced(), i.Expires.Format("15:04"), qr)
	if config.Fingerprint != "" {
		fmt.Fprintf(a.err, "certificate SHA-256 %s\n", config.Fingerprint)
	}
	return nil
}

// address is where to listen: with --lan the port of --listen on every address, unless another address was asked for.
func (c *serveCommand) address() string {
	host, port, err := net.SplitHostPort(c.Listen)
	if err == nil && c.LAN && (host == "127.0.0.1" || host == "localhost" || host == "::1") {
		return net.JoinHostPort("", port)
	}
	return c.Listen
}

func (c *serveCommand) bookPath() (path string, cleanup func(), err error) {
	cleanup = func() {}
	switch {
	case c.Demo && c.Book != "":
		return "", cleanup, hinted{errors.New("--demo and --book do not go together"), "the demo has a throw-away book of its own"}
	case c.Demo:
		dir, err := os.MkdirTemp("", "phasewright-demo-")
		if err != nil {
			return "", cleanup, err
		}
		return filepath.Join(dir, "demo.book"), func() { os.RemoveAll(dir) }, nil
	case c.Book != "":
		return c.Book, cleanup, nil
	}
	path, err = usualBook()
	return path, cleanup, err
}

func templates() []web.Template {
	var out []web.Template
	for _, c := range examples.Cards() {
		name, about, _ := strings.Cut(c.About, ";")
		out = append(out, web.Template{ID: c.Name, Name: strings.TrimSuffix(name, "."), About: strings.TrimSpace(about), YAML: c.YAML})
	}
	return out
}

// fillDemo puts the built-in example into a fresh book: card and first readings, so that the next thing to do is the correction.
func fillDemo(ctx context.Context, b *book.Book) error { return demoJob(ctx, b) }
