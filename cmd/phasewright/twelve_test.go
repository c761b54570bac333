package main

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/readings"
	"phasewright/verdict"
	"phasewright/web"
	"phasewright/web/webtest"
	"phasewright/words/plain"
)

// seenJob is a job with the evidence that a technician has of it, and what a judge must make of that. Engine and figures
// are invented: six cylinders, vanes of 15° and twelve teeth, so that the other edge stands 30° of crank away, a tooth
// 60°, the next wire 120°; the zero mark is proven and the light checked.
type seenJob struct {
	name string

	ordered  bool          // worked by the order of work, and signed
	light    [][2]float64  // rpm, degrees BTDC shown; the timing is locked at 8°
	wire     [2]float64    // cylinder and degrees of a reading on another wire, at 1,500 rpm; 0: none
	locked   float64       // of the light's readings, where it is not 8°
	recorded *bench.Faults // a recording of the bench with these; nil: none

	word    verdict.Word
	verdict readings.Verdict
	cures   bool
	clause  verdict.ID // the one that tells
	state   verdict.State
	short   bool // also in the short run
}

func at(shown ...float64) [][2]float64 {
	out := [][2]float64{}
	for i, n := range []float64{800, 1500, 2200, 3000, 3700, 800, 2200, 3700}[:len(shown)] {
		out = append(out, [2]float64{n, shown[i]})
	}
	return out
}

func twelveJobs() []seenJob {
	const yet, fails = verdict.NotShownYet, verdict.Fails
	return []seenJob{
		{name: "sound", ordered: true, word: verdict.Pass, verdict: readings.Pass,
			clause: verdict.Held, state: verdict.Shown},
		{name: "housing off", light: at(11, 11.1, 10.9, 11, 11.1, 10.9, 11, 11.1), word: fails,
			verdict: readings.Adjust, cures: true, clause: verdict.Timing, state: verdict.Broken, short: true},
		{name: "allowance off", light: at(8.6, 9.1, 9.6, 10.2, 10.7, 8.5, 9.7, 10.6), word: fails,
			verdict: readings.Adjust, cures: true, clause: verdict.Timing, state: verdict.Broken},
		{name: "wrong edge", light: at(38, 38.1, 37.9, 38, 38.1, 38, 37.9, 38.1), word: fails,
			verdict: readings.LookElsewhere, clause: verdict.Timing, state: verdict.Broken, short: true},
		{name: "a tooth out", light: at(-52, -51.9, -52.1, -52, -51.9, -52, -52.1, -52), word: fails,
			verdict: readings.LookElsewhere, clause: verdict.Timing, state: verdict.Broken},
		{name: "wires crossed", light: at(8, 8.1, 8, 7.9, 8, 8.1, 8, 7.9), wire: [2]float64{5, 128}, word: fails,
			verdict: readings.LookElsewhere, clause: verdict.EveryCylinder, state: verdict.Broken},
		{name: "not locked", light: at(8, 14, 21, 27, 28, 8.1, 21.2, 28.1), word: fails,
			verdict: readings.NotALine, clause: verdict.Locked, state: verdict.Broken},
		{name: "two sparks counted", light: at(24, 24.1, 23.9, 24, 24.1, 24, 23.9, 24.1), locked: 12, word: fails,
			verdict: readings.LookElsewhere, clause: verdict.Timing, state: verdict.Broken},
		{name: "clamp walks", light: at(8, 7.5, 7, 6.5, 6, 5.5, 5, 4.5), word: yet,
			verdict: readings.LookElsewhere, clause: verdict.Timing, state: verdict.Open},
		{name: "a vane bent", recorded: &bench.Faults{Vane: 1.5}, word: fails,
			verdict: readings.LookElsewhere, clause: verdict.EveryCylinder, state: verdict.Broken, short: true},
		{name: "dwell not as set", recorded: &bench.Faults{Dwell: 1200, Housing: 1.5}, word: fails,
			verdict: readings.LookElsewhere, clause: verdict.Spark, state: verdict.Broken},
		{name: "light and recording differ", light: at(6.7, 6.8, 6.6, 6.7, 6.8, 6.7, 6.6, 6.7),
			recorded: &bench.Faults{Housing: 1.5}, word: yet,
			verdict: readings.LookElsewhere, clause: verdict.Timing, state: verdict.AtOdds},
	}
}

