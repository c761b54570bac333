package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

type completionCommand struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"${enum}. For bash: source <(phasewright completion bash)"`
}

func (c *completionCommand) Run(a *app) error {
	write := map[string]func(io.Writer, []place){"bash": completeBash, "zsh": completeZsh, "fish": completeFish}
	var b strings.Builder
	write[c.Shell](&b, places(a.tree))
	_, err := io.WriteString(a.out, b.String())
	return err
}

// place is where somebody may stand on a command line: a command, with all that may come next.
type place struct {
	path  string // "book table"; "" for the program itself
	verbs []verb
	flags []word
	args  []word
}

type verb struct{ name, help string }

// word is a flag or an argument. Without choices it is a file, a folder or free.
type word struct {
	name, help, value string // value: what a flag takes; "" for a switch
	choices           []string
	file, folder      bool
	many              bool // an argument that may come again
}

// places walks the table of commands, so that completions have nothing of their own.
func places(n *kong.Node) []place {
	p := place{path: strings.TrimPrefix(strings.TrimPrefix(n.FullPath(), "phasewright"), " ")}
	for _, f := range n.Flags {
		if f.Hidden {
			continue
		}
		w := wordOf(f.Value)
		w.name = "--" + f.Name
		if !f.IsBool() {
			w.value = f.FormatPlaceHolder()
		}
		w.folder = w.value == "DIR"
		w.file = w.value == "FILE" || w.value == "CARD"
		p.flags = append(p.flags, w)
	}
	for _, arg := range n.Positional {
		if arg.Tag.Hidden {
			continue
		}
		w := wordOf(arg)
		w.many = arg.IsCumulative()
		w.file = len(w.choices) == 0 && w.name != "job" && w.name != "words"
		p.args = append(p.args, w)
	}
	out := []place{}
	for _, below := range n.Children {
		if !below.Hidden {
			p.verbs = append(p.verbs, verb{below.Name, below.Help})
			out = append(out, places(below)...)
		}
	}
	return append([]place{p}, out...)
}

func wordOf(v *kong.Value) word {
	return word{name: v.Name, help: v.Help, choices: choicesOf(v)}
}

// choicesOf are the only values that a flag or an argument takes; none where there is no end of them.
func choicesOf(v *kong.Value) []string {
	switch {
	case v.Enum != "":
		return v.EnumSlice()
	case v.Tag.Has("one"):
		return strings.Split(v.Tag.Get("one"), ",")
	case v.Name == "about":
		return append(topicNames(), commandNames()...)
	}
	return nil
}

// commandNames are the commands, without those below them.
func commandNames() []string {
	var out []string
	for _, n := range newParser(io.Discard, io.Discard, func(int) {}).Model.Children {
		out = append(out, n.Name)
	}
	return out
}

func (p place) verbNames() []string {
	var out []string
	for _, v := range p.verbs {
		out = append(out, v.name)
	}
	return out
}

func (p place) flagNames() []string {
	var out []string
	for _, f := range p.flags {
		out = append(out, f.name)
	}
	return out
}

// argChoices are what the arguments of a command may be, where that is known.
func (p place) argChoices() []string {
	var out []string
	for _, a := range p.args {
		out = append(out, a.choices...)
	}
	return out
}

func (p place) takesFile() bool {
	return slices.ContainsFunc(p.args, func(w word) bool { return w.file })
}

// completeBash writes a completion that old bash of macOS (3.2) reads too. Where it offers nothing, bash itself offers
// file names, unless that was turned off.
func completeBash(w io.Writer, all []place) {
	fmt.Fprint(w, `# bash completion of phasewright, written by: phasewright completion bash
