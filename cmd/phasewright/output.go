package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// output is the name of a file to write, as given on the command line; "-" is standard output.
type output string

// UnmarshalText takes the system's own name of standard output for what it is.
func (o *output) UnmarshalText(text []byte) error {
	*o = output(text)
	if *o == "/dev/stdout" {
		*o = "-"
	}
	return nil
}

// inUse are the files that must not be written: what the command reads, and what it has written.
type inUse struct {
	files   []os.FileInfo
	folders []string // whole folders, by their real names
}

// reads remembers an open input, so that nothing is written over it by whatever name or link.
func (a *app) reads(f *os.File) {
	if info, err := f.Stat(); err == nil {
		a.inUse.files = append(a.inUse.files, info)
	}
}

// readsBook remembers what belongs to a shop book.
func (a *app) readsBook(path string) {
	for _, end := range []string{"", "-wal", "-shm", ".lock", ".devices.json", ".tls.pem"} {
		if info, err := os.Stat(path + end); err == nil {
			a.inUse.files = append(a.inUse.files, info)
		}
	}
	a.inUse.folders = append(a.inUse.folders, path+".files")
}

// write is how every output of a command gets to its place. A regular file is written whole or not at all, and keeps
// its links and permission bits; a device or a pipe is written to and stays what it is. Nothing is written over what
// the command reads, or has just written.
func (a *app) write(name output, write func(io.Writer) error) error {
	if name == "-" {
		return write(a.out)
	}
	path := string(name)
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Lstat(path); err == nil {
			return hinted{fmt.Errorf("%s is a link to nothing", path),
				"take the link away, or name another file"}
		}
		if err := a.mayReplace(path, nil); err != nil {
			return err
		}
		err = writeMode(path, 0o644, write)
	case err != nil:
		return unwritten(path, err)
	case info.IsDir():
		return hinted{fmt.Errorf("%s is a folder", path), "name a file in it"}
	case a.isStandardOutput(info):
		return write(a.out)
	case info.Mode().IsRegular():
		if err := a.mayReplace(path, info); err != nil {
			return err
		}
		if isDescriptor(path) {
			return a.writeThrough(path, os.O_WRONLY|os.O_TRUNC, write)
		}
		if path, err = filepath.EvalSymlinks(path); err != nil {
			return unwritten(string(name), err)
		}
		err = writeMode(path, info.Mode().Perm(), write)
	default:
		return a.writeThrough(path, os.O_WRONLY, write)
	}
	if err != nil {
		return err
	}
	if info, err := os.Stat(path); err == nil {
		a.inUse.files = append(a.inUse.files, info)
	}
	return nil
}

// mayReplace refuses a file that the command reads or has written. info is nil where there is no file yet.
func (a *app) mayReplace(path string, info os.FileInfo) error {
	for _, f := range a.inUse.files {
		if info != nil && os.SameFile(f, info) {
			return hinted{fmt.Errorf("%s is a file that this command reads or has just written", path),
				"name another file to write; nothing is written over it"}
		}
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	if real, err := filepath.EvalSymlinks(full); err == nil {
		full = real
	} else if dir, err := filepath.EvalSymlinks(filepath.Dir(full)); err == nil {
		full = filepath.Join(dir, filepath.Base(full))
	}
	for _, folder := range a.inUse.folders {
		if inside, err := filepath.Rel(folder, full); err == nil && filepath.IsLocal(inside) {
			return hinted{fmt.Errorf("%s lies among the files of the shop book", path),
				"name a file in a folder of your own"}
		}
	}
	return nil
}

// mustBeNew refuses a file or folder that is there already; a device or a pipe may be written to again and again.
func mustBeNew(name output, hint string) error {
	if name == "-" {
		return nil
	}
	if info, err := os.Stat(string(name)); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return nil
	}
	if _, err := os.Lstat(string(name)); err == nil {
		return hinted{fmt.Errorf("%s exists already", name), hint}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return unwritten(string(name), err)
	}
	return nil
}

// isStandardOutput reports whether a file named on the command line is the one that standard output goes to.
func (a *app) isStandardOutput(info os.FileInfo) bool {
	f, ok := a.out.(*os.File)
	if !ok {
		return false
	}
	out, err := f.Stat()
	return err == nil && os.SameFile(out, info)
}

// isDescriptor reports whether a name stands for a file that the shell has opened: it is written where it is open.
func isDescriptor(path string) bool {
	return strings.HasPrefix(path, "/dev/fd/") || strings.HasPrefix(path, "/dev/std") ||
		strings.HasPrefix(path, "/proc/")
}

