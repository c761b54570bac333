package suspects_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"phasewright/jobcard"
	"phasewright/suspects"
)

// This file draws what comes through a workshop's door without the bench: faults as often as the ranking supposes them,
// and of each a few looks, as the sheets written by hand from the trade have them (testdata/shop/sheets.txt). Who looks
// may see less than the fault shows, or something else. All chances here are assumed, set down before anything was
// measured with them.
const (
	asItShows  = 0.88 // a look shows what the fault shows at a middling size
	asSound    = 0.09 // or nothing of it; what is left, something that another fault shows
	mostLooked = 5    // looks beside how the engine goes
	readTo     = 0.3  // degrees, of a reading with the light; and of what a set-up leaves
)

// visit is an engine at the workshop's door.
type visit struct {
	shopCase
	e   *suspects.Engine
	job *jobcard.Card
	ev  *suspects.Evidence
}

// workshop draws visits.
type workshop struct {
	sheets map[string]map[string]string
	cards  []string
	rates  map[string]float64
	prior  suspects.Priors
	with   map[string]*suspects.Engine
	has    map[string][]string // faults that a card's engine may have
}

func newWorkshop(t testing.TB) *workshop {
	t.Helper()
	w := &workshop{sheets: readSheets(t), rates: map[string]float64{}, prior: suspects.DefaultPriors(),
		with: map[string]*suspects.Engine{}, has: map[string][]string{}}
	for _, k := range suspects.Constants() {
		if name, ok := strings.CutPrefix(k.Name, "odds of "); ok {
			w.rates[name] = k.Value
		}
	}
	for _, pattern := range []string{"../examples/*.yaml", "testdata/cards/*.yaml"} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			name := strings.TrimSuffix(filepath.Base(file), ".yaml")
			card, err := shopCard(name)
			if err != nil {
				continue // not a job card
			}
			e, err := suspects.New(card, w.prior)
			if err != nil {
				continue
			}
			before, _, err := e.Odds(&suspects.Evidence{})
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range before {
				if len(x.Faults) == 1 && w.rates[x.Faults[0]] > 0 && w.sheets[x.Faults[0]] != nil {
					w.has[name] = append(w.has[name], x.Faults[0])
				}
			}
			slices.Sort(w.has[name])
			w.cards, w.with[name] = append(w.cards, name), e
		}
	}
	return w
}

// fault draws one by its rate.
func (w *workshop) fault(rng *rand.Rand, card string) string {
	total := 0.0
	for _, f := range w.has[card] {
		total += w.rates[f]
	}
	u := rng.Float64() * total
	for _, f := range w.has[card] {
		if u -= w.rates[f]; u < 0 {
			return f
		}
	}
	return w.has[card][0]
}

// straight are faults whose size moves numbers along a line.
var straight = []string{"housing", "lead", "allowance", "delay", "damper", "unstored"}

// visit draws an engine, what is wrong with it, and what was seen.
func (w *workshop) visit(seed uint64) (*visit, error) {
	rng := rand.New(rand.NewPCG(seed, 1867))
	v := &visit{ev: &suspects.Evidence{}}
	v.card = w.cards[rng.IntN(len(w.cards))]
	v.e = w.with[v.card]
	var err error
	if v.job, err = shopCard(v.card); err != nil {
		return nil, err
	}
	if rng.Float64() >= w.prior.Nothing {
		v.is = []string{w.fault(rng, v.card)}
		if other := w.fault(rng, v.card); rng.Float64() < w.prior.Pair && other != v.is[0] {
			v.is = append(v.is, other)
		}
	}
	order := v.job.Engine.FiringOrder
	at := rng.IntN(len(order))
	n, next := fmt.Sprint(order[at]), fmt.Sprint(order[(at+1)%len(order)])
	size := math.Exp(0.5 * rng.NormFloat64())
	if rng.IntN(2) == 0 && !slices.Contains(v.is, "delay") {
		size = -size
	}
	off, late := readTo*rng.NormFloat64(), 8*rng.NormFloat64()
	for _, f := range v.is {
		by := 1.0
		if slices.Contains(straight, f) {
			by = size
		}
		off += by * leading(cmp.Or(w.sheets[f]["off"], "0"))
		late += by * leading(cmp.Or(w.sheets[f]["late"], "0"))
	}

	v.shows = map[string]string{}
	for _, key := range slices.Sorted(maps.Keys(w.sheets["nothing"])) {
		sound := w.sheets["nothing"][key]
		value := sound
		switch u := rng.Float64(); {
		case u < asItShows:
			for _, f := range v.is {
				if x, ok := w.sheets[f][key]; ok {
					value = v.sized(f, key, sound, x, size)
				}
			}
		case u < asItShows+asSound:
		default:
			if x, ok := w.sheets[w.fault(rng, v.card)][key]; ok {
				value = x
			}
		}
		value = strings.NewReplacer("[N, next]", "["+n+", "+next+"]", "[N]", "["+n+"]").Replace(value)
		v.shows[strings.Replace(key, " N.", " "+n+".", 1)] = jittered(rng, value)
	}
	v.looks(w, rng, order[at], off, late)
	return v, nil
}

