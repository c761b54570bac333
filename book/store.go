package book

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
)

// store keeps files by content, within limits. A file is complete and on disk before it is known by its hash, and never
// changes afterwards. Names that users give are never paths here.
type store struct {
	kept    files
	quota   int64
	maxFile int64

	// held while a file gets its name and its event, so that a failed event takes back only its own file
	naming sync.Mutex

	mu       sync.Mutex
	used     int64 // bytes of files that events name
	incoming int64 // bytes being written now
}

// files is where contents lie: a folder, or chunks in a database.
type files interface {
	place() string // for messages
	begin() (arriving, error)
	size(sha Hash) (int64, error)
	open(sha Hash) (content, int64, error)
	forget(sha Hash)
	// strays tells of what lies there and no event names.
	strays(c *checker) error
	// used counts the bytes of what events name, where others than this program store too.
	used() (n int64, shared bool, err error)
	// scratch is a file of the system for a while; it is to be closed and removed.
	scratch() (*os.File, error)
	close() error
}

// arriving is a file on its way, which is nobody's until it gets its hash for a name.
type arriving interface {
	io.Writer
	settle() error // has it whole on disk
	name(sha Hash, size int64) error
	discard() // removes what has no name
}

// content is a stored file that is open.
type content interface {
	io.ReadSeekCloser
	io.ReaderAt
}

func newStore(kept files, used int64, opt Options) *store {
	s := &store{kept: kept, used: used, quota: opt.Quota, maxFile: opt.MaxFile}
	if s.quota <= 0 {
		s.quota = DefaultQuota
	}
	if s.maxFile <= 0 {
		s.maxFile = DefaultMaxFile
	}
	return s
}

func (s *store) size(sha Hash) (int64, error) { return s.kept.size(sha) }

func (s *store) open(sha Hash) (content, int64, error) { return s.kept.open(sha) }

// staged is a file that is complete and on disk but has no name yet.
type staged struct {
	store *store
	file  arriving // nil once it has its name or is gone
	sha   Hash
	size  int64
}

// stage streams r to where files are kept. most limits its size in bytes below what the store allows.
func (s *store) stage(ctx context.Context, r io.Reader, most int64) (_ *staged, err error) {
	if used, shared, err := s.kept.used(); err != nil {
		return nil, problemAt(s.kept.place(), err)
	} else if shared {
		s.mu.Lock()
		s.used = used
		s.mu.Unlock()
	}
	f, err := s.kept.begin()
	if err != nil {
		return nil, problemAt(s.kept.place(), err)
	}
	g := &staged{store: s, file: f}
	defer func() {
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
			return nil, problemAt(s.kept.place(), err)
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
	return g, problemAt(s.kept.place(), f.settle())
}

// reserve counts n more bytes of g against the limits.
func (s *store) reserve(g *staged, n, most int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if g.size+n > most {
		return fmt.Errorf("attachment – %w: more than %d bytes – send a smaller file", ErrTooLarge, most)
	}
	if s.used+s.incoming+n > s.quota {
		return fmt.Errorf("%s – %w: %d of %d bytes – raise the quota or start a new book", s.kept.place(), ErrQuota,
			s.used, s.quota)
	}
	g.size += n
	s.incoming += n
	return nil
}

// discard removes the file if it has no name yet and gives its reserved bytes back.
func (g *staged) discard() {
	if g.file == nil {
		return
	}
	g.file.discard()
	g.file = nil
	g.store.mu.Lock()
	defer g.store.mu.Unlock()
	g.store.incoming -= g.size
}

// name makes the file known by its hash. fresh is false when the same content was there already. The caller holds
// store.naming.
func (g *staged) name() (fresh bool, err error) {
	defer g.discard()
	if g.store.intact(g.sha, g.size) {
		return false, nil
	}
	if err := g.file.name(g.sha, g.size); err != nil {
		return false, problemAt(g.store.kept.place(), err)
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
			s.kept.place()+"/"+sha.place(), ErrDamaged, have, size)
	}
	sum := sha256.New()
	if _, err := io.Copy(sum, untilDone{ctx, f}); err != nil {
		return problemAt(s.kept.place(), err)
	}
	if got := Hash(sum.Sum(nil)); got != sha {
		return fmt.Errorf("%s – %w: its content has changed – add the same file again, or restore it from a backup",
			s.kept.place()+"/"+sha.place(), ErrDamaged)
	}
	return nil
}

// keep counts a named file once an event names it; forget takes a fresh one away again. Check mentions what stays.
func (s *store) keep(size int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.used += size
}

func (s *store) forget(sha Hash) { s.kept.forget(sha) }

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
