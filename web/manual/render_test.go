package manual_test

import (
	"bytes"
	"flag"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	plainhtml "github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"

	"phasewright/drawing"
	"phasewright/web/manual"
	"phasewright/words"
)

var update = flag.Bool("update", false, "write the pages, the pictures and the chapter of words anew")

const source = "../../docs/manual"

var markdown = goldmark.New(
	goldmark.WithExtensions(extension.NewTable(extension.WithTableCellAlignMethod(extension.TableCellAlignNone))),
	goldmark.WithRendererOptions(plainhtml.WithUnsafe())) // the text is our own; it names places by <a id>

// same holds a file against what it must be, or writes it with -update.
func same(t *testing.T, name, want string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	have, err := os.ReadFile(name)
	if err != nil || string(have) != want {
		t.Errorf("%s is stale (%v): go test ./web/manual -update writes it anew; look at the difference", name, err)
	}
}

func chapter(t *testing.T, id string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(source, id+".md"))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// The pictures, the chapter of words and the pages are those that today's program, words and chapters give.
func TestTheManualIsFresh(t *testing.T) {
	same(t, filepath.Join(source, "words.md"), wordsChapter())
	used := map[string]bool{}
	for _, c := range manual.Chapters() {
		same(t, "pages/"+c.ID+".html", rendered(t, c, used))
	}
	for name := range pictures {
		if !used[name] {
			t.Errorf("picture %s stands in no chapter: take it out", name)
		}
		same(t, filepath.Join(source, "pictures", name+".svg"), drawn(t, name, "").SVG(drawing.AsFile))
	}
	for folder, known := range map[string]func(string) bool{
		"pages": func(name string) bool {
			return slices.ContainsFunc(manual.Chapters(), func(c manual.Chapter) bool { return c.ID+".html" == name })
		},
		source + "/pictures": func(name string) bool { return pictures[strings.TrimSuffix(name, ".svg")] != nil },
	} {
		entries, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if !known(e.Name()) {
				t.Errorf("%s/%s belongs to nothing: take it away", folder, e.Name())
			}
		}
	}
}

var (
	title     = regexp.MustCompile(`(?s)^<h1>(.*?)</h1>\n`)
	place     = regexp.MustCompile(`<(h\d)><a id="([\w-]+)"></a>`)
	figure    = regexp.MustCompile(`<p><img src="pictures/([\w-]+)\.svg" alt="([^"]*)"\s*/?></p>`)
	across    = regexp.MustCompile(`href="([\w-]+)\.md(#[\w-]+)?"`)
	block     = regexp.MustCompile(`<pre><code[^>]*>`)
	shownText = regexp.MustCompile(`(?s)<pre .*?</pre>`)
	letters   = regexp.MustCompile(`<p>((?:<a href="#letter-\w">\w</a>\s*)+)</p>`)
	remark    = regexp.MustCompile(`(?s)<!--.*?-->\n?`)
)

// rendered is a chapter as its page shows it: without its title, which the strip has, with its drawings inside, and with
// the addresses that the program gives the chapters.
func rendered(t *testing.T, c manual.Chapter, used map[string]bool) string {
	t.Helper()
	var out bytes.Buffer
	if err := markdown.Convert(chapter(t, c.ID), &out); err != nil {
		t.Fatal(err)
	}
	page := out.String()
	if m := title.FindStringSubmatch(page); m == nil || html.UnescapeString(m[1]) != c.Title {
		t.Errorf("%s.md is headed by %q, the program calls it %q", c.ID, m, c.Title)
	}
	page = title.ReplaceAllString(page, "")
	page = remark.ReplaceAllString(page, "")
	page = place.ReplaceAllString(page, `<$1 id="$2">`)
	page = letters.ReplaceAllString(page, `<p class="letters">$1</p>`)
	page = block.ReplaceAllString(page, `<pre tabindex="0"><code>`)
	page = shownText.ReplaceAllStringFunc(page, func(text string) string { // a thin blank is a whole one on a terminal
		return strings.NewReplacer("\u2009", " ", "\u202f", " ").Replace(text)
	})
	page = figure.ReplaceAllStringFunc(page, func(tag string) string {
		m := figure.FindStringSubmatch(tag)
		if pictures[m[1]] == nil {
			t.Errorf("%s.md shows the picture %s, which nobody draws", c.ID, m[1])
			return ""
		}
		used[m[1]] = true
		return "<figure>" + drawn(t, m[1], "m-"+m[1]).SVG(drawing.InPage) + "<figcaption>" + m[2] + "</figcaption></figure>"
	})
	tables := 0
	page = regexp.MustCompile(`<table>`).ReplaceAllStringFunc(page, func(string) string {
		tables++
		return fmt.Sprintf(`<div class="scroll" tabindex="0" role="region" aria-label="Table %d"><table class="figures">`, tables)
	})
	page = strings.ReplaceAll(page, "</table>", "</table></div>")
	page = strings.ReplaceAll(page, "<th>", `<th scope="col">`)
	return across.ReplaceAllStringFunc(page, func(link string) string {
		m := across.FindStringSubmatch(link)
		for _, to := range manual.Chapters() {
			if to.ID == m[1] {
				return `href="` + to.Path() + m[2] + `"`
			}
		}
		t.Errorf("%s.md links to %s.md, which is no chapter", c.ID, m[1])
		return link
	})
}

