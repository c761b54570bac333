package book

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
)

// store keeps files by content: root/ab/cdef… for a SHA-256 of abcdef…, and root/incoming/ for files on their way. A
// file is complete and synced before it gets its name, and never changes afterwards. Names that users give are never
// paths here.
type store struct {
	dir     string
	root    *os.Root // nil until the first file of a new book
	quota   int64
	maxFile int64

	// held while a file gets its name and its event, so that a failed event takes back only its own file
	naming sync.Mutex

	mu       sync.Mutex
	used     int64 // bytes of files that events name
	incoming int64 // bytes being written now
	serial   int64
	shut     bool
}

const incomingDir = "incoming"

func openStore(dir string, access Access, used int64, opt Options) (*store, error) {
	s := &store{dir: dir, used: used, quota: opt.Quota, maxFile: opt.MaxFile}
	if s.quota <= 0 {
		s.quota = DefaultQuota
	}
	if s.maxFile <= 0 {
		s.maxFile = DefaultMaxFile
	}
	root, err := os.OpenRoot(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return nil, problemAt(dir, err)
	}
	s.root = root
	if access == ReadWrite { // what a killed program left half written
		if err := root.RemoveAll(incomingDir); err != nil {
			root.Close()
			return nil, problemAt(dir, err)
		}
	}
	return s, nil
}

func (s *store) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shut = true
	if s.root == nil {
		return nil
	}
	return s.root.Close()
}

// ready makes the folders on first use.
func (s *store) ready() (*os.Root, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.shut {
		return nil, fs.ErrClosed
	}
	if s.root == nil {
		if err := os.MkdirAll(s.dir, 0o755); err != nil {
			return nil, err
		}
		if err := syncDir(filepath.Dir(s.dir)); err != nil {
			return nil, err
		}
		root, err := os.OpenRoot(s.dir)
		if err != nil {
			return nil, err
		}
		s.root = root
	}
	if err := s.root.Mkdir(incomingDir, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	return s.root, nil
}

// opened gives the root, or ErrNoAttachment when there is no store yet.
func (s *store) opened() (*os.Root, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.shut:
		return nil, fmt.Errorf("%s – %w – open it again", s.dir, ErrClosed)
	case s.root == nil:
		return nil, fmt.Errorf("%s – %w – nothing was stored yet", s.dir, ErrNoAttachment)
	}
	return s.root, nil
}

func (h Hash) shard() string { return h.String()[:2] }
func (h Hash) place() string { return h.String()[:2] + "/" + h.String()[2:] }

func (s *store) size(sha Hash) (int64, error) {
	root, err := s.opened()
	if err != nil {
		return 0, err
	}
	info, err := root.Stat(sha.place())
	if errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("%s – %w", sha, ErrNoAttachment)
	}
	if err != nil {
		return 0, problemAt(s.dir, err)
	}
	return info.Size(), nil
}

func (s *store) open(sha Hash) (*os.File, int64, error) {
	root, err := s.opened()
	if err != nil {
		return nil, 0, err
	}
	f, err := root.Open(sha.place())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, fmt.Errorf("%s – %w in the store – restore it from a backup", sha, ErrNoAttachment)
	}
	if err != nil {
		return nil, 0, problemAt(s.dir, err)
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, 0, problemAt(s.dir, err)
	}
	return f, info.Size(), nil
}

// staged is a file that is complete and synced but has no name yet.
type staged struct {
	store *store
	temp  string
	sha   Hash
	size  int64
}

