package webtest

import (
	"bytes"
	"testing"

	"github.com/klauspost/compress/zstd"
)

// Bomb is a table of a few hundred kilobytes that unpacks to so many bytes: one frame again and again (RFC 8878: frames
// may follow one another).
func Bomb(t testing.TB, unpacked int64) []byte {
	t.Helper()
	z, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBestCompression))
	if err != nil {
		t.Fatal(err)
	}
	const frame = 64 << 20
	one := z.EncodeAll(bytes.Repeat([]byte("0.000001,5.0,0.0\n"), frame/17), nil)
	all := z.EncodeAll([]byte("time_s,crank,cam\n"), nil)
	for range unpacked / frame {
		all = append(all, one...)
	}
	return all
}
