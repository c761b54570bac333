package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/quantity"
)

type benchesBody struct {
	Rooms     []benchLine
	Exercises []bench.Exercise
	Engines   []benchEngine
	Faults    []faultLine
	Key       string
	Wrong     string
	CanWrite  bool
	CanHide   bool
	Say       string
}

type benchLine struct{ ID, Title, State string }

type benchEngine struct{ ID, Name string }

type faultLine struct{ Name, Title, Accepts, Default string }

// benchesPage lists what stands on the bench and what may be put there.
func (s *Server) benchesPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.showBenches(w, r, v, 0, "")
}

func (s *Server) showBenches(w http.ResponseWriter, r *http.Request, v *visit, status int, wrong string) error {
	b := benchesBody{Exercises: bench.Exercises(), CanWrite: v.role >= Work, CanHide: v.role >= Instructor, Wrong: wrong}
	for _, room := range s.rooms.list() {
		room.mu.Lock()
		b.Rooms = append(b.Rooms, benchLine{room.id, room.title, room.card + ", " + count(len(room.watchers), "screen") + " watching"})
		room.mu.Unlock()
	}
	for _, t := range s.Templates {
		b.Engines = append(b.Engines, benchEngine{"template-" + t.ID, t.Name})
	}
	found, err := s.Book.Jobs(r.Context(), book.Query{Limit: 20})
	if err != nil {
		return err
	}
	for _, j := range found.Jobs {
		b.Engines = append(b.Engines, benchEngine{j.ID, j.Name})
	}
	for _, f := range bench.FaultTable() {
		b.Faults = append(b.Faults, faultLine{f.Name, f.Title, f.Accepts(), f.Default()})
	}
	return s.render(w, r, v, page{View: "benches", Title: "Bench", Where: "Bench", Status: status, Body: b})
}

// benchConfig is the engine that a form asked for; without one, the bench's own.
func (s *Server) benchConfig(r *http.Request, id string) (bench.Config, error) {
	var card *jobcard.Card
	for _, t := range s.Templates {
		if id == "template-"+t.ID {
			card, _ = parseCard(t.YAML)
		}
	}
	if card == nil && id != "" && !strings.HasPrefix(id, "template-") {
		j, err := s.jobs.get(r.Context(), id)
		if err != nil {
			return bench.Config{}, err
		}
		card = j.Card
	}
	if card == nil {
		return bench.Default(), nil
	}
	return bench.FromCard(card)
}

// benchesPost puts an engine on the bench: an exercise, or faults that an instructor hides, or none.
func (s *Server) benchesPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	f := r.PostForm
	c, err := s.benchConfig(r, f.Get("engine"))
	if err != nil {
		return err
	}
	raw := make([]byte, 8)
	if _, err := s.Random.Read(raw); err != nil {
		return err
	}
	var seed uint64
	for _, b := range raw {
		seed = seed<<8 | uint64(b)
	}
	room := &room{id: strings.ToLower(s.newKey()[:10]), title: "Free bench", card: c.Name, config: c, drawing: drawBench(c)}
	switch name := f.Get("exercise"); {
	case name != "":
		x, ok := bench.FindExercise(name)
		if !ok {
			return s.showBenches(w, r, v, http.StatusUnprocessableEntity, "There is no such exercise. Choose one from the list.")
		}
		room.exercise, room.title = &x, x.Title
		room.session, err = x.Start(c, seed)
	case f.Get("fault") != "" && v.role < Instructor:
		return say(http.StatusForbidden, "Only an instructor hides faults.", "Choose an exercise, or ask at the host's screen for the role.")
	case f.Get("fault") != "":
		text := f.Get("fault")
		if size := strings.TrimSpace(f.Get("size")); size != "" {
			text += "=" + size
		}
		var faults bench.Faults
		if faults, err = bench.ParseFaults(c, text); err == nil {
			room.title = "A fault is hidden"
			room.session, err = bench.NewSession(c, faults, seed)
		}
	default:
		room.session, err = bench.NewSession(c, bench.Faults{}, seed)
	}
	if err != nil {
		return s.showBenches(w, r, v, http.StatusUnprocessableEntity, err.Error())
	}
	room.step(0)
	if err := s.rooms.add(room); err != nil {
		return say(http.StatusServiceUnavailable, "Too many benches stand already.", "Use one of those, or wait until one is left alone for half an hour.")
	}
	return done(w, r, "/bench/"+room.id)
}

