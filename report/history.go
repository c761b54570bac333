package report

import (
	"fmt"
	"strconv"
	"strings"

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
		f.text(fmt.Sprintf("Event chain of this job: %s events. Each carries the hash of the one before it; that "+
			"of the last is %s. While this sheet or a picture of it is kept, no event up to then can be changed "+
			"unseen.",
			quantity.Number(float64(c.Events), 0), c.Head), drawing.Body)
	} else {
		f.text("No event chain: this document was made from files, not from a shop book.", drawing.Body)
	}
	f.y += gap
}

// ChainCheck prints the hash of the last event of an export.
const ChainCheck = `unzip -p job.zip job.json | grep -o '"hash": *"[0-9a-f]*"' | tail -n 1`

// verify says in three lines how anyone can check this file with tools that everybody has.
func (f *flow) verify(stamp Stamp, k Case) {
	f.headingOf("Check this file yourself", 30)
	files := stamp.attachments(k.Card)
	var names []string
	var rows [][]string
	for _, a := range files {
		names = append(names, a.Name)
		rows = append(rows, []string{a.Name, sum(a.Data)})
	}
	last := "3. The card beside number and page, on every page, is what the second line prints of job.yaml, its " +
		"first " + strconv.Itoa(hashShown) + " digits."
	switch {
	case len(stamp.Export) > 0 && k.Chain.Head != "":
		last = "3. " + ChainCheck + " prints the last of the event chain: " + k.Chain.Head
	case k.Chain.Head != "":
		last = "3. The job's files are too large to travel in here. Ask the workshop for its export, job.zip. Then " +
			ChainCheck + " prints " + k.Chain.Head
	}
	for _, line := range []string{
		"1. pdfdetach -saveall FILE.pdf takes the attachments out (poppler; most readers show them too).",
		"2. sha256sum " + strings.Join(names, " ") + " must print the hashes below (Mac: shasum -a 256; Windows: " +
			"certutil -hashfile FILE SHA256).",
		last} {
		f.text(line, drawing.Body.Sized(2.7))
	}
	f.y += 1
	f.close = true
	f.table([]column{{"attachment", 1, left}, {"SHA-256", 5, left}}, rows)
	f.close = false
}
