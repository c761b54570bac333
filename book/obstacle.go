package book

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// roomNeeded is what a book needs beside it to be opened at all, in bytes: the log's shared memory takes 32 KiB, the
// rest is for the log's first pages.
const roomNeeded = 64 << 10

const (
	makeRoom = "make room, then try again; what was recorded before is safe"
	openFS   = "the disk or share is read-only: allow writing to it (write protection, mount), " +
		"or copy the book elsewhere"
	openDir   = "its folder is read-only: allow writing to the folder, or copy the book elsewhere"
	openFile  = "its file is read-only: allow writing to the file, or copy the book elsewhere"
	openWhich = "allow writing to the file and its folder, or copy the book elsewhere"
)

// obstacle tries what a book at path needs of the system, because SQLite calls a full disk, a read-only one and a
// failing one by the same name. It gives nil where the system takes everything. The book's own file is not opened:
// closing it again would take SQLite's locks away.
func obstacle(path string) (what error, remedy string) {
	if err := tryRoom(filepath.Dir(path)); err != nil {
		if what, remedy := denied(err); what != nil {
			if remedy == openWhich {
				remedy = openDir
			}
			return what, remedy
		}
	}
	if err := mayWrite(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		if what, remedy := denied(err); what != nil {
			if remedy == openWhich {
				remedy = openFile
			}
			return what, remedy
		}
	}
	return nil, ""
}

// denied reads the system's reason for not writing.
func denied(err error) (what error, remedy string) {
	switch {
	case diskFull(err):
		return ErrFull, makeRoom
	case writeProtected(err):
		return ErrReadOnly, openFS
	case errors.Is(err, fs.ErrPermission):
		return ErrReadOnly, openWhich
	}
	return nil, ""
}

// tryRoom makes a file of roomNeeded in the folder and takes it away: neither permission bits nor free blocks tell for
// sure.
func tryRoom(dir string) error {
	f, err := os.CreateTemp(dir, ".phasewright-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(make([]byte, roomNeeded))
	return errors.Join(err, f.Sync(), f.Close())
}
