package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"phasewright/readings"
	"phasewright/verdict"
	"phasewright/web/shelf"
	"phasewright/web/webtest"
)

// surfaces is one job of a shop book with all that shows it.
type surfaces struct {
	t         *testing.T
	shop      *webtest.Shop
	book, dir string // the shop book's file; a folder for what commands read and write
	id        string
	recording string // the recording as a file; "" where the job has none
	says      *verdict.Judgement
}

// squeeze leaves out what lays text out: spaces of every kind, and small against capital letters.
func squeeze(s string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s))
}

func (v *surfaces) wants(where, text string, parts ...string) {
	v.t.Helper()
	text = squeeze(text)
	for _, part := range parts {
		if !strings.Contains(text, squeeze(part)) {
			v.t.Errorf("%s lacks %q", where, part)
		}
	}
}

var tag = regexp.MustCompile(`<[^>]*>`)

// page is the text of one of the job's pages, tags left out, and its line at the top.
func (v *surfaces) page(path string) (text, top string) {
	v.t.Helper()
	w := v.shop.Get("/job/" + v.id + path)
	webtest.WantCode(v.t, w, http.StatusOK)
	plain := func(s string) string {
		return strings.Join(strings.Fields(html.UnescapeString(tag.ReplaceAllString(s, " "))), " ")
	}
	body := webtest.Unexplained(w.Body.String())
	if _, after, is := strings.Cut(body, `id="next"`); is {
		line, _, _ := strings.Cut(after, "</div>")
		if _, rest, is := strings.Cut(line, "</small>"); is {
			line = rest
		}
		top = plain(line)
	}
	return plain(body), top
}

// Advice to turn or to set, with its number.
var (
	turns = regexp.MustCompile(`(?i)turn the housing (?:by )?([0-9][0-9.,]*)\s*°|` +
		`housing ([0-9][0-9.,]*)\s*° of shaft|([0-9][0-9.,]*)\s*° (?:of shaft )?(?:with|against) the rotor`)
	allows = regexp.MustCompile(`(?i)(?:set|raise|lower) the (?:delay )?allowance (?:from|by) [0-9]`)
)

// advice looks through a text for a turn or an allowance that the judge does not advise.
func (v *surfaces) advice(where, text string) {
	v.t.Helper()
	text = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		return r
	}, text)
	cure := v.says.Cure
	for _, m := range turns.FindAllStringSubmatch(text, -1) {
		by, err := strconv.ParseFloat(m[1]+m[2]+m[3], 64)
		if err != nil || cure == nil || fmt.Sprintf("%.1f", by) != fmt.Sprintf("%.1f", cure.Housing.TurnDeg) {
			v.t.Errorf("%s says %q; the judge advises %+v", where, m[0], cure)
		}
	}
	if m := allows.FindString(text); m != "" && (cure == nil || !cure.Allowance.Changes()) {
		v.t.Errorf("%s says %q; the judge advises %+v", where, m, cure)
	}
}

// twin looks through JSON for the same.
func (v *surfaces) twin(where string, data []byte) map[string]any {
	v.t.Helper()
	top := map[string]any{}
	if err := json.Unmarshal(data, &top); err != nil {
		v.t.Fatalf("%s: %v", where, err)
	}
	turn, change := 0.0, 0.0
	if cure := v.says.Cure; cure != nil {
		turn, change = cure.Housing.TurnDeg, cure.Allowance.Change
	}
	var walk func(path string, x any)
	walk = func(path string, x any) {
		switch x := x.(type) {
		case map[string]any:
			for key, value := range x {
				n, _ := value.(float64)
				switch {
				case key == "turn_deg" && n != 0 && n != turn,
					key == "change" && strings.HasSuffix(path, ".allowance_us") && n != 0 && n != change:
					v.t.Errorf("%s: %s.%s is %v; the judge advises %+v", where, path, key, n, v.says.Cure)
				}
				walk(path+"."+key, value)
			}
		case []any:
			for _, one := range x {
				walk(path, one)
			}
		case string:
			v.advice(where+" "+path, x)
		}
	}
	walk("", top)
	return top
}

