package record

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/shaft"
)

// Shown is what a recording shows of the timing, as a light on the damper would show it at one speed.
type Shown struct {
	RPM     float64 // the middle of the speeds that its timing was worked out over
	Fastest float64 // the highest of them
	Locked  float64 // advance that the controller was told, degrees BTDC
	Value   float64 // advance that the recording shows, degrees BTDC
	U       float64 // of Value, 95 %, degrees
}

// Recording is how a recording stands to the order of work.
type Recording struct {
	Shown   Shown
	Timed   bool                // Shown says something
	Step    procedure.Step      // that it belongs to by its speed; none where it shows no timing or belongs nowhere
	Taken   *procedure.Entry    // by which the order took it, passed or failed; nil where it did not
	Brought bool                // it stands among the readings as work done elsewhere
	Refused []procedure.Refusal // what stands against taking it now; ticks that it needs are left out
	Takes   bool                // it can be taken now, be it as a check that failed
}

// spoiling are the findings after which the figures of a recording mean nothing: signals that are not those of the
// card, pulses that are not of the metal, a timing that nothing held.
var spoiling = []string{shaft.FoundNoCrank, shaft.FoundNoEdges, shaft.FoundNoChannel, shaft.FoundNoSpark,
	shaft.FoundNoMark, shaft.FoundSwapped, shaft.FoundPolarity, shaft.FoundWrongEdge, shaft.FoundVaneCount,
	shaft.FoundSameChannels, shaft.FoundNotLocked}

// doubted is the refusal of a recording that is no evidence; nobody overrides it, since a light can be read instead.
func doubted(want, have, remedy string) *procedure.Refusal {
	return &procedure.Refusal{Kind: procedure.Unproven, Want: want, Have: have, Remedy: remedy, Never: true}
}

// unclean is the refusal of a recording whose signals say nothing sure.
func unclean(have, remedy string) *procedure.Refusal {
	return doubted("a whole recording with clean signals", have, remedy)
}

// clean reports what is wrong with the signals of a recording; nil where nothing is.
func clean(r *shaft.Result) *procedure.Refusal {
	wrong := int64(0)
	for _, n := range r.AnomalyCount {
		wrong += n
	}
	for _, f := range r.Findings {
		if slices.Contains(spoiling, f.ID) {
			return unclean(f.Text, f.Remedy)
		}
	}
	switch {
	case r.Partial != "":
		return unclean("a part of one: "+r.Partial, "record again. Send the whole file")
	case r.Sync == shaft.SyncLost:
		return unclean("sync lost: "+r.SyncBecause, "look at the pickups on its waveform and "+
			"at their cables. Then record again")
	case wrong > 0:
		return unclean(fmt.Sprintf("wrong pulses, %d of them", wrong),
			"look at them on its waveform. Mend what makes them. Then record again")
	}
	return nil
}

// Shows is what a recording of the job shows of the timing by its mark channel, or why it shows nothing sure.
func (j *Job) Shows(sha book.Hash) (Shown, *procedure.Refusal) {
	bad := func(want, have, remedy string) (Shown, *procedure.Refusal) {
		return Shown{}, doubted(want, have, remedy)
	}
	res, at := j.Captures[sha], j.readAt[sha]
	switch {
	case res == nil:
		return bad("a recording that was read", "one that was not", "read it first, or wait until it is read")
	case j.Card == nil:
		return bad("a job card that can be used", "none", "correct the job card")
	case at < j.CardVersion:
		return bad("a recording that was read by this job card", "the card was changed since",
			"read it again with the roles that were found")
	}
	if wrong := clean(res); wrong != nil {
		return Shown{}, wrong
	}
	t, a := res.Timing, j.Card.Controller.Advance
	locked, given := a.Locked.Get()
	switch {
	case t == nil:
		return bad("timing by a mark on the damper", "no mark and spark that go together",
			"record crank, cam, spark and the mark channel together")
	case !given || !t.Commanded:
		return bad("the advance that the controller was told", "not on the card",
			"write the locked advance on the card, then read the recording again")
	}
	s := Shown{RPM: (t.FromRPM + t.ToRPM) / 2, Fastest: t.ToRPM, Locked: float64(locked)}
	// below the middle between starter and idle the reading took the controller to command the starter's advance
	starter, idle := j.Card.Engine.CrankingSpeed, j.Card.Engine.IdleSpeed
	if c, given := a.Cranking.Get(); given && starter > 0 && s.RPM < float64(starter+idle)/2 {
		s.Locked = float64(c)
	}
	late, u := t.ErrorAround(s.RPM)
	if math.IsNaN(late) || math.IsNaN(u) || math.IsInf(u, 0) {
		return bad("an error with its uncertainty", "too few firings", "record again for longer, at a steady speed")
	}
	s.Value, s.U = s.Locked+late, u
	return s, nil
}

