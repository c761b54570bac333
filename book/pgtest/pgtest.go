//go:build unix

// Package pgtest runs a private PostgreSQL for tests: in a folder of its own, on a socket in it, with no port, and gone
// with the test. It is for tests only.
package pgtest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// Keeper is the role that owns everything in a cluster, Shop the one that servers use.
const (
	Keeper = "keeper"
	Shop   = "shop"
)

// Cluster is a PostgreSQL of the test's own.
type Cluster struct {
	dir      string // all of it: data and socket
	settings []string
	watch    *exec.Cmd
	line     io.Closer // while it is open, the watchdog lets the server run
	log      *bytes.Buffer
}

// Find gives the folder of PostgreSQL's programs, the newest of several, and whether there is one.
func Find() (dir string, ok bool) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	slices.SortFunc(found, func(a, b string) int { return version(a) - version(b) })
	if len(found) > 0 {
		return filepath.Dir(found[len(found)-1]), true
	}
	path, err := exec.LookPath("initdb")
	if err != nil {
		return "", false
	}
	if path, err = filepath.EvalSymlinks(path); err != nil {
		return "", false
	}
	return filepath.Dir(path), true
}

func version(path string) int {
	n, _ := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(path))))
	return n
}

// Need skips a test where there is no PostgreSQL; with CI set it fails.
func Need(t testing.TB) {
	t.Helper()
	if _, ok := Find(); ok {
		return
	}
	const missing = "PostgreSQL is not installed (Debian: postgresql); scripts/test installs it"
	if os.Getenv("CI") != "" {
		t.Fatal(missing)
	}
	t.Skip("SKIPPING: " + missing)
}

var shared struct {
	sync.Mutex
	cluster *Cluster
}

// Shared gives the one cluster of the test program, which keeps nothing over a crash. Stop ends it.
func Shared(t testing.TB) *Cluster {
	t.Helper()
	Need(t)
	shared.Lock()
	defer shared.Unlock()
	if shared.cluster == nil {
		c, err := Make("", "fsync=off", "synchronous_commit=off", "full_page_writes=off")
		if err != nil {
			t.Fatal(err)
		}
		shared.cluster = c
	}
	return shared.cluster
}

// Stop ends the shared cluster, where there is one. It is for TestMain; where a test program dies without it, the
// watchdog does it.
func Stop() {
	shared.Lock()
	defer shared.Unlock()
	if shared.cluster != nil {
		shared.cluster.Remove()
		shared.cluster = nil
	}
}

// Make makes a cluster and starts it. parent is where its folder lies, "" for the usual place; settings are those of
// postgresql.conf. Remove ends it.
func Make(parent string, settings ...string) (*Cluster, error) {
	c, err := empty(parent, settings)
	if err != nil {
		return nil, err
	}
	out, err := c.program("initdb", "--username", Keeper, "--auth", "trust", "--encoding", "UTF8", "--locale", "C",
		"--no-sync", "--pgdata", c.data()).CombinedOutput()
	if err == nil {
		err = c.Start()
	}
	if err == nil {
		err = c.Run("CREATE ROLE " + Shop + " LOGIN")
	}
	if err != nil {
		c.Remove()
		return nil, fmt.Errorf("%w: %s", err, out)
	}
	return c, nil
}

