package main

import (
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"unicode/utf8"

	"github.com/alecthomas/kong"
)

type helpCommand struct {
	About []string `arg:"" optional:"" help:"A topic (${topics}) or a command; left out: all commands."`
}

func (c *helpCommand) Run(a *app) error {
	about := strings.Join(c.About, " ")
	for _, t := range topics() {
		if t.name == strings.TrimPrefix(about, "exit ") {
			return t.print(a)
		}
	}
	if commandAt(a.tree, c.About) == nil {
		return hinted{fmt.Errorf("there is neither a topic nor a command %q", about),
			"topics: " + strings.Join(topicNames(), ", ") + "; phasewright help lists the commands"}
	}
	run(a.ctx, append(c.About, "--help"), a.in, a.out, a.err)
	return nil
}

// commandAt is the command of that name, such as book table; nil where there is none.
func commandAt(tree *kong.Node, path []string) *kong.Node {
	for _, name := range path {
		var next *kong.Node
		for _, n := range tree.Children {
			if n.Name == name {
				next = n
			}
		}
		if next == nil {
			return nil
		}
		tree = next
	}
	return tree
}

// print writes the topic for reading on a terminal.
func (t topic) print(a *app) error {
	var b strings.Builder
	fmt.Fprintln(&b, a.strong(strings.ToUpper(t.title[:1])+t.title[1:]))
	for _, p := range t.parts() {
		b.WriteString("\n" + wrapped(p.text, "", a.width))
		wide := 0
		for _, r := range p.rows {
			wide = max(wide, utf8.RuneCountInString(r[0]))
		}
		for _, r := range p.rows {
			lead := "  " + r[0] + strings.Repeat(" ", wide-utf8.RuneCountInString(r[0])+2)
			b.WriteString(wrapped(r[1], lead, max(a.width, wide+40)))
		}
	}
	if t.name == "files" {
		if home, err := os.UserHomeDir(); err == nil {
			fmt.Fprintf(&b, "\nHere: %s\n", placeFor(ownBook, runtime.GOOS, home, os.Getenv))
		}
	}
	_, err := io.WriteString(a.out, b.String())
	return err
}
