package waveform

import (
	"encoding/binary"
	"math/bits"
)

// le64 makes a word as it lies in memory little-endian; on little-endian machines it is nothing.
func le64(w uint64) uint64 {
	if binary.NativeEndian.Uint16([]byte{1, 0}) == 1 {
		return w
	}
	return bits.ReverseBytes64(w)
}
