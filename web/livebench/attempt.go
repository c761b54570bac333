package livebench

import (
	"fmt"
	"net/http"
	"strings"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/web/page"
)

// attempt is one go at the engine as it was set up, from its first touch to the judge's word.
type attempt struct {
	number   int // from 1
	seed     uint64
	added    []string     // hidden by an instructor, besides the exercise's own
	hiddenBy string       // who did; "" where nothing was hidden by hand
	faults   bench.Faults // all that is hidden
	sound    bool         // none of them
	steps    int64        // of the bench's time since it began
	upto     int64        // the same, as the book knows it
	acts     []did        // not in the book yet
	worked   bool         // somebody did something
	keyed    bool         // the key was on
	followed []bool       // towers whose wire was followed to its plug
	verdict  *verdict     // nil: not judged
	released bool         // the truth is told
}

// verdict is the judge's word, final for its attempt.
type verdict struct {
	Attempt int           `json:"attempt"`
	Step    int64         `json:"step"`
	By      string        `json:"by"`
	Named   []string      `json:"named,omitempty"`
	Outcome bench.Outcome `json:"outcome"`
	Truth   bench.Truth   `json:"truth"` // as it stood then
}

// pastAttempt is an attempt that another followed.
type pastAttempt struct {
	Number   int
	By, Word string
}

// engineOf is the engine of an attempt: the exercise's own faults, and those that an instructor added, which count
// where both name the same.
func engineOf(c bench.Config, x *bench.Exercise, seed uint64, added []string) (*bench.Session, bench.Faults, error) {
	f, err := bench.ParseFaults(c, added...)
	if err != nil {
		return nil, f, page.Refuse(page.Sentence(err.Error()), "Correct it and hide it again.")
	}
	if x == nil {
		s, err := bench.NewSession(c, f, seed)
		if err != nil {
			err = refuseEngine(err)
		}
		return s, f, err
	}
	own, err := x.Start(c, seed)
	if err != nil {
		return nil, f, page.Refuse(err.Error()+".", "Choose another exercise or another engine.")
	}
	all := append(without(own.Reveal(), f.List()), f.List()...)
	if f, err = bench.ParseFaults(c, all...); err != nil || len(added) == 0 {
		return own, f, err
	}
	s, err := bench.NewSession(c, f, seed)
	if err == nil && own.Step(0).Clamp == bench.Off {
		err = s.Clamp(bench.Off) // as the exercise begins
	}
	return s, f, err
}

// without leaves out of a list of faults those that another names too.
func without(list, others []string) []string {
	named := map[string]bool{}
	for _, one := range others {
		name, _, _ := strings.Cut(one, "=")
		named[name] = true
	}
	var left []string
	for _, one := range list {
		if name, _, _ := strings.Cut(one, "="); !named[name] {
			left = append(left, one)
		}
	}
	return left
}

// begin sets the engine up for an attempt.
func (r *rig) begin(number int, seed uint64, added []string) error {
	s, f, err := engineOf(r.config, r.exercise, seed, added)
	if err != nil {
		return err
	}
	return r.install(s, attempt{number: number, seed: seed, added: added, faults: f})
}

// install puts an attempt's engine on the bench. Where nothing is hidden the wires may be seen from the start.
func (r *rig) install(s *bench.Session, a attempt) error {
	a.followed, a.sound = make([]bool, len(s.Wires())), len(a.faults.List()) == 0
	if r.exercise == nil && a.sound {
		for i := range a.followed {
			a.followed[i] = true
		}
	}
	r.attempt, r.done, r.owed = a, nil, 0
	return r.place(s)
}

// anew begins another attempt, in the book first. What came of the one before is remembered; pen and mu are held.
func (r *rig) anew(by *page.Session, seed uint64, added []string) error {
	s, f, err := engineOf(r.config, r.exercise, seed, added)
	if err != nil {
		return err
	}
	next := attempt{number: r.number + 1, seed: seed, added: added, faults: f}
	if len(added) > 0 {
		next.hiddenBy = by.Who
	}
	set, err := r.setDraft(by.Who, &next)
	if err != nil {
		return err
	}
	if err := r.record(set); err != nil {
		return err
	}
	r.remember()
	return r.install(s, next)
}

// remember keeps in a line what came of the attempt.
func (r *rig) remember() {
	if v := r.verdict; v != nil {
		r.past = append(r.past, pastAttempt{v.Attempt, v.By, passedWord(v.Outcome.Passed)})
	}
}

