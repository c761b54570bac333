package report

import (
	"fmt"

	"phasewright/drawing"
	"phasewright/quantity"
)

func (f *flow) overrides(list []Override) {
	f.told = true
	f.heading("Rules passed with a reason")
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
