package web

import (
	"math"
	"net/url"
	"sort"
	"strconv"
	"strings"

	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/waveform"
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

// waveRange is what can be looked at: the recording's ends and the narrowest stretch that makes sense.
type waveRange struct {
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
func (w *wave) span() (r waveRange, ok bool) {
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
func (r waveRange) hold(v stretch) stretch {
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

func (r waveRange) whole(v stretch) bool { return v.width() >= r.width()*(1-1e-9) }

// about is a stretch of a width around a time.
func (r waveRange) about(at, width float64) stretch {
	return r.hold(stretch{at - width/2, at + width/2})
}

func (r waveRange) zoom(v stretch, factor float64) stretch {
	return r.about(v.centre(), v.width()*factor)
}

func (r waveRange) pan(v stretch, share float64) stretch {
	d := v.width() * share
	return r.hold(stretch{v.from + d, v.to + d})
}

// wrongTime is a time in the address that cannot be used.
type wrongTime struct{ field, text string }

// asked reads the stretch that an address asks for: from and to, or a time with a width around it. Times without a unit are seconds.
func (r waveRange) asked(q url.Values, usual func(at float64) float64) (stretch, *wrongTime) {
	read := func(name string) (v float64, given bool, wrong *wrongTime) {
		text := strings.TrimSpace(q.Get(name))
		if text == "" {
			return 0, false, nil
		}
		v, err := secondsOf(text)
		if err != nil {
			return 0, true, &wrongTime{name, err.Error()}
		}
		return v, true, nil
	}
	var vals [4]float64
	var given [4]bool
	for i, name := range [4]string{"from", "to", "at", "width"} {
		var wrong *wrongTime
		if vals[i], given[i], wrong = read(name); wrong != nil {
			return r.stretch, wrong
		}
	}
	switch {
	case given[2]:
		width := vals[3]
		if !given[3] || !(width > 0) {
			width = usual(vals[2])
		}
		if vals[2] < r.from-r.width()*1e-9 || vals[2] > r.to+r.width()*1e-9 {
			return r.stretch, &wrongTime{"at", "the recording goes from " + timeWords(r.from, r.width()) + " to " + timeWords(r.to, r.width()) + "; write a time between them"}
		}
		return r.about(vals[2], width), nil
	case given[0] && given[1] && vals[1] > vals[0]:
		return r.hold(stretch{vals[0], vals[1]}), nil
	}
	return r.stretch, nil
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
	return figure(t, min(max(places, 0), 13)) + " s"
}

// shown are the channels that an address asks for by name, else those with a role, else the first.
func (w *wave) shown(q url.Values, roles []shaft.Role) (channels []int, chosen bool) {
	names := q["channel"]
	var known, others []int
	for i := range w.Channels {
		if !w.Overview.Keeps(i) {
			continue
		}
		for _, name := range names {
			if name == w.Channels[i].Name && len(channels) < mostShown {
				channels = append(channels, i)
				break
			}
		}
		if roles[i] != shaft.Unknown {
			known = append(known, i)
		} else {
			others = append(others, i)
		}
	}
	if len(channels) > 0 {
		return channels, true
	}
	if len(known) == 0 {
		known = others
	}
	sort.SliceStable(known, func(a, b int) bool { return rank(roles[known[a]]) < rank(roles[known[b]]) })
	return known[:min(len(known), firstShown)], false
}

// rank is the order in which channels stand below each other.
func rank(r shaft.Role) int {
	for i, one := range []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark} {
		if r == one {
			return i
		}
	}
	return 9
}

// rolesOf gives each channel's role, unknown where the recording's summary does not name it.
func rolesOf(channels []waveform.Channel, res *shaft.Result) []shaft.Role {
	roles := make([]shaft.Role, len(channels))
	for i, c := range channels {
		roles[i] = shaft.Unknown
		if res == nil {
			continue
		}
		if i < len(res.Channels) && res.Channels[i].Name == c.Name {
			roles[i] = res.Channels[i].Role
			continue
		}
		for _, one := range res.Channels {
			if one.Name == c.Name {
				roles[i] = one.Role
				break
			}
		}
	}
	return roles
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
