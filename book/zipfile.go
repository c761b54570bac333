package book

import (
	"archive/zip"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
)

// maxDirectory is the most bytes that the list of entries of an imported zip file may take: some 28,000 attachments.
const maxDirectory = 4 << 20

var errZip = errors.New("not a zip file as we write them, or cut short")

// openZip opens a zip file after looking at its end record: the reader of the standard library takes memory for every
// entry that a hostile file lists. Layout: APPNOTE.TXT 6.3 of the zip format, sections 4.3.14 to 4.3.16.
func openZip(r io.ReaderAt, size int64) (*zip.Reader, error) {
	const endLen, locatorLen, end64Len = 22, 20, 56
	end := make([]byte, endLen)
	if size < endLen {
		return nil, errZip
	}
	if _, err := r.ReadAt(end, size-endLen); err != nil {
		return nil, err
	}
	le := binary.LittleEndian
	if le.Uint32(end) != 0x06054b50 || le.Uint16(end[20:]) != 0 { // no comment, so the record can only stand here
		return nil, errZip
	}
	length, offset, stop := uint64(le.Uint32(end[12:])), uint64(le.Uint32(end[16:])), uint64(size-endLen)
	if le.Uint16(end[10:]) == 0xffff || length == 0xffffffff || offset == 0xffffffff {
		locator, end64 := make([]byte, locatorLen), make([]byte, end64Len)
		if size < endLen+locatorLen+end64Len {
			return nil, errZip
		}
		if _, err := r.ReadAt(locator, size-endLen-locatorLen); err != nil {
			return nil, err
		}
		at := le.Uint64(locator[8:])
		if le.Uint32(locator) != 0x07064b50 || at > uint64(size-endLen-locatorLen-end64Len) {
			return nil, errZip
		}
		if _, err := r.ReadAt(end64, int64(at)); err != nil {
			return nil, err
		}
		if le.Uint32(end64) != 0x06064b50 {
			return nil, errZip
		}
		length, offset, stop = le.Uint64(end64[40:]), le.Uint64(end64[48:]), at
	}
	if length > maxDirectory || offset > stop || stop-offset != length {
		return nil, errZip
	}
	return zip.NewReader(r, size)
}

// spool keeps an import on disk while it is read: a zip file begins at its end.
func (s *store) spool(ctx context.Context, r io.Reader) (*os.File, int64, error) {
	s.mu.Lock()
	most := s.quota - s.used - s.incoming + MaxDocument + maxDirectory
	s.mu.Unlock()
	f, err := s.kept.scratch()
	if err != nil {
		return nil, 0, problemAt(s.kept.place(), err)
	}
	size, err := io.Copy(f, io.LimitReader(untilDone{ctx, r}, most+1))
	if err == nil && size > most {
		err = fmt.Errorf("import – %w: more than the %d bytes that attachments may still take – raise the quota",
			ErrQuota, most)
	}
	if err != nil {
		unspool(f)
		return nil, 0, problemAt(s.kept.place(), err)
	}
	return f, size, nil
}

func unspool(f *os.File) {
	f.Close()
	os.Remove(f.Name()) // the next Open clears what stays
}
