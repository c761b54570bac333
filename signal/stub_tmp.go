package signal

type vcdEvents struct{}
type wavBlocks struct{}
