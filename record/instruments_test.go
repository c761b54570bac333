package record

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/readings"
)

// lamp, tacho and stop are invented instruments.
var (
	lamp = Instrument{ID: "l", Kind: timingLight, Name: "Bow lamp", Number: "L-2", Checked: "2026-02-01", U: "0,4 deg",
		Known: certificate}
	tacho = Instrument{ID: "t", Kind: tachometer, Name: "Bench tacho", Number: "T-1", U: "0.2 %", Known: makers}
	stop  = Instrument{ID: "s", Kind: pistonStop, Name: "Stop", U: "0.1 mm", Known: comparison}
)

func (s *tale) used(i Instrument) *tale { return s.and(book.KindInstrumentUsed, i) }

// share is a line of the proof's budget; the zero Line where there is none.
func share(t *testing.T, j *Job, name string) (l readings.Line, squares float64) {
	t.Helper()
	p, err := j.Proof()
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range p.Budget {
		squares += float64(one.U) * float64(one.U)
		if one.Name == name {
			l = one
		}
	}
	return l, squares
}

// What is picked in a job changes the budget of its proof by the right amount, by hand (JCGM 100, 4.3.3, 4.3.7, eq. 10):
// a certificate's ± 0.4° (k = 2) is u = 0.2°; a maker's ± 0.2 % is u = 0.2/√3 %, against 1/√3 % assumed before.
func TestInstrumentsFeedTheBudget(t *testing.T) {
	s := proved(t)
	was := s.job()
	if l, _ := share(t, was, "tachometer"); !l.Assumed {
		t.Fatalf("without instruments the tachometer is %+v", l)
	}
	before, squares := share(t, was, "tachometer")
	s.used(lamp).used(tacho).used(stop)
	j := s.job()
	if j.Signed != nil || was.Signed == nil || len(was.Instruments) != 0 || j.SameGround(was.Version) {
		t.Error("a proof signed before the instruments were picked stands")
	}
	light, now := share(t, j, "timing light")
	after, _ := share(t, j, "tachometer")
	if math.Abs(float64(light.U)-0.2) > 1e-9 || light.Assumed ||
		light.Source != "Bow lamp, L-2: ± 0.4°, certificate, checked 2026-02-01" {
		t.Errorf("the light's share: %+v", light)
	}
	if r := float64(after.U) / float64(before.U); math.Abs(r-0.2) > 1e-6 || after.Assumed {
		t.Errorf("the tachometer's share went from %v to %v, want a fifth", before.U, after.U)
	}
	want := squares + 0.2*0.2 - float64(before.U)*float64(before.U) + float64(after.U)*float64(after.U)
	if math.Abs(now-want) > 1e-9 {
		t.Errorf("sum of squares %v, by hand %v", now, want)
	}
	p, _ := j.Proof()
	for _, w := range p.Warnings {
		if strings.HasPrefix(w, "tachometer") {
			t.Errorf("still assumed: %s", w)
		}
	}
	// Put back, the budget is as it was.
	s.and(book.KindInstrumentUnused, map[string]string{"id": "l"}).and(book.KindInstrumentUnused, map[string]string{"id": "t"})
	if _, back := share(t, s.job(), ""); math.Abs(back-squares) > 1e-12 {
		t.Errorf("sum of squares %v, before %v", back, squares)
	}
	if got := s.job().Instruments; !reflect.DeepEqual(got, []Instrument{stop}) {
		t.Errorf("left are %+v", got)
	}
}

// A tachometer known in rpm counts by its share at idle, where that is largest: 7.5 of 750 rpm is 1 %.
func TestTachometerInRPM(t *testing.T) {
	c, ok := Instrument{Kind: tachometer, U: "7.5 rpm", Known: comparison}.common(750)
	if !ok || math.Abs(c.Limit-0.01) > 1e-12 || c.Effect != readings.SpeedScale {
		t.Errorf("%+v, %v", c, ok)
	}
	late, ok := Instrument{Kind: timingLight, U: "20 us", Known: assumed}.common(750)
	if !ok || late.Effect != readings.LateFlash || late.Limit != 20 || !late.Assumed {
		t.Errorf("%+v, %v", late, ok)
	}
	if _, ok := stop.common(750); ok {
		t.Error("a piston stop changes what a light reading is worth")
	}
}