// writeThrough writes to what is there. A pipe is opened aside, because opening waits until somebody reads.
func (a *app) writeThrough(path string, flag int, write func(io.Writer) error) error {
	type opened struct {
		f   *os.File
		err error
	}
	ready := make(chan opened, 1)
	go func() {
		f, err := os.OpenFile(path, flag, 0)
		ready <- opened{f, err}
	}()
	var o opened
	select {
	case <-a.ctx.Done():
		return context.Cause(a.ctx)
	case o = <-ready:
	}
	if o.err != nil {
		return unwritten(path, o.err)
	}
	err := write(o.f)
	if err != nil && isOf(err, o.f) {
		err = unwritten(path, err)
	}
	return errors.Join(err, o.f.Close())
}

// writeMode writes name whole or not at all: into a temporary file beside it, flushed, then renamed over it. The
// permission bits are set before anything is in it.
func writeMode(name string, mode fs.FileMode, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".phasewright-*")
	if err != nil {
		return unwritten(name, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err = f.Chmod(mode); err != nil {
		return unwritten(name, err)
	}
	if err = write(f); err != nil {
		if isOf(err, f) {
			err = unwritten(name, err)
		}
		return err
	}
	if err = errors.Join(f.Sync(), f.Close()); err != nil {
		return unwritten(name, err)
	}
	if err = os.Rename(f.Name(), name); err != nil {
		return unwritten(name, err)
	}
	return nil
}

// isOf reports whether an error is about writing f, and not about what was to be written.
func isOf(err error, f *os.File) bool {
	var p *fs.PathError
	return errors.As(err, &p) && p.Path == f.Name()
}

// unwritten words the usual reasons why a file cannot be written.
func unwritten(name string, err error) error {
	hint := "name a folder that exists and that you may write to"
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err // the name of our temporary file says nothing to anybody
	}
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		hint = "the disk is full: make room, or name a file on another disk"
	case errors.Is(err, syscall.EROFS):
		hint = "the disk is read-only: name a file on another disk"
	case errors.Is(err, fs.ErrPermission):
		hint = "you may not write there: name a file in a folder of your own"
	}
	return hinted{fmt.Errorf("%s: cannot be written: %w", name, err), hint}
}

// writeBytes writes data to the named output.
func (a *app) writeBytes(name output, data []byte) error {
	return a.write(name, func(w io.Writer) error {
		_, err := io.Copy(w, bytes.NewReader(data))
		return err
	})
}

// file is one of several that are written together.
type file struct {
	name string
	data []byte
}

// writeFolder writes files into a folder that is new or empty, none of them half: into a folder beside them, flushed,
// from where they get their places.
func (a *app) writeFolder(dir string, files []file) error {
	const hint = "name a folder that is new or empty; nothing was written"
	if dir == "-" {
		return hinted{errors.New("several files do not go to standard output"), hint}
	}
	have, err := os.ReadDir(dir)
	fresh := errors.Is(err, fs.ErrNotExist)
	switch {
	case fresh:
	case errors.Is(err, syscall.ENOTDIR):
		return hinted{fmt.Errorf("%s is not a folder", dir), hint}
	case err != nil:
		return unwritten(dir, err)
	case len(have) > 0:
		return hinted{fmt.Errorf("%s holds files already", dir), hint}
	}
	beside := dir
	if fresh {
		beside = filepath.Dir(filepath.Clean(dir))
	}
	if err := a.mayReplace(filepath.Join(dir, "paper.pdf"), nil); err != nil {
		return err
	}
	temp, err := os.MkdirTemp(beside, ".phasewright-*")
	if err != nil {
		return unwritten(dir, err)
	}
	defer os.RemoveAll(temp) // of which nothing is left where it was renamed
	for _, f := range files {
		if a.ctx.Err() != nil {
			return context.Cause(a.ctx)
		}
		err := writeMode(filepath.Join(temp, f.name), 0o644, func(w io.Writer) error {
			_, err := w.Write(f.data)
			return err
		})
		if err != nil {
			return err
		}
	}
	if fresh {
		err = errors.Join(os.Chmod(temp, 0o755), os.Rename(temp, dir))
		if err != nil {
			return unwritten(dir, err)
		}
		return nil
	}
	for _, f := range files {
		if err := os.Rename(filepath.Join(temp, f.name), filepath.Join(dir, f.name)); err != nil {
			return unwritten(dir, err)
		}
	}
	return nil
}
