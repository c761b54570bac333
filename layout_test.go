// Package phasewright_test holds the house together: who may import whom, and which rooms stay pure.
package phasewright_test

import (
	"cmp"
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// room is what a package may import of this module, with the reason for each import, and whether it is pure.
type room struct {
	imports map[string]string
	impure  string // why it may touch files, clock, network or database; empty for a pure room
}

// house is the whole layout. A package that does not stand here fails the test: add it with reasons.
var house = map[string]room{
	"quantity":    {},
	"estimate":    {},
	"examples":    {impure: "embeds the example cards that ship with the tool"},
	"yamltext":    {},
	"beside":      {},
	"words":       {},
	"words/plain": {},
	"engine":      {imports: map[string]string{"quantity": "angles, lengths, speeds"}},
	"distributor": {imports: map[string]string{
		"quantity": "shaft angles and lengths", "engine": "firing order, cycle, the factor two"}},
	"trigger": {imports: map[string]string{
		"quantity": "angles and times", "engine": "cycle positions"}},
	"coil": {imports: map[string]string{
		"quantity": "electrical measures", "engine": "piston position for pressure", "distributor": "the rotor sweep stands in the decision chart"}},
	"leads": {imports: map[string]string{
		"words": "capitals", "quantity": "electrical measures", "jobcard": "which signals an engine has, its supply and speeds"}},
	"jobcard": {imports: map[string]string{
		"quantity": "values with units", "engine": "firings and rotation", "trigger": "the vane wheel is checked while the card is read", "yamltext": "the text, its places and faults"}},
	"cranking": {imports: map[string]string{
		"quantity": "measures", "engine": "positions on the cycle", "jobcard": "the engine on its starter is set up from a card"}},
	"bench": {imports: map[string]string{
		"quantity": "measures", "engine": "positions and directions", "jobcard": "a bench is set up from a card", "cranking": "the torque balance that its crank turns by"}},
	"sheet": {imports: map[string]string{
		"words": "capitals", "quantity": "measures", "engine": "marks and TDC", "distributor": "gear, seat, cap, rotor", "trigger": "lead window and delays", "coil": "charge and spark demand",
		"readings": "what no number of them can show",
		"jobcard":  "what the sheet follows from", "cranking": "the light while cranking, whose bias no setting takes away"}},
	"readings": {imports: map[string]string{
		"words": "capitals", "quantity": "measures", "estimate": "fits and budgets", "engine": "directions in words",
		"jobcard": "settings from a card", "spreadsheet": "words in a file are no formulas"}},
	"spreadsheet": {},
	"waveform": {imports: map[string]string{
		"waveform/block": "times, channels, edges, faults", "waveform/csv": "rows of tables", "waveform/wav": "samples of sound cards",
		"waveform/vcd": "logic changes", "waveform/edges": "levels and edges",
		"spreadsheet": "names in a file are no formulas", "beside": "chunks parsed on other processors"}},
	"waveform/block":  {},
	"waveform/number": {},
	"waveform/csv":    {imports: map[string]string{"waveform/block": "rows, faults", "waveform/number": "cells"}},
	"waveform/vcd":    {imports: map[string]string{"waveform/block": "times, faults", "waveform/number": "reals"}},
	"waveform/wav":    {imports: map[string]string{"waveform/block": "rows, faults"}},
	"waveform/edges": {imports: map[string]string{
		"waveform/block": "samples in, edges out", "estimate": "medians by selection", "beside": "channels judged on other processors"}},
	"shaft": {imports: map[string]string{
		"words": "capitals", "quantity": "measures", "engine": "shaft and crank degrees", "jobcard": "what the card says of the signals", "waveform": "edges", "readings": "verdict, intervals and corrections in the words of light readings",
		"shaft/terms": "roles, findings, what was stated", "shaft/sums": "means and medians", "shaft/motion": "places and speeds", "shaft/roles": "who is who",
		"shaft/wheel": "where the vanes stand", "shaft/track": "position and time", "shaft/timing": "fit and result"}},
	"shaft/terms": {imports: map[string]string{
		"quantity": "angles and speeds", "engine": "the cycle", "jobcard": "what the card says of the signals"}},
	"shaft/sums":   {imports: map[string]string{"estimate": "Student's t"}},
	"shaft/motion": {imports: map[string]string{"quantity": "angles and speeds", "engine": "the cycle", "waveform": "seconds"}},
	"shaft/roles": {imports: map[string]string{
		"quantity": "vane widths", "jobcard": "levels in the vane", "waveform": "edges", "shaft/terms": "roles, what was stated", "shaft/sums": "medians", "shaft/motion": "the cycle"}},
	"shaft/wheel": {imports: map[string]string{
		"quantity": "angles", "jobcard": "edges and levels", "waveform": "seconds", "shaft/terms": "what was stated", "shaft/sums": "medians", "shaft/motion": "curves", "shaft/roles": "who is who"}},
	"shaft/track": {imports: map[string]string{
		"quantity": "angles and speeds", "waveform": "seconds", "shaft/motion": "curves", "shaft/wheel": "where the vanes stand"}},
	"shaft/timing": {imports: map[string]string{
		"quantity": "angles and speeds", "estimate": "the chance of a bend", "trigger": "what a turn of the housing and the allowance do", "waveform": "seconds",
		"readings": "verdict, intervals and corrections in the words of light readings", "shaft/motion": "the cycle", "shaft/sums": "fits", "shaft/wheel": "where the vanes stand"}},
	"shaft/stand": {imports: map[string]string{
		"jobcard": "the card that goes with a case", "waveform": "what an edge and a channel are, nothing that reads"}},
	"verdict": {imports: map[string]string{
		"words": "capitals", "quantity": "printing", "jobcard": "tolerance, cylinders", "readings": "verdict, corrections", "shaft": "what a recording showed",
		"sheet": "stops, and what is foreseen on the starter", "procedure": "what the order of work shows, and which change touches what", "suspects": "the odds behind a cure"}},
	"suspects": {imports: map[string]string{
		"quantity": "measures", "engine": "cycle positions", "jobcard": "the engine in question", "yamltext": "the text, its places and faults", "bench": "the forward model", "shaft": "features of a capture", "readings": "rows of readings", "beside": "hypotheses weighed on other processors"}},
	"procedure": {imports: map[string]string{
		"words": "capitals", "quantity": "measures", "engine": "directions in words", "jobcard": "the steps follow from the card", "sheet": "numbers shown in the steps", "leads": "how a lamp is wired to a pickup"}},
	"book":        {imports: map[string]string{"beside": "the writer's goroutine", "spreadsheet": "cells that are nothing to run"}, impure: "the store: database, files, clock passed in"},
	"book/pgtest": {impure: "runs a private PostgreSQL; for tests only"},
	"drawing":     {impure: "embeds its font files"},
	"report": {imports: map[string]string{
		"verdict": "its words and what is next", "drawing": "pages", "jobcard": "the engine", "sheet": "items, marks, cautions", "readings": "fits and proof", "quantity": "printing", "engine": "directions", "procedure": "the steps that are drawn", "coil": "the points of the chart that decides over the spark", "leads": "the paper on a recorder's leads", "shaft": "the drawings and the paper of a recording"}},
	"record": {imports: map[string]string{
		"book": "events, job line and file list as values: what all here comes from; it opens none", "jobcard": "the card as saved", "quantity": "measures", "readings": "fit and proof of the readings", "sheet": "what follows from the card",
		"procedure": "the order of work and how it stands", "shaft": "what recordings showed", "drawing": "the size of a paper", "report": "the papers",
		"suspects": "what was seen, as evidence", "verdict": "the judgement on the job", "leads": "the paper on a recorder's leads"}},
	"authority": {
		impure: "crypto/x509 speaks in types of net; no connection or file is opened, clock and chance are passed in"},
	"web/page":  {imports: pageNeeds, impure: "answers requests"},
	"web/shelf": {imports: shelfNeeds, impure: "answers requests"},
	"web/access": {imports: map[string]string{
		"authority": "the certificate that devices are asked to trust", "web/page": "how anything is answered"},
		impure: "reads where requests come from"},
	"web/job":       {imports: jobNeeds, impure: "answers requests"},
	"web/recording": {imports: recordingNeeds, impure: "answers requests"},
	"web/livebench": {imports: livebenchNeeds, impure: "answers requests, follows the clock"},
	"web": {imports: map[string]string{
		"authority": "speaks TLS with its certificates", "beside": "listens beside",
		"book": "what a change is, and how large a file may be", "web/access": "who may do what",
		"web/job": "the pages of jobs", "web/recording": "the pages of recordings", "web/livebench": "the benches",
		"web/page": "how anything is answered", "web/shelf": "the jobs that the rooms share",
		"web/manual": "the manual"},
		impure: "the server"},
	"web/manual":  {imports: map[string]string{"web/page": "how anything is answered"}, impure: "embeds its pages"},
	"web/webtest": {impure: "the tests of all of web's rooms share it; nothing else may import it"},
	"trial": {imports: map[string]string{
		"bench": "the engine under trial, and its truth", "readings": "the line through what the light showed", "quantity": "measures",
		"engine": "the cycle, the factor two", "jobcard": "an engine is drawn as a card", "sheet": "what the judge foresees on the starter",
		"verdict": "the judge under trial", "suspects": "what was seen, as evidence", "shaft": "what a recording shows", "waveform": "the edges of a recording",
		"procedure": "what a change puts in doubt", "beside": "engines judged on other processors"}},
	"cmd/phasewright": {impure: "wiring"},
}

// What the rooms of web need.
var (
	pageNeeds = map[string]string{
		"book": "its errors in words, versions of jobs", "record": "the error of a job without a card, in words",
		"quantity": "printing", "drawing": "drawings in two widths, the style of drawings",
		"report": "papers for saving", "words": "the words of the trade that a page explains"}
	shelfNeeds = map[string]string{
		"book": "events, jobs and files as values", "record": "what a job's events come to",
		"procedure": "the next step", "sheet": "stops come before work", "verdict": "what is next",
		"web/page": "how anything is answered"}
	jobNeeds = map[string]string{
		"book": "events and files as values", "jobcard": "the form of the card", "record": "readings and corrections",
		"sheet": "items and trials", "readings": "fit and proof", "procedure": "the order of work",
		"suspects": "the ranking", "coil": "what limits the spark", "leads": "what stands before a recorder",
		"drawing": "charts", "report": "papers and drawings", "quantity": "printing",
		"verdict": "the nine clauses", "web/page": "how anything is answered", "web/shelf": "the jobs",
		"web/recording": "takes the photo of a step in"}
	recordingNeeds = map[string]string{
		"beside": "reads beside the pages", "book": "files as values", "drawing": "the waveform",
		"jobcard": "what the card says of the signals", "quantity": "times with their unit",
		"report": "drawings of a recording", "shaft": "what a recording shows", "waveform": "reading and overview",
		"procedure": "the step that a recording is evidence of",
		"web/page":  "how anything is answered", "web/shelf": "the jobs"}
	livebenchNeeds = map[string]string{
		"bench": "the simulated engine", "beside": "a bench's own time", "book": "the list of jobs",
		"distributor": "the towers of the cap", "engine": "firings, the factor two", "jobcard": "an engine from a card",
		"quantity": "measures", "record": "the card of an example",
		"web/page": "how anything is answered", "web/shelf": "the jobs"}
)

// open are the rooms that may import every other room.
var open = []string{"web/webtest", "cmd/phasewright"}

// barred are the packages that a pure room never imports: it gets clock, seed, input and output passed in.
var barred = []string{"net", "net/http", "database/sql", "os", "os/exec", "os/signal", "embed", "syscall", "log"}

type listed struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "./...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var ps []listed
	d := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p listed
		if err := d.Decode(&p); err == io.EOF {
			return ps
		} else if err != nil {
			t.Fatal(err)
		}
		ps = append(ps, p)
	}
}

