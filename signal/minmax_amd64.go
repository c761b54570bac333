package signal

import "golang.org/x/sys/cpu"

// minmaxAVX2 is minmaxPlain by the processor's wide registers, blocks of size 64·pairs: fifty times as fast on what the second-level cache holds (BenchmarkMinmax).
//
//go:noescape
func minmaxAVX2(data *byte, blocks, pairs int, out *[8]int16)

func minmax(data []byte, blocks, size int, out [][8]int16) {
	if cpu.X86.HasAVX2 && blocks > 0 {
		_, _ = data[blocks*size-1], out[blocks-1]
		minmaxAVX2(&data[0], blocks, size/64, &out[0])
		return
	}
	minmaxPlain(data, blocks, size, out)
}
