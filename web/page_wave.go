package web

import (
	"bytes"
	"net/http"
	"net/url"
	"sort"
	"strconv"

	"phasewright/book"
	"phasewright/shaft"
)

// waveRoutes are the addresses of a recording's waveform. All are read only; the stretch that is shown stands in the query.
func (s *Server) waveRoutes() {
	s.handle("GET /job/{job}/captures/{sha}/wave", Look, s.onRecording(s.wavePage))
	s.handle("GET /job/{job}/captures/{sha}/wave/part", Look, s.onRecording(s.wavePart))
}

type waveBody struct {
	Base    string // address of the page, without the query
	Address string // of the view
	Capture string // address of the capture's page
	Name    string
	Busy    string // how far the reading is, where the recording cannot be looked at yet
	Percent int
	Trouble string // why it cannot be looked at
	Retry   bool   // reading it again may help

	Phone, Desk      *wavePlate
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

// waveOf works out what the address asks to see.
func (s *Server) waveOf(r *http.Request, v *visit, j *job, f book.Attachment, want plates) (*waveBody, error) {
	one := "/job/" + j.ID + "/captures/" + f.SHA256.String()
	b := &waveBody{Base: one + "/wave", Capture: one, Name: f.Name, Percent: -1}
	w := s.waves.get(f.SHA256)
	if w == nil {
		s.wait(j, f, b, v.device, r.URL.Query().Get("again") != "")
		return b, nil
	}
	return b, b.fill(r, s, j, f, w, want)
}

// wait begins to read the recording again, unless that is under way or failed, and says how far it is.
func (s *Server) wait(j *job, f book.Attachment, b *waveBody, device string, again bool) {
	now, ok := s.captures.state(j.ID, f.SHA256)
	if !ok || now.trouble != "" && again {
		if !s.buildWave(j.ID, f, device) {
			b.Busy = "other recordings are being read first; this page goes on by itself"
			return
		}
		now, ok = s.captures.state(j.ID, f.SHA256)
	}
	switch {
	case now.trouble != "":
		b.Trouble, b.Retry = now.trouble, true
	case ok:
		b.Busy, b.Percent = now.words(s.Clock()), now.percent()
	default: // done just now
		b.Busy = "being read"
	}
}

// fill looks at the stretch and says all of it that the page shows.
func (b *waveBody) fill(r *http.Request, s *Server, j *job, f book.Attachment, w *wave, want plates) error {
	res := j.Captures[f.SHA256]
	span, ok := w.span()
	if !ok {
		b.Trouble = "The recording holds one instant only: there is no stretch of time to be drawn. Record for longer, then send it again."
		return nil
	}
	roles := rolesOf(w.Channels, res)
	q := r.URL.Query()
	channels, chosen := w.shown(q, roles)
	if len(channels) == 0 {
		b.Trouble = "The recording holds no wire that can be drawn: buses of several bits are counted only. Record single wires, then send it again."
		return nil
	}
	v, wrong := span.asked(q, func(at float64) float64 {
		if cycle, _ := cycleAt(res, at); cycle > 0 {
			return 2 * cycle
		}
		return span.width() / 100
	})
	if wrong != nil {
		b.Wrong, b.At = whole(wrong.text), q.Get("at") // the whole is shown: no failure, or a page that waited for the reading would not take it
	}
	view, err := s.drawWave(r.Context(), w, span, v, channels, roles, res, want)
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
			b.Choices = append(b.Choices, waveChoice{w.Channels[i].Name, string(roles[i]), contains(channels, i)})
		}
	}
	b.place(span, v)
	b.anomalies(span, v, res)
	b.notes(w, span, res, len(w.Channels))
	return nil
}

