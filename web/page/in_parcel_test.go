package page

import (
	"strings"
	"testing"
	"testing/fstest"
)

// One script holds every module once, each before those that import it, its names its own; remarks stay behind.
func TestScriptsArePutTogether(t *testing.T) {
	p := parcels{
		"app.js":  "// @ts-check\n// What it is for.\nimport { a } from \"./low.js\";\na(); // at once\n",
		"wave.js": "import { a, b } from \"./low.js\";\n/** @type {number} */\nlet x = a() + b;\n/**\n * @param {number} n\n */\nfunction f(n) { return n }\nf(x);\n",
		"low.js":  "let x = 1;\nexport function a() { return x }\nexport const b = \"// no remark\";\nexport async function c() {}\n",
	}
	got, err := p.script("wave")
	if err != nil {
		t.Fatal(err)
	}
	want := `const module = {};
{
let x = 1;
function a() { return x }
const b = "// no remark";
async function c() {}
module["low.js"] = { a, b, c };
}
{
const { a } = module["low.js"];
a(); // at once
module["app.js"] = {  };
}
{
const { a, b } = module["low.js"];
let x = a() + b;
function f(n) { return n }
f(x);
module["wave.js"] = {  };
}
`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if alone, err := p.script("card"); err != nil || strings.Contains(alone, "wave") {
		t.Errorf("a view without a script of its own gets\n%s, %v", alone, err)
	}
}

// What cannot be put together is found when the program starts, and said.
func TestScriptsThatDoNotFitAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		`import { a } from "./none.js";`:     "none.js is imported and not there",
		`import { a } from "./app.js";`:      "app.js imports itself",
		`import { a as b } from "./low.js";`: "is not put together",
		`import * as low from "./low.js";`:   "is not put together",
		`export default 3;`:                  "is not put together",
		`export let x = 3;`:                  "is not put together",
	} {
		if got, err := (parcels{"app.js": text + "\n", "low.js": ""}).script(""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q; gave %s", text, err, want, got)
		}
	}
}

// A view's style and script come by its name, in one file each.
func TestAssetsOfAView(t *testing.T) {
	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	a, err := newAssets(fstest.MapFS{
		"static/tokens.css": file("/* colours */:root{}"), "static/sheet.css": file(".sheet{}"), "static/recordings.css": file(".wave{}"),
		"static/app.js": file("1\n"), "static/wave.js": file("2\n"), "static/sw.js": file("3\n"), "static/icon.svg": file("<svg/>"),
		"templates/wave.html": file(""), "templates/sheet.html": file(""),
	})
	if err != nil {
		t.Fatal(err)
	}
	for view, want := range map[string][2]string{"wave": {"recordings.css", "wave.js"}, "sheet": {"look.css", "app.js"}} {
		if got := [2]string{a.styles[view], a.scripts[view]}; got != want {
			t.Errorf("%s: %v, want %v", view, got, want)
		}
	}
	if css := string(a.files["recordings.css"].plain); !strings.HasPrefix(css, ":root{}.sheet{}") || !strings.HasSuffix(css, ".wave{}") {
		t.Errorf("the style of a view: %s", css)
	}
	for _, name := range []string{"tokens.css", "sheet.css", "sw.js"} {
		if _, ok := a.files[name]; ok {
			t.Errorf("%s is served as it lies there", name)
		}
	}
	if text := string(a.worker); !strings.HasPrefix(text, `self.release = {"prefix":"`+a.prefix) || !strings.HasSuffix(text, "\n3\n") {
		t.Errorf("the worker's script: %s", text)
	}
}
