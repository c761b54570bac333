//go:build !race

package yamltext_test

import "time"

// patience is how long reading a file may take.
const patience = 50 * time.Millisecond
