package recording

import (
	"cmp"
	"math"
	"net/url"
	"slices"
	"sort"
	"strconv"
	"strings"

	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/waveform"
	"phasewright/web/page"
)

const (
	mostShown  = 12 // channels drawn at once
	firstShown = 6  // channels drawn where nobody chose
	zoomStep   = 4  // of one press
	panStep    = 0.5
)

// stretch is a part of a recording, s.
type stretch struct{ from, to float64 }

func (v stretch) width() float64  { return v.to - v.from }
func (v stretch) centre() float64 { return v.from + v.width()/2 }

// span is what can be looked at: the recording's ends and the narrowest stretch that makes sense.
type span struct {
	stretch
	least float64
}

// Limits of the narrowest view.
const (
	leastSamples  = 8  // samples that it holds
	leastStretch  = 40 // stretches of what memory keeps, where the file cannot be read again
	leastUneven   = 1e-9
	leastRelative = 1e-11 // of the largest time: floating point tells no finer columns apart
)

// span is what a recording has to look at; ok is false where it is but an instant.
func (w *wave) span() (r span, ok bool) {
	r.from, r.to = float64(w.Start), float64(w.End)
	if !(r.to > r.from) || math.IsInf(r.to-r.from, 0) {
		return r, false
	}
	r.least = math.Max(leastUneven, leastRelative*math.Max(math.Abs(r.from), math.Abs(r.to)))
	switch {
	case !w.Overview.Again():
		r.least = math.Max(r.least, leastStretch*float64(w.Overview.Grain(w.Start, w.End)))
	case w.Interval > 0:
		r.least = math.Max(r.least, leastSamples*float64(w.Interval))
	default:
		r.least = math.Max(r.least, leastSamples*float64(w.Overview.Tick()))
	}
	r.least = math.Min(r.least, r.width())
	return r, true
}

// hold brings a stretch into the range: not narrower than makes sense, and inside the recording.
func (r span) hold(v stretch) stretch {
	width := math.Min(math.Max(v.width(), r.least), r.width())
	from := v.centre() - width/2
	if math.Abs(width-v.width()) <= 1e-9*width { // as asked, to the last digit
		from = v.from
	}
	from = math.Min(math.Max(from, r.from), r.to-width)
	if width == r.width() {
		return r.stretch
	}
	return stretch{from, from + width}
}

func (r span) whole(v stretch) bool { return v.width() >= r.width()*(1-1e-9) }

// about is a stretch of a width around a time.
func (r span) about(at, width float64) stretch {
	return r.hold(stretch{at - width/2, at + width/2})
}

func (r span) zoom(v stretch, factor float64) stretch {
	return r.about(v.centre(), v.width()*factor)
}

func (r span) pan(v stretch, share float64) stretch {
	d := v.width() * share
	return r.hold(stretch{v.from + d, v.to + d})
}

// asked reads the stretch that an address asks for: from and to, or a time with a width around it. Times without a unit
// are seconds. Of what cannot be used it says why, and gives the whole.
func (r span) asked(q url.Values, usual func(at float64) float64) (v stretch, wrong string) {
	times := map[string]float64{}
	for _, name := range []string{"from", "to", "at", "width"} {
		if text := strings.TrimSpace(q.Get(name)); text != "" {
			t, err := secondsOf(text)
			if err != nil {
				return r.stretch, err.Error()
			}
			times[name] = t
		}
	}
	if at, given := times["at"]; given {
		if slack := r.width() * 1e-9; at < r.from-slack || at > r.to+slack {
			return r.stretch, "the recording goes from " + timeWords(r.from, r.width()) + " to " +
				timeWords(r.to, r.width()) + "; write a time between them"
		}
		if width := times["width"]; width > 0 {
			return r.about(at, width), ""
		}
		return r.about(at, usual(at)), ""
	}
	from, begins := times["from"]
	if to, ends := times["to"]; begins && ends && to > from {
		return r.hold(stretch{from, to}), ""
	}
	return r.stretch, ""
}

// secondsOf reads a time: a number of seconds, or one with its unit.
func secondsOf(text string) (float64, error) {
	plain := strings.ReplaceAll(strings.NewReplacer("−", "-", "\u2009", "", "\u202f", "").Replace(text), ",", ".")
	if v, err := strconv.ParseFloat(plain, 64); err == nil && !math.IsNaN(v) && math.Abs(v) < 1e12 {
		return v, nil
	}
	v, err := quantity.Parse[quantity.Time](text)
	return v.Seconds(), err
}

// addressTime writes a time of a view for an address: as fine as a thousandth of a column.
func addressTime(t, width float64) string {
	places := int(math.Ceil(-math.Log10(width))) + 6
	text := strconv.FormatFloat(t, 'f', min(max(places, 0), 16), 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// timeWords prints a time in seconds as fine as a view of a width can tell.
func timeWords(t, width float64) string {
	places := int(math.Ceil(-math.Log10(width))) + 2
	return page.Figure(t, min(max(places, 0), 13)) + " s"
}

// shown are the channels that an address asks for by name, else those with a role, else the first.
func (w *wave) shown(q url.Values, roles []shaft.Role) (channels []int, chosen bool) {
	var asked, known, others []int
	for i := range w.Channels {
		if !w.Overview.Keeps(i) {
			continue
		}
		if slices.Contains(q["channel"], w.Channels[i].Name) {
			asked = append(asked, i)
		}
		if roles[i] != shaft.Unknown {
			known = append(known, i)
		} else {
			others = append(others, i)
		}
	}
	if len(asked) > 0 {
		return asked[:min(len(asked), mostShown)], true
	}
	if len(known) == 0 {
		known = others
	}
	slices.SortStableFunc(known, func(a, b int) int {
		return cmp.Compare(slices.Index(shownOrder, roles[a]), slices.Index(shownOrder, roles[b]))
	})
	return known[:min(len(known), firstShown)], false
}

// shownOrder is the order in which channels stand below each other.
var shownOrder = []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark}

// rolesOf gives each channel's role, unknown where the recording's summary does not name it.
func rolesOf(channels []waveform.Channel, res *shaft.Result) []shaft.Role {
	roles := make([]shaft.Role, len(channels))
	for i, c := range channels {
		roles[i] = shaft.Unknown
		if res == nil {
			continue
		}
		at := slices.IndexFunc(res.Channels, func(one shaft.Channel) bool { return one.Name == c.Name })
		if i < len(res.Channels) && res.Channels[i].Name == c.Name {
			at = i // of several of one name the one in its place
		}
		if at >= 0 {
			roles[i] = res.Channels[at].Role
		}
	}
	return roles
}

// usualWidth is how wide a view around a time begins: two cycles, or a part of the recording where the speed is not
// known.
func (r span) usualWidth(res *shaft.Result, at float64) float64 {
	if cycle, _ := cycleAt(res, at); cycle > 0 {
		return 2 * cycle
	}
	return r.width() / 100
}

// cycleAt is how long a cycle of 720° lasted at a time, s, with the speed; 0 where that is not known.
func cycleAt(res *shaft.Result, at float64) (cycle, rpm float64) {
	if res == nil || res.Series == nil {
		return 0, 0
	}
	s := res.Series.Speed
	i := sort.Search(len(s), func(i int) bool { return s[i].TimeS > at }) - 1
	if i < 0 || !(s[i].Mean > 1) {
		return 0, 0
	}
	return 120 / s[i].Mean, s[i].Mean
}
