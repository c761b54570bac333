package waveform

import (
	"fmt"
	"slices"
	"strings"
)

// Lookup finds a channel by its name, by another name of the same wire, or by the last part of either where only one
// channel has it: "crank" for "top.dut.crank". The error says which names there are, or which of them are meant.
func Lookup(channels []Channel, name string) (int, error) {
	var byAlias, byLast []int
	for i, c := range channels {
		if c.Name == name {
			return i, nil
		}
		if slices.Contains(c.Aliases, name) {
			byAlias = append(byAlias, i)
		}
		if slices.ContainsFunc(append([]string{c.Name}, c.Aliases...), func(s string) bool {
			return strings.HasSuffix(s, "."+name)
		}) {
			byLast = append(byLast, i)
		}
	}
	names := func(of []int) string {
		var out []string
		for _, i := range of {
			out = append(out, fmt.Sprintf("%q", channels[i].Name))
		}
		if len(out) > maxNamed {
			out = append(out[:maxNamed], "…")
		}
		return strings.Join(out, ", ")
	}
	for _, found := range [][]int{byAlias, byLast} {
		switch len(found) {
		case 0:
		case 1:
			return found[0], nil
		default:
			return -1, fmt.Errorf("%d channels are called %q – write which: %s", len(found), name, names(found))
		}
	}
	all := make([]int, len(channels))
	for i := range all {
		all[i] = i
	}
	return -1, fmt.Errorf("no channel is called %q – the recording has %s", name, names(all))
}

// maxNamed is how many channels a message names.
const maxNamed = 12
