package jobcard

import (
	"fmt"
	"strings"
)

// Starter is a commented job card to begin from, made from the same table as the parser. Demanded fields stand with an
// invented value to be replaced; the others are commented out, with their defaults; what only the controller can tell
// stands without a value.
func Starter() string {
	var b strings.Builder
	b.WriteString("# Job card. Replace the values of the lines without # by your engine's; take the # away " +
		"where a default does not fit.\n" +
		"# Every measure carries its unit: 165 mm, 6.5 in, 7 1/4 in, 45 thou, 100 us, 0,5 deg; say ± where you " +
		"know it.\n")
	for _, sentence := range strings.SplitAfter(Served, ". ") {
		b.WriteString("# " + strings.TrimSpace(sentence) + "\n")
	}
	var open []string
	for _, f := range Fields() {
		parts := strings.Split(f.Path, ".")
		sections := parts[:len(parts)-1]
		coil := strings.HasPrefix(f.Path, "coil.") // a whole section that may be left out: commented as one
		for i, s := range sections {
			if i < len(open) && open[i] == s {
				continue
			}
			open = append(open[:i:i], s)
			if i == 0 {
				b.WriteByte('\n')
			}
			if coil {
				b.WriteString("# Take the # away from the whole section where a coil driver charges the coil " +
					"and you know its data.\n# ")
			}
			fmt.Fprintf(&b, "%s%s:\n", strings.Repeat("  ", i), s)
		}
		if len(sections) == 0 {
			b.WriteByte('\n')
		}
		open = open[:len(sections)]
		indent := strings.Repeat("  ", len(sections))
		line := fmt.Sprintf("%s: %s", parts[len(parts)-1], f.Example)
		note := f.Doc
		switch {
		case f.Open: // no value to keep by mistake
			note += " Such as " + f.Example + "."
			line = parts[len(parts)-1] + ":"
		case f.Demand != "":
			note += " Demanded: " + f.Demand + "."
		case f.Default != "":
			line = fmt.Sprintf("%s: %s", parts[len(parts)-1], f.Default)
			note += " Default."
		}
		fmt.Fprintf(&b, "%s# %s\n", indent, note)
		if f.Demand == "" || coil {
			line = "# " + line
		}
		fmt.Fprintf(&b, "%s%s\n", indent, line)
	}
	return b.String()
}