// An event that names nothing does not count, is kept, and nothing of another job changes by folding.
func TestInstrumentEvents(t *testing.T) {
	s := carded(t).used(lamp)
	held := s.job()
	again := lamp
	again.U = "0.3 deg"
	s.used(again).and(book.KindInstrumentUsed, "?").and(book.KindInstrumentUsed, map[string]string{"name": "no id"})
	j := s.job()
	if len(j.Instruments) != 1 || j.Instruments[0].U != "0.3 deg" || held.Instruments[0].U != "0,4 deg" {
		t.Errorf("now %+v, before %+v", j.Instruments, held.Instruments)
	}
	if j.Why(3) != "" || j.Why(4) == "" || j.Why(5) == "" {
		t.Errorf("why: %q, %q, %q", j.Why(3), j.Why(4), j.Why(5))
	}
	if got := j.measuredWith(); len(got) != 1 || got[0].Uncertainty != "± 0.3°" || got[0].Number != "L-2" {
		t.Errorf("on paper: %+v", got)
	}
}

func TestInstrumentCheck(t *testing.T) {
	today := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	for want, change := range map[string]func(*Instrument){
		"": func(*Instrument) {}, "name": func(i *Instrument) { i.Name = " " },
		"kind": func(i *Instrument) { i.Kind = "hammer" }, "known": func(i *Instrument) { i.Known = "" },
		"checked": func(i *Instrument) { i.Checked = "2027-01-01" }, "u": func(i *Instrument) { i.U = "" },
	} {
		i := lamp
		change(&i)
		if field, problem := i.Check(today); field != want || (problem == "") != (want == "") {
			t.Errorf("%q: %q %q", want, field, problem)
		}
	}
	for _, bad := range []string{"1", "0.4", "-1 deg", "0 deg", "90 deg", "0.4 mm", "0.4 %", "NaN deg", "1e9 us", "%", "deg"} {
		i := lamp
		i.U = bad
		if field, _ := i.Check(today); field != "u" {
			t.Errorf("a light known to %q passes", bad)
		}
	}
	for kind, good := range map[string][]string{timingLight: {"0.5 deg", "0,5°", "15 us"}, tachometer: {"0.2%", "0,2 %", "5 rpm"},
		recorder: {"0.01 %", "5 us"}, pistonStop: {"0.2 deg", "0.1 mm", "0.004 in"}, dividers: {"0.1 mm", "0.005 in"}} {
		for _, u := range good {
			i := Instrument{ID: "x", Kind: kind, Name: "x", U: u, Known: makers}
			if field, problem := i.Check(today); field != "" {
				t.Errorf("%s, %s: %s %s", kind, u, field, problem)
			}
		}
	}
	if field, problem := (Instrument{Kind: dividers, Name: "x", Known: assumed}).Check(today); field != "" {
		t.Errorf("an unknown uncertainty is refused: %s %s", field, problem)
	}
}

// The last of an id counts; what is gone stands last.
func TestListOfInstruments(t *testing.T) {
	s := begin(t).and(book.KindInstrumentListed, stop).and(book.KindInstrumentListed, tacho).and(book.KindInstrumentListed, lamp)
	gone := lamp
	gone.Gone = true
	s.and(book.KindInstrumentListed, gone).and(book.KindInstrumentListed, "?")
	var ids string
	for _, i := range ListOf(s.events) {
		ids += i.ID
	}
	if ids != "tsl" {
		t.Errorf("listed in the order %s", ids)
	}
}