// clauses holds the clauses of a twin against the judge's.
func (v *surfaces) clauses(where string, top map[string]any) {
	v.t.Helper()
	list, _ := top["clauses"].([]any)
	if len(list) != len(v.says.Clauses) {
		v.t.Errorf("%s has %d clauses", where, len(list))
		return
	}
	for i, c := range v.says.Clauses {
		if one, _ := list[i].(map[string]any); one["id"] != string(c.ID) || one["state"] != string(c.State) {
			v.t.Errorf("%s: %v %v, the judge: %s %s", where, one["id"], one["state"], c.ID, c.State)
		}
	}
}

// ranked holds the suspects' page, whose first line is what to do now by the ranking: the judge's cure where it has
// one, else a look, or what needs no turn.
func (v *surfaces) ranked(text string) {
	v.t.Helper()
	if v.says.Cure != nil {
		v.wants("page /suspects", text, "Settled: do the cure. "+v.says.Next)
		return
	}
	for _, now := range []string{"Do not turn anything yet: look first.", "Tap what was seen: the ranking follows.",
		"Settled: do the cure.", strings.ToUpper(v.says.Next[:1]) + v.says.Next[1:]} {
		if strings.Contains(text, now) {
			return
		}
	}
	v.t.Errorf("the page /suspects does not say what to do now: %.600s", text)
}

// pages compares every page of the job.
func (v *surfaces) pages(j *shelf.Job) {
	v.t.Helper()
	sha := ""
	for f := range j.Captures {
		sha = f.String()
	}
	p, state, err := j.Order()
	if err != nil {
		v.t.Fatal(err)
	}
	due, _ := p.Step(p.Next(state).Step)
	want := v.says.Next
	switch {
	case j.Signed != nil:
		want = "The proof is signed by"
	case v.says.Word == verdict.Pass:
		want = v.says.First
	case v.says.About == "":
		want = due.Title
	}
	settled := v.says.Verdict == readings.Pass || v.says.Verdict == readings.ReadMore
	for _, path := range []string{"", "/readings", "/captures", "/captures/" + sha, "/steps", "/sheet", "/suspects",
		"/proof", "/spark"} {
		if strings.HasSuffix(path, "s/") {
			continue // no recording
		}
		text, top := v.page(path)
		v.advice("page "+path, text)
		switch {
		case path == "/spark": // has none
		case path == "/suspects":
			v.ranked(text)
		case path == "/steps" && state.Begun() && p.Next(state).Finished:
			v.wants("line at the top of "+path, top, "whole order of work is done")
		case path == "/steps" && settled:
			v.wants("line at the top of "+path, top, due.Title)
		case path == "/readings": // the reason stands below the keys
			v.wants("page "+path, text, want)
		default:
			v.wants("line at the top of "+path, top, want)
		}
		switch path {
		case "", "/proof":
			v.wants("page "+path, text, string(v.says.Word)+" "+v.says.First)
			for _, c := range v.says.Clauses {
				why := strings.TrimPrefix(c.Because, c.ID.Title()+": ")
				if c.State == verdict.Open && !c.Touched() || c.State == verdict.Shown {
					why = "" // that it is open, or its figure, says as much
				}
				v.wants("page "+path, text, c.ID.Title()+string(c.State)+why)
			}
		case "/readings":
			if len(j.Readings) > 0 {
				v.wants("page "+path, text, string(v.says.Verdict))
			}
		case "/captures", "/captures/" + sha:
			if sha != "" {
				v.wants("page "+path, text, string(v.says.Verdict))
			}
		}
	}
}

// papers compares the papers that the pages give.
func (v *surfaces) papers(j *shelf.Job) {
	v.t.Helper()
	papers := []string{"/steps.pdf", "/tape.pdf", "/sheet.pdf", "/spark.pdf", "/proof.pdf"}
	for sha := range j.Captures {
		papers = append(papers, "/captures/"+sha.String()+"/recording.pdf")
	}
	for _, path := range papers {
		w := v.shop.Get("/job/" + v.id + path)
		webtest.WantCode(v.t, w, http.StatusOK)
		file := v.file(filepath.Base(path))
		if err := os.WriteFile(file, w.Body.Bytes(), 0o600); err != nil {
			v.t.Fatal(err)
		}
		v.advice(path, v.tool("pdftotext", "-raw", file, "-"))
		switch filepath.Base(path) {
		case "proof.pdf":
			v.proof(file)
		case "recording.pdf":
			v.wants(path, v.tool("pdftotext", "-raw", "-l", "1", file, "-"), string(v.says.Verdict), v.says.Next)
			v.twin(path, v.attached(file))
		}
	}
}

