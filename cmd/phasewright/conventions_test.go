package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"phasewright/quantity"
)

// tool finds a program of the system; without it the test is skipped, under CI it fails.
func tool(t *testing.T, name string) string {
	t.Helper()
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: " + name)
	}
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(name + " is not installed: scripts/test installs it")
		}
		t.Skip("SKIPPED: " + name + " is not installed, so this was NOT checked")
	}
	return path
}

func theTree() *kong.Node { return newParser(io.Discard, io.Discard, func(int) {}).Model.Node }

// theManual is the manual with a date and a release, as in a build from a commit.
func theManual() manual {
	return manual{tree: theTree(), build: build{release: "1.2", date: "2026-03-14T08:00:00Z"}} // invented
}

// mandoc knows the language of manual pages and says what is wrong with one.
func TestManualPagesAreSound(t *testing.T) {
	mandoc := tool(t, "mandoc")
	for _, p := range theManual().pages() {
		lint := exec.Command(mandoc, "-Tlint", "-Wwarning")
		lint.Stdin = bytes.NewReader(p.data)
		if out, err := lint.CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: %v\n%s", p.name, err, out)
		}
	}
	lint := exec.Command(mandoc, "-Tlint", "-Wwarning") // which must be able to say no
	lint.Stdin = strings.NewReader(strings.Replace(string(theManual().pages()[0].data), ".SH NAME", ".SJ NAME", 1))
	if out, err := lint.CombinedOutput(); err == nil {
		t.Errorf("mandoc takes an unknown macro: %s", out)
	}
}

// read is a page as mandoc prints it for a reader.
func read(t *testing.T, mandoc string, page []byte) string {
	t.Helper()
	c := exec.Command(mandoc, "-Tutf8")
	c.Stdin = bytes.NewReader(page)
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	var plain []rune // bold is printed as a letter, a step back and the letter again
	for _, r := range string(out) {
		if r == '\b' {
			plain = plain[:len(plain)-1]
			continue
		}
		plain = append(plain, r)
	}
	return strings.Join(strings.Fields(string(plain)), " ")
}

func TestManualExplainsEverything(t *testing.T) {
	mandoc := tool(t, "mandoc")
	text := map[string]string{}
	for _, p := range theManual().pages() {
		text[p.name] = read(t, mandoc, p.data)
	}
	wants := func(page string, what ...string) {
		t.Helper()
		for _, w := range what {
			if w = strings.Join(strings.Fields(w), " "); !strings.Contains(text[page], w) {
				t.Errorf("%s lacks %q", page, w)
			}
		}
	}
	flags := 0
	var walk func(page string, n *kong.Node)
	walk = func(page string, n *kong.Node) {
		wants(page, n.Help)
		for _, f := range n.Flags {
			if !f.Hidden {
				wants(page, f.String()+" "+f.Help)
				flags++
			}
		}
		for _, below := range n.Children {
			if page == "phasewright.1" {
				wants(page, below.Name+" "+below.Help)
				walk("phasewright-"+below.Name+".1", below)
			} else {
				walk(page, below)
			}
		}
	}
	walk("phasewright.1", theTree())
	if flags < 100 {
		t.Errorf("%d flags seen", flags)
	}
	for _, want := range []string{"130 stopped by Ctrl-C", `a length 165 mm (mm, cm, m, in, ", thou)`} {
		wants(map[bool]string{true: "phasewright.1", false: "phasewright-units.7"}[want[0] == '1'], want)
	}
	wants("phasewright-files.7", `%LocalAppData%\phasewright\shop.book`, "~/.local/share/phasewright/shop.book")
}

// The examples of the topic on units are what the reader of cards takes, each as its own kind.
func TestUnitsAreAsExplained(t *testing.T) {
	for text, want := range map[string]float64{"165 mm": 165, "6 1/2 in": 165.1, "165 mm ± 0.5 mm": 165,
		"165 mm +- 0.5 mm": 165} {
		if m, err := quantity.ParseMeasured[quantity.Length](text); err != nil || float64(m.Value) != want {
			t.Errorf("%s: %v %v", text, m.Value, err)
		}
	}
	if _, err := quantity.ParseMeasured[quantity.Length]("165"); err == nil {
		t.Error("a length without a unit is taken")
	}
	if n := len(quantity.Measures()); n != 20 {
		t.Errorf("%d kinds of values explained, of 20", n)
	}
}

// onLine is what somebody has typed, where Tab is struck, and some of what must and must not be offered there.
var onLine = []struct {
	typed     string
	want, not []string
}{
	{"phasewright ", []string{"sheet", "book", "serve", "completion"}, []string{"merge", "--json"}},
	{"phasewright she", []string{"sheet"}, []string{"book"}},
	{"phasewright book ", []string{"merge", "backup", "discard"}, []string{"sheet", "--json"}},
	{"phasewright book me", []string{"merge"}, []string{"backup"}},
	{"phasewright sheet --", []string{"--units", "--spark-pdf", "--json"}, []string{"--capture", "sheet"}},
	{"phasewright book table --j", []string{"--jobs", "--json"}, []string{"--events"}},
	{"phasewright sheet --units ", []string{"mm", "inches"}, []string{"my.yaml", "--json"}},
	{"phasewright tape --rotation c", []string{"cw", "ccw"}, []string{"my.yaml"}},
	{"phasewright serve --log-level ", []string{"debug", "error"}, []string{"my.yaml"}},
	{"phasewright completion ", []string{"bash", "zsh", "fish"}, []string{"my.yaml"}},
	{"phasewright help un", []string{"units"}, []string{"files"}},
	{"phasewright sheet my", []string{"my.yaml"}, []string{"--json", "other"}},
	{"phasewright sheet --pdf pa", []string{"papers.pdf"}, []string{"my.yaml"}},
	{"phasewright sheet my.yaml --un", []string{"--units"}, []string{"--json"}},
	{"phasewright report ", nil, []string{"my.yaml"}},
	{"phasewright sheet --date ", nil, []string{"my.yaml", "mm"}},
	{"phasewright capture run.csv --card m", []string{"my.yaml"}, []string{"papers.pdf"}},
}