// shown are the pictures of words; seenAt are words that a picture of another word shows.
var (
	shown = map[string][2]string{
		"zero-mark":     {"marks", "The damper from the front, with zero mark, pointer and the marks of one engine."},
		"dividers":      {"distances", "The same two marks, measured in both ways."},
		"piston-stop":   {"stop", "The two marks that the stop gives, and zero midway."},
		"active-edge":   {"signals", "What the pickups of one engine give in two turns. The thick edges are active."},
		"cap":           {"cap", "The cap of one engine from above."},
		"seat":          {"dry-fit", "The unit from the side, set in to see how it seats."},
		"helix":         {"drop", "The rotor turns as the unit slides in."},
		"housing":       {"housing", "The housing from above. One way makes the spark early, the other late."},
		"plug-gap":      {"plugs", "The gap is measured at each plug."},
		"rotor-phasing": {"rotor", "The tip of the rotor at both ends of the advance range, to scale."},
		"timing-light":  {"light", "The light on the pointer of one engine."},
		"dwell":         {"charge", "Current in a coil while it is charged."},
		"test-lead":     {"divider", "Divider and clamp before the input of a sound card."},
		"timing-tape":   {"tape", "A tape for the damper. It is printed in true size."},
		"offset":        {"two-parts", "An error of the housing stays the same. One of the delay grows with speed."},
		"phase":         {"lamp", "The housing is turned until the lamp changes."},
		"signal-delay":  {"read-back", "From the edge to the spark, in crankshaft degrees."},
		"captures":      {"cycle", "A recording, folded onto two turns of the crankshaft."},
	}
	seenAt = map[string]string{
		"damper": "zero-mark", "pointer": "zero-mark", "rim": "dividers", "tdc": "piston-stop", "edge": "active-edge",
		"vane-wheel": "phase", "tower": "cap", "firing-order": "cap", "flange": "seat", "dry-fit": "seat",
		"shim": "seat", "slope": "offset", "timing-error": "offset", "rotor": "rotor-phasing", "lamp": "phase",
		"divider": "test-lead", "lead": "zero-mark", "btdc": "zero-mark", "mark-channel": "captures",
	}
)

// wordsChapter is the chapter of words, from the one list of them.
func wordsChapter() string {
	var b, jump strings.Builder
	last := ""
	entries := words.Entries()
	slices.SortStableFunc(entries, func(a, b words.Entry) int {
		return strings.Compare(strings.ToLower(a.Word), strings.ToLower(b.Word))
	})
	for _, e := range entries {
		if first := strings.ToUpper(e.Word[:1]); first != last {
			fmt.Fprintf(&b, "\n## <a id=\"letter-%s\"></a>%s\n", strings.ToLower(first), first)
			fmt.Fprintf(&jump, "[%s](#letter-%s)\n", first, strings.ToLower(first))
			last = first
		}
		full := ""
		if e.Full() != "" {
			full = ", " + e.Full()
		}
		fmt.Fprintf(&b, "\n### <a id=\"%s\"></a>%s%s\n\n%s", e.ID, e.Word, full, e.Means)
		if at, ok := seenAt[e.ID]; ok {
			fmt.Fprintf(&b, " Drawn at [%s](#%s).", wordOf(at), at)
		}
		b.WriteString("\n")
		if p, ok := shown[e.ID]; ok {
			fmt.Fprintf(&b, "\n![%s](pictures/%s.svg)\n", p[1], p[0])
		}
	}
	return "# The trade’s words\n\n<!-- Written by go test ./web/manual -update from the list in package words. -->\n\n" +
		"The words of the trade that pages and papers use, each in plain words.\n\n" + jump.String() + b.String()
}

func wordOf(id string) string {
	for _, e := range words.Entries() {
		if e.ID == id {
			return e.Word
		}
	}
	panic("no word " + id)
}

// parsed is a text as a tree.
func parsed(data []byte) ast.Node { return markdown.Parser().Parse(text.NewReader(data)) }