func TestWhoImportsWhom(t *testing.T) {
	const module = "phasewright/"
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, module)
		if name == "phasewright" { // this test alone
			continue
		}
		r, known := house[name]
		if !known {
			t.Errorf("package %s stands in no plan of the house; add it to layout_test.go with its reasons", name)
			continue
		}
		for _, imp := range p.Imports {
			inner, ours := strings.CutPrefix(imp, module)
			if ours && !slices.Contains(open, name) && r.imports[inner] == "" {
				t.Errorf("%s imports %s without a reason in layout_test.go", name, inner)
			}
			if !ours && r.impure == "" && slices.Contains(barred, imp) {
				t.Errorf("%s is pure and imports %s; pass it in", name, imp)
			}
		}
		for inner := range r.imports {
			if !slices.Contains(p.Imports, module+inner) {
				t.Errorf("%s has a reason to import %s in layout_test.go and does not: take it out", name, inner)
			}
		}
	}
}

// The simulator and the analyser share no code: an error in both would hide itself.
func TestBenchKnowsNoAnalyser(t *testing.T) {
	for _, p := range packages(t) {
		for _, pair := range [][2]string{{"phasewright/bench", "phasewright/shaft"}, {"phasewright/bench", "phasewright/waveform"}, {"phasewright/bench", "phasewright/readings"}, {"phasewright/shaft", "phasewright/bench"}, {"phasewright/readings", "phasewright/bench"}, {"phasewright/waveform", "phasewright/bench"}, {"phasewright/shaft", "phasewright/cranking"}, {"phasewright/readings", "phasewright/cranking"}, {"phasewright/waveform", "phasewright/cranking"}} {
			if p.ImportPath == pair[0] && slices.Contains(p.Imports, pair[1]) {
				t.Errorf("%s imports %s", pair[0], pair[1])
			}
		}
	}
}