// empty makes the folder of a cluster, which belongs to whoever runs the server: it refuses to run as root.
func empty(parent string, settings []string) (*Cluster, error) {
	dir, err := os.MkdirTemp(parent, "pwpg-")
	if err != nil {
		return nil, err
	}
	c := &Cluster{dir: dir, settings: settings, log: &bytes.Buffer{}}
	if who := credential(); who != nil {
		if err := os.Chown(dir, int(who.Uid), int(who.Gid)); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// Standby makes and starts a copy of the cluster that follows it.
func (c *Cluster) Standby() (*Cluster, error) {
	s, err := empty(filepath.Dir(c.dir), c.settings)
	if err != nil {
		return nil, err
	}
	out, err := c.program("pg_basebackup", "--pgdata", s.data(), "--host", c.dir, "--username", Keeper,
		"--write-recovery-conf", "--checkpoint", "fast", "--no-sync").CombinedOutput()
	if err == nil {
		err = s.Start()
	}
	if err != nil {
		s.Remove()
		return nil, fmt.Errorf("%w: %s", err, out)
	}
	return s, nil
}

// Promote makes a stand-by the one that is written.
func (c *Cluster) Promote() error { return c.Run("SELECT pg_promote()") }

func (c *Cluster) data() string { return filepath.Join(c.dir, "data") }

// Folder is where the socket lies; a program connects to host=Folder.
func (c *Cluster) Folder() string { return c.dir }

// Socket is the file of the socket.
func (c *Cluster) Socket() string { return filepath.Join(c.dir, ".s.PGSQL.5432") }

// credential is the user whom the server runs as, nil for whoever runs the test.
func credential() *syscall.Credential {
	if os.Getuid() != 0 {
		return nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		u, err = user.Lookup("nobody")
	}
	if err != nil {
		return nil
	}
	uid, _ := strconv.Atoi(u.Uid)
	gid, _ := strconv.Atoi(u.Gid)
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
}

// program prepares one of PostgreSQL's programs.
func (c *Cluster) program(name string, args ...string) *exec.Cmd {
	bin, _ := Find()
	cmd := exec.Command(filepath.Join(bin, name), args...)
	cmd.Dir = c.dir
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: credential(), Setpgid: true}
	cmd.Env = append(os.Environ(), "LC_ALL=C", "PGHOST="+c.dir)
	return cmd
}

// Program prepares one of PostgreSQL's programs that connect to the cluster, pg_dump for one, as its keeper.
func (c *Cluster) Program(name string, args ...string) *exec.Cmd {
	cmd := c.program(name, args...)
	cmd.Env = append(cmd.Env, "PGUSER="+Keeper)
	return cmd
}

// watchdog runs the server for as long as somebody holds the other end of its input, then ends it.
const watchdog = `"$@" & pid=$!; read -r line; kill -QUIT $pid 2>/dev/null; wait $pid`

func (c *Cluster) launch() error {
	bin, _ := Find()
	args := []string{"-c", watchdog, "watchdog", filepath.Join(bin, "postgres"), "-D", c.data(), "-k", c.dir, "-h", ""}
	for _, s := range append([]string{"max_connections=300", "shared_buffers=128MB", "wal_level=replica",
		"max_wal_senders=4", "logging_collector=off", "autovacuum_naptime=10s"}, c.settings...) {
		args = append(args, "-c", s)
	}
	c.watch = exec.Command("/bin/sh", args...)
	c.watch.Dir = c.dir
	c.watch.SysProcAttr = &syscall.SysProcAttr{Credential: credential(), Setpgid: true}
	c.watch.Env = append(os.Environ(), "LC_ALL=C")
	c.log.Reset()
	c.watch.Stdout, c.watch.Stderr = nil, nil
	log, err := os.OpenFile(filepath.Join(c.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer log.Close()
	c.watch.Stdout, c.watch.Stderr = log, log
	line, err := c.watch.StdinPipe()
	if err != nil {
		return err
	}
	c.line = line
	return c.watch.Start()
}

// Start starts the server and waits until it answers.
func (c *Cluster) Start() error {
	if err := c.launch(); err != nil {
		return err
	}
	for try := range 600 {
		if c.Run("SELECT 1") == nil {
			return nil
		}
		time.Sleep(50 * time.Millisecond)
		// After a kill the processes of the one before may still hold its memory: then the new one gives up at once.
		if pid, err := c.pid(); (err != nil || syscall.Kill(pid, 0) != nil) && try%5 == 4 {
			_ = c.down()
			if err := c.launch(); err != nil {
				return err
			}
		}
	}
	text, _ := os.ReadFile(filepath.Join(c.dir, "log"))
	return fmt.Errorf("PostgreSQL does not answer: %s", text[max(0, len(text)-2000):])
}

// pid is the number of the server's first process.
func (c *Cluster) pid() (int, error) {
	text, err := os.ReadFile(filepath.Join(c.data(), "postmaster.pid"))
	if err != nil {
		return 0, err
	}
	first, _, _ := strings.Cut(string(text), "\n")
	return strconv.Atoi(first)
}

// Kill ends the server's first process with signal 9, as a machine does that runs out of memory.
func (c *Cluster) Kill() error {
	pid, err := c.pid()
	if err != nil {
		return err
	}
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
		return err
	}
	return c.down()
}

// Down ends the server at once, without a last word to its clients.
func (c *Cluster) Down() error { return c.down() }

func (c *Cluster) down() error {
	if c.watch == nil {
		return nil
	}
	c.line.Close()
	err := c.watch.Wait()
	c.watch = nil
	if _, exit := errors.AsType[*exec.ExitError](err); exit {
		return nil // it was told to
	}
	return err
}

// Remove ends the cluster and takes all of it away.
func (c *Cluster) Remove() {
	_ = c.down()
	os.RemoveAll(c.dir)
}

// Run runs statements as the keeper.
func (c *Cluster) Run(statements string) error {
	out, err := c.Program("psql", "-X", "-q", "-v", "ON_ERROR_STOP=1", "-d", "postgres", "-c",
		statements).CombinedOutput()
	if err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	return nil
}

// Address is the address of a book in a schema of the database postgres, for a role.
func (c *Cluster) Address(role, schema string) string {
	u := url.URL{Scheme: "postgres", User: url.User(role), Path: "/postgres",
		RawQuery: url.Values{"host": {c.dir}, "schema": {schema}}.Encode()}
	return u.String()
}
