package webtest

import (
	"io"
)

type BrittleFile struct{ io.ReadSeekCloser }

func (BrittleFile) Read([]byte) (int, error) { panic("a broken invariant") }
