//go:build race

package yamltext_test

import "time"

// patience is longer with the race detector, which makes the library some ten times as slow.
const patience = 500 * time.Millisecond
