package book

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockedByteHigh is the upper half of the place of the locked byte: far behind any content, because Windows keeps
// others from reading what is locked.
const lockedByteHigh = 1 << 30

// lockFile takes the file for one opener until it is unlocked, closed, or the process ends.
func lockFile(f *os.File) error {
	place := windows.Overlapped{OffsetHigh: lockedByteHigh}
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY,
		0, 1, 0, &place)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return errHeld
	}
	return os.NewSyscallError("lock", err)
}

func unlockFile(f *os.File) { // closing it would do as well
	_ = windows.UnlockFileEx(windows.Handle(f.Fd()), 0, 1, 0, &windows.Overlapped{OffsetHigh: lockedByteHigh})
}

// linkCount is how many names the file has.
func linkCount(path string) (uint64, error) {
	name, err := windows.UTF16PtrFromString(path)
	if err != nil {
		return 0, err
	}
	const shared = windows.FILE_SHARE_READ | windows.FILE_SHARE_WRITE | windows.FILE_SHARE_DELETE
	f, err := windows.CreateFile(name, 0, shared, nil, windows.OPEN_EXISTING, 0, 0)
	if err != nil {
		return 0, err
	}
	defer windows.CloseHandle(f)
	var info windows.ByHandleFileInformation
	if err := windows.GetFileInformationByHandle(f, &info); err != nil {
		return 0, err
	}
	return uint64(info.NumberOfLinks), nil
}

// mayWrite looks at the file's read-only attribute, without opening it.
func mayWrite(path string) error {
	info, err := os.Stat(path)
	if err == nil && info.Mode().Perm()&0o200 == 0 {
		err = os.ErrPermission
	}
	return err
}

func diskFull(err error) bool {
	return errors.Is(err, windows.ERROR_DISK_FULL) || errors.Is(err, windows.ERROR_HANDLE_DISK_FULL)
}

func writeProtected(err error) bool { return errors.Is(err, windows.ERROR_WRITE_PROTECT) }
