package suspects

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// field is the row of the reader for an observation; at gives the place that it fills.
func (o observation) field(at func(e *Evidence) *Seen) field {
	f := field{Field: Field{Path: o.key, Doc: o.doc, Example: o.words[0], kind: word, words: o.words}}
	switch {
	case o.many:
		f.kind, f.Example = words, "["+o.words[0]+"]"
		f.set = func(e *Evidence, v read) { at(e).Several[o.key] = append([]string{}, v.list...) }
		return f
	case o.measure == nil:
		f.set = func(e *Evidence, v read) { at(e).Said[o.key] = v.word }
		return f
	}
	f.kind, f.unit, f.words, f.Example = measure, o.measure.unit, nil, o.measure.example
	f.low, f.high = o.measure.low, o.measure.high
	if f.unit.parse == nil {
		f.kind = number
	}
	f.set = func(e *Evidence, v read) { at(e).Measured[o.key] = v.n }
	return f
}

// id is how the look is named where it is advised.
func (o observation) id(cyl int, word string) string {
	id := strings.NewReplacer(".", " ", "_", " ").Replace(o.key)
	if short, ok := shortID[o.key]; ok {
		id = short
	}
	if cyl > 0 {
		id += fmt.Sprintf(" of %d", cyl)
	}
	if word != "" {
		id += " " + word
	}
	return id
}

// shortID are the names of looks that others know.
var shortID = map[string]string{"battery.crank_pickup": "crank supply", "battery.cam_pickup": "cam supply",
	"settings.lock": "lock", "housing.clamp": "clamp", "housing.travel": "travel", "cap.wires": "wires",
	"capture.leads_swapped": "capture inputs", "capture.polarity": "polarity"}

// probe is the look at a cylinder, 0 for the engine; word is the one that it is about where it takes several.
func (o observation) probe(cyl int, word string) probe {
	q := probe{id: o.id(cyl, word), key: o.key, cyl: cyl, saw: o.saw, ask: o.ask, outcomes: o.words,
		recorded: !o.many && o.bench == nil}
	sound := o.sound
	if cyl > 0 {
		q.saw = fmt.Sprintf("cylinder %d, %s", cyl, o.saw)
		q.ask = strings.Replace(strings.Replace(o.ask, "its ", fmt.Sprintf("cylinder %d's ", cyl), 1), "one cylinder "+
			"after the other", "the cylinders one after the other", 1)
	}
	if o.many {
		q.outcomes = []string{word, "not " + word}
		c := o.sound[slices.Index(o.words, word)]
		sound = []float64{c, 100 - c}
	}
	q.chances = func(p *point, out []float64) {
		if o.bench != nil {
			b := o.bench(p, cyl)
			out[0], out[1] = 1-b, b
			return
		}
		copy(out, sound)
	}
	return q
}

// whole is the look as it is advised: where it takes several words, it is foreseen by the first that would be said.
func (o observation) whole() probe {
	if !o.many {
		return o.probe(0, "")
	}
	q := o.probe(0, o.words[0])
	q.id, q.outcomes = o.id(0, ""), append(slices.Clone(o.words), "none of these")
	q.chances = func(_ *point, out []float64) {
		none := 100.0
		for i, x := range o.sound {
			out[i] = x
			none *= 1 - x/100
		}
		out[len(o.words)] = none
	}
	return q
}

// seen adds what was said and measured of looks that are rows of the table.
func (b *builder) seen(list []observation, cyl int, s *Seen) {
	for i := range list {
		o := &list[i]
		if o.needs != nil && !o.needs(&b.e.c) {
			continue
		}
		if said, ok := s.Several[o.key]; ok {
			for _, w := range o.words {
				q := o.probe(cyl, w)
				b.list = append(b.list, item{probe: q, outcome: which(!slices.Contains(said, w)),
					words: q.outcomes[which(!slices.Contains(said, w))]})
			}
		}
		if w := s.Said[o.key]; w != "" {
			b.word(o.probe(cyl, ""), w)
		}
		if n, ok := s.Measured[o.key]; ok && o.measure != nil {
			b.word(o.probe(cyl, ""), o.words[o.measure.class(b.e, n.Value)])
		}
	}
}

// lost is whether the spark is lost between coil and plug wire, where both were looked at: what weakens it at the coil
// weakens it at the wire alike. It takes the place of the look at the coil.
func (s *Seen) lost(spark string) *Seen {
	at := s.Said["coil.spark"]
	if spark == "" || at == "" {
		return s
	}
	out := Seen{maps.Clone(s.Said), s.Several, s.Measured}
	delete(out.Said, "coil.spark")
	out.Said["coil.lost"] = "the same"
	if slices.Index(spark3, spark) > slices.Index(spark3, at) {
		out.Said["coil.lost"] = "weaker"
	}
	return &out
}

// sparkAtWires is the spark at the plug wires: as it was looked at, or as all cylinders have it that were.
func (ev *Evidence) sparkAtWires() string {
	spark := ev.Spark
	for i := range ev.Cylinders {
		switch at := ev.Cylinders[i].Said["cylinders.spark"]; {
		case ev.Spark != "" || at == "":
		case spark != "" && at != spark:
			return ""
		default:
			spark = at
		}
	}
	return spark
}

// listed puts words that have a field of their own beside the others.
func (ev *Evidence) listed() *Seen {
	s := newSeen()
	for key, w := range map[string]string{"housing.clamp": ev.Clamp, "housing.travel": ev.Travel,
		"compression": ev.Compression, "settings.lock": ev.Settings.Lock, "cap.wires": ev.Cap.Wires,
		"capture.wrong_edge": ev.Capture.WrongEdge, "capture.leads_swapped": ev.Capture.LeadsSwapped,
		"capture.polarity": ev.Capture.Polarity} {
		if w != "" {
			s.Said[key] = w
		}
	}
	for key, n := range map[string]*Number{"battery.crank_pickup": ev.Battery.CrankPickup,
		"battery.cam_pickup": ev.Battery.CamPickup} {
		if n != nil {
			s.Measured[key] = *n
		}
	}
	return &s
}
