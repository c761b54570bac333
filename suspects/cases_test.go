package suspects_test

import (
	"fmt"
	"math"
	"os"
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

// The files in testdata/shop were written by hand from the trade (common practice), by people who had not seen this
// package: what came through a workshop's door, what was wrong, and what a further look would have shown. sheets.txt
// answers looks that a case itself does not. Nothing in them was made by the bench.

// shopCase is one of them.
type shopCase struct {
	file, name, card string
	is, beside       []string // names of faults; is empty for a sound engine
	off, late        float64
	seen             string
	shows            map[string]string
}

func (c *shopCase) kind() string { return [...]string{"sound", "single", "double"}[len(c.is)] }

func readCases(t testing.TB, set string) (out []*shopCase) {
	t.Helper()
	files, err := filepath.Glob("testdata/shop/" + set + "-*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no cases: %v", err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var c *shopCase
		part := ""
		for at, line := range strings.Split(string(data), "\n") {
			switch {
			case strings.HasPrefix(line, "== "):
				c = &shopCase{file: filepath.Base(file), name: line[3:], shows: map[string]string{}}
				out, part = append(out, c), "head"
			case line == "-- seen", line == "-- would show":
				part = line
			case c == nil || strings.TrimSpace(line) == "" && part != "-- seen" || strings.HasPrefix(line, "#"):
			case part == "-- seen":
				c.seen += line + "\n"
			default:
				key, value, ok := cutKey(line)
				if !ok {
					t.Fatalf("%s:%d: %q is no key: value", file, at+1, line)
				}
				if part == "head" {
					c.head(t, key, value)
				} else {
					c.shows[key] = value
				}
			}
		}
	}
	return out
}

// cutKey parts "lamps at 63 deg.crank: low" at its colon.
func cutKey(line string) (key, value string, ok bool) {
	key, value, ok = strings.Cut(line, ":")
	value = strings.TrimSpace(value)
	if i := strings.Index(value, " #"); i >= 0 {
		value = strings.TrimSpace(value[:i])
	}
	return strings.TrimSpace(key), strings.Trim(value, `"`), ok
}

func (c *shopCase) head(t testing.TB, key, value string) {
	t.Helper()
	list := func() (out []string) {
		for _, x := range strings.Split(value, ",") {
			if x = strings.TrimSpace(x); x != "" && x != "nothing" {
				out = append(out, x)
			}
		}
		return out
	}
	switch key {
	case "card":
		c.card = value
	case "is":
		c.is = list()
	case "beside":
		c.beside = list()
	case "off":
		c.off = leading(value)
	case "late":
		c.late = leading(value)
	}
}

// leading is the number that a text begins with.
func leading(s string) float64 {
	f := strings.Fields(s)
	if len(f) == 0 {
		return 0
	}
	x, err := strconv.ParseFloat(f[0], 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

func shopCard(name string) (*jobcard.Card, error) {
	for _, dir := range []string{"../examples/", "testdata/cards/"} {
		if data, err := os.ReadFile(dir + name + ".yaml"); err == nil {
			return jobcard.Parse(name, data)
		}
	}
	return nil, fmt.Errorf("no card %s", name)
}

// readSheets gives what looks show by fault; "nothing" is the sound engine.
func readSheets(t testing.TB) map[string]map[string]string {
	t.Helper()
	data, err := os.ReadFile("testdata/shop/sheets.txt")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	now := ""
	for _, line := range strings.Split(string(data), "\n") {
		switch {
		case strings.HasPrefix(line, "== "):
			now = strings.TrimSpace(line[3:])
			out[now] = map[string]string{}
		case now == "" || strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#"):
		default:
			if key, value, ok := cutKey(line); ok {
				out[now][key] = value
			}
		}
	}
	return out
}

// answer is what a look would show, as lines of an evidence file; empty where nobody wrote it down.
func (c *shopCase) answer(card *jobcard.Card, sheets map[string]map[string]string, a *suspects.Advice) string {
	section, key, nested := strings.Cut(a.Key, ".")
	if !nested {
		section, key = "", a.Key
	}
	entry := func(text string) string { // one key of its section
		switch {
		case section == "" && key == "misfires":
			return "engine: {misfire: " + text + "}\n"
		case section == "":
			return key + ": " + quotedWord(text) + "\n"
		case section == "cylinders":
			return fmt.Sprintf("cylinders: [{cylinder: %d, %s: %s}]\n", a.Cylinder, key, quotedWord(text))
		}
		return section + ": {" + key + ": " + quotedWord(text) + "}\n"
	}
	var rpm float64
	wire := 1
	if n, _ := fmt.Sscanf(strings.TrimPrefix(a.ID, "other "), "light %f wire %d", &rpm, &wire); n == 2 {
		return c.lightAt(card, sheets, rpm, wire, strings.HasPrefix(a.ID, "other "))
	}
	if n, _ := fmt.Sscanf(a.ID, "flashes %f wire %d", &rpm, &wire); n == 2 {
		return c.flashesAt(sheets, rpm, wire)
	}
	if strings.HasPrefix(a.ID, "lamp ") {
		f := strings.Fields(a.ID)
		at, _ := strconv.ParseFloat(f[2], 64)
		for k, v := range c.shows {
			var x float64
			if n, _ := fmt.Sscanf(k, "lamps at %f deg", &x); n == 1 && math.Abs(x-at) < 1.6 && strings.HasSuffix(k, "."+f[1]) {
				return fmt.Sprintf("lamps: [{at: %g deg, %s: %s}]\n", at, f[1], quotedWord(v))
			}
		}
		key = f[1]
		if v := c.look(sheets, "lamps."+key); !strings.HasPrefix(v, "card") && v != "" {
			return fmt.Sprintf("lamps: [{at: %g deg, %s: %s}]\n", at, key, v)
		}
		return ""
	}
	look := a.Key
	if a.Key == "misfires" {
		look = "engine.misfire"
	}
	if section == "cylinders" {
		look = fmt.Sprintf("cylinders %d.%s", a.Cylinder, key)
	}
	if a.Key == "piston_stop.before" {
		before, after := c.look(sheets, "piston_stop.before"), c.look(sheets, "piston_stop.after")
		if before == "" || after == "" || strings.Contains(before+after, "card") {
			return ""
		}
		return fmt.Sprintf("piston_stop: {before: %s, after: %s}\n", before, after)
	}
	v := c.look(sheets, look)
	if a.Key == "housing.turn_to_edge" && c.shows[look] == "" { // the sheets' sign is another
		return ""
	}
	switch {
	case v == "":
		return ""
	case strings.HasPrefix(v, "card"):
		return c.byCard(card, a.Key, v, entry)
	}
	return entry(v)
}

// quotedWord keeps YAML from reading on, off, yes and no as something else.
func quotedWord(s string) string {
	switch s {
	case "on", "off", "yes", "no":
		return `"` + s + `"`
	}
	return s
}

// look is what a look shows by the case, by the sheets of its faults, by that of a sound engine.
func (c *shopCase) look(sheets map[string]map[string]string, key string) string {
	if v, ok := c.shows[key]; ok {
		return v
	}
	general := key
	if n := 0; strings.HasPrefix(key, "cylinders ") {
		fmt.Sscanf(key, "cylinders %d.", &n)
		general = "cylinders N." + key[strings.Index(key, ".")+1:]
	}
	for _, f := range c.is {
		if v, ok := sheets[f][general]; ok && !strings.Contains(v, "N") {
			return v
		}
	}
	v := sheets["nothing"][general]
	if strings.Contains(v, "N") {
		return ""
	}
	return v
}

// byCard fills in what follows from the card.
func (c *shopCase) byCard(card *jobcard.Card, key, v string, entry func(string) string) string {
	if v != "card" || card == nil { // by a rule in words
		return ""
	}
	k := card.Controller
	switch key {
	case "settings.lead":
		return entry(fmt.Sprintf("%g deg", float64(card.Signals.Crank.Lead)))
	case "settings.edge":
		return entry(string(card.Signals.Crank.ActiveEdge))
	case "settings.allowance":
		return entry(fmt.Sprintf("%g us", float64(k.DelayAllowance.Or(0))))
	case "settings.dwell", "capture.dwell":
		return entry(fmt.Sprintf("%g us", float64(card.Ignition.Dwell.Or(0))))
	case "capture.crank_edges":
		return entry(fmt.Sprint(card.Engine.Cylinders))
	case "coil.primary":
		if r := float64(card.Coil.Resistance); r > 0 {
			return entry(fmt.Sprintf("%g ohm", r))
		}
	}
	return ""
}

// lightAt is a reading: as the case has it for that wire and about that speed, else by its constant error and delay.
func (c *shopCase) lightAt(card *jobcard.Card, sheets map[string]map[string]string, rpm float64, wire int, other bool) string {
	also := ""
	if other {
		also = ", which: other"
	}
	best, off := "", 0.3
	for k, v := range c.shows {
		var n float64
		w := 0
		if got, _ := fmt.Sscanf(k, "light %f rpm wire %d", &n, &w); got != 2 || w != wire || strings.HasSuffix(k, ".flashes") ||
			strings.HasSuffix(k, ".tacho") || other {
			continue
		}
		if d := math.Abs(math.Log(n / rpm)); d < off {
			best, off = v, d
		}
	}
	if best != "" {
		return fmt.Sprintf("light: [{speed: %g rpm, wire: %d, shown: %s}]\n", rpm, wire, best)
	}
	if wire != 1 && (len(c.is) > 0 || c.off != 0) && !other {
		return ""
	}
	told, given := card.Controller.Advance.Locked.Get()
	if rpm < float64(card.Engine.IdleSpeed)/2 {
		told, given = card.Controller.Advance.Cranking.Get()
	}
	if !given || c.noLight(sheets) {
		return ""
	}
	return fmt.Sprintf("light: [{speed: %g rpm, wire: %d, shown: %.1f deg%s}]\n", rpm, wire,
		float64(told)+c.off-6e-6*rpm*c.late, also)
}

// noLight says whether the light follows no line here: what it shows was to be written down.
func (c *shopCase) noLight(sheets map[string]map[string]string) bool {
	for _, f := range c.is {
		if v := sheets[f]["light.shown"]; v != "" || slices.Contains([]string{"dial", "flashes", "lightdelay"}, f) {
			return true
		}
	}
	return false
}

func (c *shopCase) flashesAt(sheets map[string]map[string]string, rpm float64, wire int) string {
	for k, v := range c.shows {
		var n float64
		w := 0
		if got, _ := fmt.Sscanf(k, "light %f rpm wire %d", &n, &w); got == 2 && w == wire && strings.HasSuffix(k, ".flashes") &&
			math.Abs(math.Log(n/rpm)) < 0.4 {
			return fmt.Sprintf("light: [{speed: %g rpm, wire: %d, flashes: %s}]\n", rpm, wire, v)
		}
	}
	if v := c.look(sheets, "light.flashes"); v != "" && wire == 1 {
		return fmt.Sprintf("light: [{speed: %g rpm, wire: %d, flashes: %s}]\n", rpm, wire, v)
	}
	return ""
}

// join puts one piece of evidence beside another: lists are lengthened, what is there is overwritten.
func join(to, from reflect.Value) {
	switch from.Kind() {
	case reflect.Struct:
		for i := range from.NumField() {
			join(to.Field(i), from.Field(i))
		}
	case reflect.Slice:
		if to.IsNil() || from.Len() > 0 {
			to.Set(reflect.AppendSlice(to, from))
		}
	case reflect.Map:
		if from.Len() > 0 {
			m := reflect.MakeMap(from.Type())
			for _, x := range []reflect.Value{to, from} {
				for _, k := range x.MapKeys() {
					m.SetMapIndex(k, x.MapIndex(k))
				}
			}
			to.Set(m)
		}
	case reflect.Pointer:
		switch {
		case from.IsNil():
		case to.IsNil() || from.Elem().Kind() != reflect.Struct || from.Type() != reflect.TypeFor[*suspects.Seen]():
			to.Set(from)
		default:
			join(to.Elem(), from.Elem())
		}
	default:
		if !from.IsZero() {
			to.Set(from)
		}
	}
}

// tally is how a set of cases came out.
type tally struct {
	of, first, firstOrBeside, settled, accused int
	tenths                                     tenths
	lines                                      []string
}

// shopResult is one case, ranked and followed by up to two looks.
type shopResult struct {
	c       *shopCase
	r, last *suspects.Result
	looks   []string
}

func runCase(c *shopCase, sheets map[string]map[string]string) (*shopResult, error) {
	card, err := shopCard(c.card)
	if err != nil {
		return nil, err
	}
	ev, err := suspects.ReadEvidence(c.file, []byte(c.seen))
	if err != nil {
		return nil, err
	}
	e, err := suspects.New(card, suspects.DefaultPriors())
	if err != nil {
		return nil, err
	}
	r, err := e.Explain(ev, suspects.Limits{})
	if err != nil {
		return nil, err
	}
	out := &shopResult{c: c, r: r, last: r}
	for range 2 {
		if out.last.Settled || out.last.Next == nil {
			break
		}
		// a look that nobody wrote down cannot be made: then the next that is advised
		text := ""
		for i := range out.last.Observations {
			a := &out.last.Observations[i]
			if text = c.answer(card, sheets, a); text != "" {
				out.looks = append(out.looks, fmt.Sprintf("%s → %s", a.ID, strings.TrimSpace(text)))
				break
			}
			out.looks = append(out.looks, a.ID+" (not written down)")
		}
		if text == "" {
			break
		}
		more, err := suspects.ReadEvidence(c.file, []byte(text))
		if err != nil {
			return nil, fmt.Errorf("answer %s: %w", text, err)
		}
		join(reflect.ValueOf(ev).Elem(), reflect.ValueOf(more).Elem())
		if out.last, err = e.Explain(ev, suspects.Limits{}); err != nil {
			return nil, fmt.Errorf("after %s: %w", text, err)
		}
	}
	return out, nil
}

func holds(s suspects.Suspect, is []string) bool {
	if len(is) == 0 {
		return s.Name == suspects.NothingWrong
	}
	for _, f := range is {
		if !slices.Contains(s.Faults, f) {
			return false
		}
	}
	return true
}

// cameTrue says whether what a line says is so: all faults of one of its explanations are there. A second fault may
// stand beside them, of which the evidence need not speak.
func cameTrue(s suspects.Suspect, is []string) bool {
	if s.Name == suspects.NoneOfThese {
		return false
	}
	for _, m := range s.Members {
		if isTrue(m.Faults, is) {
			return true
		}
	}
	return len(s.Members) == 0 && isTrue(s.Faults, is)
}

// hadRight says whether the truth stands first; for two faults, whether both stand in the first three lines.
func (x *shopResult) hadRight() bool {
	if x.c.kind() != "double" {
		return holds(x.r.Suspects[0], x.c.is)
	}
	var three []string
	for _, s := range x.r.Suspects[:min(3, len(x.r.Suspects))] {
		three = append(three, s.Faults...)
	}
	return holds(suspects.Suspect{Faults: three}, x.c.is)
}

// hadNear says whether what the case's author put beside the truth stands first, with the truth in the first four
// lines: what was seen fits both.
func (x *shopResult) hadNear() bool {
	return x.c.kind() == "single" &&
		slices.ContainsFunc(x.r.Suspects[0].Faults, func(f string) bool { return slices.Contains(x.c.beside, f) }) &&
		slices.ContainsFunc(x.r.Suspects[:min(4, len(x.r.Suspects))], func(s suspects.Suspect) bool {
			return holds(s, x.c.is)
		})
}

// add counts a case.
func (k *tally) add(x *shopResult) {
	k.of++
	first := x.r.Suspects[0]
	good, near := x.hadRight(), x.hadNear()
	settled := x.last.Settled && holds(x.last.Suspects[0], x.c.is)
	if good {
		k.first++
	}
	if good || near {
		k.firstOrBeside++
	}
	if settled {
		k.settled++
	}
	if x.c.kind() == "sound" && !good && first.Name != suspects.NoneOfThese {
		k.accused++
	}
	k.tenths.add(first.Probability, cameTrue(first, x.c.is))
	if good && settled {
		return
	}
	mark := "      "
	if near {
		mark = "beside"
	} else if !good {
		mark = "missed"
	}
	line := fmt.Sprintf("%s %s %s [%s] is %v beside %v: %s", mark, x.c.file, x.c.name, x.c.card, x.c.is, x.c.beside,
		top(x.r, 5))
	if !settled {
		line += fmt.Sprintf("\n       looks %s\n       then %s", strings.Join(x.looks, " | "), top(x.last, 4))
	}
	k.lines = append(k.lines, line)
}

// tallyOf ranks the cases of a set, a few at a time, and counts them by kind in the order of the files.
func tallyOf(t *testing.T, set string) map[string]*tally {
	t.Helper()
	sheets, cases := readSheets(t), readCases(t, set)
	if scale() == 1 { // every second one; SUSPECTS_TRIALS=2 takes all
		half := cases[:0]
		for i := 0; i < len(cases); i += 2 {
			half = append(half, cases[i])
		}
		cases = half
	}
	results := make([]*shopResult, len(cases))
	wrong := make([]error, len(cases))
	next := make(chan int)
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for i := range next {
				results[i], wrong[i] = runCase(cases[i], sheets)
			}
		})
	}
	for i := range cases {
		next <- i
	}
	close(next)
	all.Wait()
	out := map[string]*tally{"single": {}, "double": {}, "sound": {}}
	for i, c := range cases {
		if wrong[i] != nil {
			t.Errorf("%s: %s: %v", c.file, c.name, wrong[i])
			continue
		}
		out[c.kind()].add(results[i])
	}
	return out
}