type benchBody struct {
	ID, Title, Card      string
	Exercise             *bench.Exercise
	Drawing              benchDrawing
	Frame                benchFrame
	FrameJSON            string
	CanWrite, CanReveal  bool
	Refused              string
	Wires                []int
	Speeds               []string
	Faults               []faultLine
	Allowance, Lead, Adv string
}

func (s *Server) benchPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.showBench(w, r, v, 0, "")
}

func (s *Server) findRoom(r *http.Request) (*room, error) {
	room, ok := s.rooms.get(r.PathValue("room"))
	if !ok {
		return nil, say(http.StatusNotFound, "That bench is not up any more.", "Put one up again from the list of benches.")
	}
	return room, nil
}

func (s *Server) showBench(w http.ResponseWriter, r *http.Request, v *visit, status int, refused string) error {
	room, err := s.findRoom(r)
	if err != nil {
		return err
	}
	room.mu.Lock()
	b := benchBody{ID: room.id, Title: room.title, Card: room.card, Exercise: room.exercise, Drawing: room.drawing, Frame: room.frame(), CanWrite: v.role >= Work, CanReveal: v.role >= Instructor, Refused: refused}
	_, _, edited := room.session.Settings()
	room.mu.Unlock()
	frame, err := json.Marshal(b.Frame)
	if err != nil {
		return err
	}
	b.FrameJSON = string(frame)
	b.Allowance, b.Lead, b.Adv = figure(float64(edited.Allowance), -1), figure(float64(edited.Lead), -1), figure(float64(edited.Locked), -1)
	for n := range room.config.Engine.Cylinders {
		b.Wires = append(b.Wires, n+1)
	}
	idle, redline := room.config.Engine.Idle, room.config.Engine.Redline
	for i := range 5 {
		b.Speeds = append(b.Speeds, strconv.Itoa(int(idle+(redline*0.95-idle)*quantity.Speed(i)/4)/50*50))
	}
	if room.exercise != nil && room.exercise.Asks != "" {
		for _, f := range bench.FaultTable() {
			b.Faults = append(b.Faults, faultLine{Name: f.Name, Title: f.Title})
		}
	}
	return s.render(w, r, v, page{View: "bench", Title: room.title, Where: "Bench", Status: status, Body: b})
}

// benchDo works one control. What the bench refuses is said in its own words.
func (s *Server) benchDo(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	room, err := s.findRoom(r)
	if err != nil {
		return err
	}
	err = room.do(func(b *bench.Session) error { return benchAct(b, r) })
	var refused *bench.Refused
	switch {
	case errors.As(err, &refused), errors.Is(err, errControl):
		if wantsJSON(r) {
			answerJSON(w, http.StatusConflict, reply{Say: err.Error()})
			return nil
		}
		return s.showBench(w, r, v, http.StatusConflict, err.Error())
	case err != nil:
		return err
	}
	return done(w, r, "/bench/"+room.id)
}

var errControl = errors.New("control – no such control or figure – use the buttons of the page, and plain figures")

