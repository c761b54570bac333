package book

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
)

// folder keeps files beside the book's own: root/ab/cdef… for a SHA-256 of abcdef…, and root/incoming/ for files on
// their way. A file is synced before it gets its name.
type folder struct {
	dir string

	mu     sync.Mutex
	root   *os.Root // nil until the first file of a new book
	serial int64
	shut   bool
}

const incomingDir = "incoming"

func openFolder(dir string, access Access) (*folder, error) {
	s := &folder{dir: dir}
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

func (s *folder) place() string { return s.dir }

func (s *folder) used() (int64, bool, error) { return 0, false, nil }

func (s *folder) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shut = true
	if s.root == nil {
		return nil
	}
	return s.root.Close()
}

// ready makes the folders on first use.
func (s *folder) ready() (*os.Root, error) {
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
func (s *folder) opened() (*os.Root, error) {
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

func (s *folder) size(sha Hash) (int64, error) {
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

func (s *folder) open(sha Hash) (content, int64, error) {
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

// inFolder is a file on its way in a folder.
type inFolder struct {
	*os.File
	folder *folder
	root   *os.Root
	temp   string // its name meanwhile; "" once it has its own or is gone
}

func (s *folder) begin() (arriving, error) {
	root, err := s.ready()
	if err != nil {
		return nil, err
	}
	temp := s.next()
	f, err := root.OpenFile(temp, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return nil, err
	}
	return &inFolder{f, s, root, temp}, nil
}

// next is a name for a file on its way.
func (s *folder) next() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.serial++
	return fmt.Sprintf("%s/%d", incomingDir, s.serial)
}

func (f *inFolder) settle() error { return errors.Join(f.Sync(), f.Close()) }

func (f *inFolder) name(sha Hash, _ int64) error {
	if err := f.root.Mkdir(sha.shard(), 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	if err := f.root.Rename(f.temp, sha.place()); err != nil {
		return err
	}
	f.temp = ""
	return errors.Join(syncDir(filepath.Join(f.folder.dir, sha.shard())), syncDir(f.folder.dir))
}

func (f *inFolder) discard() {
	f.Close()
	f.folder.mu.Lock()
	defer f.folder.mu.Unlock()
	if f.temp != "" && !f.folder.shut {
		_ = f.root.Remove(f.temp) // the next Open clears what stays
	}
	f.temp = ""
}

func (s *folder) forget(sha Hash) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.shut {
		_ = s.root.Remove(sha.place())
	}
}

func (s *folder) scratch() (*os.File, error) {
	root, err := s.ready()
	if err != nil {
		return nil, err
	}
	return root.OpenFile(s.next(), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o644)
}

func (s *folder) strays(c *checker) error {
	root, err := s.opened()
	if err != nil {
		return nil // nothing stored yet
	}
	return fs.WalkDir(root.FS(), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			if path == incomingDir {
				return fs.SkipDir
			}
			return err
		}
		if len(path) == 65 && path[2] == '/' {
			if sha, err := ParseHash(path[:2] + path[3:]); err == nil {
				return c.stray(sha, true, path)
			}
		}
		return c.stray(Hash{}, false, path)
	})
}
