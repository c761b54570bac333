package livebench

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"phasewright/bench"
	"phasewright/beside"
	"phasewright/book"
	"phasewright/web/page"
)

// keeper is what benches need of the shop book. Errors are those of package book.
type keeper interface {
	CreateJob(ctx context.Context, j book.NewJob) (book.Event, error)
	AppendAll(ctx context.Context, job string, expected book.Version, drafts []book.Draft) ([]book.Event, error)
	Events(ctx context.Context, job string, after book.Version) ([]book.Event, error)
	Jobs(ctx context.Context, q book.Query) (book.Page, error)
}

const (
	saveEvery   = 2 * time.Second // acts wait so long for the book; a judgement does not wait
	saveTimeout = 10 * time.Second
	mostActs    = 400 // in one event
	wakeSteps   = 300 // repeated at once, while a room is brought back
	wakeWait    = 20 * time.Second
)

// did is one thing done at a bench: a control worked, or something that is only told.
type did struct {
	Step int64             `json:"step"` // of the bench's time, from the attempt's beginning
	Who  string            `json:"who"`
	Do   string            `json:"do,omitempty"` // the control
	With map[string]string `json:"with,omitempty"`
	Say  string            `json:"say,omitempty"` // in words
}

// roomSet is what stands on the bench from here on.
type roomSet struct {
	Room     string   `json:"room"` // as in its address
	Name     string   `json:"name"`
	Attempt  int      `json:"attempt"`
	From     string   `json:"from,omitempty"`
	Card     string   `json:"card,omitempty"`
	Job      string   `json:"job,omitempty"`
	Exercise string   `json:"exercise,omitempty"`
	Seed     string   `json:"seed"` // more digits than a JSON number holds
	Added    []string `json:"added,omitempty"`
	Hidden   []string `json:"hidden"`
	HiddenBy string   `json:"hidden_by,omitempty"`
	Maker    person   `json:"maker"`
	Leader   *person  `json:"leader,omitempty"`
}

// roomActed is a piece of an attempt. Upto is the step that the bench has come to.
type roomActed struct {
	Attempt int   `json:"attempt"`
	Acts    []did `json:"acts"`
	Upto    int64 `json:"upto"`
}

// ofAttempt names an attempt.
type ofAttempt struct {
	Attempt int `json:"attempt"`
}

func draftOf(who string, kind book.Kind, payload any) (book.Draft, error) {
	raw, err := json.Marshal(payload)
	return book.Draft{Who: cmp.Or(who, "host"), Kind: kind, Payload: raw}, err
}

func (r *rig) setDraft(who string, a *attempt) (book.Draft, error) {
	set := roomSet{Room: r.id, Name: r.label, Attempt: a.number, From: r.order.From, Card: r.order.Card,
		Exercise: r.order.Exercise, Seed: strconv.FormatUint(a.seed, 10), Added: a.added, Hidden: a.faults.List(),
		HiddenBy: a.hiddenBy, Maker: r.order.Maker, Leader: r.leader}
	if r.order.Job != nil {
		set.Job = r.order.Job.ID
	}
	return draftOf(who, book.KindRoomSet, set)
}

// open begins the bench's chain in the book.
func (r *rig) open(ctx context.Context) error {
	if r.keeper == nil {
		return nil
	}
	r.pen.Lock()
	defer r.pen.Unlock()
	set, err := r.setDraft(r.order.Maker.Who, &r.attempt)
	if err != nil {
		return err
	}
	e, err := r.keeper.CreateJob(ctx, book.NewJob{Who: set.Who, Name: r.label, Engine: r.name(), Room: true,
		Then: []book.Draft{set}})
	r.chain = e.Job
	return err
}

// pending are the drafts of the acts that are not in the book.
func (r *rig) pending() ([]book.Draft, error) {
	var all []book.Draft
	for part := range slices.Chunk(r.acts, mostActs) {
		upto := part[len(part)-1].Step
		if len(all) == (len(r.acts)-1)/mostActs {
			upto = r.steps
		}
		d, err := draftOf(part[len(part)-1].Who, book.KindRoomActed, roomActed{r.number, part, upto})
		if err != nil {
			return nil, err
		}
		all = append(all, d)
	}
	return all, nil
}

// record puts drafts into the book, behind the acts that wait; pen and mu are held.
func (r *rig) record(drafts ...book.Draft) error {
	if r.chain == "" {
		r.acts = nil
		return nil
	}
	all, err := r.pending()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), saveTimeout)
	defer cancel()
	if _, err := r.keeper.AppendAll(ctx, r.chain, book.AnyVersion, append(all, drafts...)); err != nil {
		return err
	}
	r.acts, r.upto = nil, r.steps
	return nil
}