// benchAct is the table of controls.
func benchAct(b *bench.Session, r *http.Request) error {
	f := r.PostForm
	number := func(name string) (float64, error) {
		v, ok := plainNumber(f.Get(name))
		if !ok {
			return 0, fmt.Errorf("%w (%s: %q)", errControl, name, f.Get(name))
		}
		return v, nil
	}
	to := bench.Off
	if f.Get("to") == "on" {
		to = bench.On
	}
	switch f.Get("do") {
	case "key":
		return b.Key(to)
	case "starter":
		return b.Starter(to)
	case "fuel":
		return b.Fuel(to)
	case "spark":
		return b.SparkPower(to)
	case "clamp":
		return b.Clamp(to)
	case "housing":
		by, err := number("by")
		if err != nil {
			return err
		}
		return b.Housing(quantity.Shaft(by))
	case "hand":
		by, err := number("by")
		if err != nil {
			return err
		}
		return b.TurnByHand(quantity.Crank(by))
	case "lever":
		n, err := number("rpm")
		if err != nil {
			return err
		}
		return b.Lever(quantity.Speed(n))
	case "light":
		wire, err := number("wire")
		if err != nil {
			return err
		}
		return b.Light(to, int(wire), 0)
	case "gear":
		n, err := number("by")
		if err != nil {
			return err
		}
		return b.StepGear(int(n))
	case "half":
		return b.HalfTurn()
	case "swap":
		a, err := number("a")
		if err != nil {
			return err
		}
		z, err := number("b")
		if err != nil {
			return err
		}
		return b.SwapWires(int(a), int(z))
	case "set":
		_, _, edited := b.Settings()
		allowance, err := number("allowance")
		if err != nil {
			return err
		}
		lead, err := number("lead")
		if err != nil {
			return err
		}
		locked, err := number("locked")
		if err != nil {
			return err
		}
		edited.Allowance, edited.Lead, edited.Locked = quantity.Time(allowance), quantity.Crank(lead), quantity.Crank(locked)
		if f.Get("lock") != "" {
			edited.Lock = bench.Switch(f.Get("lock"))
		}
		if f.Get("edge") != "" {
			edited.Edge = jobcard.Edge(f.Get("edge"))
		}
		if err := b.Change(edited); err != nil {
			return err
		}
		if f.Get("store") != "" {
			return b.Store()
		}
		return nil
	}
	return errControl
}

// benchJudge asks the judge, who knows the truth; a class sees the answer together.
func (s *Server) benchJudge(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	room, err := s.findRoom(r)
	if err != nil {
		return err
	}
	room.mu.Lock()
	switch {
	case room.exercise != nil:
		o := room.exercise.Judge(room.session, r.PostForm["named"])
		room.outcome = &o
		if o.Passed || v.role >= Instructor {
			room.revealed = room.session.Reveal()
		}
	case v.role >= Instructor:
		room.outcome = &bench.Outcome{Passed: true, Truth: room.session.Truth(), Debrief: "what was hidden:"}
		room.revealed = room.session.Reveal()
	default:
		room.mu.Unlock()
		return say(http.StatusForbidden, "Only an instructor reveals what is hidden.", "Name what you think it is, and ask.")
	}
	if len(room.revealed) == 0 && room.outcome.Passed {
		room.revealed = []string{"nothing was hidden"}
	}
	room.push()
	room.mu.Unlock()
	return done(w, r, "/bench/"+room.id)
}

// benchLive streams the frames of a bench.
func (s *Server) benchLive(w http.ResponseWriter, r *http.Request, v *visit) error {
	room, err := s.findRoom(r)
	if err != nil {
		return err
	}
	id, stop, ok := s.live.add(v.device)
	if !ok {
		return say(http.StatusServiceUnavailable, "Too many pages are open.", "Close some, then load this page again.")
	}
	defer s.live.remove(id)
	frames, ok := room.watch()
	if !ok {
		return say(http.StatusServiceUnavailable, "Too many screens watch this bench.", "Close some, then load this page again.")
	}
	defer func() { room.leave(frames, s.Clock()) }()
	out := eventWriter{w: w, control: http.NewResponseController(w)}
	w.Header().Set("Content-Type", "text/event-stream")
	out.send("retry: 1000\n\n")
	tick := time.NewTicker(beat)
	defer tick.Stop()
	var last []byte
	for out.err == nil {
		select {
		case f, ok := <-frames:
			if !ok {
				return nil
			}
			if !bytes.Equal(f, last) { // an engine that stands still sends nothing
				out.send("event: frame\ndata: " + string(f) + "\n\n")
				last = f
			}
		case <-tick.C:
			out.send("event: alive\ndata: 1\n\n")
		case <-stop:
			return nil
		case <-r.Context().Done():
			return nil
		}
	}
	return nil
}