// One engine, one verdict: command, page, JSON and paper say of each job what its judge says, and nothing advises a
// turn that the judge does not advise.
func TestTwelveJobsOneVerdict(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.book")
	b, err := book.Open(t.Context(), path, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	s := webtest.NewShop(t, func(c *web.Config) { c.Book = b })
	s.Book = b
	for _, k := range twelveJobs() {
		if testing.Short() && !k.short {
			continue
		}
		t.Run(k.name, func(t *testing.T) {
			s.T = t
			v := surfaces{t: t, shop: s, book: path, dir: t.TempDir(), id: s.NewJob()}
			v.enter(k)
			j, err := s.Shelf.Job(t.Context(), v.id)
			if err != nil {
				t.Fatal(err)
			}
			if v.says, err = j.Judge(); err != nil {
				t.Fatal(err)
			}
			c := v.says.Clauses.Get(k.clause)
			if v.says.Word != k.word || v.says.Verdict != k.verdict || (v.says.Cure != nil) != k.cures ||
				c.State != k.state {
				t.Fatalf("judged %s, %s, cure %v, %s %s: %s – %s", v.says.Word, v.says.Verdict, v.says.Cure, k.clause,
					c.State, v.says.First, v.says.Next)
			}
			v.plain()
			v.pages(j)
			v.papers(j)
			v.report()
			v.fit(j, k.recorded == nil && !k.ordered)
			v.capture(k.light == nil)
			if !k.ordered { // of the order of work it is told nothing
				v.suspects()
			}
		})
	}
}

// plain wants short sentences, those to act by shorter still, and no word in a meaning that another has.
func (v *surfaces) plain() {
	v.t.Helper()
	said := map[string]int{v.says.First: plain.Longest, v.says.Next: plain.LongestDo}
	for _, c := range v.says.Clauses {
		said[c.Because], said[c.WouldShow] = plain.Longest, plain.LongestDo
	}
	for text, most := range said {
		for _, fault := range append(plain.Long(text, most), plain.Faults(text)...) {
			v.t.Error(fault)
		}
	}
}

// enter brings the evidence into the job, through its pages.
func (v *surfaces) enter(k seenJob) {
	v.t.Helper()
	s, job := v.shop, v.id
	if k.ordered {
		for n := 0; ; n++ {
			if p, state := s.Ordered(job); p.Next(state).Finished {
				break
			} else if n > 60 {
				v.t.Fatalf("no end; now at «%s»", p.Next(state).Step)
			}
			s.Step(job)
		}
	}
	read := func(rpm, shown, wire float64) {
		w := s.Read(job, fmt.Sprint(rpm), fmt.Sprint(shown), "locked", fmt.Sprint(cmp.Or(k.locked, 8)), "wire",
			fmt.Sprint(wire), "confirmed", "yes")
		webtest.WantCode(v.t, w, http.StatusSeeOther)
	}
	for _, r := range k.light {
		read(r[0], r[1], 1)
	}
	if k.wire[0] > 0 {
		read(1500, k.wire[1], k.wire[0])
	}
	if k.recorded != nil {
		data := webtest.Run{Seconds: 16, Faults: *k.recorded}.Record(v.t)
		w := s.Do(webtest.UploadKeyed("/job/"+job+"/captures", webtest.HostAddr, "rec", "run.vcd",
			bytes.NewReader(data)))
		webtest.WantCode(v.t, w, http.StatusSeeOther)
		s.Settle()
		v.recording = v.file("run.vcd")
		if err := os.WriteFile(v.recording, data, 0o600); err != nil {
			v.t.Fatal(err)
		}
	}
}
