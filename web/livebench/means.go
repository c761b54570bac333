package livebench

import (
	"strings"

	"phasewright/bench"
	"phasewright/web/page"
)

// meansControls are the looks that a real engine gives beside light and lamps, and the figures that are written down.
func meansControls() map[string]control {
	return map[string]control{
		"feel": func(r *rig, _ form) (string, error) {
			return "clamp tried by hand", r.session.Clamp(bench.Unfelt)
		},
		"second": doSecond,
		"plug":   doPlug,
		"stop":   flip("piston stop screwed in", "piston stop taken out", (*bench.Session).PistonStop),
		"thumb":  flip("thumb on the plug hole", "thumb taken away", (*bench.Session).Thumb),
		"figure": doFigure,
	}
}

func doSecond(r *rig, f form) (string, error) {
	to, wire := r.state.Second.Light, float64(r.state.Second.Wire)
	var err error
	if f.Has("to") {
		to, err = f.position()
	}
	if f.Has("wire") && err == nil {
		wire, err = f.number("wire", "the number of a cylinder")
	}
	if err != nil {
		return "", err
	}
	return "second light " + string(to) + ", on wire " + page.Figure(wire, 0), r.session.Second(to, int(wire))
}

func doPlug(r *rig, f form) (string, error) {
	to, err := f.position()
	if err != nil {
		return "", err
	}
	cylinder, err := f.number("cylinder", "the number of a cylinder")
	if err != nil {
		return "", err
	}
	said := "plug " + page.Figure(cylinder, 0) + " screwed in"
	if to == bench.Off {
		said = "plug " + page.Figure(cylinder, 0) + " screwed out"
	}
	return said, r.session.Plug(int(cylinder), to)
}

func doFigure(r *rig, f form) (string, error) {
	var said []string
	for _, a := range bench.Figures() {
		if strings.TrimSpace(f.Get(a.Key)) == "" {
			continue
		}
		v, err := f.number(a.Key, "a number such as 8.5")
		if err == nil {
			err = r.session.WriteDown(a.Key, v)
		}
		if err != nil {
			return "", err
		}
		said = append(said, page.Figure(v, 1)+a.Unit)
	}
	if len(said) == 0 {
		return "", page.Refuse("No figure was written.", "Write what you read, such as 8.5.")
	}
	r.version++
	return "written down: " + strings.Join(said, ", "), nil
}

// means is how plug holes, stop and second light stand, in words.
type means struct {
	Hole   string `json:"hole"`
	Other  string `json:"other"`  // what the second light shows
	Unsafe int    `json:"unsafe"` // acts so far
	Slot   string `json:"slot"`   // end of its slot that the housing stands at
}

func (r *rig) means() means {
	st := &r.state
	m := means{Hole: "every plug is in", Other: "off", Unsafe: len(st.Unsafe), Slot: "has room each way"}
	if st.PlugOut > 0 {
		m.Hole = "plug " + page.Figure(float64(st.PlugOut), 0) + " is out"
	}
	switch {
	case st.StopAt != "":
		m.Hole = "the piston rests against the stop, turned " + st.StopAt
	case st.Stop == bench.On:
		m.Hole = "the piston stop is in"
	case st.Thumb != "":
		m.Hole = "thumb on hole " + page.Figure(float64(st.PlugOut), 0) + ": " + thumbWords[st.Thumb]
	}
	if st.Second.Light == bench.On {
		m.Other = "wire " + page.Figure(float64(st.Second.Wire), 0) + ": " + marksWords(st.Second.MarksDeg)
	}
	if st.SlotEnd != "" {
		m.Slot = "at its end " + st.SlotEnd
	}
	return m
}

var thumbWords = map[string]string{"pushes": "compression pushes", "draws": "it draws in", "nothing": "nothing felt",
	"still": "turn the crank"}

// marksWords are the marks that an eye reads: one, two, or none.
func marksWords(all []float64) string {
	if len(all) == 0 {
		return "–"
	}
	words := make([]string, len(all))
	for i, v := range all {
		words[i] = page.Figure(roundTo(v, 0.5), 1) + "°"
	}
	return strings.Join(words, " and ")
}

// asked are the figures that the exercise wants written down, with what stands there.
func (r *rig) asked() []benchAsked {
	if r.exercise == nil {
		return nil
	}
	var all []benchAsked
	for _, a := range r.exercise.Write {
		one := benchAsked{Key: a.Key, Label: a.Label, Unit: a.Unit}
		if v, is := r.state.Figures[a.Key]; is {
			one.Value = page.Figure(v, 1)
		}
		all = append(all, one)
	}
	return all
}

type benchAsked struct{ Key, Label, Unit, Value string }

// handedOver is what the controller is said to be set to.
func (r *rig) handedOver() string {
	was := r.session.HandedOver()
	var all []string
	for _, one := range settings {
		all = append(all, one.label+" "+one.withUnit(&was))
	}
	return page.Joined(", ", append(all, "timing "+lockWord(was.Lock), "edge "+string(was.Edge))...)
}
