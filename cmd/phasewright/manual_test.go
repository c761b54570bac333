package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/alecthomas/kong"

	"phasewright/book"
)

var updateManual = flag.Bool("update-manual", false, "write what the manual's commands print anew, around its … lines")

// fenced is a block of a chapter: the words behind its fence, and what stands in it.
var fenced = regexp.MustCompile("(?ms)^```([^\n]*)\n(.*?)^```$")

// Every command that the manual shows is run, chapter by chapter in a folder of its own with a shop book of its own, and
// prints what the chapter shows: byte for byte, with any number of lines where a line is … or goes on with ….
func TestTheManualsCommands(t *testing.T) {
	chapters, err := filepath.Glob("../../docs/manual/*.md")
	if err != nil || len(chapters) < 9 {
		t.Fatalf("%d chapters: %v", len(chapters), err)
	}
	if root, err = filepath.Abs("../.."); err != nil {
		t.Fatal(err)
	}
	commands := 0
	for _, path := range append(chapters, "../../README.md") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			full, err := filepath.Abs(path)
			if err != nil {
				t.Fatal(err)
			}
			folder := t.TempDir()
			t.Chdir(folder)
			t.Setenv("XDG_DATA_HOME", filepath.Join(folder, "data"))
			t.Setenv("TMPDIR", folder)
			if filepath.Base(path) == "book.md" { // its reader has worked for a while
				fillUsualBook(t)
			}
			after := fenced.ReplaceAllFunc(text, func(block []byte) []byte {
				m := fenced.FindSubmatch(block)
				kind, file, named := strings.Cut(string(m[1]), " file=")
				switch {
				case named: // a file that the reader writes
					if err := os.WriteFile(file, m[2], 0o644); err != nil {
						t.Fatal(err)
					}
				case kind == "console":
					n, shown := console(t, string(m[2]))
					commands += n
					return []byte("```console\n" + shown + "```")
				default:
					t.Errorf("a block is marked %q: write console, or the kind and file=NAME", m[1])
				}
				return block
			})
			if *updateManual && !t.Failed() {
				if err := os.WriteFile(full, after, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
	if commands < 25 {
		t.Errorf("%d commands were run", commands)
	}
}

// console runs the commands of a block and holds what each prints against what stands below it. It gives the block as
// it must be.
func console(t *testing.T, block string) (commands int, now string) {
	t.Helper()
	var out strings.Builder
	for part := range strings.SplitSeq("\n"+strings.TrimSuffix(block, "\n"), "\n$ ") {
		if part == "" {
			continue
		}
		line, shown, _ := strings.Cut(part, "\n")
		commands++
		printed := ran(t, line)
		if *updateManual {
			shown = respaced(printed, shown)
		}
		out.WriteString("$ " + line + "\n")
		switch {
		case fits(printed, shown):
			if shown != "" {
				out.WriteString(shown + "\n")
			}
		case *updateManual:
			t.Logf("%s prints:\n%s", line, printed)
			out.WriteString(printed)
		default:
			t.Errorf("%s\nprints:\n%s\nthe manual shows:\n%s", line, printed, shown)
			out.WriteString(shown + "\n")
		}
	}
	return commands, out.String()
}

// fits says whether a text is what is shown of it.
func fits(text, shown string) bool {
	var b strings.Builder
	b.WriteString(`\A`)
	for line := range strings.Lines(shown + "\n") {
		line = strings.TrimSuffix(line, "\n")
		head, more := strings.CutSuffix(line, "…")
		switch {
		case shown == "":
		case more && head == "":
			b.WriteString(`(?:.*\n)*?`)
		case more:
			b.WriteString(regexp.QuoteMeta(head) + `.*\n`)
		default:
			b.WriteString(regexp.QuoteMeta(line) + `\n`)
		}
	}
	return regexp.MustCompile(b.String() + `\z`).MatchString(text)
}

// respaced gives the lines that are shown the blanks that the program prints, of which some are thin.
func respaced(printed, shown string) string {
	even := func(line string) string {
		return strings.NewReplacer("\u2009", " ", "\u202f", " ", "\u00a0", " ").Replace(line)
	}
	lines := strings.Split(shown, "\n")
	for i, line := range lines {
		for has := range strings.SplitSeq(printed, "\n") {
			if even(has) == even(line) {
				lines[i] = has
			}
		}
	}
	return strings.Join(lines, "\n")
}

// fillUsualBook puts the demo's job into the reader's own shop book.
func fillUsualBook(t *testing.T) {
	t.Helper()
	path, err := usualBook()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	b, err := book.Open(t.Context(), path, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(demoJob(t.Context(), b), b.Close()); err != nil {
		t.Fatal(err)
	}
}

// splitWords cuts a command line into words as a shell does, for what the manual uses: blanks and double quotes.
func splitWords(line string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

// demoFiles is the command by which most chapters begin, boatFiles what it writes and boatSaid what it says.
const demoFiles = "phasewright demo --out boat"

var (
	boatFiles fs.FS
	boatSaid  string

	root string // of the repository
)

// kept is a folder in memory.
func kept(t *testing.T, folder string) fs.FS {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	out := fstest.MapFS{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(folder, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name()] = &fstest.MapFile{Data: data, Mode: 0o644}
	}
	return out
}

// ran runs a line of the manual and gives what it prints, messages and results as they come. A server is started at any
// free port, and ended once it says where it is.
func ran(t *testing.T, line string) string {
	t.Helper()
	args := splitWords(strings.Replace(line, "go run ./cmd/phasewright", "phasewright", 1))
	if script, ours := strings.CutPrefix(args[0], "scripts/"); ours { // it runs this test: here it must be there
		if about, err := os.Stat(filepath.Join(root, "scripts", script)); err != nil || about.Mode()&0o100 == 0 {
			t.Errorf("%s cannot be run: %v", line, err)
		}
		return ""
	}
	if args[0] != "phasewright" {
		t.Fatalf("%s: only our own commands can be run here", line)
	}
	args = args[1:]
	if line == demoFiles && boatFiles != nil { // made once is enough: the same files each time
		if err := os.CopyFS("boat", boatFiles); err != nil {
			t.Fatal(err)
		}
		return boatSaid
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	if args[0] != "serve" {
		var printed bytes.Buffer
		if status := run(ctx, args, strings.NewReader(""), &printed, &printed); status == statusUnread {
			t.Errorf("%s: status %d:\n%s", line, status, printed.String())
		}
		if line == demoFiles {
			boatFiles, boatSaid = kept(t, "boat"), printed.String()
		}
		return printed.String()
	}
	r, w := io.Pipe()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		run(ctx, append(args, "--listen", "127.0.0.1:0"), strings.NewReader(""), w, w)
		w.Close()
	}()
	printed := ""
	for buf := make([]byte, 4096); !strings.Contains(printed, "Ctrl-C ends"); {
		n, err := r.Read(buf)
		if printed += string(buf[:n]); err != nil {
			t.Errorf("%s: ended by itself:\n%s", line, printed)
			return printed
		}
	}
	cancel()
	go io.Copy(io.Discard, r)
	<-ended
	return printed
}

// Commands that stand in the running text are such as the program takes: the command and each flag are there.
func TestTheManualsNamedCommands(t *testing.T) {
	chapters, err := filepath.Glob("../../docs/manual/*.md")
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, path := range append(chapters, "../../README.md") {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		plain := fenced.ReplaceAllString(string(text), "")
		for _, m := range regexp.MustCompile("`((?:phasewright |--)[^`\n]*)`").FindAllStringSubmatch(plain, -1) {
			named++
			known(t, filepath.Base(path), splitWords(m[1]))
		}
	}
	if named < 8 {
		t.Errorf("%d commands were found in the texts", named)
	}
}

// known looks up the words of a command line in the command tree.
func known(t *testing.T, where string, args []string) {
	t.Helper()
	parser, err := kong.New(&commands{}, kong.Name("phasewright"))
	if err != nil {
		t.Fatal(err)
	}
	node, everywhere := parser.Model.Node, args[0] != "phasewright"
	if !everywhere {
		args = args[1:]
	}
	arguments := false
	for _, word := range args {
		if flag, is := strings.CutPrefix(word, "--"); is {
			flag, _, _ = strings.Cut(flag, "=")
			if flag != "help" && !hasFlag(node, flag, everywhere) {
				t.Errorf("%s names --%s, which %s does not take", where, flag, node.FullPath())
			}
			continue
		}
		if len(node.Children) == 0 || arguments || everywhere || word == "…" {
			arguments = true // what a command works on
			continue
		}
		found := false
		for _, child := range node.Children {
			if child.Name == word {
				node, found = child, true
				break
			}
		}
		if !found {
			t.Errorf("%s names the command %s, which is not there", where, strings.Join(args, " "))
			return
		}
	}
}

// hasFlag says whether a command, or with anywhere any command below it, takes a flag.
func hasFlag(n *kong.Node, name string, anywhere bool) bool {
	for _, f := range n.Flags {
		if f.Name == name {
			return true
		}
	}
	for _, child := range n.Children {
		if anywhere && hasFlag(child, name, true) {
			return true
		}
	}
	return n.Parent != nil && !anywhere && hasFlag(n.Parent, name, false)
}
