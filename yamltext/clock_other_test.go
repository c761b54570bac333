//go:build !linux

package yamltext_test

import "time"

var began = time.Now()

func clock() time.Duration { return time.Since(began) }
