package procedure

import (
	"phasewright/jobcard"
	"phasewright/leads"
)

// lampShows is what a lamp shows as the crank signal goes from one level to the other.
func (b *builder) lampShows(after jobcard.Level) []Figure {
	var out []Figure
	for _, w := range leads.Lamps(b.c)[0].Ways { // the first is the crank pickup's
		out = append(out, Figure{"lamp, " + w.Output, pick(after == w.Lit, "off → on", "on → off")})
	}
	return out
}

// lamps are the lines on how lamps are wired, and what to beware of; wired says whether there is one at all.
func (b *builder) lamps() (show []Figure, notes []string, wired bool) {
	for _, l := range leads.Lamps(b.c) {
		wired = wired || len(l.Ways) > 0
		for _, line := range l.Lines() {
			show = append(show, Figure{line.Name, line.Text})
		}
	}
	if wired {
		notes = leads.LampMinds()
		for _, k := range leads.LampRestsOn(b.c) {
			notes = append(notes, sentence(k))
		}
	}
	return show, notes, wired
}