// trying are the rooms that only tests import: they make what other rooms are tried on, and the tool carries none
// of it.
var trying = map[string]string{
	"shaft/stand": "recordings with known truth, a second opinion on physics beside bench: the tests of shaft are judged by it",
}

func TestTryingRoomsAreForTestsAlone(t *testing.T) {
	ps := packages(t)
	for name, why := range trying {
		if !slices.ContainsFunc(ps, func(p listed) bool { return p.ImportPath == "phasewright/"+name }) {
			t.Errorf("there is no room %s (%s): take it out of the table", name, why)
		}
		for _, p := range ps {
			if slices.Contains(p.Imports, "phasewright/"+name) {
				t.Errorf("%s imports %s, which is for tests alone (%s)", p.ImportPath, name, why)
			}
		}
	}
}

// breaking names, for each place that lets work begin on another goroutine, the test that makes that work panic and
// sees the panic come home.
var breaking = map[string]string{
	"beside/beside.go":          "TestAllWaitsForAll",
	"book/writer.go":            "TestABrokenWriterKeepsNobodyWaiting",
	"book/list.go":              "TestABrokenSearchBringsItsPanicHome",
	"waveform/interruptible.go": "TestWhatBreaksBesideTheScanComesHome",
	"book/notices.go":           "TestAListenerThatBreaksEndsAlone",
	"waveform/pipeline.go":      "TestWhatBreaksBesideTheScanComesHome",
	"waveform/edges/survey.go":  "TestWhatBreaksInTheSurveyComesHome",
	"suspects/rank.go":          "TestWhatBreaksInTheRankingComesHome",
	"trial/many.go":             "TestWhatBreaksOnOneEngineComesHome",
	"web/bothways.go":           "TestAConnectionThatBreaksIsTheOnlyOneToEnd",
	"web/livebench/keep.go":     "TestABenchThatCannotBeSavedIsTheOnlyOne",
	"web/livebench/loop.go":     "TestABenchThatBreaksIsTheOnlyOneToEnd",
	"web/recording/claims.go":   "TestLookingAfterOtherServersBreaksAlone",
	"web/recording/queue.go":    "TestAReadingThatBreaksIsTheOnlyOneToEnd",
	"web/server.go":             "TestAListenerThatBreaksIsToldOf",
}

