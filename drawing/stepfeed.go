package drawing

import (
	"fmt"
	"strings"
)

// KeyAt is where the key stands.
type KeyAt uint8

// The places of the key.
const (
	KeyAtOff KeyAt = iota
	KeyAtRun
	KeyAtCrank
)

// Word is the place in words.
func (k KeyAt) Word() string { return [...]string{"off", "run", "crank"}[min(k, KeyAtCrank)] }

// FeedLine is what the key feeds, and how its feed stands.
type FeedLine struct {
	Name  string
	Out   bool   // its feed is pulled
	Meter string // what a meter shows between it and ground; empty: none there
}

// Feed is how battery, key and what they feed are connected, as simple as it can be drawn.
type Feed struct {
	Width      float64 // mm
	BatteryOff bool    // its negative lead is off
	Key        KeyAt
	Lines      []FeedLine
	Below      []string
	Prefix     string
}

// Heights of its lines, mm.
const feedLine, feedMeter = 10.0, 12.5

// Draw lays the drawing out.
func (v Feed) Draw() (*Drawing, error) {
	const where = "feed"
	if err := stepWidth(where, v.Width); err != nil {
		return nil, err
	}
	if n := len(v.Lines); n < 1 || n > 8 {
		return nil, fmt.Errorf("%s – %d lines – give 1 to 8", where, n)
	}
	high := 16.0
	for _, l := range v.Lines {
		high += feedLine
		if l.Meter != "" {
			high += feedMeter
		}
	}
	high = max(high, 46)
	b := newStepBoard(v.Width, high, "What is fed", v.describe(), v.Prefix, append(v.Below, "not to scale"))
	d := b.d
	const battery, top = 11.0, 9.0
	const key, bus = 25.0, 40.0
	d.Group(Group{ID: "battery", Class: "battery"}, func() {
		d.Polyline([]Point{{key, top}, {battery, top}, {battery, 20}}, Outline)
		d.Line(battery-5, 20, battery+5, 20, Outline)
		d.Line(battery-2.5, 22.5, battery+2.5, 22.5, Heavy.Wide(1))
		from := 22.5
		if v.BatteryOff {
			d.Line(battery, from, battery, from+3, Outline)
			b.drawn(CirclePath(Point{battery, from + 4}, 0.9), Outline)
			b.drawn(CirclePath(Point{battery, from + 9}, 0.9), Outline)
			from += 10
		}
		d.Line(battery, from, battery, high-8, Outline)
		earth(d, battery, high-8)
	})
	words := "battery on"
	if v.BatteryOff {
		words = "off"
	}
	b.set(battery+6.2, 21.2, words, Note.At(Start, Centred))
	if v.BatteryOff {
		b.set(battery+2.4, 31, "− lead off", Note.At(Start, Centred))
	}
	d.Group(Group{ID: "key-" + v.Key.Word(), Class: "key"}, func() {
		node(d, key, top)
		node(d, bus-4, top)
		if v.Key == KeyAtOff {
			d.Line(key, top, bus-5.5, top-5.5, Heavy)
		} else {
			d.Line(key, top, bus-4, top, Heavy)
		}
	})
	b.set(bus+1, 4, "key: "+v.Key.Word(), Label.Heavy().At(Start, Centred))
	y := top + 5
	last := y
	for i, l := range v.Lines {
		v.line(b, i, l, bus, y)
		last = y
		y += feedLine
		if l.Meter != "" {
			y += feedMeter
		}
	}
	d.Polyline([]Point{{bus - 4, top}, {bus, top}, {bus, last}}, Outline)
	return d, nil
}

// line draws one line from the bus at height y: its feed, and what it feeds.
func (v Feed) line(b *stepBoard, i int, l FeedLine, bus, y float64) {
	d := b.d
	id := "fed"
	if l.Out {
		id = "out"
	}
	box := bus + 16
	d.Group(Group{ID: fmt.Sprintf("%s-%d", id, i+1), Class: id}, func() {
		if l.Out {
			d.Line(bus, y, bus+4, y, Outline)
			d.Circle(Point{bus + 5, y}, 0.9, Outline)
			d.Circle(Point{bus + 11, y - 2.4}, 0.9, Outline)
			d.Line(bus+11.9, y-2.4, box, y, Outline)
		} else {
			d.Line(bus, y, box, y, Outline)
		}
		d.Rect(box, y-3.6, d.Width-box-2, 7.2, Outline.Filled(Paper))
	})
	state := "on"
	if l.Out {
		state = "out"
	}
	t := Label.Heavy()
	b.set(d.Width-4, y, state, t.At(End, Centred))
	room := d.Width - box - 8 - Width(state, t)
	b.named(box+2, y, l.Name, room, Label)
	if l.Meter == "" {
		return
	}
	d.Group(Group{ID: fmt.Sprintf("meter-%d", i+1), Class: "meter"}, func() {
		at := Point{box + 5, y + 10}
		d.Line(at.X, y+3.6, at.X, at.Y-3.4, Outline)
		d.Circle(at, 3.4, Outline.Filled(Sheet))
		d.Line(at.X, at.Y+3.4, at.X, at.Y+5, Outline)
		for k, half := range []float64{2, 1} {
			d.Line(at.X-half, at.Y+5+float64(k), at.X+half, at.Y+5+float64(k), Outline)
		}
		b.set(at.X, at.Y, "V", Label.Heavy().At(Middle, Centred))
		b.named(at.X+6, at.Y, l.Meter, d.Width-at.X-7, Value)
	})
}

// named sets words from x on, centred on y: on one line where there is room, else smaller on two.
func (b *stepBoard) named(x, y float64, text string, room float64, t TextStyle) {
	lines := []string{text}
	if Width(text, t) > room {
		t = t.Sized(Note.Size)
		lines = Wrap(text, room, t)
	}
	if len(lines) > 2 {
		lines = []string{lines[0], b.d.fit(strings.Join(lines[1:], " "), room, t)}
	}
	y -= t.Size * 1.1 / 2 * float64(len(lines)-1)
	for i, line := range lines {
		b.set(x, y+t.Size*1.1*float64(i), line, t.At(Start, Centred))
	}
}

func (v Feed) describe() string {
	s := "Battery on"
	if v.BatteryOff {
		s = "Battery off"
	}
	s += ", key " + v.Key.Word() + "."
	for _, l := range v.Lines {
		s += " " + l.Name + ": "
		if l.Out {
			s += "feed out"
		} else {
			s += "feed on"
		}
		if l.Meter != "" {
			s += ", meter: " + l.Meter
		}
		s += "."
	}
	return s
}
