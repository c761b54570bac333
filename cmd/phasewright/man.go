package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

type manCommand struct {
	About []string `arg:"" optional:"" help:"A command or a topic; left out: the program's own page. Read it with: phasewright man sheet | man -l -"`
	All   output   `help:"Write every page into a folder that is new or empty." placeholder:"DIR"`
}

func (c *manCommand) Run(a *app) error {
	m := manual{tree: a.tree, build: builtFrom()}
	if c.All != "" {
		return a.writeFolder(string(c.All), m.pages())
	}
	name := strings.Join(append([]string{"phasewright"}, c.About...), "-")
	for _, p := range m.pages() {
		if p.name[:len(p.name)-len(".1")] == name {
			_, err := a.out.Write(p.data)
			return err
		}
	}
	return hinted{fmt.Errorf("there is no page on %q", strings.Join(c.About, " ")),
		"a page explains a whole command, such as book, or a topic: " + strings.Join(topicNames(), ", ")}
}

// manual is the set of manual pages: one on the program, one a command, one a topic.
type manual struct {
	tree  *kong.Node
	build build
}

// pages are all pages as files, in the language of man(7).
func (m manual) pages() []file {
	var see []string
	for _, n := range m.tree.Children {
		see = append(see, "phasewright-"+n.Name+"(1)")
	}
	for _, t := range topics() {
		see = append(see, "phasewright-"+t.name+"(7)")
	}
	whole := m.page("phasewright", 1, "plan, phase and prove ignition timing")
	whole.synopsis(m.tree)
	whole.section("DESCRIPTION")
	whole.paragraph(m.tree.Help)
	whole.section("COMMANDS")
	for _, n := range m.tree.Children {
		whole.item(n.Name, n.Help)
	}
	whole.flags(m.tree)
	whole.exit()
	whole.seeAlso(see)
	out := []file{{"phasewright.1", whole.bytes()}}
	for _, n := range m.tree.Children {
		p := m.page("phasewright-"+n.Name, 1, lowered(n.Help))
		p.synopsis(n)
		p.section("DESCRIPTION")
		p.paragraph(n.Help)
		p.command(n)
		for _, below := range n.Children {
			p.section(strings.ToUpper(n.Name + " " + below.Name))
			p.paragraph(below.Help)
			p.command(below)
		}
		p.exit()
		p.seeAlso(see[len(m.tree.Children):])
		out = append(out, file{"phasewright-" + n.Name + ".1", p.bytes()})
	}
	for _, t := range topics() {
		p := m.page("phasewright-"+t.name, 7, t.title)
		p.section("DESCRIPTION")
		p.parts(t.parts())
		p.seeAlso([]string{"phasewright(1)"})
		out = append(out, file{"phasewright-" + t.name + ".7", p.bytes()})
	}
	return out
}

// lowered is a sentence as part of a line: without its stop and its capital.
func lowered(s string) string { return strings.ToLower(s[:1]) + strings.TrimSuffix(s[1:], ".") }

// manPage is one page as it is written.
type manPage struct{ strings.Builder }

func (p *manPage) bytes() []byte { return []byte(p.String()) }

// page begins a page. The date is that of the commit, so that the same sources give the same page.
func (m manual) page(name string, section int, what string) *manPage {
	p := new(manPage)
	date, _, _ := strings.Cut(m.build.date, "T")
	fmt.Fprintf(p, ".TH %s %d \"%s\" \"phasewright %s\"\n.nh\n.ad l\n", strings.ToUpper(roff(name)), section, date,
		roff(m.build.release))
	p.section("NAME")
	fmt.Fprintf(p, "%s \\- %s\n", roff(name), roff(what))
	return p
}

// roff is text that troff prints as it is.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", "\\(ga", "^", `\(ha`, "~", `\(ti`,
		`"`, `\(dq`).Replace(text)
	if strings.HasPrefix(text, ".") {
		text = `\&` + text
	}
	return text
}

func (p *manPage) section(title string) { fmt.Fprintf(p, ".SH %s\n", roff(title)) }

func (p *manPage) paragraph(text string) { fmt.Fprintf(p, "%s\n", roff(text)) }

func (p *manPage) item(name, text string) { fmt.Fprintf(p, ".TP\n.B %s\n%s\n", roff(name), roff(text)) }

func (p *manPage) synopsis(n *kong.Node) {
	p.section("SYNOPSIS")
	p.WriteString(".B " + roff(n.FullPath()) + "\n")
	for _, arg := range n.Positional {
		if !arg.Tag.Hidden {
			p.WriteString(roff(arg.Summary()) + "\n")
		}
	}
	if len(n.Children) > 0 {
		p.WriteString("COMMAND\n")
	}
	p.WriteString("[OPTION]...\n")
}

// command explains what a command takes.
func (p *manPage) command(n *kong.Node) {
	for _, arg := range n.Positional {
		if !arg.Tag.Hidden {
			p.item(strings.ToUpper(arg.Name), arg.Help)
		}
	}
	p.options(n)
	if n.Detail != "" {
		p.WriteString(".PP\n.nf\n")
		for _, line := range strings.Split(strings.TrimRight(n.Detail, "\n"), "\n") {
			if line == "" {
				p.WriteString(".sp\n")
				continue
			}
			io.WriteString(p, roff(line)+"\n")
		}
		p.WriteString(".fi\n")
	}
}

func (p *manPage) flags(n *kong.Node) {
	p.section("OPTIONS")
	p.options(n)
}

func (p *manPage) options(n *kong.Node) {
	for _, f := range n.Flags {
		if f.Hidden {
			continue
		}
		help := f.Help
		if choices := choicesOf(f.Value); len(choices) > 0 && f.Enum == "" {
			help += " One of: " + strings.Join(choices, ", ") + "."
		}
		if f.HasDefault && f.Default != "" && !f.IsBool() && f.Default != "0" {
			help += " Left out: " + f.Default + "."
		}
		p.item(f.String(), help)
	}
}

func (p *manPage) exit() {
	p.section("EXIT STATUS")
	for _, s := range statuses {
		p.item(fmt.Sprint(s.code), s.when+".")
	}
}

func (p *manPage) parts(parts []part) {
	for i, one := range parts {
		if i > 0 {
			p.WriteString(".PP\n")
		}
		p.paragraph(one.text)
		for _, r := range one.rows {
			p.item(r[0], r[1])
		}
	}
}

func (p *manPage) seeAlso(pages []string) {
	p.section("SEE ALSO")
	for i, page := range pages {
		name, section, _ := strings.Cut(page, "(")
		end := ","
		if i == len(pages)-1 {
			end = ""
		}
		fmt.Fprintf(p, ".BR %s (%s%s\n", roff(name), section, end)
	}
}