// A panic on a goroutine of its own ends the program, whoever might catch it elsewhere. So goroutines begin in the room
// beside only, which brings it home, and each place that asks for one has a test. The command line is for one person,
// whose command a panic ends anyway.
func TestEveryGoroutineBringsItsPanicHome(t *testing.T) {
	starts := map[string]bool{}
	err := fs.WalkDir(os.DirFS("."), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && strings.HasPrefix(path, "node_modules") {
			return cmp.Or(err, fs.SkipDir)
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		tree, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				if strings.HasPrefix(path, "cmd/") || strings.HasPrefix(path, "web/webtest/") {
					break
				}
				if starts[path] = true; !strings.HasPrefix(path, "beside/") {
					t.Errorf("%s begins a goroutine by itself; let it begin with beside.Start", path)
				}
			case *ast.CallExpr:
				call, ok := n.Fun.(*ast.SelectorExpr)
				if !ok {
					break
				}
				of, _ := call.X.(*ast.Ident)
				switch {
				case of != nil && of.Name == "beside" && (call.Sel.Name == "Start" || call.Sel.Name == "All"):
					starts[path] = true
				case call.Sel.Name == "Go", call.Sel.Name == "AfterFunc":
					t.Errorf("%s calls %s, which begins a goroutine; let it begin with beside.Start", path, call.Sel.Name)
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for path := range starts {
		if breaking[path] == "" {
			t.Errorf("%s lets work begin on another goroutine and no test here makes it panic", path)
		}
	}
	for path, test := range breaking {
		if !starts[path] {
			t.Errorf("%s lets no work begin: take it out of the table", path)
		}
		found := false
		files, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*_test.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range files {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			found = found || strings.Contains(string(text), "func "+test+"(")
		}
		if !found {
			t.Errorf("%s: there is no %s in its room", path, test)
		}
	}
}

// Only cmd opens databases; nothing but web and cmd knows the network.
func TestDoors(t *testing.T) {
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, "phasewright/")
		for _, imp := range p.Imports {
			if imp == "net/http" && name != "cmd/phasewright" && name != "web" && !strings.HasPrefix(name, "web/") {
				t.Errorf("%s imports net/http", name)
			}
			if imp == "phasewright/web/webtest" {
				t.Errorf("%s imports what is for tests only", name)
			}
			if strings.Contains(imp, "sqlite") && name != "book" {
				t.Errorf("%s imports %s", name, imp)
			}
		}
	}
}