// offers tries the lines in a shell: offered gives what it offers, in a folder with three files.
func offers(t *testing.T, shell string, offered func(dir, typed string) []string) {
	t.Helper()
	dir := t.TempDir()
	for _, name := range []string{"my.yaml", "papers.pdf", "other"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, line := range onLine {
		got := offered(dir, line.typed)
		for _, w := range line.want {
			if !slices.Contains(got, w) {
				t.Errorf("%s: %q offers %q, without %s", shell, line.typed, got, w)
			}
		}
		for _, n := range line.not {
			if slices.Contains(got, n) {
				t.Errorf("%s: %q offers %s", shell, line.typed, n)
			}
		}
	}
}

// script is the completion that the program prints, as a file.
func script(t *testing.T, shell string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if status := run(t.Context(), []string{"completion", shell}, strings.NewReader(""), &out, &errs); status != 0 {
		t.Fatal(errs.String())
	}
	file := filepath.Join(t.TempDir(), "_phasewright")
	if err := os.WriteFile(file, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// printed is what a shell prints, line by line.
func printed(t *testing.T, dir, name string, args ...string) []string {
	t.Helper()
	c := exec.Command(name, args...)
	c.Dir = dir
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return strings.FieldsFunc(string(out), func(r rune) bool { return r == '\n' || r == '\r' })
}

// bash calls the function as at a Tab, with the words so far; where it offers nothing and does not say otherwise, bash
// offers file names.
func TestCompletionInBash(t *testing.T) {
	bash, file := tool(t, "bash"), script(t, "bash")
	offers(t, "bash", func(dir, typed string) []string {
		return printed(t, dir, bash, "--norc", "-c", `
			set -e
			source "$1"
			set +e
			complete -p phasewright >/dev/null || exit 1
			compopt() { [ "$*" = '+o default' ] && files=no; }
			files=yes
			read -ra COMP_WORDS <<<"$2"
			[[ $2 == *' ' ]] && COMP_WORDS+=('')
			COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
			_phasewright_offers
			[ ${#COMPREPLY[@]} -eq 0 ] && [ $files = yes ] && compgen -f -- "${COMP_WORDS[COMP_CWORD]}"
			printf '%s\n' "${COMPREPLY[@]}"
			true`, "bash", file, typed)
	})
}

func TestCompletionInFish(t *testing.T) {
	fish, file := tool(t, "fish"), script(t, "fish")
	offers(t, "fish", func(dir, typed string) []string {
		lines := printed(t, dir, fish, "--no-config", "-c",
			`source $argv[1]; complete -C $argv[2]`, file, typed)
		for i, l := range lines {
			lines[i], _, _ = strings.Cut(l, "\t")
		}
		return lines
	})
}

// zsh completes only at a terminal: one is made by its own zpty, where Tab lists what is offered.
func TestCompletionInZsh(t *testing.T) {
	zsh, file := tool(t, "zsh"), script(t, "zsh")
	var known map[string][]string // by line: the terminal is opened once for all
	offers(t, "zsh", func(dir, typed string) []string {
		if known != nil {
			return known[typed]
		}
		known = map[string][]string{}
		args := []string{"-f", "-c", zshTerminal, "zsh", file}
		for _, l := range onLine {
			args = append(args, l.typed)
		}
		at := -1
		for _, l := range printed(t, dir, zsh, args...) {
			_, offer, is := strings.Cut(l, "OFFER:")
			switch {
			case strings.HasPrefix(l, "LINE "):
				at++
			case is && at >= 0:
				known[onLine[at].typed] = append(known[onLine[at].typed], strings.TrimSpace(offer))
			}
		}
		if at != len(onLine)-1 {
			t.Fatalf("%d of %d lines were tried", at+1, len(onLine))
		}
		return known[typed]
	})
}

// zshTerminal types each argument but the first at a zsh that has read the first, and strikes Tab. compadd, by which
// zsh is told of every offer, prints those that fit.
const zshTerminal = `
	zmodload zsh/zpty
	zpty z zsh -f -i
	zpty -w z "PS1=; autoload -Uz compinit; compinit -u -D; source ${(q)1}"
	zpty -w z "bindkey '^I' show; zle -C show complete-word showing; showing() {
		compadd() { local -a hits; builtin compadd -A hits \"\$@\"; (( \$#hits )) && print -l '' OFFER:\$^hits; return 1 }
		_main_complete; print DONE; }"
	zpty -w z "print READY"
	zpty -r -m z all '*READY*READY*'
	shift
	for typed in "$@"; do
		zpty -w -n z $'\025'"$typed"$'\t'
		zpty -r -m z all '*DONE*'
		print -r -- "LINE $typed"
		print -r -- $all
	done
	zpty -d z`
