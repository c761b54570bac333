//go:build unix && !linux

package book

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile takes the file for one opener until it is unlocked, closed, or the process ends.
func lockFile(f *os.File) error {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return errHeld
	}
	return os.NewSyscallError("lock", err)
}

func unlockFile(f *os.File) { _ = unix.Flock(int(f.Fd()), unix.LOCK_UN) } // closing it would do as well
