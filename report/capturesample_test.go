package report

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/shaft"
	"phasewright/waveform"
)

// run of the bench that most recordings of these tests make.
const wholeRun = "crank 2 s then sweep 180..750 rpm in 0.5 s then sweep 750..3600 rpm in 12 s"

// recordBench lets the bench run an example's engine with faults and reads the recording back as the page has it:
// through JSON. Channels named in without are left unread.
func recordBench(t testing.TB, name, profile string, faults []string, without ...string) (*shaft.Result, *jobcard.Card) {
	t.Helper()
	k := sparkCase(t, name)
	c, err := bench.FromCard(k.Card)
	if err != nil {
		t.Fatal(err)
	}
	f, err := bench.ParseFaults(c, faults...)
	if err != nil {
		t.Fatal(err)
	}
	p, err := bench.ParseProfile(profile)
	if err != nil {
		t.Fatal(err)
	}
	rig, err := bench.NewRig(c, f, p, 1)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := bench.WriteVCD(&b, rig); err != nil {
		t.Fatal(err)
	}
	opt := shaft.Options{Card: k.Card, Roles: map[string]shaft.Role{}}
	for _, ch := range without {
		opt.Roles[ch] = shaft.Unknown
	}
	r, err := shaft.Run(context.Background(), shaft.Recording{Input: waveform.Stream(name+".vcd", &b, -1), Options: waveform.Options{Workers: 1}}, opt)
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	back := new(shaft.Result)
	if err := json.Unmarshal(data, back); err != nil {
		t.Fatal(err)
	}
	return back, k.Card
}

// stroke is an upright line in a drawing as a page has it.
type stroke struct {
	group       string // nearest id around it
	class       string
	width, x    float64
	top, bottom float64
}

// svgStrokes reads the upright lines of an SVG and the places of its numbers and words, as another program would.
func svgStrokes(t testing.TB, svg string) (lines []stroke, words map[string]float64) {
	t.Helper()
	words = map[string]float64{}
	dec := xml.NewDecoder(strings.NewReader(svg))
	type level struct{ id, class, width string }
	stack := []level{{}}
	at, text := 0.0, ""
	for {
		tok, err := dec.Token()
		if err != nil {
			break
		}
		switch e := tok.(type) {
		case xml.StartElement:
			l := stack[len(stack)-1]
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "id":
					l.id = a.Value
				case "class":
					l.class = a.Value
				case "stroke-width":
					l.width = a.Value
				case "x":
					at, _ = strconv.ParseFloat(a.Value, 64)
				case "d":
					var x1, y1, x2, y2 float64
					if n, _ := fmt.Sscanf(a.Value, "M%f %fL%f %f", &x1, &y1, &x2, &y2); n == 4 && x1 == x2 && strings.Count(a.Value, "L") == 1 {
						w, _ := strconv.ParseFloat(l.width, 64)
						lines = append(lines, stroke{l.id, l.class, w, x1, min(y1, y2), max(y1, y2)})
					}
				}
			}
			stack = append(stack, l)
			text = ""
		case xml.CharData:
			text += string(e)
		case xml.EndElement:
			if e.Name.Local == "text" {
				words[text] = at
			}
			stack = stack[:len(stack)-1]
		}
	}
	if len(lines) == 0 {
		t.Fatal("no lines in the drawing")
	}
	return lines, words
}
