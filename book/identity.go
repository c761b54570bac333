package book

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
)

// errHeld says that another opener holds the file itself, by whatever name.
var errHeld = errors.New("the file is held by another opener")

// realName follows links to the one name by which a book's log, lock and attachments lie, so that all names of a book
// lead to the same. A book that is not made yet gets the name that it will have. Where links cannot be followed, the
// name stays as it is, and opening it says what is wrong.
func realName(path string) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return path, err
	}
	const mostLinks = 40 // as many as systems usually follow
	for range mostLinks {
		real, err := filepath.EvalSymlinks(path)
		if err == nil {
			return real, nil
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return path, nil
		}
		target, err := os.Readlink(path)
		if err != nil { // no link: a name in a folder
			if dir, err := filepath.EvalSymlinks(filepath.Dir(path)); err == nil {
				path = filepath.Join(dir, filepath.Base(path))
			}
			return path, nil
		}
		if !filepath.IsAbs(target) {
			target = filepath.Join(filepath.Dir(path), target)
		}
		path = target // a link to a book that is not made yet
	}
	return path, nil
}

// heldFile is a book's file that this program has open, known by what it is and not by its name.
type heldFile struct {
	info    os.FileInfo
	users   int // open books
	writing bool
	handles []*os.File
}

// heldFiles are all of them. The list belongs to the process because the system's locks do: closing any handle of a
// file takes away the locks that SQLite has on it elsewhere in the process. So no handle is closed while a book on the
// same file is open.
var heldFiles struct {
	sync.Mutex
	all []*heldFile
}

func sameFile(info os.FileInfo) *heldFile {
	for _, h := range heldFiles.all {
		if os.SameFile(h.info, info) {
			return h
		}
	}
	h := &heldFile{info: info}
	heldFiles.all = append(heldFiles.all, h)
	return h
}

// hold makes the file at path known as open until release is called. With ReadWrite it is made if it is missing, and
// every other writer is refused with errHeld, by whatever name it comes.
func hold(path string, access Access) (release func(), made bool, err error) {
	heldFiles.Lock()
	defer heldFiles.Unlock()
	info, err := os.Stat(path)
	if access == ReadOnly {
		if err != nil {
			return nil, false, err
		}
		h := sameFile(info)
		h.users++
		return func() {
			heldFiles.Lock()
			defer heldFiles.Unlock()
			h.users--
			forgetIdle()
		}, false, nil
	}
	if err == nil && sameFile(info).writing {
		return nil, false, errHeld
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o644)
	made = err == nil
	if errors.Is(err, fs.ErrExist) {
		f, err = os.OpenFile(path, os.O_RDWR, 0)
	}
	if err != nil {
		forgetIdle()
		return nil, false, err
	}
	if info, err = f.Stat(); err != nil {
		f.Close()
		return nil, false, err
	}
	h := sameFile(info)
	h.handles = append(h.handles, f)
	if err := lockFile(f); err != nil {
		forgetIdle()
		return nil, false, err
	}
	h.users++
	h.writing = true
	return func() {
		heldFiles.Lock()
		defer heldFiles.Unlock()
		unlockFile(f)
		h.writing = false
		h.users--
		forgetIdle()
	}, made, nil
}

// forgetIdle closes the handles of files that no open book uses.
func forgetIdle() {
	kept := heldFiles.all[:0]
	for _, h := range heldFiles.all {
		if h.users > 0 {
			kept = append(kept, h)
			continue
		}
		for _, f := range h.handles {
			f.Close()
		}
	}
	clear(heldFiles.all[len(kept):])
	heldFiles.all = kept
}

// mustBeHome refuses a second name of the same file (a hard link). The log and the attachments lie beside one name
// only, and that is the one with the lock beside it: by another name, part of the book would not be seen. A backup has
// no log, so it may be read by any name.
func (b *Book) mustBeHome() error {
	if links, err := linkCount(b.path); err != nil || links < 2 {
		return b.problem(err)
	}
	if _, err := os.Stat(b.path + ".lock"); err == nil || b.access == ReadOnly && !keepsLog(b.path) {
		return nil
	}
	return fmt.Errorf("%s – %w (a hard link), and attachments and log lie beside that – "+
		"open it by the name that has a file NAME.lock beside it, or remove the other name", b.path, ErrOtherName)
}

// keepsLog reads from the file's head whether it is a database with a log beside it: bytes 18 and 19 are then 2
// (SQLite's description of its file format).
func keepsLog(path string) bool {
	heldFiles.Lock()
	defer heldFiles.Unlock()
	f, err := os.Open(path)
	if err != nil {
		return false // opening the book says what is wrong
	}
	info, err := f.Stat()
	if err != nil {
		return false
	}
	h := sameFile(info)
	h.handles = append(h.handles, f)
	defer forgetIdle()
	head := make([]byte, 20)
	_, err = f.ReadAt(head, 0)
	return err == nil && (head[18] == 2 || head[19] == 2)
}
