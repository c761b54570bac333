package book

import (
	"errors"
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// lockedByte lies far behind any content. It is locked and never written; other bytes are SQLite's to lock.
const lockedByte = 1 << 62

// lockFile takes the file for one opener until it is unlocked, closed, or the process ends. The lock belongs to the
// opened file, not to the process, so that a second opener in the same program is refused as well.
func lockFile(f *os.File) error {
	err := rangeLock(f, unix.F_WRLCK)
	if errors.Is(err, unix.EAGAIN) || errors.Is(err, unix.EACCES) {
		return errHeld
	}
	if errors.Is(err, unix.EINVAL) {
		return nil // a kernel without such locks: the lock beside the book keeps writers of the same name out
	}
	return err
}

func unlockFile(f *os.File) { _ = rangeLock(f, unix.F_UNLCK) } // closing it would do as well

func rangeLock(f *os.File, kind int16) error {
	l := unix.Flock_t{Type: kind, Whence: io.SeekStart, Start: lockedByte, Len: 1}
	return os.NewSyscallError("lock", unix.FcntlFlock(f.Fd(), unix.F_OFD_SETLK, &l))
}
