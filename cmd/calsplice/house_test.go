package main

import (
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// floors are the rooms from the ground up: imports run from a higher to a
// lower or the same floor, never upwards.
var floors = []string{"calsplice/tables", "calsplice/interp", "calsplice/merge", "calsplice/cmd"}

func floor(pkg string) int {
	for i, f := range floors {
		if pkg == f || strings.HasPrefix(pkg, f+"/") {
			return i
		}
	}
	return -1
}

func TestImportsRunOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}} {{join .TestImports " "}}`, "calsplice/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(out)) {
		pkgs := strings.Fields(line)
		for _, imported := range pkgs[1:] {
			if floor(imported) > floor(pkgs[0]) {
				t.Errorf("%s imports %s, which stands above it", pkgs[0], imported)
			}
		}
	}
}

// TestWhatIsNotLinked: nothing of the program listens or calls anybody, and every
// command would wait for what these packages do before main. Newer progress bars
// serve their state to browsers.
func TestWhatIsNotLinked(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", ".").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, unwanted := range []string{"net/http", "crypto/tls", "github.com/xuri/excelize/v2"} {
		if strings.Contains("\n"+string(out), "\n"+unwanted+"\n") {
			t.Errorf("the program links %s", unwanted)
		}
	}
}

// TestTopLevel keeps the top level to what the card lists. What .gitignore
// names, such as the demo's folder, is nobody's source.
func TestTopLevel(t *testing.T) {
	ignored, err := os.ReadFile("../../.gitignore")
	if err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir("../..")
	if err != nil {
		t.Fatal(err)
	}
	card := " cmd tables merge interp testdata go.mod go.sum README.md DEVELOPERS.md "
	for _, e := range entries {
		n := e.Name()
		known := strings.HasPrefix(n, ".") || strings.Contains(card, " "+n+" ")
		for pattern := range strings.FieldsSeq(string(ignored)) {
			match, err := path.Match(strings.Trim(pattern, "/"), n)
			known = known || err == nil && match
		}
		if !known {
			t.Errorf("%s stands at the top level, beyond the card", n)
		}
	}
}

// TestFilesForDevelopers: the files that DEVELOPERS.md names are there.
func TestFilesForDevelopers(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	var there strings.Builder
	err = filepath.WalkDir("../..", func(file string, e os.DirEntry, err error) error {
		if err == nil && e.IsDir() && (e.Name() == ".git" || e.Name() == "node_modules") {
			return filepath.SkipDir
		}
		there.WriteString(filepath.ToSlash(file) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`([a-z0-9_/-]+\\.(?:go|s|txt|js|css|xml|tmpl))`").FindAllSubmatch(text, -1)
	if len(named) < 40 {
		t.Fatalf("only %d files are named", len(named))
	}
	for _, m := range named {
		if !strings.Contains(there.String(), "/"+string(m[1])+"\n") {
			t.Errorf("%s is named, and is not there", m[1])
		}
	}
}

// TestDrawing holds the drawing of the house to its rooms: each package is in it,
// each name on its left is a package's, and it fits a screen.
func TestDrawing(t *testing.T) {
	out, err := exec.Command("go", "list", "calsplice/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	card, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, drawing, _ := strings.Cut(string(card), "```\n")
	drawing, _, _ = strings.Cut(drawing, "```")
	drawn := map[string]bool{}
	const words = 30 // columns of names
	for line := range strings.Lines(drawing) {
		for _, n := range strings.Fields(line[:min(len(line), words)]) {
			if n != "│" {
				drawn[path.Base(n)] = true
			}
		}
	}
	if n := strings.Count(drawing, "\n"); n > 50 {
		t.Errorf("the drawing has %d lines, more than a screen", n)
	}
	for pkg := range strings.FieldsSeq(string(out)) {
		if name := path.Base(pkg); !drawn[name] && !strings.Contains(pkg, "/testdata/") {
			t.Errorf("%s is not in the drawing", pkg)
		} else {
			delete(drawn, name)
		}
	}
	for name := range drawn {
		t.Errorf("the drawing has %s, which is no package", name)
	}
}
