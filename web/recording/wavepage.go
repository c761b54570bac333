package recording

import (
	"cmp"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/shaft"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

type waveBody struct {
	Base    string // address of the page, without the query
	Address string // of the view
	Capture string // address of the capture's page
	Name    string
	Busy    string // how far the reading is, where the recording cannot be looked at yet
	Percent int
	Trouble string // why it cannot be looked at
	Retry   bool   // reading it again may help

	Phone, Desk      *waveDrawing
	From, To         string // of the view, as the address has them
	Start, End       string // of the recording
	Least            string
	Where            string
	Acts             []waveAct
	Earlier, Later   *waveJump
	Here             []waveJump // anomalies in the view
	HereAll          int
	Folded           bool
	Anomalies        int // in the whole recording, as far as they are listed
	Rows             []waveRow
	Choices          []waveChoice
	Chosen           []string
	At, Width, Wrong string
	Notes            []string
}

// waveAct is one way to move the view.
type waveAct struct {
	Do, Sign, Word, Href string
	Off                  bool // it would change nothing
}

// waveJump leads to an anomaly.
type waveJump struct{ Href, At, Kind, Channel string }

type waveChoice struct {
	Name, Role string
	Shown      bool
}

const (
	fewHere  = 3  // anomalies in the view that are listed unfolded
	mostHere = 24 // that are listed one by one
)

// waveOf works out what the address asks to see. All is read only; the stretch that is shown stands in the query.
func (r *Room) waveOf(q *page.Request, j *shelf.Job, f book.Attachment, want sizes) (*waveBody, error) {
	one := j.Path("/captures/" + f.SHA256.String())
	b := &waveBody{Base: one + "/wave", Capture: one, Name: f.Name, Percent: -1}
	w := r.waves.get(f.SHA256)
	if w == nil {
		r.wait(q, j, f, b)
		return b, nil
	}
	return b, b.fill(q, r, j.Captures[f.SHA256], w, want)
}

// wait begins to read the recording again, unless that is under way or failed, and says how far it is.
func (r *Room) wait(q *page.Request, j *shelf.Job, f book.Attachment, b *waveBody) {
	now, ok := r.queue.state(j.ID, f.SHA256)
	if again := q.URL.Query().Get("again") != ""; !ok || now.trouble != "" && again {
		if err := r.readWave(j.ID, f, q.By.Device); err != nil { // too many wait
			b.Busy = "other recordings are being read first; this page goes on by itself"
			return
		}
		now, ok = r.queue.state(j.ID, f.SHA256)
	}
	switch {
	case now.trouble != "":
		b.Trouble, b.Retry = now.trouble, true
	case ok:
		b.Busy, b.Percent = now.words(r.Clock()), now.percent()
	default: // done just now
		b.Busy = "being read"
	}
}

// fill looks at the stretch and says all of it that the page shows.
func (b *waveBody) fill(q *page.Request, r *Room, res *shaft.Result, w *wave, want sizes) error {
	all, ok := w.span()
	if !ok {
		b.Trouble = "The recording holds one instant only: there is no stretch of time to be drawn. " +
			"Record for longer, then send it again."
		return nil
	}
	ask := q.URL.Query()
	roles := rolesOf(w.Channels, res)
	channels, chosen := w.shown(ask, roles)
	if len(channels) == 0 {
		b.Trouble = "The recording holds no wire that can be drawn: buses of several bits are counted only. " +
			"Record single wires, then send it again."
		return nil
	}
	v, wrong := all.asked(ask, func(at float64) float64 { return all.usualWidth(res, at) })
	if wrong != "" { // no failure: a page that waited for the reading would not take one
		b.Wrong, b.At = page.Whole(wrong), ask.Get("at")
	}
	view, err := r.waves.draw(q.Context(), waveQuestion{w, all, v, channels, roles, res, want})
	if err != nil {
		return err
	}
	b.Phone, b.Desk, b.Rows = view.phone, view.desk, view.rows
	if chosen {
		for _, c := range channels {
			b.Chosen = append(b.Chosen, w.Channels[c].Name)
		}
	}
	for i := range w.Channels {
		if w.Overview.Keeps(i) {
			b.Choices = append(b.Choices,
				waveChoice{w.Channels[i].Name, string(roles[i]), slices.Contains(channels, i)})
		}
	}
	b.place(all, v)
	b.anomalies(all, v, res)
	b.notes(w, all, res)
	return nil
}

// href is the address of a view.
func (b *waveBody) href(v stretch, all span) string {
	q := url.Values{}
	if !all.whole(v) {
		q.Set("from", addressTime(v.from, v.width()))
		q.Set("to", addressTime(v.to, v.width()))
	}
	if len(b.Chosen) > 0 {
		q["channel"] = b.Chosen
	}
	if len(q) == 0 {
		return b.Base
	}
	return b.Base + "?" + q.Encode()
}

// place says where the view lies and where each press leads.
func (b *waveBody) place(all span, v stretch) {
	b.From, b.To = addressTime(v.from, v.width()), addressTime(v.to, v.width())
	b.Start, b.End = addressTime(all.from, all.least), addressTime(all.to, all.least)
	b.Least = strconv.FormatFloat(all.least, 'g', 6, 64)
	b.Width = strconv.FormatFloat(v.width(), 'g', 10, 64)
	b.Address = b.href(v, all)
	b.Where = timeWords(v.from, v.width()) + " to " + timeWords(v.to, v.width())
	act := func(do, sign, word string, to stretch) {
		b.Acts = append(b.Acts, waveAct{do, sign, word, b.href(to, all), to == v})
	}
	act("earlier", "←", "earlier", all.pan(v, -panStep))
	act("in", "+", "closer", all.zoom(v, 1./zoomStep))
	act("out", "−", "wider", all.zoom(v, zoomStep))
	act("later", "→", "later", all.pan(v, panStep))
	act("whole", "↔", "whole", all.stretch)
}

// anomalies lists those in the view, and the nearest before and after its middle.
func (b *waveBody) anomalies(all span, v stretch, res *shaft.Result) {
	if res == nil {
		return
	}
	found := slices.SortedStableFunc(slices.Values(res.Anomalies), func(x, y shaft.Anomaly) int {
		return cmp.Compare(x.TimeS, y.TimeS)
	})
	b.Anomalies = len(found)
	jump := func(a shaft.Anomaly) *waveJump {
		width := min(v.width(), all.usualWidth(res, a.TimeS))
		return &waveJump{b.href(all.about(a.TimeS, width), all), timeWords(a.TimeS, min(width, 0.01)),
			anomalyWords(a.Kind), a.Channel}
	}
	middle, slack := v.centre(), v.width()*1e-3
	if all.whole(v) {
		middle, slack = math.Inf(-1), 0 // every one of them is ahead
	}
	for _, a := range found {
		if a.TimeS < middle-slack {
			b.Earlier = jump(a)
		} else if a.TimeS > middle+slack && b.Later == nil {
			b.Later = jump(a)
		}
		if a.TimeS >= v.from && a.TimeS <= v.to {
			if b.HereAll++; len(b.Here) < mostHere {
				b.Here = append(b.Here, *jump(a))
			}
		}
	}
	b.Folded = b.HereAll > fewHere
}

// notes say what the drawing leaves out, and what to do about it.
func (b *waveBody) notes(w *wave, all span, res *shaft.Result) {
	note := func(parts ...string) { b.Notes = append(b.Notes, strings.Join(parts, "")) }
	if !w.Overview.Again() {
		note("This file is packed and cannot be read again at any place: the drawing goes down to ",
			lengthWords(all.least), ". Unpack it and send it again to see every sample.")
	}
	if n := len(w.Channels) - len(b.Choices); n > 0 {
		is := " are"
		if n == 1 {
			is = " is"
		}
		note(page.Count(n, "channel"), " of the recording", is, " not kept for drawing: buses, ",
			"and wires past the first 64. Record fewer wires to see them.")
	}
	if res == nil {
		note("What the channels are is not known: the file was not read as a capture yet. ",
			"Read it on the captures page.")
		return
	}
	if res.Partial != "" {
		note("Only part of the recording could be read: ", page.Whole(res.Partial))
	}
	if listed, counted := int64(len(res.Anomalies)), allAnomalies(res); counted > listed {
		note("Marked are the first ", page.Figure(float64(listed), 0), " wrong pulses of ",
			page.Figure(float64(counted), 0), "; the others are in the drawing without a sign.")
	}
}

// lengthWords prints a length of time with the unit that suits it.
func lengthWords(d float64) string {
	for _, u := range []struct {
		s    float64
		unit string
	}{{1, " s"}, {1e-3, " ms"}, {1e-6, " µs"}} {
		if d >= u.s {
			return page.Figure(d/u.s, -1) + u.unit
		}
	}
	return page.Figure(d*1e9, -1) + " ns"
}

// wavePage is the whole page; without script its links and forms ask for it again.
func (r *Room) wavePage(q *page.Request, j *shelf.Job, f book.Attachment) error {
	b, err := r.waveOf(q, j, f, sizes{phone: true, desk: true})
	if err != nil {
		return err
	}
	return q.Render(j.Page("wave", "waveform of "+b.Name, "Waveform", b))
}

// wavePart is what a new view changes on the page, with the one drawing that the page shows.
func (r *Room) wavePart(q *page.Request, j *shelf.Job, f book.Attachment) error {
	shown := q.URL.Query().Get("plate")
	b, err := r.waveOf(q, j, f, sizes{phone: shown != "desk", desk: shown != "phone"})
	if err != nil {
		return err
	}
	return q.Part("wave", "wave-part", 0, b)
}
