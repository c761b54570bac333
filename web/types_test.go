package web_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// compiler is TypeScript's compiler that the test script fetches; without it the check is skipped, under CI it fails.
func compiler(t *testing.T) string {
	path, err := filepath.Abs("../node_modules/typescript/bin/tsc")
	if err == nil {
		_, err = os.Stat(path)
	}
	if err == nil {
		_, err = exec.LookPath("node")
	}
	if err == nil {
		return path
	}
	if os.Getenv("CI") != "" {
		t.Fatal("TypeScript's compiler or node is not there: the types of the page's script were not checked; scripts/test fetches it: ", err)
	}
	t.Skip("SKIPPED: TypeScript's compiler or node is not there, so the types of the page's script were NOT checked; scripts/test fetches it: ", err)
	return ""
}

// The page's script holds what its comments say of types, checked strictly.
func TestScriptTypes(t *testing.T) {
	for _, project := range []string{"tsconfig.json", "worker.json"} { // a service worker has other things around it
		out, err := exec.Command("node", compiler(t), "--project", "testdata/types/"+project, "--pretty", "false").CombinedOutput()
		if err != nil {
			t.Errorf("%s: %v\n%s", project, err, out)
		}
	}
	names, err := filepath.Glob("static/*.js")
	if err != nil || len(names) == 0 {
		t.Fatal("no script: ", err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(string(text), "// @ts-check\n") || strings.Contains(string(text), "@ts-ignore") || strings.Contains(string(text), "@ts-nocheck") || strings.Contains(string(text), "{any}") {
			t.Errorf("%s: its types are not checked, or not all of them", name)
		}
	}
}

// The check can fail: a wrong type in a script is found.
func TestScriptTypesAreFound(t *testing.T) {
	tsc := compiler(t)
	dir := t.TempDir()
	config, err := os.ReadFile("testdata/types/tsconfig.json")
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"tsconfig.json": strings.Replace(string(config), "../../static/*.js", "*.js", 1),
		"wrong.js":      "// @ts-check\ndocument.getElementById(\"main\").value = 3;\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out, err := exec.Command("node", tsc, "--project", dir, "--pretty", "false").CombinedOutput()
	if err == nil || !strings.Contains(string(out), "possibly 'null'") || !strings.Contains(string(out), "'value' does not exist") {
		t.Errorf("a wrong script passes: %v\n%s", err, out)
	}
}