// save puts the acts that wait into the book, without holding the bench up. At the end the time that passed since is
// kept too.
func (r *rig) save(atEnd bool) {
	r.pen.Lock()
	defer r.pen.Unlock()
	r.mu.Lock()
	if r.chain == "" || r.session == nil || len(r.acts) == 0 && (!atEnd || r.upto == r.steps) {
		r.mu.Unlock()
		return
	}
	if len(r.acts) == 0 {
		r.acts = []did{{Step: r.steps, Who: "host"}}
	}
	drafts, err := r.pending()
	waiting, upto, number := r.acts, r.steps, r.number
	r.acts = nil
	r.mu.Unlock()
	if err == nil {
		ctx, cancel := context.WithTimeout(context.Background(), saveTimeout)
		defer cancel()
		_, err = r.keeper.AppendAll(ctx, r.chain, book.AnyVersion, drafts)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case err == nil:
		r.upto = upto
	case r.number == number: // kept for the next time; pen is held, so no attempt began meanwhile
		r.acts = append(waiting, r.acts...)
		r.log.Warn("a bench could not be saved", "bench", r.id, "err", err)
	}
}

// shelve puts the bench's chain away; what was recorded stays.
func (r *rig) shelve(why string) {
	r.save(true)
	if r.chain == "" {
		return
	}
	d, err := draftOf("host", book.KindJobArchived, map[string]string{"reason": why})
	if err == nil {
		ctx, cancel := context.WithTimeout(context.Background(), saveTimeout)
		defer cancel()
		_, err = r.keeper.AppendAll(ctx, r.chain, book.AnyVersion, []book.Draft{d})
	}
	if err != nil {
		r.log.Warn("a bench could not be put away in the book", "bench", r.id, "err", err)
	}
}

// savesOn lets the benches be saved from here on.
func (b *rigs) savesOn() { b.saves.Do(func() { b.loops.Add(1); beside.Start(b.save) }) }

// save goes round the benches until the program ends. What breaks over one leaves the others alone.
func (b *rigs) save() {
	defer b.loops.Done()
	tick := time.NewTicker(saveEvery)
	defer tick.Stop()
	for {
		select {
		case <-b.ended:
			return
		case <-tick.C:
			b.mu.Lock()
			all := slices.Collect(maps.Values(b.byID))
			b.mu.Unlock()
			for _, r := range all {
				b.saveOne(r, false)
			}
		}
	}
}

func (b *rigs) saveOne(r *rig, atEnd bool) {
	if broken := beside.Caught(func() { r.save(atEnd) }); broken != "" {
		b.log.Error("saving a bench broke down", "bench", r.id, "err", broken)
	}
}

// load finds the rooms that the book holds, once, and has them brought back one after the other. One that cannot be
// is left in the book and said in the log.
func (b *rigs) load() {
	b.found.Do(func() {
		if b.keeper == nil {
			return
		}
		ctx, cancel := context.WithTimeout(context.Background(), saveTimeout)
		defer cancel()
		found, err := b.keeper.Jobs(ctx, book.Query{Shelf: book.Rooms, Limit: maxBenches})
		if err != nil {
			b.log.Warn("the benches in the book cannot be read", "err", err)
			return
		}
		var all []*rig
		for _, line := range found.Jobs {
			events, err := b.keeper.Events(ctx, line.ID, 0)
			var r *rig
			if err == nil {
				r, err = b.readRoom(ctx, line, events)
			}
			if err != nil {
				b.log.Warn("a bench in the book cannot be read", "room", line.ID, "err", err)
				continue
			}
			all = append(all, r)
		}
		b.mu.Lock()
		defer b.mu.Unlock()
		if b.shut || len(all) == 0 {
			return
		}
		for _, r := range all {
			b.byID[r.id] = r
		}
		b.savesOn()
		b.loops.Add(1)
		beside.Start(func() {
			defer b.loops.Done()
			for _, r := range all {
				r.wake()
			}
		})
	})
}

// kept is an attempt as the book tells it.
type kept struct {
	roomSet
	acts     []did
	upto     int64
	verdict  *verdict
	released bool
}