// fileIn says whether an event of a kind is about a file.
func fileIn(e book.Event, kind book.Kind, sha book.Hash) bool {
	var p struct {
		SHA256 book.Hash `json:"sha256"`
	}
	return e.Kind == kind && json.Unmarshal(e.Payload, &p) == nil && p.SHA256 == sha
}

// Recording is how a recording stands to the order of work at a time.
func (j *Job) Recording(sha book.Hash, now time.Time) (Recording, error) {
	p, s, err := j.Order(now)
	if err != nil {
		return Recording{}, err
	}
	out := Recording{Taken: takenBy(s, sha)}
	for _, r := range j.Readings {
		out.Brought = out.Brought || r.Brought && r.Withdrawn == "" && r.Recording == sha.String()
	}
	shown, no := j.Shows(sha)
	if no != nil {
		out.Refused = []procedure.Refusal{*no}
		return out, nil
	}
	out.Shown, out.Timed = shown, true
	id, no := j.stepOf(p, s, shown)
	if no != nil {
		out.Refused = []procedure.Refusal{*no}
		return out, nil
	}
	out.Step, _ = p.Step(id)
	r := procedure.Request{Act: procedure.Do, Step: id, Who: "?", Seen: s.Version,
		Proof: &procedure.Proof{Kind: procedure.Capture, SHA256: sha.String()}}
	for _, a := range out.Step.Demand.Also {
		r.Proof.Seen = append(r.Proof.Seen, a.ID)
	}
	taken, err := j.byRecording(p, s, r, Entry{Key: "?", Now: now})
	out.Refused, out.Takes = taken.Refused, len(taken.Drafts) > 0
	return out, err
}

// takenBy is the last entry by which the order took a recording, passed or failed.
func takenBy(s procedure.State, sha book.Hash) *procedure.Entry {
	for i := len(s.Log) - 1; i >= 0; i-- {
		e := &s.Log[i]
		if e.Proof != nil && e.Proof.Kind == procedure.Capture && e.Proof.SHA256 == sha.String() {
			return e
		}
	}
	return nil
}

// stepOf is the step that a recording belongs to by its speed.
func (j *Job) stepOf(p *procedure.Procedure, s procedure.State, shown Shown) (procedure.StepID, *procedure.Refusal) {
	id, ok := p.StepOf(shown.RPM)
	if !ok {
		return "", &procedure.Refusal{Kind: procedure.Input, Step: p.Next(s).Step,
			Want: "a speed that a step asks for", Have: quantity.RPM(shown.RPM),
			Remedy: "record at a speed that the order of work names", Go: procedure.StepRange, Never: true}
	}
	return id, nil
}

// TakeRecording takes a recording as evidence of the step that it belongs to by its speed, with the figures that it
// shows, or refuses it with the step that is missing. A brought one is kept beside the order, once.
func (j *Job) TakeRecording(sha book.Hash, e Entry) (Taken, error) {
	shown, no := j.Shows(sha)
	if no != nil {
		return Taken{Refused: []procedure.Refusal{*no}}, nil
	}
	if e.Brought {
		return j.bring(sha, shown, e)
	}
	p, s, err := j.Order(e.Now)
	if err != nil {
		return Taken{}, err
	}
	id, no := j.stepOf(p, s, shown)
	if no != nil {
		return Taken{Refused: []procedure.Refusal{*no}}, nil
	}
	return j.byRecording(p, s, procedure.Request{Act: procedure.Do, Step: id, Who: e.Who, Seen: s.Version,
		Proof: &procedure.Proof{Kind: procedure.Capture, SHA256: sha.String(), Seen: e.Looks}}, e)
}