// hides says how the bench stands about hidden faults: none, hidden, revealed.
func (r *rig) hides() string {
	switch {
	case r.released:
		return "revealed"
	case r.exercise != nil, !r.sound:
		return "hidden"
	}
	return "none"
}

// judge has the exercise judged by the engine's own truth: once, and final for the attempt. With nobody there to lead
// the bench the truth is told with it.
func (r *rig) judge(by *page.Session, tab string, named []string) error {
	r.pen.Lock()
	defer r.pen.Unlock()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if err := r.mayJudge(by, tab, named); err != nil {
		return err
	}
	truth := r.session.Truth()
	v := &verdict{r.number, r.steps, by.Who, named, r.exercise.Judge(r.session, named), truth}
	drafts := make([]book.Draft, 1, 2)
	var err error
	if drafts[0], err = draftOf(by.Who, book.KindRoomJudged, v); err != nil {
		return err
	}
	alone := r.alone(by)
	if alone {
		d, err := draftOf(by.Who, book.KindRoomReleased, ofAttempt{r.number})
		if err != nil {
			return err
		}
		drafts = append(drafts, d)
	}
	said := "has the work judged: " + passedWord(v.Outcome.Passed)
	r.keep(did{r.steps, by.Who, "judge", map[string]string{"named": strings.Join(named, " ")}, said})
	if err := r.record(drafts...); err != nil {
		r.acts = r.acts[:max(len(r.acts)-1, 0)]
		return err
	}
	r.tell(by.Who, said)
	r.verdict, r.released = v, alone
	r.version++
	r.push()
	return nil
}

// mayJudge answers whether the attempt can be judged now.
func (r *rig) mayJudge(by *page.Session, tab string, named []string) error {
	no := func(what, do string) error { return page.Say(http.StatusConflict, what, do) }
	switch {
	case r.exercise == nil:
		return no("There is no exercise on this bench.", "Set one up under Bench.")
	case r.verdict != nil:
		return no("This attempt was judged, and that is final.", "Begin another attempt.")
	case r.released:
		return no("The truth of this attempt was told before it was judged.", "Begin another attempt.")
	case !r.keyed:
		return no("The key was never on, so there is no work to judge.", "Work on the engine first.")
	}
	for _, name := range named {
		if _, ok := bench.FindFault(name); !ok {
			return page.Refuse("There is no such fault.", "Choose from the list.")
		}
	}
	return r.mayHold(by, tab)
}

// alone says whether nobody else is there to tell the truth: no instructor leads the bench or looks on. An instructor
// is alone where nobody else looks on.
func (r *rig) alone(by *page.Session) bool {
	if r.leader != nil && r.leader.Device != by.Device {
		return false
	}
	for w := range r.watchers {
		if w.device != by.Device && (w.role >= page.Instructor || by.Role >= page.Instructor) {
			return false
		}
	}
	return true
}

func passedWord(ok bool) string {
	if ok {
		return "goal reached"
	}
	return "goal not reached"
}

// release tells everybody what was hidden and what was done.
func (r *rig) release(by *page.Session) error {
	r.pen.Lock()
	defer r.pen.Unlock()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if r.released {
		return nil
	}
	d, err := draftOf(by.Who, book.KindRoomReleased, ofAttempt{r.number})
	if err != nil {
		return err
	}
	r.note(by.Who, "tells what was hidden")
	if err := r.record(d); err != nil {
		return err
	}
	r.released = true
	r.version++
	r.push()
	return nil
}

// hide puts the engine back as built, with faults that only instructors see; an exercise stays, with its own.
func (r *rig) hide(by *page.Session, texts []string, seed uint64) error {
	r.pen.Lock()
	defer r.pen.Unlock()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if err := r.anew(by, seed, texts); err != nil {
		return err
	}
	if r.leader == nil {
		who := personOf(by)
		r.leader = &who
	}
	r.note(by.Who, "sets the engine up anew")
	r.push()
	return nil
}

// again begins the exercise anew, with other sizes of what is hidden.
func (r *rig) again(by *page.Session, tab string, seed uint64) error {
	r.pen.Lock()
	defer r.pen.Unlock()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if by.Role < page.Instructor {
		if r.leader != nil {
			return page.Say(http.StatusConflict, r.leads()+" is in charge of this bench.",
				"Ask for another attempt there.")
		}
		if err := r.mayHold(by, tab); err != nil {
			return err
		}
	}
	if err := r.anew(by, seed, r.added); err != nil {
		return err
	}
	r.note(by.Who, fmt.Sprintf("begins attempt %d", r.number))
	r.push()
	return nil
}
