package suspects_test

import (
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
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

func shopCard(t testing.TB, name string) *jobcard.Card {
	t.Helper()
	for _, dir := range []string{"../examples/", "testdata/cards/"} {
		if data, err := os.ReadFile(dir + name + ".yaml"); err == nil {
			card, err := jobcard.Parse(name, data)
			if err != nil {
				t.Fatal(err)
			}
			return card
		}
	}
	t.Fatalf("no card %s", name)
	return nil
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
	if v != "card" { // by a rule in words
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
	tenths                                     [10]struct{ n, said, right float64 }
	lines                                      []string
}

// shopResult is one case, ranked and followed by up to two looks.
type shopResult struct {
	c       *shopCase
	r, last *suspects.Result
	looks   []string
}

func runCase(t testing.TB, c *shopCase, sheets map[string]map[string]string) (*shopResult, error) {
	card := shopCard(t, c.card)
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

func holds2(s suspects.Suspect, is []string) bool {
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

func tallyOf(t testing.TB, set string) map[string]*tally {
	t.Helper()
	sheets := readSheets(t)
	out := map[string]*tally{"single": {}, "double": {}, "sound": {}}
	for _, c := range readCases(t, set) {
		x, err := runCase(t, c, sheets)
		if err != nil {
			t.Errorf("%s: %s: %v", c.file, c.name, err)
			continue
		}
		k := out[c.kind()]
		k.of++
		first := x.r.Suspects[0]
		good, near := holds2(first, c.is), false
		switch c.kind() {
		case "double":
			var three []string
			for _, s := range x.r.Suspects[:min(3, len(x.r.Suspects))] {
				three = append(three, s.Faults...)
			}
			good = holds2(suspects.Suspect{Faults: three}, c.is)
		case "sound":
			if !good && first.Name != suspects.NoneOfThese {
				k.accused++
			}
		default:
			near = !good && slices.ContainsFunc(first.Faults, func(f string) bool { return slices.Contains(c.beside, f) }) &&
				slices.ContainsFunc(x.r.Suspects[:min(4, len(x.r.Suspects))], func(s suspects.Suspect) bool { return holds2(s, c.is) })
		}
		if good {
			k.first++
		}
		if good || near {
			k.firstOrBeside++
		}
		settled := x.last.Settled && holds2(x.last.Suspects[0], c.is)
		if settled {
			k.settled++
		}
		if f := os.Getenv("SHOP_ODDS"); f != "" {
			for stage, r := range []*suspects.Result{x.r, x.last} {
				line := fmt.Sprint(set, " ", c.kind(), " ", stage)
				for _, s := range r.Suspects {
					line += fmt.Sprintf(" %.4f:%v", s.Probability, holds2(s, c.is))
				}
				out, _ := os.OpenFile(f, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
				fmt.Fprintln(out, line)
				out.Close()
			}
		}
		tenth := &k.tenths[min(int(first.Probability*10), 9)]
		tenth.n++
		tenth.said += first.Probability
		if holds2(first, c.is) {
			tenth.right++
		}
		if !good || !settled {
			mark := "   "
			if !good {
				mark = "## "
				if near {
					mark = "~~ "
				}
			}
			line := fmt.Sprintf("%s%s %s [%s] is %v beside %v: %s", mark, c.file, c.name, c.card, c.is, c.beside, top(x.r, 5))
			if !settled {
				line += fmt.Sprintf("\n       looks %s\n       then %s", strings.Join(x.looks, " | "), top(x.last, 4))
			}
			k.lines = append(k.lines, line)
		}
	}
	return out
}

func TestShopCases(t *testing.T) {
	for _, set := range strings.Fields(os.Getenv("SHOP_CASES")) {
		all := tallyOf(t, set)
		for _, kind := range slices.Sorted(maps.Keys(all)) {
			k := all[kind]
			for _, l := range k.lines {
				t.Log(l)
			}
			t.Logf("%s %s: %d, first %d, first or beside %d, settled within two looks %d, accused %d", set, kind, k.of, k.first,
				k.firstOrBeside, k.settled, k.accused)
			for i, x := range k.tenths {
				if x.n > 0 {
					t.Logf("   tenth %d: %g cases, said %.2f, right %.2f", i, x.n, x.said/x.n, x.right/x.n)
				}
			}
		}
	}
}
