// Package examples holds the job cards and light readings that ship with the tool, all invented: a work boat's
// inline six, a hill-climb V8, an odd-fire V6 of a chain ferry, a pump's four, a single-cylinder generator and a
// fireboat's V12.
package examples

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed *.yaml *.csv
var files embed.FS

// Card is an example job card.
type Card struct {
	Name  string // file name without its ending
	About string // one line, from the head of the file
	YAML  string
}

// Cards lists the examples, the demo's first.
func Cards() []Card {
	var out []Card
	for _, name := range []string{"sandpiper", "gorse-hill", "heron-ferry", "mill-pump", "tern-single",
		"ember-twelve"} {
		text := read(name + ".yaml")
		about, _, _ := strings.Cut(strings.TrimPrefix(text, "# "), "\n")
		out = append(out, Card{Name: name, About: strings.TrimSuffix(about, " Invented."), YAML: text})
	}
	return out
}

// Readings is the readings file of the example with the name.
func Readings(name string) (string, error) {
	data, err := files.ReadFile(name + ".csv")
	if err != nil {
		return "", fmt.Errorf("no example readings for %q", name)
	}
	return string(data), nil
}

func read(name string) string {
	data, err := files.ReadFile(name)
	if err != nil {
		panic("examples: " + err.Error()) // embedded with the program
	}
	return string(data)
}
