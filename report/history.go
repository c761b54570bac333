package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/quantity"
)

func (f *flow) overrides(list []Override) {
	f.told = true
	f.heading("Locks passed with a reason")
	if len(list) == 0 {
		f.text("None.", drawing.Body)
		f.y += gap
		return
	}
	var rows [][]string
	for _, o := range list {
		rows = append(rows, []string{o.When, o.Step, o.Reason, o.By})
	}
	f.table([]column{{"when", 1.3, left}, {"step", 2, left}, {"reason", 3.2, left}, {"by", 1.2, left}}, rows)
}

func (f *flow) evidence(list []Evidence, c Chain) {
	f.heading("Files and event chain")
	var rows [][]string
	for _, e := range list {
		rows = append(rows, []string{e.Name, e.What, quantity.Number(float64(e.Bytes), 0), "", e.SHA256})
	}
	if len(rows) > 0 {
		f.table([]column{{"file", 1.8, left}, {"what", 1.3, left}, {"bytes", 0.9, figure}, {"", 0.2, left},
			{"SHA-256", 3.6, left}}, rows)
	} else {
		f.text("No files attached to the job.", drawing.Body)
	}
	if c.Head != "" {
		f.text(fmt.Sprintf("Event chain of this job: %s events, head %s. Who keeps this number can prove later that "+
			"nothing before it was changed.", quantity.Number(float64(c.Events), 0), c.Head), drawing.Body)
	} else {
		f.text("No event chain: this document was made from files, not from a shop book.", drawing.Body)
	}
	f.y += gap
}

func (f *flow) signatures(who, customer string) {
	f.need(22)
	f.y += 14
	half := (f.wide() - 10) / 2
	for i, s := range []string{"technician: " + who, "customer: " + or(customer, "")} {
		x := inset + float64(i)*(half+10)
		f.d.Line(x, f.y, x+half, f.y, drawing.Style{Stroke: drawing.Ink, Width: 0.25})
		f.heed(s)
		f.d.Text(x, f.y+4, drawing.Fit(s, half, drawing.Note), drawing.Note)
	}
	f.y += 6
}

// entry is one line of the record: a path and the plain values there, as written.
type entry struct{ path, text string }

// most is the number of lines of the record that are printed.
const most = 3000

// flatten reads the machine-readable twin: one line for each object or list that
// holds plain values. Numbers stay as they are written.
func flatten(data []byte) ([]entry, error) {
	if len(data) == 0 {
		return nil, nil
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	var out []entry
	if _, err := value(dec, "", 0, &out); err != nil {
		return nil, fmt.Errorf("report – the machine-readable twin is not JSON (%v) – give the "+
			"record as it was exported", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("report – something follows the machine-readable twin – give one JSON value")
	}
	return out, nil
}

// value reads one value and adds its lines in the order of the text. It reports
// whether the value is a plain one, which stands on the line of its parent.
func value(dec *json.Decoder, path string, depth int, out *[]entry) (single bool, err error) {
	if depth > 64 {
		return false, fmt.Errorf("nested more than 64 deep")
	}
	tok, err := dec.Token()
	if err != nil {
		return false, err
	}
	open, nested := tok.(json.Delim)
	if !nested {
		*out = append(*out, entry{path, plain(tok)})
		return true, nil
	}
	at, here := len(*out), []string{}
	for i := 0; dec.More(); i++ {
		name, sub := "", path+"["+strconv.Itoa(i)+"]"
		if open == '{' {
			key, err := dec.Token()
			if err != nil {
				return false, err
			}
			name = key.(string)
			sub = strings.TrimPrefix(path+"."+name, ".")
		}
		var inner []entry
		single, err := value(dec, sub, depth+1, &inner)
		if err != nil {
			return false, err
		}
		if single {
			here = append(here, strings.TrimSpace(name+" "+inner[0].text))
			continue
		}
		*out = append(*out, inner...)
	}
	if _, err := dec.Token(); err != nil {
		return false, err
	}
	if len(here) > 0 {
		line := entry{path, strings.Join(here, ", ")}
		*out = append((*out)[:at], append([]entry{line}, (*out)[at:]...)...)
	}
	return false, nil
}

func plain(tok json.Token) string {
	switch v := tok.(type) {
	case nil:
		return "none"
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case json.Number:
		return v.String()
	case string:
		return "“" + v + "”"
	}
	return fmt.Sprint(tok)
}

// numbers prints the record, so that the paper holds every number that the file holds.
func (f *flow) numbers(list []entry) {
	if len(list) == 0 {
		return
	}
	f.page()
	f.heading("The record")
	f.text("Every value of the machine-readable twin that this file carries (job.json), as written there. Angles are "+
		"degrees, speeds rpm, times as the key says.", drawing.Note)
	f.y += 1.5
	t := drawing.TextStyle{Size: 2.3}
	path := t.Painted(drawing.Soft)
	step := t.Size * 1.35
	for i, e := range list {
		if i == most {
			f.text(fmt.Sprintf("%d more lines stand in the file alone.", len(list)-most), drawing.Note)
			return
		}
		name := e.path
		if name == "" {
			name = "top"
		}
		in := 42.0
		heads := drawing.Wrap(name, in-2, path)
		lines := drawing.Wrap(e.text, f.wide()-in, t)
		f.heed(e.path + e.text)
		for k := range max(len(heads), len(lines)) {
			f.need(step)
			f.y += step
			if k < len(heads) {
				f.d.Text(inset, f.y, heads[k], path)
			}
			if k < len(lines) {
				f.d.Text(inset+in, f.y, lines[k], t)
			}
		}
	}
	f.y += gap
}