// bring enters a recording's figures among the readings as work done elsewhere.
func (j *Job) bring(sha book.Hash, shown Shown, e Entry) (Taken, error) {
	for _, r := range j.Readings {
		if r.Withdrawn == "" && r.Recording == sha.String() {
			twice := doubted("a recording not entered yet", "one that is among the readings",
				"withdraw that reading first, or leave it")
			return Taken{Refused: []procedure.Refusal{*twice}}, nil
		}
	}
	r := Reading{ID: e.Key, RPM: shown.RPM, Shown: shown.Value, Locked: shown.Locked, U: standard(shown.U),
		Note: "from a recording", Brought: true, Recording: sha.String()}
	if err := r.Check(); err != nil {
		return Taken{}, err
	}
	payload, err := e.Stamp.On(j.Reading(r, e.Stamp))
	return Taken{Drafts: []book.Draft{{Who: e.Device, Kind: book.KindReadingAdded, Payload: payload, Key: e.Key}}}, err
}

// standard is the standard uncertainty of an expanded one, 95 %.
func standard(expanded float64) *float64 {
	u := expanded / 2
	return &u
}

// byRecording decides a request whose proof is a recording: its figures, and only where it tells of the engine as it
// is now.
func (j *Job) byRecording(p *procedure.Procedure, s procedure.State, r procedure.Request, e Entry) (Taken, error) {
	sha, err := book.ParseHash(r.Proof.SHA256)
	if err != nil {
		return j.taken(p.Decide(s, r), e) // which says what a digest is
	}
	no := func(f *procedure.Refusal) (Taken, error) {
		f.Step = r.Step
		return Taken{Refused: []procedure.Refusal{*f}}, nil
	}
	shown, wrong := j.Shows(sha)
	if wrong != nil {
		return no(wrong)
	}
	f := *r.Proof
	f.Value, f.RPM, f.U = &shown.Value, &shown.RPM, standard(shown.U)
	r.Proof = &f
	o := p.Decide(s, r)
	if slices.ContainsFunc(o.Refused, func(x procedure.Refusal) bool { return x.Kind != procedure.Unproven }) {
		return Taken{Refused: o.Refused}, nil // a step that is missing comes first
	}
	if wrong := p.Unlooked(r.Step, r.Proof); wrong != nil {
		return no(wrong) // not even as tried: it can be sent again with the tick
	}
	if wrong := j.unfit(p, s, r.Step, sha, shown); wrong != nil {
		return no(wrong)
	}
	return j.taken(o, e)
}

// unfit says why a recording is no evidence of a step although the step could be done now: it tells of the engine as
// it was, was taken already, ran faster than the step allows, or is too unsure for the step's bound.
func (j *Job) unfit(p *procedure.Procedure, s procedure.State, id procedure.StepID, sha book.Hash,
	shown Shown) *procedure.Refusal {
	if e := takenBy(s, sha); e != nil {
		return doubted("a recording of its own for each check", "taken already: «"+e.Title+"»", "record again")
	}
	i := slices.IndexFunc(j.Events, func(e book.Event) bool { return fileIn(e, book.KindAttachmentAdded, sha) })
	if i < 0 || j.Origin(j.Events[i]).Configuration < j.Configuration() {
		return doubted("a recording of the engine as it is now", "one from before the engine or its card was changed",
			"record again")
	}
	before := procedure.StepStart
	if id == procedure.StepBase {
		before = procedure.StepTurnOver
	}
	for _, e := range s.Log {
		if e.Step == before && (e.Act == procedure.Do || e.Act == procedure.Override) &&
			e.Version > int64(j.Events[i].Version) {
			return doubted("a recording made after «"+e.Title+"»", "one from before it", "record again")
		}
	}
	if most := p.Speed(s, id).To; shown.Fastest > most {
		return doubted("no speed above "+quantity.RPM(most), "up to "+quantity.RPM(shown.Fastest),
			"record each speed by itself, no faster than named")
	}
	st, _ := p.Step(id)
	if half := (st.Demand.Passes.To - st.Demand.Passes.From) / 2; shown.U > half {
		return doubted("timing known within ± "+quantity.Degrees(half, 1), "± "+quantity.Degrees(shown.U, 1),
			"record for longer at a steady speed, or read the light")
	}
	return nil
}
