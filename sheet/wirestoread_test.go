package sheet_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/sheet"
)

// Which wires are named, by hand from the firing order: a cycle of 720° is one turn of the distributor, so the opposite
// vane lies 360° after No. 1 and the quarters 180° and 540°.
func TestWiresToReadByHand(t *testing.T) {
	for _, c := range []struct {
		card  string
		swap  []string
		wires string // as "No. 6, No. 5, No. 4"; "" where there are none
		says  string
	}{
		// 1-5-3-6-2-4 every 120°: No. 6 at 360; 180 lies between 5 (120) and 3 (240), the earlier is taken; 540 between 2
		// (480), which is opposite 5, and 4 (600). No. 5's mark lies 120° behind the zero mark: π·168·120/360 = 175.9 mm behind it in running direction.
		{"sandpiper", nil, "No. 6, No. 5, No. 4", "No. 5 (own mark, 175.9 mm behind the zero mark). No. 4 (own mark, 175.9 mm ahead of the zero mark)"},
		{"sandpiper", nil, "No. 6, No. 5, No. 4", "No. 6 (zero mark)"},
		// 1-5-7-8-6-3-4-2 every 90°: 6 at 360, 7 at 180, 4 at 540.
		{"gorse-hill", nil, "No. 6, No. 7, No. 4", "moves without a restart"},
		// 1-2-4-3 every 180°: 4 at 360, 2 at 180, 3 at 540: all of them.
		{"mill-pump", nil, "No. 4, No. 2, No. 3", ""},
		// every 60°: 360 is the seventh, No. 11; 180 the fourth, No. 4; 540 the tenth, No. 10... of 1,2,3,4,7,8,11,12,9,10,5,6
		{"ember-twelve", nil, "No. 11, No. 4, No. 10", ""},
		// intervals 100, 140 by turns: 1 at 0, 2 at 100, 5 at 240, 6 at 340, 3 at 480, 4 at 580.
		{"heron-ferry", nil, "No. 6, No. 5, No. 4", ""},
		{"tern-single", nil, "", ""},
	} {
		s := of(t, c.card, c.swap...)
		it := s.Item("wires_to_read")
		if c.wires == "" {
			if it != nil {
				t.Errorf("%s: %q", c.card, it.Text)
			}
			continue
		}
		if it == nil {
			t.Errorf("%s: no wires named", c.card)
			continue
		}
		var named []string
		for _, part := range strings.SplitAfter(it.Text, "No. ")[2:] {
			var n int
			fmt.Sscan(part, &n)
			if strings.Contains(part, "mark)") {
				named = append(named, fmt.Sprintf("No. %d", n))
			}
		}
		if got := strings.Join(named, ", "); got != c.wires || !strings.Contains(it.Text, c.says) {
			t.Errorf("%s: %s, want %s; %s", c.card, got, c.wires, it.Text)
		}
	}
}

// One to sixteen cylinders, even fire: the wires named are other cylinders, each once, at most three; and with No. 1 they
// tell a swing of the shaft in every direction: of any swing a·cos(shaft angle − direction), two of the wires read differ
// by at least a. On three cylinders, 120° of the shaft apart, it is 1.5·a at least; on two it cannot be.
func TestWiresToReadTellASwing(t *testing.T) {
	for n := 1; n <= 16; n++ {
		order := make([]int, n)
		for i := range order {
			order[i] = i + 1
		}
		c, err := jobcard.Parse("", []byte(strings.NewReplacer("cylinders: 6", fmt.Sprintf("cylinders: %d", n),
			"[1, 5, 3, 6, 2, 4]", strings.ReplaceAll(fmt.Sprint(order), " ", ", "), "tower_for_no1: 4", "tower_for_no1: 1",
			"lead: 60 deg", "lead: 40 deg", "vane_width: 15 deg", "vane_width: 8 deg").Replace(example(t, "sandpiper"))))
		if err != nil {
			t.Fatalf("%d cylinders: %v", n, err)
		}
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatal(err)
		}
		it := s.Item("wires_to_read")
		if n == 1 {
			if it != nil {
				t.Error("a single has another wire")
			}
			continue
		}
		wires := []int{1}
		for _, part := range strings.Split(it.Text, "No. ")[2:] {
			var k int
			fmt.Sscan(part, &k)
			if strings.Contains(part, "mark)") {
				wires = append(wires, k)
			}
		}
		if len(wires) != min(n, 4) || int(it.Value) != len(wires)-1 {
			t.Errorf("%d cylinders: wires %v, %v", n, wires, it.Value)
		}
		seen := map[int]bool{}
		least := math.Inf(1)
		for d := range 360 {
			low, high := math.Inf(1), math.Inf(-1)
			for _, k := range wires {
				seen[k] = true
				e := math.Cos((360*float64(k-1)/float64(n) - float64(d)) * math.Pi / 180)
				low, high = math.Min(low, e), math.Max(high, e)
			}
			least = math.Min(least, high-low)
		}
		if n > 2 && least < 1 || len(seen) != len(wires) {
			t.Errorf("%d cylinders, wires %v: a swing of 1° shows as %.2f° at least", n, wires, least)
		}
	}
}

// How the light gets its trigger.
func TestLightWithoutPlugWires(t *testing.T) {
	s := of(t, "sandpiper", "rotation: counterclockwise,", "use: signal only, rotation: counterclockwise,")
	if text := item(t, s, "wires_to_read").Text; !strings.Contains(text, "coil's primary wire") || !strings.Contains(text, "coil maker's word wins") {
		t.Error(text)
	}
	s = of(t, "sandpiper", "rotation: counterclockwise,", "use: signal only, rotation: counterclockwise,", "dwell: 3.2 ms", "coils: companion pairs, dwell: 3.2 ms")
	if text := item(t, s, "wires_to_read").Text; strings.Contains(text, "No. 6 (") || !strings.Contains(text, "No. 5 (") || !strings.Contains(text, "Two marks side by side") {
		t.Error(text)
	}
}
