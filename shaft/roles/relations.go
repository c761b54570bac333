package roles

import (
	"math"
	"slices"

	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// ratio says how many pulses of one channel come between pulses of another.
type ratio struct {
	usual int     // the number that comes most often
	share float64 // of the intervals that hold it
	n     int     // intervals
}

// between counts pulses of a between every stride-th rising edge of b. Where those fall together with edges of a, the
// slightest play moves pulses from one side to the other; then b's falling edges stand clear and count nearly always
// the same.
func between(a, b *Profile, stride int) ratio {
	r := count(a.Rise, b.Rise, stride)
	if clear := count(a.Rise, b.Fall, stride); r.share < 0.9 && clear.share > 0.97 && clear.n >= 4 {
		return clear
	}
	return r
}

// count says how many of a fall between neighbours of b. Intervals before the first and after the last of a do not
// count.
func count(a, b []waveform.Second, stride int) ratio {
	if len(a) < 2 || len(b) <= stride {
		return ratio{}
	}
	var times [2*terms.MostVanes + 2]int
	n, i := 0, 0
	for k := 0; k+stride < len(b); k += stride {
		if b[k] < a[0] {
			continue
		}
		if b[k+stride] > a[len(a)-1] {
			break
		}
		for i < len(a) && a[i] < b[k] {
			i++
		}
		c := 0
		for j := i; j < len(a) && a[j] < b[k+stride]; j++ {
			c++
		}
		times[min(c, len(times)-1)]++
		n++
	}
	if n == 0 {
		return ratio{}
	}
	best := 0
	for c, t := range times {
		if t > times[best] {
			best = c
		}
	}
	return ratio{best, float64(times[best]) / float64(n), n}
}

// rateBetween is how many of b come for one of a while both run.
func rateBetween(a, b []waveform.Second) float64 {
	if len(a) < 2 || len(b) < 2 {
		return 0
	}
	lo, hi := max(a[0], b[0]), min(a[len(a)-1], b[len(b)-1])
	na, nb := within(a, lo, hi), within(b, lo, hi)
	if na < 2 {
		return 0
	}
	return float64(nb) / float64(na)
}

// within counts the times from lo to hi, both counted in.
func within(t []waveform.Second, lo, hi waveform.Second) int {
	from, _ := slices.BinarySearch(t, lo)
	to, _ := slices.BinarySearch(t, waveform.Second(math.Nextafter(float64(hi), math.Inf(1))))
	return max(0, to-from)
}

// held says how well the edges of b keep their place between the edges of a over the whole stretch: 1 where every
// stride-th one stands at the same share of its interval, near nought where b runs by a clock of its own. It is the
// length of the mean of the places as points on a circle. 1 where there is too little to tell.
func held(a, b []waveform.Second, stride int) float64 {
	places := make([]struct{ c, s, n float64 }, stride)
	j := 0
	for i, t := range b {
		for j+1 < len(a) && a[j+1] <= t {
			j++
		}
		if j+1 >= len(a) || a[j] > t {
			continue
		}
		sin, cos := math.Sincos(2 * math.Pi * float64((t-a[j])/(a[j+1]-a[j])))
		p := &places[i%stride]
		p.c, p.s, p.n = p.c+cos, p.s+sin, p.n+1
	}
	sum, n := 0.0, 0.0
	for _, p := range places {
		sum += math.Hypot(p.c, p.s)
		n += p.n
	}
	if n < float64(6*stride) {
		return 1
	}
	return sum / n
}

// follows measures how tightly b follows a in a's own terms: the median change, from one b to the b stride later, of
// (b − last a)/(interval before that a). Near nothing where b is timed from a; larger where a is metal and b only
// happens near it.
func follows(a, b []waveform.Second, stride int) float64 {
	const stretches, each = 4, 2048 // of many edges, four stretches spread over them are looked at
	switch {
	case len(a) < 3:
		return math.NaN()
	case len(b) <= stretches*each:
		return sums.Median(changes(waits(a, b), stride))
	}
	var all []float64
	for i := range stretches {
		from := i * (len(b) - each) / (stretches - 1)
		all = append(all, changes(waits(a, b[from:from+each]), stride)...)
	}
	return sums.Median(all)
}

// waits are how long each b comes after the last a, in terms of the interval before that a.
func waits(a, b []waveform.Second) []float64 {
	r := make([]float64, 0, len(b))
	j := 0
	if len(b) > 0 {
		from, _ := slices.BinarySearch(a, b[0])
		j = max(0, from-1)
	}
	for _, t := range b {
		for j+1 < len(a) && a[j+1] <= t {
			j++
		}
		if j >= 1 && a[j] <= t && j+1 < len(a) {
			r = append(r, float64((t-a[j])/(a[j]-a[j-1])))
		}
	}
	return r
}

// changes are the sizes of the changes from one value to the one stride later.
func changes(r []float64, stride int) []float64 {
	var d []float64
	for i := stride; i < len(r); i++ {
		d = append(d, math.Abs(r[i]-r[i-stride]))
	}
	return d
}

// smooth is the share of neighbouring stretches of stride intervals that agree within four tenths: a shaft has inertia.
func smooth(t []waveform.Second, stride int) float64 {
	good, n := 0, 0
	for i := 2 * stride; i < len(t); i++ {
		a, b := t[i-stride]-t[i-2*stride], t[i]-t[i-stride]
		n++
		if a < 1.4*b && b < 1.4*a {
			good++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return float64(good) / float64(n)
}

// smoothest tries strides where the number of vanes is not known.
func smoothest(t []waveform.Second, stride int, open bool) float64 {
	s := smooth(t, stride)
	if open {
		for _, k := range []int{2, 3, 4, 6, 8} {
			s = math.Max(s, smooth(t, k))
		}
	}
	return s
}

// Unevenness is the median difference between neighbouring intervals, as a share of the interval, with a change of
// speed over the cycle of n pulses taken out.
func Unevenness(t []waveform.Second, n int) float64 {
	var d []float64
	for i := n; n > 1 && i+n < len(t); i++ {
		if mean := float64(t[i+n]-t[i-n]) / float64(2*n); mean > 0 {
			d = append(d, math.Abs(float64(t[i+1]-t[i])/mean-1))
		}
	}
	if len(d) == 0 {
		return 0
	}
	return sums.Median(d)
}
