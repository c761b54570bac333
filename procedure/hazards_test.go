package procedure

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// The table of hazards names every lock, names no lock or step that is not there, and says of each hazard what
// holds it.
func TestHazardTable(t *testing.T) {
	data, err := os.ReadFile("../docs/hazards.md")
	if err != nil {
		t.Fatal(err)
	}
	text := string(data)
	known := map[string]bool{}
	for _, r := range Rules() {
		known[r.ID] = true
		if !strings.Contains(text, "`"+r.ID+"`") {
			t.Errorf("the lock %s stands against no hazard of the table", r.ID)
		}
	}
	for _, p := range kinds(t) {
		for _, st := range p.Steps() {
			known[string(st.ID)] = true
		}
	}
	for _, m := range regexp.MustCompile("`([a-z-]+)`").FindAllStringSubmatch(text, -1) {
		if !known[m[1]] && m[1] != "code" {
			t.Errorf("%q is no lock and no step", m[1])
		}
	}
	rows, said := 0, ""
	for _, line := range strings.Split(text, "\n") {
		cells := strings.Split(line, "|")
		if len(cells) != 6 || strings.Contains(line, "---") || strings.Contains(line, "held by") {
			continue
		}
		rows++
		said += strings.ToLower(line) + "\n"
		held := strings.TrimSpace(cells[2])
		if !regexp.MustCompile(`^(lock|step|words|gate|not covered)`).MatchString(held) || strings.TrimSpace(cells[3]) == "" || strings.TrimSpace(cells[4]) == "" {
			t.Errorf("row without holder, reason or source: %s", line)
		}
		for _, m := range regexp.MustCompile("`([a-z-]+)`").FindAllStringSubmatch(cells[3], -1) {
			for _, r := range Rules() {
				if r.ID == m[1] && r.Never && !strings.Contains(line, "never") {
					t.Errorf("%s can never be overridden, and the row does not say so", r.ID)
				}
			}
		}
	}
	if rows < 46 {
		t.Errorf("%d rows", rows)
	}
	// what the issue lists, each by a word of its own
	for _, word := range []string{"coil", "box", "turned by hand", "starter against", "belts", "electric fan", "strobe", "second helm", "spray", "priming", "bowl", "backfire", "bilge", "kickback", "runaway",
		"hot parts", "exhaust gas", "battery gas", "starter post", "stands", "gearbox", "propeller", "loose clamp", "into the hole", "tang", "oil pressure", "swarf", "wrong gear", "overspeed", "long late running",
		"unburnt fuel", "crank bolt", "cooling water", "implants", "airbags", "second key", "light's cable", "closed room", "another wire", "recording", "overnight"} {
		if !strings.Contains(said, word) {
			t.Errorf("no row of the table says anything of %q", word)
		}
	}
}
