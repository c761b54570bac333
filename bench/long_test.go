package bench_test

import "os"

// long says that the tests may take their time, as for scripts/nightly: all rounds, not some of each.
func long() bool { return os.Getenv("PHASEWRIGHT_LONG") != "" }
