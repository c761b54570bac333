package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"phasewright/bench"
)

type benchBody struct {
	ID, Name, About   string
	From, Exercise    string
	Brief, Goal, Asks string
	Holder            string
	Mine              bool // without script: this device holds
	CanWork, CanHide  bool
	View              *benchView
	Now               benchNow
	Cursor            string
	Low, High, Lever  float64
	Heard             string
	Key               bool
	Settings          []benchSetting
	Invented          string // what the card leaves open and the bench made up
	Lock, Edge        string
	InForce           string // lock and edge in force
	Cylinders         []int
	Wire              int
	Dial              string
	Gear              bool
	Travel            string
	Signals           []signalRow
	Kinds             []benchFault // what may be named or hidden
	Faults            string
	Secret            []benchHidden // for instructors, or for all once revealed
	HiddenBy          string
	Outcome           *benchOutcome
	Done              []recordLine
	Scene, Version    int
}

type benchSetting struct{ Name, Label, Screen, Force, Unit string }

type benchFault struct{ Name, Title, Shows, Accepts, Like string }

type benchHidden struct{ Title, Value string }

type benchOutcome struct {
	Passed        bool
	Word, Debrief string
	By            string
	Lines         []figureLine
}

const heardFor = 8 // seconds that a noise is worth telling to a page that opens

// benchPage is one bench.
func (s *Server) benchPage(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	b := room.body(s, v)
	p := page{View: "bench", Title: "Bench, " + b.Name, Where: "Bench", Job: room.order.Job, Body: b}
	return s.render(w, r, v, p)
}

// body is all the page shows to a visitor.
func (r *room) body(s *Server, v *visit) *benchBody {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	st := &r.state
	b := &benchBody{ID: r.id, Name: r.name(), About: r.about(), From: r.order.From, Exercise: r.order.Exercise, CanWork: v.role >= Work, CanHide: v.role >= Instructor,
		Holder: "nobody holds the controls", View: r.view(), Now: r.now(), Cursor: traceX(r.onAxis(st.TurnedDeg)),
		Low: float64(r.config.Engine.Idle) / 2, High: float64(r.config.Engine.Redline), Lever: st.LeverRPM, Key: st.Key == bench.On, Wire: st.LightWire, Dial: figure(st.DialDeg, 1),
		Gear: r.config.Distributor.GearTeeth > 0, Signals: r.signalRows(), Faults: r.hides(), HiddenBy: r.hiddenBy, Scene: r.scene, Version: r.version}
	b.Low = roundTo(b.Low+24, 50)
	b.Invented = strings.Join(r.config.Invented, ", ")
	if r.exercise != nil {
		b.Brief, b.Goal, b.Asks = r.exercise.Brief, r.exercise.Goal, r.exercise.Asks
	}
	if r.hold.held() {
		b.Holder, b.Mine = r.hold.who+" holds the controls", r.hold.by("", v.device)
		if b.Mine {
			b.Holder = "you hold the controls"
		}
	}
	if st.TimeS-r.heard.TS < heardFor {
		b.Heard = sentence(r.heard.What)
	}
	if travel := r.config.Distributor.HousingTravel; travel > 0 {
		b.Travel = fmt.Sprintf("travel %s each way", deg(float64(travel)))
	}
	b.Cylinders = r.config.Engine.FiringOrder
	r.settings(b)
	r.secrets(b, v, s)
	return b
}

// settings shows the controller's screen: what is on it, and what is in force.
func (r *room) settings(b *benchBody) {
	if !b.Key {
		return
	}
	e, a := r.state.Edited, r.state.Active
	b.Settings = []benchSetting{
		{"lead", "trigger lead", figure(e.LeadDeg, 1), figure(a.LeadDeg, 1), "°"},
		{"allowance", "delay allowance", figure(e.AllowanceUS, 0), figure(a.AllowanceUS, 0), "µs"},
		{"locked", "locked advance", figure(e.LockedDeg, 1), figure(a.LockedDeg, 1), "°"},
		{"cranking", "cranking advance", figure(e.CrankingDeg, 1), figure(a.CrankingDeg, 1), "°"},
		{"dwell", "dwell", figure(e.DwellUS/1000, 2), figure(a.DwellUS/1000, 2), "ms"},
	}
	b.Lock, b.Edge = string(e.Lock), e.Edge
	b.InForce = "in force: timing " + lockWord(a.Lock) + ", edge " + a.Edge
}

func lockWord(s bench.Switch) string {
	if s == bench.On {
		return "locked"
	}
	return "by the spark map"
}

// benchTime prints a time on the bench's own clock.
func benchTime(s float64) string {
	d := time.Duration(s * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("%d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}

// benchLive streams the bench to one page.
func (s *Server) benchLive(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	id, stop, err := s.live.add(v.device)
	if err != nil {
		return refuseStream(w, r, err)
	}
	defer s.live.remove(id)
	one, err := room.watch(v, cleanTab(r.URL.Query().Get("tab")))
	if err != nil {
		return refuseStream(w, r, err)
	}
	defer room.leave(one)
	out := eventWriter{w: w, control: http.NewResponseController(w)}
	w.Header().Set("Content-Type", "text/event-stream")
	out.send(fmt.Sprintf("retry: 1000\nevent: hello\ndata: {\"you\":%d}\n\n", one.number))
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for out.err == nil {
		select {
		case text := <-one.c:
			out.send(text)
		case <-tick.C:
			out.send("event: alive\ndata: 1\n\n")
		case <-room.ended:
			out.send(fmt.Sprintf("event: ended\ndata: %s\n\n", asJSON(room.farewell())))
			return nil
		case <-stop:
			out.send("event: closed\ndata: 1\n\n")
			return nil
		case <-r.Context().Done():
			return nil
		}
	}
	return nil
}

// cleanTab keeps a page's own name for itself short.
func cleanTab(tab string) string {
	if len(tab) > 40 {
		return tab[:40]
	}
	return tab
}

// benchDo works a control.
func (s *Server) benchDo(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	if err := room.do(v, cleanTab(r.PostForm.Get("tab")), r.PostForm.Get("do"), r.PostForm); err != nil {
		return err
	}
	return benchDone(w, r, room)
}

// benchDone answers a control: with script nothing is to be shown, the stream tells; without, the page comes again.
func benchDone(w http.ResponseWriter, r *http.Request, room *room) error {
	if wantsJSON(r) {
		answerJSON(w, http.StatusOK, reply{})
		return nil
	}
	http.Redirect(w, r, "/bench/"+room.id, http.StatusSeeOther)
	return nil
}

// benchTake takes the controls over.
func (s *Server) benchTake(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	if r.PostForm.Get("do") == "leave" {
		room.letGo(v, cleanTab(r.PostForm.Get("tab")))
	} else {
		room.take(v, cleanTab(r.PostForm.Get("tab")))
	}
	return benchDone(w, r, room)
}

// benchJudge has an exercise judged.
func (s *Server) benchJudge(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	if err := room.judge(v, cleanTab(r.PostForm.Get("tab")), r.PostForm["named"]); err != nil {
		return err
	}
	return benchDone(w, r, room)
}

// benchAway puts the bench away; instructors may always, others unless somebody else holds the controls.
func (s *Server) benchAway(w http.ResponseWriter, r *http.Request, v *visit, room *room) error {
	if err := room.mayEnd(v, cleanTab(r.PostForm.Get("tab"))); err != nil {
		return err
	}
	s.rooms.putAway(room.id)
	return done(w, r, "/bench")
}
