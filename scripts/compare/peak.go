package main

import (
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
)

// peakMiB gives this process's greatest resident size.
func peakMiB() int {
	b, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return -1
	}
	for line := range strings.Lines(string(b)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kb, _ := strconv.Atoi(strings.Fields(rest)[0])
			return kb / 1024
		}
	}
	return -1
}

// used runs a command and prints what it used: processor seconds, and its greatest resident size in MiB.
func used(command []string) error {
	c := exec.Command(command[0], command[1:]...)
	c.Stderr = os.Stderr
	if err := c.Run(); err != nil {
		return err
	}
	s := c.ProcessState
	kib := int64(-1024)
	if u, ok := s.SysUsage().(*syscall.Rusage); ok {
		kib = u.Maxrss // KiB on Linux
	}
	fmt.Printf("%.3f %d\n", (s.UserTime() + s.SystemTime()).Seconds(), kib/1024)
	return nil
}