// sized is what a fault shows at a size of it.
func (v *visit) sized(fault, key, sound, shows string, size float64) string {
	if !slices.Contains(straight, fault) {
		return shows
	}
	if x, ok := strings.CutPrefix(shows, "card - "); ok {
		switch key {
		case "settings.lead":
			return fmt.Sprintf("%.1f deg", float64(v.job.Signals.Crank.Lead)-size*leading(x))
		case "settings.allowance":
			return fmt.Sprintf("%.0f us", math.Max(float64(v.job.Controller.DelayAllowance.Or(0))-size*leading(x), 0))
		}
		return ""
	}
	from, to := leading(sound), leading(shows)
	if _, unit, ok := strings.Cut(shows, " "); ok && !math.IsNaN(from+to) {
		return fmt.Sprintf("%.1f %s", from+size*(to-from), unit)
	}
	return shows
}

// jittered is a measured number as another hand would read it, to some two in a hundred.
func jittered(rng *rand.Rand, value string) string {
	number, unit, ok := strings.Cut(value, " ")
	x, err := strconv.ParseFloat(number, 64)
	if !ok || err != nil {
		return value
	}
	return fmt.Sprintf("%.4g %s", x*(1+0.02*rng.NormFloat64()), unit)
}

// looks writes down how the engine goes, some readings with the light, and a few looks more.
func (v *visit) looks(w *workshop, rng *rand.Rand, cylinder int, off, late float64) {
	see := func(id, key string, cyl int) {
		v.off, v.late = off+readTo*rng.NormFloat64(), late
		text := ""
		if a := (&suspects.Advice{ID: id, Key: key, Cylinder: cyl}); !math.IsNaN(off+late) || key != "light.shown" {
			text = v.answer(v.job, w.sheets, a)
		}
		if text == "" {
			return
		}
		if more, err := suspects.ReadEvidence("visit", []byte(text)); err == nil { // a look that this reader has no words for
			join(reflect.ValueOf(v.ev).Elem(), reflect.ValueOf(more).Elem())
		}
	}
	see("starting", "engine.starting", 0)
	if v.shows["engine.starting"] == "starts" {
		see("running", "engine.running", 0)
		if v.shows["engine.running"] == "runs rough" && rng.Float64() < 0.7 {
			see("misfire", "misfires", 0)
		}
		speeds := []float64{float64(v.job.Engine.IdleSpeed), 1800, 0.7 * float64(v.job.Engine.Redline)}
		for _, rpm := range speeds[:rng.IntN(4)] {
			see(fmt.Sprintf("light %.0f wire 1", rpm), "light.shown", 0)
		}
		if rng.Float64() < 0.3 {
			see(fmt.Sprintf("flashes %.0f wire 1", speeds[0]), "light.flashes", 0)
		}
	}
	var keys []string
	for key := range w.sheets["nothing"] {
		section, _, nested := strings.Cut(key, ".")
		if key == "off" || key == "late" || section == "light" || section == "lamps" || key == "housing.turn_to_edge" ||
			slices.Contains([]string{"engine.starting", "engine.running", "engine.misfire"}, key) ||
			!nested && key != "spark" && key != "compression" && key != "chain_marks" {
			continue
		}
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for range rng.IntN(mostLooked + 1) {
		key, cyl := keys[rng.IntN(len(keys))], 0
		if rest, ok := strings.CutPrefix(key, "cylinders N."); ok {
			key, cyl = "cylinders."+rest, cylinder
		}
		see(key, key, cyl)
	}
}

// On looks that were taken blindly what comes first is true as often as its odds come out, before they are raised to a
// power. The power is for evidence that somebody took for what it tells (TestShopCases): on blind looks what is said is
// too sure.
func TestOddsComeOutTrue(t *testing.T) {
	w := newWorkshop(t)
	n := few(150 * scale())
	said, truths, failed := make([]float64, n), make([]bool, n), make([]error, n)
	next := make(chan int)
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for i := range next {
				v, err := w.visit(fresh() + uint64(i))
				if err != nil {
					failed[i] = err
					continue
				}
				first, err := v.e.AsWeighed(v.ev)
				if err != nil {
					failed[i] = err
					continue
				}
				said[i], truths[i] = first.Probability, cameTrue(first, v.is)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	all.Wait()
	var x tenths
	for i := range n {
		if failed[i] != nil {
			t.Fatalf("visit %d: %v", i, failed[i])
		}
		x.add(said[i], truths[i])
	}
	x.print(t)
	x.check(t)
}