// proof compares a proof: its first page, and the twin inside.
func (v *surfaces) proof(file string) {
	v.t.Helper()
	first := v.tool("pdftotext", "-raw", "-l", "1", file, "-")
	v.wants("the proof's first page", first, string(v.says.Word), v.says.First, "Next: "+v.says.Next)
	for _, c := range v.says.Clauses {
		v.wants("the proof's first page", first, c.ID.Title()+string(c.State))
	}
	top := v.twin("the proof's twin", v.attached(file))
	for key, want := range map[string]string{"word": string(v.says.Word), "verdict": string(v.says.Verdict),
		"first": v.says.First, "next": v.says.Next} {
		if top[key] != want {
			v.t.Errorf("the proof's twin: %s is %q, the judge: %q", key, top[key], want)
		}
	}
	v.clauses("the proof's twin", top)
}

// attached is the machine-readable twin that a paper carries.
func (v *surfaces) attached(file string) []byte {
	v.t.Helper()
	out := v.file("twin.json")
	v.tool("pdfdetach", "-save", "1", "-o", out, file)
	data, err := os.ReadFile(out)
	if err != nil {
		v.t.Fatal(err)
	}
	return data
}

// tool runs one of poppler's programs (poppler-utils).
func (v *surfaces) tool(name string, args ...string) string {
	v.t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			v.t.Fatal(name + " is not installed: the papers were not compared")
		}
		v.t.Skip("SKIPPED: " + name + " is not installed, so papers and commands were NOT compared")
	}
	out, err := exec.Command(path, args...).Output()
	if err != nil {
		v.t.Fatalf("%s %v: %v", name, args, err)
	}
	return string(out)
}

// command runs a command of the program.
func (v *surfaces) command(args ...string) (out string, status int) {
	v.t.Helper()
	var o, e bytes.Buffer
	status = run(context.Background(), args, strings.NewReader(""), &o, &e)
	if status > statusFails {
		v.t.Fatalf("%v: %d %s", args, status, e.String())
	}
	return o.String(), status
}

// ends says whether a command ended as a judgement that is sound ought to make it.
func (v *surfaces) ends(name string, status int, sound bool) {
	v.t.Helper()
	if (status == statusFine) != sound {
		v.t.Errorf("%s ends with %d; all shown: %v", name, status, sound)
	}
}

func (v *surfaces) report() {
	v.t.Helper()
	file := v.file("report.pdf")
	out, status := v.command("report", v.id, "--book", v.book, "--pdf", file)
	v.ends("report", status, v.says.Word == verdict.Pass)
	if want := v.lines(); out != want {
		v.t.Errorf("report says\n%s\nthe judge\n%s", out, want)
	}
	v.advice("report", out)
	v.proof(file)
}

// lines is how a command begins that speaks of the whole statement.
func (v *surfaces) lines() string {
	want := fmt.Sprintf("%-10s %s: %s\n%-10s %s\n", "VERDICT", v.says.Word, v.says.First, "NEXT", v.says.Next)
	for _, state := range []verdict.State{verdict.Broken, verdict.AtOdds, verdict.Open} {
		if titles := v.says.Clauses.Titles(state); len(titles) > 0 {
			want += fmt.Sprintf("%-10s %s\n", state, strings.Join(titles, ", "))
		}
	}
	return want
}

// suspects weighs the readings and the recording of the job as files.
func (v *surfaces) suspects() {
	v.t.Helper()
	args := []string{"suspects", v.file("card.yaml")}
	if _, err := os.Stat(v.file("readings.csv")); err == nil {
		args = append(args, "--readings", v.file("readings.csv"))
	}
	if v.recording != "" {
		args = append(args, "--capture", v.recording)
	}
	short, _ := v.command(args...)
	v.advice("suspects", short)
	if want := "VERDICT " + string(v.says.Word) + ": " + v.says.First; !strings.HasPrefix(
		strings.Join(strings.Fields(short), " "), strings.Join(strings.Fields(want), " ")) {
		v.t.Errorf("suspects says\n%.300s\nthe judge\n%s", short, want)
	}
	out, _ := v.command(append(args, "--long")...)
	if want := v.lines(); !strings.HasPrefix(out, want) {
		v.t.Errorf("suspects --long says\n%.600s\nthe judge\n%s", out, want)
	}
	v.advice("suspects --long", out)
	data, _ := v.command(append(args, "--json")...)
	top, _ := v.twin("suspects --json", []byte(data))["judgement"].(map[string]any)
	if top["word"] != string(v.says.Word) || top["first"] != v.says.First || top["next"] != v.says.Next {
		v.t.Errorf("suspects --json says %v: %v – %v", top["word"], top["first"], top["next"])
	}
	v.clauses("suspects --json", top)
}