_phasewright_offers() {
  local cur="${COMP_WORDS[COMP_CWORD]}" prev="${COMP_WORDS[COMP_CWORD-1]}" at='' i
  if [ "$cur" = '=' ]; then cur=''
  elif [ "$prev" = '=' ]; then prev="${COMP_WORDS[COMP_CWORD-2]}"; fi
  COMPREPLY=()
  for ((i = 1; i < COMP_CWORD; i++)); do
    case "$at/${COMP_WORDS[i]}" in
`)
	for _, p := range all[1:] {
		up, name := "", p.path
		if i := strings.LastIndex(p.path, " "); i >= 0 {
			up, name = p.path[:i], p.path[i+1:]
		}
		fmt.Fprintf(w, "      '%s/%s') at='%s' ;;\n", up, name, p.path)
	}
	fmt.Fprint(w, "    esac\n  done\n  local words=''\n  case \"$at $prev\" in\n")
	for _, p := range all {
		for _, f := range p.flags {
			switch {
			case f.value == "":
			case len(f.choices) > 0:
				fmt.Fprintf(w, "    '%s %s') words='%s' ;;\n", p.path, f.name, strings.Join(f.choices, " "))
			case f.folder:
				fmt.Fprintf(w, "    '%s %s') compopt -o dirnames 2>/dev/null; return ;;\n", p.path, f.name)
			case f.file:
				fmt.Fprintf(w, "    '%s %s') return ;;\n", p.path, f.name)
			default:
				fmt.Fprintf(w, "    '%s %s') compopt +o default 2>/dev/null; return ;;\n", p.path, f.name)
			}
		}
	}
	fmt.Fprint(w, "    *) case \"$cur/$at\" in\n")
	for _, p := range all {
		fmt.Fprintf(w, "      -*/'%s') words='%s' ;;\n", p.path, strings.Join(p.flagNames(), " "))
	}
	for _, p := range all {
		if words := append(p.verbNames(), p.argChoices()...); len(words) > 0 {
			fmt.Fprintf(w, "      */'%s') words='%s' ;;\n", p.path, strings.Join(words, " "))
		} else if p.takesFile() {
			fmt.Fprintf(w, "      */'%s') return ;;\n", p.path)
		}
	}
	fmt.Fprint(w, `    esac ;;
  esac
  compopt +o default 2>/dev/null
  COMPREPLY=($(compgen -W "$words" -- "$cur"))
}
complete -o default -F _phasewright_offers phasewright
`)
}

// completeZsh writes a function for each place, in the words of zsh's own _arguments.
func completeZsh(w io.Writer, all []place) {
	fmt.Fprint(w, "#compdef phasewright\n# zsh completion of phasewright, written by: phasewright completion zsh\n")
	for _, p := range all {
		fmt.Fprintf(w, "\n_phasewright%s() {\n", strings.ReplaceAll(" "+p.path, " ", "_"))
		if len(p.verbs) > 0 {
			fmt.Fprint(w, "  local curcontext=\"$curcontext\" state line\n  local -a verbs\n")
		}
		fmt.Fprint(w, "  _arguments")
		if len(p.verbs) > 0 {
			fmt.Fprint(w, " -C")
		}
		for _, f := range p.flags {
			spec := f.name
			if f.value != "" {
				spec += "="
			}
			spec += "[" + zshText(f.help) + "]"
			if f.value != "" {
				spec += ":" + zshText(f.value) + ":" + zshAction(f)
			}
			fmt.Fprintf(w, " \\\n    %s", quoted(spec))
		}
		for i, a := range p.args {
			which := fmt.Sprint(i + 1)
			if a.many {
				which = "*"
			}
			fmt.Fprintf(w, " \\\n    %s", quoted(which+":"+zshText(a.name)+":"+zshAction(a)))
		}
		if len(p.verbs) == 0 {
			fmt.Fprint(w, "\n}\n")
			continue
		}
		fmt.Fprint(w, " \\\n    '1: :->verb' '*:: :->rest'\n  case $state in\n    verb)\n      verbs=(\n")
		for _, v := range p.verbs {
			fmt.Fprintf(w, "        %s\n", quoted(v.name+":"+v.help))
		}
		fmt.Fprint(w, "      )\n      _describe command verbs ;;\n    rest)\n      case $words[1] in\n")
		for _, v := range p.verbs {
			fmt.Fprintf(w, "        %s) _phasewright%s ;;\n", v.name,
				strings.ReplaceAll(strings.TrimRight(" "+p.path, " ")+" "+v.name, " ", "_"))
		}
		fmt.Fprint(w, "      esac ;;\n  esac\n}\n")
	}
	fmt.Fprint(w, `
if [ "$funcstack[1]" = _phasewright ]; then
  _phasewright_
else
  compdef _phasewright_ phasewright
fi
`)
}

// zshText is text inside a specification of _arguments.
func zshText(s string) string {
	return strings.NewReplacer(`\`, `\\`, ":", `\:`, "[", `\[`, "]", `\]`).Replace(s)
}

func zshAction(v word) string {
	switch {
	case len(v.choices) > 0:
		return "(" + strings.Join(v.choices, " ") + ")"
	case v.folder:
		return "_files -/"
	case v.file:
		return "_files"
	}
	return " "
}

// quoted is text as one word of a POSIX shell.
func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// completeFish writes a line for each word that may come next, with where it may.
func completeFish(w io.Writer, all []place) {
	fmt.Fprint(w, `# fish completion of phasewright, written by: phasewright completion fish
function __phasewright_at
    set -l at
    set -l words (commandline -opc)
    for word in $words[2..-1]
        switch "$at/$word"
`)
	for _, p := range all[1:] {
		up, name := "", p.path
		if i := strings.LastIndex(p.path, " "); i >= 0 {
			up, name = p.path[:i], p.path[i+1:]
		}
		fmt.Fprintf(w, "            case '%s/%s'\n                set at '%s'\n", up, name, p.path)
	}
	fmt.Fprint(w, "        end\n    end\n    test \"$at\" = \"$argv\"\nend\ncomplete -c phasewright -f\n")
	for _, p := range all {
		at := "complete -c phasewright -n " + fishText("__phasewright_at "+p.path)
		for _, v := range p.verbs {
			fmt.Fprintf(w, "%s -a %s -d %s\n", at, v.name, fishText(v.help))
		}
		for _, a := range p.args {
			switch {
			case len(a.choices) > 0:
				fmt.Fprintf(w, "%s -a %s\n", at, fishText(strings.Join(a.choices, " ")))
			case a.file:
				fmt.Fprintf(w, "%s -F\n", at)
			}
		}
		for _, f := range p.flags {
			fmt.Fprintf(w, "%s -l %s -d %s", at, strings.TrimPrefix(f.name, "--"), fishText(f.help))
			switch {
			case f.value == "":
			case len(f.choices) > 0:
				fmt.Fprintf(w, " -x -a %s", fishText(strings.Join(f.choices, " ")))
			case f.folder:
				fmt.Fprint(w, " -x -a '(__fish_complete_directories)'")
			case f.file:
				fmt.Fprint(w, " -r -F")
			default:
				fmt.Fprint(w, " -x")
			}
			fmt.Fprintln(w)
		}
	}
}

// fishText is text as one word of fish, where a backslash counts inside single quotes.
func fishText(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
}