// href is the address of a view.
func (b *waveBody) href(v stretch, span waveRange) string {
	q := url.Values{}
	if !span.whole(v) {
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
func (b *waveBody) place(span waveRange, v stretch) {
	b.From, b.To = addressTime(v.from, v.width()), addressTime(v.to, v.width())
	b.Start, b.End, b.Least = addressTime(span.from, span.least), addressTime(span.to, span.least), strconv.FormatFloat(span.least, 'g', 6, 64)
	b.Width = strconv.FormatFloat(v.width(), 'g', 10, 64)
	b.Address = b.href(v, span)
	b.Where = timeWords(v.from, v.width()) + " to " + timeWords(v.to, v.width())
	act := func(do, sign, word string, to stretch) {
		b.Acts = append(b.Acts, waveAct{do, sign, word, b.href(to, span), to == v})
	}
	act("earlier", "←", "earlier", span.pan(v, -panStep))
	act("in", "+", "closer", span.zoom(v, 1./zoomStep))
	act("out", "−", "wider", span.zoom(v, zoomStep))
	act("later", "→", "later", span.pan(v, panStep))
	act("whole", "↔", "whole", span.stretch)
}

// anomalies lists those in the view, and the nearest before and after its middle.
func (b *waveBody) anomalies(span waveRange, v stretch, res *shaft.Result) {
	if res == nil {
		return
	}
	all := append([]shaft.Anomaly(nil), res.Anomalies...)
	sort.SliceStable(all, func(i, k int) bool { return all[i].TimeS < all[k].TimeS })
	b.Anomalies = len(all)
	jump := func(a shaft.Anomaly) *waveJump {
		width := v.width()
		usual := span.width() / 100
		if cycle, _ := cycleAt(res, a.TimeS); cycle > 0 {
			usual = 2 * cycle
		}
		if width > usual {
			width = usual
		}
		return &waveJump{b.href(span.about(a.TimeS, width), span), timeWords(a.TimeS, min(width, 0.01)), anomalyWords(a.Kind), a.Channel}
	}
	middle, slack := v.centre(), v.width()*1e-3
	if span.whole(v) && len(all) > 0 {
		b.Later = jump(all[0])
	}
	for _, a := range all {
		switch {
		case span.whole(v):
		case a.TimeS < middle-slack:
			b.Earlier = jump(a)
		case a.TimeS > middle+slack && b.Later == nil:
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
func (b *waveBody) notes(w *wave, span waveRange, res *shaft.Result, channels int) {
	if !w.Overview.Again() {
		b.Notes = append(b.Notes, "This file is packed and cannot be read again at any place: the drawing goes down to "+lengthWords(span.least)+". Unpack it and send it again to see every sample.")
	}
	if n := channels - len(b.Choices); n > 0 {
		b.Notes = append(b.Notes, count(n, "channel")+" of the recording "+map[bool]string{true: "is", false: "are"}[n == 1]+" not kept for drawing: buses, and wires past the first 64. Record fewer wires to see them.")
	}
	if res == nil {
		b.Notes = append(b.Notes, "What the channels are is not known: the file was not read as a capture yet. Read it on the captures page.")
		return
	}
	if res.Partial != "" {
		b.Notes = append(b.Notes, "Only part of the recording could be read: "+whole(res.Partial))
	}
	var all int64
	for _, n := range res.AnomalyCount {
		all += n
	}
	if more := all - int64(len(res.Anomalies)); more > 0 {
		b.Notes = append(b.Notes, "Marked are the first "+figure(float64(len(res.Anomalies)), 0)+" wrong pulses of "+figure(float64(all), 0)+"; the others are in the drawing without a sign.")
	}
}

// lengthWords prints a length of time with the unit that suits it.
func lengthWords(d float64) string {
	switch {
	case d >= 1:
		return figure(d, -1) + " s"
	case d >= 1e-3:
		return figure(d*1e3, -1) + " ms"
	case d >= 1e-6:
		return figure(d*1e6, -1) + " µs"
	}
	return figure(d*1e9, -1) + " ns"
}

// wavePage is the whole page; without script its links and forms ask for it again.
func (s *Server) wavePage(w http.ResponseWriter, r *http.Request, v *visit, j *job, f book.Attachment) error {
	b, err := s.waveOf(r, v, j, f, plates{phone: true, desk: true})
	if err != nil {
		return err
	}
	return s.render(w, r, v, page{View: "wave", Title: j.Name + ", waveform of " + b.Name, Where: "Waveform", Job: j.head(), Live: true, Version: j.Version, Body: b})
}

// wavePart is what a new view changes on the page, with the one drawing that the page shows.
func (s *Server) wavePart(w http.ResponseWriter, r *http.Request, v *visit, j *job, f book.Attachment) error {
	want := plates{phone: true, desk: true}
	switch r.URL.Query().Get("plate") {
	case "phone":
		want.desk = false
	case "desk":
		want.phone = false
	}
	b, err := s.waveOf(r, v, j, f, want)
	if err != nil {
		return err
	}
	buf := bufferPool.Get().(*bytes.Buffer)
	defer bufferPool.Put(buf)
	buf.Reset()
	if err := s.views["wave"].t.ExecuteTemplate(buf, "wave-part", b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	return send(w, r, http.StatusOK, buf.Bytes())
}
