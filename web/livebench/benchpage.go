package livebench

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"phasewright/bench"
	"phasewright/web/page"
)

type benchBody struct {
	ID, Label         string
	Name, About       string // of the engine, and what it is set up for
	Leader            string // "": nobody leads
	Attempt           int
	Past              []pastAttempt
	Asking            []askLine
	MayAgain          bool
	Unfollowed        []towerChoice
	From, Exercise    string
	Brief, Goal, Asks string
	Holder            string
	CanEnd            bool
	Mine              bool // without script: this device holds
	CanWork, CanHide  bool
	View              *benchView
	Now               state
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
	Wire2             int
	Asked             []benchAsked
	HandedOver        string
	Gear              bool
	Travel            string
	Signals           []signalRow
	Kinds             []benchFault // what may be named
	Offered           []benchFault // what may be hidden: what can be seen on this engine
	Faults            string
	Secret            []benchHidden // for instructors, or for all once revealed
	HiddenBy          string
	Outcome           *benchOutcome
	Done              []page.LogLine
	Scene, Version    int
}

type benchSetting struct{ Name, Label, Screen, Force, Unit string }

type benchFault struct{ Name, Title, Shows, Accepts, Like string }

type benchHidden struct{ Title, Value string }

type benchOutcome struct {
	Judged, Passed bool
	Word, By       string
	Checks         []bench.Check
	Unsafe         []page.Line
	Lines          []page.Line // told with the truth only
}

const heardFor = 8 // seconds that a noise is worth telling to a page that opens

// benchPage is one bench.
func benchPage(q *page.Request, r *rig) error {
	b := r.body(q.By)
	return q.Render(page.Page{View: "bench", Title: b.Label, Where: "Bench", Job: r.order.Job, Body: b})
}

// body is all the page shows to whoever asks.
func (r *rig) body(by *page.Session) *benchBody {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	st, c := &r.state, r.config
	b := &benchBody{ID: r.id, Label: r.label, Name: r.name(), Leader: r.leads(), Attempt: r.number, Past: r.past,
		Unfollowed: r.unfollowed(), Asking: r.now().Asks, About: r.about(),
		From: r.order.From, Exercise: r.order.Exercise,
		CanWork: by.CanWork(), CanHide: by.Role >= page.Instructor, Holder: "nobody holds the controls",
		View: r.view(), Now: r.now(), Cursor: traceX(r.onAxis(st.TurnedDeg)),
		Low: roundTo(float64(c.Engine.Idle)/2+24, 50), High: float64(c.Engine.Redline), Lever: st.LeverRPM,
		Key: st.Key == bench.On, Wire: st.LightWire, Dial: page.Figure(st.DialDeg, 1),
		Gear: c.Distributor.GearTeeth > 0, Cylinders: c.Engine.FiringOrder, Signals: r.signalRows(),
		Wire2: st.Second.Wire, Asked: r.asked(), HandedOver: r.handedOver(),
		Invented: strings.Join(c.Invented, ", "),
		Faults:   r.hides(), HiddenBy: r.hiddenBy, Scene: r.scene, Version: r.version}
	b.CanEnd = by.CanWork() && (b.CanHide || r.leader == nil && r.order.Maker.Device == by.Device)
	b.MayAgain = by.CanWork() && r.exercise != nil && (b.CanHide || r.leader == nil)
	if r.exercise != nil {
		b.Brief, b.Goal, b.Asks = r.exercise.Brief, r.exercise.Goal, r.exercise.Asks
	}
	if b.Mine = r.hold.by("", by.Device); b.Mine {
		b.Holder = "you hold the controls"
		if len(b.Asking) > 0 {
			b.Holder = b.Asking[0].Who + " asks"
		}
	} else if r.hold.held() {
		b.Holder = r.hold.who + " holds the controls"
	}
	if st.TimeS-r.heard.TS < heardFor {
		b.Heard = page.Sentence(r.heard.What)
	}
	if travel := c.Distributor.HousingTravel; travel > 0 {
		b.Travel = "travel " + page.Degrees(float64(travel)) + " each way"
	}
	r.settings(b)
	r.secrets(b, by)
	return b
}

// settings shows the controller's screen: what is on it, and what is in force.
func (r *rig) settings(b *benchBody) {
	if !b.Key {
		return
	}
	active, _, edited := r.session.Settings()
	for _, f := range settings {
		b.Settings = append(b.Settings, benchSetting{f.name, f.label, f.shown(&edited), f.shown(&active), f.unit})
	}
	b.Lock, b.Edge = string(edited.Lock), string(edited.Edge)
	b.InForce = "in force: timing " + lockWord(active.Lock) + ", edge " + string(active.Edge)
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

// livePage streams the bench to one page.
func livePage(q *page.Request, r *rig) error {
	var w *watcher
	defer func() {
		if w != nil {
			r.leave(w)
		}
	}()
	return page.Stream(q, func() (string, page.Source[string], error) {
		var err error
		if w, err = r.watch(q.By, shortTab(q.URL.Query().Get("tab"))); err != nil {
			return "", page.Source[string]{}, err
		}
		return page.Event("hello", map[string]int{"you": w.number}), page.Source[string]{Values: w.c,
			Event: func(text string) string { return text }, Ended: r.ended,
			Last: func() string { return page.Event("ended", r.farewell()) }}, nil
	})
}

// tabOf is the name that the page with the form has given itself.
func tabOf(q *page.Request) string { return shortTab(q.PostForm.Get("tab")) }

// shortTab keeps a page's own name for itself short.
func shortTab(tab string) string { return tab[:min(len(tab), 40)] }

// doPost works a control.
func doPost(q *page.Request, r *rig) error {
	return r.do(q.By, tabOf(q), q.PostForm.Get("do"), q.PostForm)
}

// takePost takes the controls or asks for them, gives them to somebody who asked, or hands them back.
func takePost(q *page.Request, r *rig) error {
	if to := q.PostForm.Get("give"); to != "" {
		n, err := strconv.Atoi(to)
		if err != nil {
			return page.Refuse("The controls are given to somebody who asked.", "Load the page again.")
		}
		return r.give(q.By, tabOf(q), n)
	}
	if q.PostForm.Get("do") == "leave" {
		r.letGo(q.By, tabOf(q))
		return nil
	}
	return r.take(q.By, tabOf(q))
}

// beatPost is the page of whoever cranks saying that it is awake.
func beatPost(q *page.Request, r *rig) error {
	r.beat(q.By, tabOf(q))
	return nil
}

// judgePost has an exercise judged.
func judgePost(q *page.Request, r *rig) error { return r.judge(q.By, tabOf(q), q.PostForm["named"]) }
