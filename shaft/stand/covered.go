package stand

import (
	"fmt"
	"strings"

	"phasewright/jobcard"
)

// LawDoubt is the standard uncertainty in degrees that shaft states for a controller's arithmetic and the motion
// between edges, whatever the scatter shows. MakeCovered draws it, so that intervals which count it in hold what they
// say.
const LawDoubt = 0.004

// ExactMark is how far a mark of MakeCovered may stand from TDC, degrees either way: so little that it swamps nothing.
const ExactMark = 0.001

// The swing of speed at idle that shaft holds possible: from none to this share for one cylinder, less with more of
// them, and never above the other.
const rippleOfOne, mostRipple = 0.6, 0.4

// CoveredFormats are what MakeCovered writes: logic changes as a table, a value change dump, sampled sound.
func CoveredFormats() []string { return []string{"csv-changes", "vcd-scopes", "wav-24"} }

// MakeCovered makes a sound engine whose mark stands at TDC, revved up and down again at a steady rate in rpm/s, as a
// file. All that shaft states an uncertainty for is drawn from what it states: single vanes, the mark within ExactMark,
// how strongly and how broadly compression slows the crank, and what the controller does beside its law, LawDoubt in
// the offset and as much between the least and the greatest speed.
func MakeCovered(format string, rate float64, seed uint64) (*Case, error) {
	for _, d := range dialects {
		if d.name != format {
			continue
		}
		r := draw(fmt.Sprintf("covered %s %g", format, rate), seed)
		g := sound(r, 4, 6, 8)
		low := r.between(850, 1100)
		high := low + min(r.between(1500, 2500), 4*rate) // four seconds up at the most
		up := (high - low) / rate
		g.course = Course{Start: r.between(0, 720), Knots: []Knot{{0, low}, {0.5, low}, {0.5 + up, high},
			{0.8 + up, high}, {0.8 + 2*up, low}, {1.3 + 2*up, low}}}
		g.ripples(r.between(0, min(mostRipple, rippleOfOne/float64(g.n()))), g.idle)
		g.course.Width = r.between(20, 40)
		g.play = r.between(0.05, 0.2)
		g.markWidth = r.between(8, 20) // a sound card must see it at speed
		g.markAt = r.between(-ExactMark, ExactMark)
		g.tick = 0
		text, _, err := g.card(r)
		if err != nil {
			return nil, err
		}
		exact := fmt.Sprintf("zero_mark: %v deg", ExactMark)
		text = strings.Replace(text, fmt.Sprintf("zero_mark: %v deg", MarkLimit), exact, 1)
		offset, delay := g.offset, g.delay
		g.offset += LawDoubt * r.NormFloat64()
		g.delay += LawDoubt / (high - low) / 6e-6 * r.NormFloat64()
		c := g.record(r)
		c.Truth.Offset += offset - g.offset
		c.Truth.Delay += delay - g.delay
		if c.Card, err = jobcard.Parse("card.yaml", []byte(text)); err != nil {
			return nil, err
		}
		c.CardText = text
		c.Class, c.Seed, c.Name = format, seed, fmt.Sprintf("covered %s %g/%d", format, rate, seed)
		c.Info.Name, c.Format = c.Name, format
		c.File = d.write(r, c)
		return c, nil
	}
	return nil, fmt.Errorf("there is no dialect %q", format)
}
