package report

import (
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
)

// List is a list of jobs to hang up. Each row holds bay, name, engine and owner, person, the day since when it is open,
// how it stands, and what it waits for.
func List(heading string, rows [][]string, stamp Stamp) *Paper {
	var all strings.Builder
	for _, r := range rows {
		all.WriteString(strings.Join(r, "\t") + "\n")
	}
	stamp.JSON = []byte(all.String()) // the paper's number comes of what stands on it
	f := newFlow("list", "List of jobs", heading, nil, stamp, nil)
	stamp.JSON = nil
	if len(rows) == 0 {
		f.text("No job answers to this.", drawing.Body)
	}
	f.table([]column{{"bay", 0.7, left}, {"job", 1.8, left}, {"engine, owner", 2, left}, {"in hand by", 1.1, left},
		{"open since", 1, left}, {"status", 1.3, left}, {"waits for, or next", 1.8, left}}, rows)
	return f.paper(stamp, &jobcard.Card{})
}
