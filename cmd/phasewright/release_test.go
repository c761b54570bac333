package main

import (
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// What scripts/release-check finds in minutes on a built release, as far as it shows in the sources.
func TestPackageIsOfWhatIsThere(t *testing.T) {
	text, err := os.ReadFile("../../packaging/nfpm.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var p struct {
		Contents []struct{ Src, Dst string }
		Scripts  map[string]string
	}
	if err := yaml.Unmarshal(text, &p); err != nil {
		t.Fatal(err)
	}
	if len(p.Contents) < 10 || len(p.Scripts) != 3 {
		t.Errorf("%d files and %d scripts in the package", len(p.Contents), len(p.Scripts))
	}
	var sources []string
	for _, s := range p.Scripts {
		sources = append(sources, s)
	}
	for _, c := range p.Contents {
		if !strings.HasPrefix(c.Src, "${OUT}/") {
			sources = append(sources, c.Src)
		}
	}
	for _, s := range sources {
		if found, err := filepath.Glob(filepath.Join("../..", s)); err != nil || len(found) == 0 {
			t.Errorf("the package wants %s, which is not there (%v)", s, err)
		}
	}
}

// The service runs as its own user, on a system that it can only read, with a command line that the program takes.
func TestServiceKeepsToItsFolder(t *testing.T) {
	text, err := os.ReadFile("../../packaging/phasewright.service")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	for _, want := range []string{"User=phasewright", "ProtectSystem=strict", "ProtectHome=yes", "StateDirectory=phasewright",
		"NoNewPrivileges=yes", "CapabilityBoundingSet="} {
		if !slices.Contains(lines, want) {
			t.Errorf("the unit lacks %s", want)
		}
	}
	for _, line := range lines {
		if strings.HasPrefix(line, "ReadWritePaths=") {
			t.Errorf("%s: it needs no other folder", line)
		}
		start, is := strings.CutPrefix(line, "ExecStart=/usr/bin/phasewright ")
		if !is {
			continue
		}
		args := strings.Fields(strings.ReplaceAll(start, "$PHASEWRIGHT_OPTIONS", "--lan"))
		if _, err := newParser(io.Discard, io.Discard, func(int) {}).Parse(args); err != nil {
			t.Errorf("%s: %v", line, err)
		}
		if !slices.Contains(args, "/var/lib/phasewright/"+ownBook) {
			t.Errorf("%s: the book lies elsewhere", line)
		}
	}
}

func TestReleaseIsASemanticVersion(t *testing.T) {
	text, err := os.ReadFile("../../CHANGELOG.md")
	if err != nil {
		t.Fatal(err)
	}
	releases := regexp.MustCompile(`(?m)^## (.*)$`).FindAllStringSubmatch(string(text), -1)
	if len(releases) < 2 {
		t.Fatalf("%d releases", len(releases))
	}
	for _, r := range releases { // semver.org 2.0.0, 2
		if !regexp.MustCompile(`^(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)$`).MatchString(r[1]) {
			t.Errorf("%q is no release", r[1])
		}
	}
}

// The list of what a program was made of names every module with its version, as the program itself knows them.
func TestListOfPartsNamesEveryModule(t *testing.T) {
	python := tool(t, "/usr/bin/python3")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, "../../scripts/sbom.py", self, "1.2.3").Output()
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		BomFormat, SpecVersion string
		Metadata               struct {
			Component struct{ Name, Version string }
		}
		Components []struct{ Name, Version, Purl string }
	}
	if err := json.Unmarshal(out, &doc); err != nil {
		t.Fatal(err)
	}
	if c := doc.Metadata.Component; doc.BomFormat != "CycloneDX" || doc.SpecVersion != "1.5" || c.Name != "phasewright" ||
		c.Version != "1.2.3" {
		t.Errorf("%.300s", out)
	}
	listed := map[string]string{}
	for _, c := range doc.Components {
		listed[c.Name] = c.Purl
	}
	info, ok := debug.ReadBuildInfo()
	if !ok || len(info.Deps) < 10 {
		t.Fatal("the test knows nothing of its modules")
	}
	for _, d := range info.Deps {
		if want := "pkg:golang/" + d.Path + "@" + d.Version; listed[d.Path] != want {
			t.Errorf("%s is listed as %q, want %q", d.Path, listed[d.Path], want)
		}
	}
	if len(listed) != len(info.Deps)+1 {
		t.Errorf("%d parts listed, of %d modules and the standard library", len(listed), len(info.Deps))
	}
}