// stage streams r to disk. most limits its size in bytes below what the store allows.
func (s *store) stage(ctx context.Context, r io.Reader, most int64) (_ *staged, err error) {
	root, err := s.ready()
	if err != nil {
		return nil, problemAt(s.dir, err)
	}
	s.mu.Lock()
	s.serial++
	g := &staged{store: s, temp: fmt.Sprintf("%s/%d", incomingDir, s.serial)}
	s.mu.Unlock()
	f, err := root.OpenFile(g.temp, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return nil, problemAt(s.dir, err)
	}
	defer func() {
		err = errors.Join(err, problemAt(s.dir, f.Close()))
		if err != nil {
			g.discard()
		}
	}()
	sum := sha256.New()
	buf := make([]byte, 256<<10)
	for {
		n, readErr := r.Read(buf)
		if err := s.reserve(g, int64(n), min(most, s.maxFile)); err != nil {
			return nil, err
		}
		sum.Write(buf[:n])
		if _, err := f.Write(buf[:n]); err != nil {
			return nil, problemAt(s.dir, err)
		}
		if errors.Is(readErr, io.EOF) {
			break
		}
		if readErr != nil {
			return nil, fmt.Errorf("attachment – broke off after %d bytes – send it again: %w", g.size, readErr)
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	sum.Sum(g.sha[:0])
	return g, problemAt(s.dir, f.Sync())
}

// reserve counts n more bytes of g against the limits.
func (s *store) reserve(g *staged, n, most int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if g.size+n > most {
		return fmt.Errorf("attachment – %w: more than %d bytes – send a smaller file", ErrTooLarge, most)
	}
	if s.used+s.incoming+n > s.quota {
		return fmt.Errorf("%s – %w: %d of %d bytes – raise the quota or start a new book", s.dir, ErrQuota,
			s.used, s.quota)
	}
	g.size += n
	s.incoming += n
	return nil
}

// discard removes the file if it has no name yet and gives its reserved bytes back.
func (g *staged) discard() {
	s := g.store
	s.mu.Lock()
	defer s.mu.Unlock()
	if g.temp == "" {
		return
	}
	if !s.shut {
		_ = s.root.Remove(g.temp) // the next Open clears what stays
	}
	s.incoming -= g.size
	g.temp = ""
}

// name gives the file its place. fresh is false when the same content was there already. The caller holds s.naming.
func (g *staged) name() (fresh bool, err error) {
	s, root := g.store, g.store.root
	defer g.discard()
	if s.intact(g.sha, g.size) {
		return false, nil
	}
	if err := root.Mkdir(g.sha.shard(), 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return false, problemAt(s.dir, err)
	}
	if err := root.Rename(g.temp, g.sha.place()); err != nil {
		return false, problemAt(s.dir, err)
	}
	for _, dir := range []string{filepath.Join(s.dir, g.sha.shard()), s.dir} {
		if err := syncDir(dir); err != nil {
			return true, problemAt(s.dir, err)
		}
	}
	return true, nil
}

// intact reads a stored file through, so that sending a file again heals one that was damaged on disk.
func (s *store) intact(sha Hash, size int64) bool {
	return s.verify(context.Background(), sha, size) == nil
}

// verify reads a stored file and compares size and hash.
func (s *store) verify(ctx context.Context, sha Hash, size int64) error {
	f, have, err := s.open(sha)
	if err != nil {
		return err
	}
	defer f.Close()
	if have != size {
		return fmt.Errorf("%s – %w: %d bytes instead of %d – add the same file again, or restore it from a backup",
			filepath.Join(s.dir, sha.place()), ErrDamaged, have, size)
	}
	sum := sha256.New()
	if _, err := io.Copy(sum, untilDone{ctx, f}); err != nil {
		return problemAt(s.dir, err)
	}
	if got := Hash(sum.Sum(nil)); got != sha {
		return fmt.Errorf("%s – %w: its content has changed – add the same file again, or restore it from a backup",
			filepath.Join(s.dir, sha.place()), ErrDamaged)
	}
	return nil
}

// keep counts a named file once an event names it; forget takes a fresh one away again.
func (s *store) keep(size int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.used += size
}

func (s *store) forget(sha Hash) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.shut {
		_ = s.root.Remove(sha.place()) // Check mentions what stays
	}
}

// untilDone ends a long read when its context ends.
type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (r untilDone) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.r.Read(p)
}
