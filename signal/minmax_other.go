//go:build !amd64

package signal

func minmax(data []byte, blocks, size int, out [][8]int16) { minmaxPlain(data, blocks, size, out) }
