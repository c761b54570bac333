package waveform

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"
)

// TestLookup: a name is found as it stands, as an alias, or by its last part where that means one channel only
// (invented names).
func TestLookup(t *testing.T) {
	channels := []Channel{{Name: "top.dut.crank"}, {Name: "top.dut.cam", Aliases: []string{"top.pad.cam_in", "seven"}},
		{Name: "top.tb.clock"}, {Name: "top.dut.clock"}, {Name: "clock2", Aliases: []string{"same"}},
		{Name: "x", Aliases: []string{"same"}}, {Name: "cam"}}
	for name, want := range map[string]int{"top.dut.crank": 0, "crank": 0, "dut.crank": 0, "cam_in": 1, "seven": 1, "cam": 6,
		"top.tb.clock": 2, "tb.clock": 2, "clock2": 4} {
		if got, err := Lookup(channels, name); err != nil || got != want {
			t.Errorf("%s: channel %d, %v; want %d", name, got, err, want)
		}
	}
	for name, says := range map[string]string{"clock": `"top.tb.clock", "top.dut.clock"`, "same": `2 channels are called`,
		"rank": `no channel is called "rank"`, "": "no channel"} {
		if got, err := Lookup(channels, name); err == nil || got != -1 || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: channel %d, error %v; want %q", name, got, err, says)
		}
	}
}

// TestUTF16: a table in UTF-16 with its byte-order mark, of either order (RFC 2781), plain or packed, gives the edges
// of the same table in UTF-8, its µ too.
func TestUTF16(t *testing.T) {
	text := strings.Replace(string(hardTable(3000, "\r\n")), "square", "square µ", 1)
	want, err := readText(t, text, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, big := range []int{0, 1} {
		var b []byte
		for _, u := range utf16.Encode([]rune("\ufeff" + text)) {
			pair := [2]byte{byte(u), byte(u >> 8)}
			b = append(b, pair[big], pair[1-big])
		}
		for name, data := range map[string][]byte{"plain": b, "gzip": gz(t, b)} {
			for _, in := range []Input{File("x", bytes.NewReader(data), int64(len(data))), Stream("x", bytes.NewReader(data), -1)} {
				got, err := ReadAll(context.Background(), in, Options{})
				if err != nil {
					t.Fatalf("%s, order %d: %v", name, big, err)
				}
				if fmt.Sprint(got.Edges) != fmt.Sprint(want.Edges) || len(got.Edges) < 100 || got.Channels[0].Name != "square µ" {
					t.Errorf("%s, order %d: %d edges of %q, want %d", name, big, len(got.Edges), got.Channels[0].Name, len(want.Edges))
				}
			}
		}
	}
}