// file is a file in the job's own folder.
func (v *surfaces) file(name string) string { return filepath.Join(v.dir, name) }

// said compares what a command prints, as text and as JSON. all: it was given all evidence that the job has.
func (v *surfaces) said(name string, all bool, args ...string) (top map[string]any, status int) {
	v.t.Helper()
	out, status := v.command(args...)
	v.advice(name, out)
	data, again := v.command(append(args, "--json")...)
	if again != status {
		v.t.Errorf("%s ends with %d, with --json with %d", name, status, again)
	}
	top = v.twin(name+" --json", []byte(data))
	word, _ := top["verdict"].(string)
	five := []readings.Verdict{readings.Pass, readings.Adjust, readings.ReadMore, readings.NotALine,
		readings.LookElsewhere}
	if !slices.Contains(five, readings.Verdict(word)) {
		v.t.Errorf("%s: the verdict is %q", name, word)
	}
	first, _ := top["first"].(string)
	next, _ := top["next"].(string)
	if !strings.HasPrefix(out, fmt.Sprintf("%-10s %s: %s\n%-10s %s\n", "VERDICT", word, first, "NEXT", next)) {
		v.t.Errorf("%s: the JSON says %s: %s – %s, the text\n%.300s", name, word, first, next, out)
	}
	if all {
		if word != string(v.says.Verdict) || first != v.says.First || next != v.says.Next {
			v.t.Errorf("%s says %s: %s – %s\nthe judge %s: %s – %s", name, word, first, next, v.says.Verdict,
				v.says.First, v.says.Next)
		}
		v.clauses(name, top)
	}
	return top, status
}

// allShown says whether clauses of a twin are shown.
func allShown(top map[string]any, ids ...verdict.ID) bool {
	list, _ := top["clauses"].([]any)
	for _, x := range list {
		one, _ := x.(map[string]any)
		if slices.Contains(ids, verdict.ID(fmt.Sprint(one["id"]))) && one["state"] != string(verdict.Shown) {
			return false
		}
	}
	return len(list) > 0
}

// fit judges the readings of the job as files, where it has any.
func (v *surfaces) fit(j *shelf.Job, all bool) {
	v.t.Helper()
	card := v.file("card.yaml")
	if err := os.WriteFile(card, []byte(j.YAML), 0o600); err != nil {
		v.t.Fatal(err)
	}
	if len(j.Readings) == 0 {
		return
	}
	w := v.shop.Get("/job/" + v.id + "/readings.csv")
	webtest.WantCode(v.t, w, http.StatusOK)
	file := v.file("readings.csv")
	if err := os.WriteFile(file, w.Body.Bytes(), 0o600); err != nil {
		v.t.Fatal(err)
	}
	top, status := v.said("fit", all, "fit", card, file)
	v.ends("fit", status, allShown(top, verdict.Timing))
}

// capture judges the recording of the job as a file, where it has one.
func (v *surfaces) capture(all bool) {
	v.t.Helper()
	if v.recording == "" || !all { // by itself it knows nothing of the light that it contradicts
		return
	}
	top, status := v.said("capture", all, "capture", v.recording, "--card", v.file("card.yaml"))
	v.ends("capture", status, allShown(top, verdict.Signals, verdict.Spark, verdict.Locked, verdict.Timing,
		verdict.EveryCylinder))
	paper := v.file("capture.pdf")
	v.command("capture", v.recording, "--card", v.file("card.yaml"), "--pdf", paper)
	word, next := fmt.Sprint(top["verdict"]), fmt.Sprint(top["next"])
	v.wants("capture --pdf", v.tool("pdftotext", "-raw", "-l", "1", paper, "-"), word, next)
	v.twin("capture --pdf", v.attached(paper))
}