// The cases as a workshop would meet them. The sets were written by people who had not seen the ranking, and measured
// once before anybody of its side looked at them: of exam 72 of 80 single faults stood first, of last 55 of 60, of
// fresh 43 of 50, one sound engine of 50 was accused. What those showed has been learnt from since, so that their
// figures of today say how well the ranking knows them. Of sealed, written and measured last, 115 of 120 stood first
// and no sound engine of 24 was accused; only the power of the odds (sharper) has been fitted to it with the others:
// write the next to judge that anew.
func TestShopCases(t *testing.T) {
	sets := []string{"dev", "exam", "last", "fresh", "sealed", "blind"}
	if testing.Short() {
		sets = sets[4:]
	}
	var every tenths
	for _, set := range sets {
		t.Run(set, func(t *testing.T) {
			all := tallyOf(t, set)
			var ofSet tenths
			for _, kind := range []string{"single", "double", "sound"} {
				k := all[kind]
				for _, l := range k.lines {
					t.Log(l)
				}
				t.Logf("%s: %d cases; right %d, right or beside %d, accused %d, settled rightly within two looks %d",
					kind, k.of, k.first, k.firstOrBeside, k.accused, k.settled)
				ofSet.join(&k.tenths)
			}
			ofSet.print(t)
			every.join(&ofSet)
			for _, limit := range []struct {
				what   string
				n, of  int
				least  float64
				atMost bool
			}{
				{"single faults put first, or second to what was seen fits too", all["single"].firstOrBeside,
					all["single"].of, 0.95, false},
				{"double faults with both in the first three", all["double"].first, all["double"].of, 0.7, false},
				{"sound engines accused", all["sound"].accused, all["sound"].of, 0.03, true},
				{"single faults settled rightly within two looks", all["single"].settled, all["single"].of, 0.85, false},
			} {
				share := float64(limit.n) / float64(limit.of)
				t.Logf("%s: %d of %d (%.1f %%)", limit.what, limit.n, limit.of, 100*share)
				if limit.of == 0 || !limit.atMost && share < limit.least || limit.atMost && share > limit.least {
					t.Errorf("%s: %d of %d, the limit is %g %%", limit.what, limit.n, limit.of, 100*limit.least)
				}
			}
		})
	}
	t.Log("all sets:")
	every.print(t)
	every.check(t)
}
