package roles

import (
	"math"
	"slices"

	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// ratio says how many pulses of one channel come between two pulses of another.
type ratio struct {
	usual int     // the most frequent number
	share float64 // share of the intervals with that number
	n     int     // intervals
}

// between counts the pulses of a between every stride-th rising edge of b. Where those edges coincide with edges of a,
// the slightest play moves pulses from one interval to the next. Then the falling edges of b are used, which stand
// clear and give nearly always the same number.
func between(a, b *Profile, stride int) ratio {
	r := count(a.Rise, b.Rise, stride)
	if clear := count(a.Rise, b.Fall, stride); r.share < 0.9 && clear.share > 0.97 && clear.n >= 4 {
		return clear
	}
	return r
}

// count counts the times a in each interval from b[k] to b[k+stride]. Intervals that begin before the first a or end
// after the last one are left out.
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

// rateBetween is the number of times b for each time a, while both signals run.
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

// held says how well edges b keep their place between edges a: 1 where every stride-th b stands at the same share of
// its interval of a, near 0 where b runs by a clock of its own. The share of the interval is taken as an angle on a
// circle; held is the length of the mean of those points (resultant length, any text on circular statistics). 1 where
// there are too few to say.
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

// follows says how tightly b is timed from a, as a controller times sparks from crank edges. The wait of b is (b − last
// a)/(interval of a before that); follows is its median change from one b to the one stride later. It is near 0 where b
// is timed from a, larger where b only happens to be near a.
func follows(a, b []waveform.Second, stride int) float64 {
	const stretches, each = 4, 2048 // of very many edges, four stretches of 2048 spread over them are used
	switch {
	case len(a) < 3:
		return math.NaN()
	case len(b) <= stretches*each:
		return sums.Median(changes(make([]float64, 0, len(b)), waits(a, b), stride))
	}
	all := make([]float64, 0, stretches*each)
	for i := range stretches {
		from := i * (len(b) - each) / (stretches - 1)
		all = changes(all, waits(a, b[from:from+each]), stride)
	}
	return sums.Median(all)
}

// waits are the times from the last a to each b, as a share of the interval of a before that.
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

// changes appends |r[i] − r[i−stride]| to d.
func changes(d, r []float64, stride int) []float64 {
	for i := stride; i < len(r); i++ {
		d = append(d, math.Abs(r[i]-r[i-stride]))
	}
	return d
}

// smooth is the share of pairs of neighbouring stretches, each of stride intervals, whose lengths differ by less than a
// factor 1.4. It is near 1 for a shaft, which has inertia. NaN where there are too few edges.
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

// smoothest is smooth; where the number of vanes is not known (open), the best over several strides.
func smoothest(t []waveform.Second, stride int, open bool) float64 {
	s := smooth(t, stride)
	if open {
		for _, k := range []int{2, 3, 4, 6, 8} {
			s = math.Max(s, smooth(t, k))
		}
	}
	return s
}

// Unevenness is the median of |interval/mean − 1|, where the mean is that of the two cycles of n pulses around it, so
// that a steady change of speed does not count.
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
