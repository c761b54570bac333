package sheet_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// The line that a stop or caution names is a line of the card, and writing it there clears the item (cards and values
// invented).
func TestTheNamedLineClears(t *testing.T) {
	for _, c := range []struct {
		card, id, line string
		before, after  []string // texts of the card replaced: old, new
	}{
		{"mill-pump", "gear_material", "distributor.gear_material", nil, []string{"gear_material: steel", "gear_material: melonised steel"}},
		{"mill-pump", "true_tdc", "damper.zero_mark", nil, []string{"damper:      {", "damper:      {zero_mark: 0.2 deg, "}},
		{"heron-ferry", "seat", "distributor.seat_gap", nil, []string{"distributor: {", "distributor: {seat_gap: 0 mm, "}},
		{"sandpiper", "trigger_lead", "signals.crank.lead", []string{"lead: 60 deg", "lead: 38 deg"}, []string{"lead: 38 deg", "lead: 60 deg"}},
		{"sandpiper", "dwell_window", "ignition.dwell", []string{"dwell: 3.2 ms", "dwell: 5 ms"}, []string{"dwell: 5 ms", "dwell: 3 ms"}},
		{"sandpiper", "dwell_cranking", "ignition.dwell_table", nil, []string{"dwell: 3.2 ms", "dwell_table: [[9.8 V, 4.9 ms], [13.8 V, 3 ms]]"}},
		{"sandpiper", "cam_window", "signals.cam.edge_at", []string{"vane_width: 40 deg", "vane_width: 40 deg, edge_at: 63 deg"}, []string{"edge_at: 63 deg", "edge_at: 120 deg"}},
		{"sandpiper", "mark_lead", "damper.mark_placement", []string{"mark_placement: 0.5 mm", "mark_placement: 2 mm"}, []string{"mark_placement: 2 mm", "mark_placement: 0.4 mm"}},
		{"sandpiper", "rotor_sweep", "distributor.rotor_offset", nil, []string{"radius: 27 mm", "rotor_offset: -21 deg, radius: 27 mm"}},
		{"sandpiper", "spark_margin", "ignition.plug_gap", nil, []string{"plug_gap: 0.8 mm", "plug_gap: 0.4 mm"}},
	} {
		bad := item(t, of(t, c.card, c.before...), c.id)
		if bad.Verdict == sheet.Fine || !slices.Contains(bad.Cure, c.line) {
			t.Errorf("%s: %s, cured by %q, want %s among them", c.id, bad.Verdict, bad.Cure, c.line)
		}
		if good := item(t, of(t, c.card, append(slices.Clone(c.before), c.after...)...), c.id); good.Verdict != sheet.Fine || len(good.Cure) > 0 {
			t.Errorf("%s: still %s with %s mended (%s), cured by %q", c.id, good.Verdict, c.line, good.Because, good.Cure)
		}
	}
}

// Every stop and caution names lines that cards have, but for the three that are so by nature.
func TestEveryCureIsALine(t *testing.T) {
	lines := map[string]bool{}
	for _, f := range jobcard.Fields() {
		lines[f.Path] = true
	}
	byNature := []string{"active_edge", "phasing", "cranking_bias"}
	for _, c := range examples.Cards() {
		for _, it := range of(t, c.Name).Items {
			if len(it.Cure) == 0 && it.Verdict != sheet.Fine && !slices.Contains(byNature, it.ID) {
				t.Errorf("%s: no line of the card cures %s", c.Name, it.ID)
			}
			for _, line := range it.Cure {
				if !lines[line] {
					t.Errorf("%s: %s is no line of the card", it.ID, line)
				}
			}
		}
	}
}

// Stops come first, then cautions, then the rest; nothing is lost or told twice, and all marks are one item.
func TestInOrder(t *testing.T) {
	for _, c := range examples.Cards() {
		s := of(t, c.Name)
		o := s.InOrder()
		seen := map[string]int{}
		for _, g := range append([]sheet.Group{o.Stops, o.Cautions}, o.Areas...) {
			reasons := map[string]bool{}
			for _, it := range g.Items {
				seen[it.ID]++
				if it.Because != "" && reasons[it.Because] {
					t.Errorf("%s, %s: %q is told twice", c.Name, g.Name, it.Because)
				}
				reasons[it.Because] = true
			}
			for i, in := range g.Assumed {
				if slices.Contains(g.Assumed[:i], in) {
					t.Errorf("%s, %s: %s is told twice", c.Name, g.Name, in.Path)
				}
			}
		}
		want := map[string]int{}
		for _, it := range s.Items {
			if strings.HasPrefix(it.ID, "mark_") {
				it.ID = "marks"
			}
			want[it.ID] = 1
		}
		for id := range want {
			if seen[id] != want[id] {
				t.Errorf("%s: %s stands %d times", c.Name, id, seen[id])
			}
		}
		var b bytes.Buffer
		if err := s.WriteText(&b, 80); err != nil {
			t.Fatal(err)
		}
		last := -1
		for _, m := range []string{"\n ■ ", "\n ▨ ", "\n ○ "} {
			first := strings.Index(b.String(), m)
			if first >= 0 && first < last {
				t.Errorf("%s: %q stands before what is worse", c.Name, m)
			}
			last = max(last, strings.LastIndex(b.String(), m))
		}
	}
}
