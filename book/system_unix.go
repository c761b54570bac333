//go:build unix

package book

import (
	"errors"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// linkCount is how many names the file has.
func linkCount(path string) (uint64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, err
	}
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return uint64(s.Nlink), nil
	}
	return 1, nil
}

// mayWrite asks the system whether this program may write the file, without opening it.
func mayWrite(path string) error { return unix.Access(path, unix.W_OK) }

func diskFull(err error) bool { return errors.Is(err, unix.ENOSPC) || errors.Is(err, unix.EDQUOT) }

func writeProtected(err error) bool { return errors.Is(err, unix.EROFS) }