// readRoom makes a bench of a room's events. Its engine is put on by wake.
func (b *rigs) readRoom(ctx context.Context, line book.Job, events []book.Event) (*rig, error) {
	var k kept
	r := &rig{chain: line.ID, made: line.CreatedAt, clock: b.clock, loops: &b.loops, ended: make(chan struct{}),
		last: b.clock(), touched: line.LastAt, watchers: map[*watcher]bool{}, log: b.log, keeper: b.keeper,
		awake: make(chan struct{})}
	for _, e := range events {
		if err := k.add(r, e); err != nil {
			return nil, err
		}
	}
	r.id, r.label, r.leader, r.number = k.Room, k.Name, k.Leader, k.Attempt
	r.order = order{Name: k.Name, From: k.From, Card: k.Card, Exercise: k.Exercise, Maker: k.Maker}
	if err := b.engine(ctx, &r.order); err != nil {
		return nil, err
	}
	r.config = r.order.Config
	if k.Exercise != "" {
		x, ok := bench.FindExercise(k.Exercise)
		if !ok {
			return nil, page.Refuse("There is no exercise of that name.", "Use the release that made this bench.")
		}
		r.exercise = &x
	}
	if f, err := bench.ParseFaults(r.config, k.Hidden...); err == nil {
		r.faults, r.sound = f, len(k.Hidden) == 0 // for the list, until the engine is there
	}
	r.worked = len(k.acts) > 0
	r.verdict, r.released, r.upto = k.verdict, k.released, k.upto
	r.asleep = &k
	return r, nil
}

// add takes in one event of a room.
func (k *kept) add(r *rig, e book.Event) error {
	switch e.Kind {
	case book.KindRoomSet:
		r.verdict = k.verdict
		r.remember()
		*k = kept{}
		return json.Unmarshal(e.Payload, &k.roomSet)
	case book.KindRoomActed:
		var a roomActed
		if err := json.Unmarshal(e.Payload, &a); err != nil {
			return err
		}
		k.acts, k.upto = append(k.acts, a.Acts...), a.Upto
	case book.KindRoomJudged:
		k.verdict = &verdict{}
		return json.Unmarshal(e.Payload, k.verdict)
	case book.KindRoomReleased:
		k.released = true
	}
	return nil
}

// wait waits until the bench stands as the book left it, and says whether it does.
func (r *rig) wait() bool {
	if r.awake == nil {
		return true
	}
	late := time.NewTimer(wakeWait)
	defer late.Stop()
	select {
	case <-r.awake:
		return true
	case <-r.ended:
		return true
	case <-late.C:
		return false
	}
}

// wake puts the engine on the bench and does again what was done, a piece at a time, so that the list can be looked at
// meanwhile.
func (r *rig) wake() {
	defer close(r.awake)
	broken := beside.Caught(func() {
		for r.wakeSome() {
		}
	})
	if broken == "" {
		return
	}
	r.log.Error("a bench could not be brought back", "bench", r.id, "err", broken)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.broke = gone("This bench cannot be brought back from the book.")
	r.end()
}

// gone is the answer of a bench that is there no more.
func gone(why string) *page.UserError {
	return &page.UserError{Status: http.StatusGone, What: why, Do: "Set it up anew under Bench."}
}

// wakeSome goes on with waking; false: it is done.
func (r *rig) wakeSome() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	k := r.asleep
	switch {
	case r.shut || k == nil:
		return false
	case r.session == nil:
		seed, err := strconv.ParseUint(k.Seed, 10, 64)
		if err == nil {
			err = r.begin(k.Attempt, seed, k.Added)
		}
		if err != nil {
			r.broke = gone("This bench cannot be brought back from the book: " + page.InWords(err))
			r.log.Warn("a bench cannot be brought back", "bench", r.id, "err", err)
			r.end()
			return false
		}
		r.hiddenBy, r.worked = k.HiddenBy, len(k.acts) > 0
		r.upto = k.upto
	}
	for range wakeSteps {
		for len(k.acts) > 0 && k.acts[0].Step <= r.steps {
			r.repeat(k.acts[0])
			k.acts = k.acts[1:]
		}
		if r.steps >= k.upto && len(k.acts) == 0 {
			r.verdict, r.released, r.asleep = k.verdict, k.released, nil
			r.samples = r.samples[:0]
			return false
		}
		r.step()
	}
	return true
}

// repeat does again what was done; what the bench refused then it refuses now. What this release does not know is left
// out and said in the log.
func (r *rig) repeat(d did) {
	f := url.Values{}
	for k, v := range d.With {
		f.Set(k, v)
	}
	switch act := controls()[d.Do]; {
	case d.Do == "judge" && r.exercise != nil:
		r.exercise.Judge(r.session, namedIn(d))
	case act != nil:
		_, err := act(r, form{f})
		if no := (*bench.Refused)(nil); err != nil && !errors.As(err, &no) {
			r.log.Warn("a bench cannot repeat what was done", "bench", r.id, "do", d.Do, "err", err)
		}
		r.refreshed()
	case d.Do != "":
		r.log.Warn("a bench cannot repeat what was done", "bench", r.id, "do", d.Do)
	}
	r.write(d.Who, d.Say)
}

// namedIn are the faults that were named as the work was judged.
func namedIn(d did) []string {
	return strings.FieldsFunc(d.With["named"], func(c rune) bool { return c == ' ' })
}
