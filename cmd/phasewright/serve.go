package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"phasewright/authority"
	"phasewright/book"
	"phasewright/examples"
	"phasewright/web"
	"phasewright/web/access"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type serveCommand struct {
	Book   string `help:"The shop book; made if it does not exist. Left out: one in your own data folder." placeholder:"FILE"`
	Listen string `help:"Address and port to listen on. Left out: 127.0.0.1:7720, with --lan :7720." placeholder:"ADDR"`
	LAN    bool   `name:"lan" help:"Let phones and tablets on the workshop's network in: TLS, and pairing with a code."`
	Plain  bool   `help:"With --lan: no TLS. Others in the network can then read along."`
	Demo   bool   `help:"Open a throw-away book with the built-in example in it."`

	LogLevel string `help:"What to log on standard error, one line each: ${enum}; each includes those after it." enum:"debug,info,warn,error" default:"info"`
}

// log writes one line an event to standard error.
func (c *serveCommand) log(to io.Writer) (*slog.Logger, error) {
	var level slog.Level
	err := level.UnmarshalText([]byte(c.LogLevel))
	return slog.New(slog.NewTextHandler(to, &slog.HandlerOptions{Level: level})), err
}

// heapLimit is what Go's own memory is kept to, as far as that can be: with the program's code, the database's pages
// and a capture being read while fifty screens look on, the whole then stays within 64 MiB (scripts/load).
const heapLimit = 32 << 20

// keepHeap limits Go's own memory to so many bytes, unless whoever started the program set a limit.
func keepHeap(bytes int64) {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(bytes)
	}
}

func (c *serveCommand) Run(a *app) error {
	keepHeap(heapLimit)
	log, err := c.log(a.err)
	if err != nil {
		return err
	}
	l, err := c.listen()
	if err != nil {
		return err
	}
	defer l.Close()
	port := l.Addr().(*net.TCPAddr).Port
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

	config := web.Config{Book: b, Version: version(), Templates: templates(),
		Devices: deviceFile{path + ".devices.json"}, Log: log}
	if b.Several() {
		config.Devices = sharedAccess{b}
	}
	if c.LAN {
		if err := c.open(a, &config, l.Addr()); err != nil {
			return err
		}
	}
	server, err := web.New(config)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.err, "shop book %s\nopen http://localhost:%d in a browser on this computer; Ctrl-C ends\n",
		path, port)
	if c.LAN {
		if err := invite(a, server, config); err != nil {
			return err
		}
	}
	return server.Serve(a.ctx, l)
}

// invite prints the address, the pairing code and its QR symbol for the first phone.
func invite(a *app, server *web.Server, config web.Config) error {
	i, err := server.Invite(page.Work)
	if err != nil {
		return err
	}
	qr, err := access.TerminalQR(i.URL)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.err, "other devices: %s\ncode for one device, until %s: %s\n%s",
		config.Base(), i.Expires.Format("15:04"), i.Spaced(), qr)
	if config.Authority != nil {
		pairs := config.Authority.Shown() // too long for one line of a terminal of 80 columns
		half := len(pairs) / 2
		fmt.Fprintf(a.err, "a new device warns at first; its certificate must have this SHA-256:\n%s\n%s\n",
			pairs[:half], pairs[half+1:])
	}
	return nil
}

// listen opens the port: on loopback, or with --lan on the network.
func (c *serveCommand) listen() (net.Listener, error) {
	address := c.Listen
	switch {
	case address != "":
	case c.LAN:
		address = ":7720"
	default:
		address = "127.0.0.1:7720"
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, hinted{fmt.Errorf("cannot listen on %s: %w", address, err),
			"is it running already? another --listen ADDR takes another port, 0 for any free one"}
	}
	switch alone := l.Addr().(*net.TCPAddr).IP.IsLoopback(); {
	case alone && c.LAN:
		err = hinted{fmt.Errorf("--lan and --listen %s do not go together: no other device reaches it", address),
			"leave one of them out, or give --listen :PORT to choose the port alone"}
	case !alone && !c.LAN:
		err = hinted{fmt.Errorf("--listen %s lets other devices in", address),
			"add --lan, which pairs them with a code"}
	default:
		return l, nil
	}
	l.Close()
	return nil, err
}

// open prepares the server for other devices, which reach it where it listens.
func (c *serveCommand) open(a *app, config *web.Config, at net.Addr) error {
	listens, err := netip.ParseAddrPort(at.String())
	if err != nil {
		return err
	}
	address := func() netip.Addr {
		if all := lanAddresses(); listens.Addr().IsUnspecified() && len(all) > 0 {
			return all[0]
		}
		return listens.Addr().Unmap()
	}
	if address().IsUnspecified() {
		return hinted{errors.New("this computer has no address on a network"),
			"join the workshop's network first, or leave --lan out"}
	}
	scheme := "https"
	if c.Plain {
		scheme = "http"
		fmt.Fprint(a.err, "warning: --plain: others in the network can read pairing codes and all that\n"+
			"is sent, and act in the name of a device\n")
	} else {
		file, err := usual(ownAuthority, "name a folder for it in XDG_DATA_HOME, or give --plain to do without")
		if err != nil {
			return err
		}
		if config.Authority, err = certificates(file); err != nil {
			return err
		}
		config.Hosts = config.Authority.Names()
		if !authority.MayVouch(address()) {
			fmt.Fprintf(a.err, "warning: %s is a public address,\n"+
				"where our certificates vouch for nothing: browsers go on warning\n", address())
		}
	}
	config.Base = func() string { return scheme + "://" + netip.AddrPortFrom(address(), listens.Port()).String() }
	return nil
}

func (c *serveCommand) bookPath() (path string, cleanup func(), err error) {
	cleanup = func() {}
	switch {
	case c.Demo && c.Book != "":
		return "", cleanup, hinted{errors.New("--demo and --book do not go together"),
			"the demo has a throw-away book of its own"}
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

func templates() []shelf.Template {
	var out []shelf.Template
	for _, c := range examples.Cards() {
		name, about, _ := strings.Cut(c.About, ";")
		out = append(out, shelf.Template{ID: c.Name, Name: strings.TrimSuffix(name, "."),
			About: strings.TrimSpace(about), YAML: c.YAML})
	}
	return out
}

// fillDemo puts the built-in example into a fresh book: card and first readings, so that the next thing to do is the
// correction.
func fillDemo(ctx context.Context, b *book.Book) error { return demoJob(ctx, b) }
