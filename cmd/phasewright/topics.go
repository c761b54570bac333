package main

import (
	"fmt"
	"strings"

	"phasewright/quantity"
	"phasewright/readings"
)

// topic is what `phasewright help NAME` explains, and one manual page.
type topic struct {
	name, title string
	parts       func() []part
}

// part is a paragraph, with what it lists.
type part struct {
	text string
	rows [][2]string
}

// topics is a table in all but the reading of other tables.
func topics() []topic {
	return []topic{
		{"readings", "the file of timing-light readings", readingsTopic},
		{"units", "how values are written", unitsTopic},
		{"status", "what a command's exit status says", statusTopic},
		{"files", "where the shop book and other files lie", filesTopic},
	}
}

func topicNames() []string {
	var out []string
	for _, t := range topics() {
		out = append(out, t.name)
	}
	return out
}

func readingsTopic() []part {
	p := part{text: "Columns. Those marked * must be there."}
	for _, c := range readings.Columns() {
		name, say := c.Name, c.Remedy
		if c.Required {
			name += " *"
		}
		if say == "" {
			say = "anything"
		}
		p.rows = append(p.rows, [2]string{name, say})
	}
	return []part{
		{text: "Light readings are a CSV file. The first line names the columns, each line after it is one reading."},
		p,
		{text: "Headings and figures may stand as a spreadsheet keeps them: Engine speed (rpm), 2,200, 2 ATDC. " +
			"Columns may be split by semicolons or tabs; numbers may then have a decimal comma. " +
			"Other columns are passed over."},
		{text: "Degrees count before top dead centre; after it they are negative.", rows: [][2]string{
			{"rpm,shown_deg,locked_deg", "the least that the first line may hold"},
			{"800,12.5,10", "at 800 rpm the light showed 12.5° where the controller was locked at 10°"}}},
	}
}

func unitsTopic() []part {
	p := part{text: "Kinds of values, an example, and the usual units."}
	for _, m := range quantity.Measures() {
		p.rows = append(p.rows, [2]string{m.Name, m.Example + "   (" + m.Units + ")"})
	}
	return []part{
		{text: "A value carries its unit: 165 mm, 6 1/2 in, 750 rpm. A value without one is refused, not guessed."},
		p,
		{text: "Behind a value may stand its limits: 165 mm ± 0.5 mm, or +- for ±. All between them is taken as " +
			"equally likely (JCGM 100, 4.3.7). No ± is an unknown uncertainty, never none."},
		{text: "Timing is in degrees of the crank before top dead centre. The housing turns in degrees of the " +
			"distributor's shaft: one of those is two of the crank."},
	}
}

// statuses says what each exit status means, for help and manual pages.
var statuses = [...]struct {
	code int
	when string
}{
	{statusFine, "the command's own question is answered by a pass. card check: nothing to look at. fit: the timing " +
		"on the wires read. capture: every clause that its channels can show. report: all nine clauses"},
	{statusFails, "it is not shown, or the sheet has a stop; for book find: nothing was found"},
	{statusUnread, "the input cannot be used, or the result cannot be written; a message says what to do"},
	{statusStopped, "stopped by Ctrl-C; nothing half-written is left"},
}

func statusTopic() []part {
	p := part{text: "Results go to standard output, messages to standard error."}
	for _, s := range statuses {
		p.rows = append(p.rows, [2]string{fmt.Sprint(s.code), s.when})
	}
	return []part{p}
}

func filesTopic() []part {
	place := func(dir, sep string) string { return strings.Join([]string{dir, ownFolder, ownBook}, sep) }
	return []part{
		{text: "The shop book, where --book names no other:", rows: [][2]string{
			{"Linux", place("$XDG_DATA_HOME", "/") + ", else " + place("~/.local/share", "/")},
			{"macOS", place("~/Library/Application Support", "/")},
			{"Windows", place("%LocalAppData%", `\`)},
		}},
		{text: "Beside a book FILE:", rows: [][2]string{
			{"FILE.files", "attachments, by their SHA-256"},
			{"FILE.lock", "keeps a second writer out"},
			{"FILE-wal, FILE-shm", "the latest entries while the book is in use: never copy FILE alone, " +
				"use phasewright book backup"},
			{"FILE.devices.json", "phones and tablets that were let in"},
			{"FILE.tls.pem", "certificate of this host, where --lan is used"},
		}},
		{text: "In the folder of the usual book:", rows: [][2]string{
			{ownAuthority, "the shop's own authority for the workshop's network"}}},
		{text: "Variables:", rows: [][2]string{
			{"XDG_DATA_HOME", "the folder of your data, a full path"},
			{"NO_COLOR", "set to anything: no colour on a terminal"},
			{"GOMEMLIMIT", "what serve keeps its memory to, such as 64MiB; left out: 32MiB"},
		}},
	}
}
