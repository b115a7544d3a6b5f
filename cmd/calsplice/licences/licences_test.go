package licences

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write notices.txt anew")

// TestComplete holds the notices to what is linked, on every system that there
// are archives for, as the module cache has it.
func TestComplete(t *testing.T) {
	want := notices(t)
	if *update {
		if err := os.WriteFile("notices.txt", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if Notices != want {
		t.Errorf("notices.txt is not what the program is linked from: read what changed in go.mod, then go test ./cmd/calsplice/licences -update")
	}
	for _, name := range []string{"The Go Programming Language", "github.com/urfave/cli/v2 ", "font/gofont", "vik"} {
		if !strings.Contains(Notices, name) {
			t.Errorf("there is no notice of %s", name)
		}
	}
}

func notices(t *testing.T) string {
	var b strings.Builder
	add := func(name string, files ...string) {
		fmt.Fprintf(&b, "%s\n%s\n\n", name, strings.Repeat("=", len(name)))
		for _, f := range files {
			data, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			b.WriteString(strings.TrimSpace(strings.ReplaceAll(string(data), "\r\n", "\n")) + "\n\n")
		}
	}
	add("The Go Programming Language: runtime and standard library", filepath.Join(strings.TrimSpace(goes(t, nil, "env", "GOROOT")), "LICENSE"))
	for _, m := range modules(t) {
		name, dir, _ := strings.Cut(m, "\t")
		files := licenceFiles(t, dir)
		if len(files) == 0 {
			t.Errorf("%s has no licence file: look what it is under", name)
		}
		add(name, files...)
		if strings.HasPrefix(name, "golang.org/x/image ") {
			add("The Go fonts, of golang.org/x/image/font/gofont", filepath.Join(dir, "font/gofont/ttfs/README"))
		}
	}
	add("Colour scales", "../../../tables/shade/NOTICE.md")
	return b.String()
}

var licenceFile = regexp.MustCompile(`(?i)(licen[cs]e|copying|notice)`)

// licenceFiles are a module's own, and those of what it was made from.
func licenceFiles(t *testing.T, dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		switch {
		case !licenceFile.MatchString(e.Name()):
		case e.IsDir():
			found, _ := filepath.Glob(filepath.Join(path, "*"))
			files = append(files, found...)
		default:
			files = append(files, path)
		}
	}
	slices.Sort(files)
	return files
}

// modules are the linked ones, "path version" and the folder behind a tab.
func modules(t *testing.T) []string {
	var list []string
	for _, system := range []string{"linux", "windows", "darwin"} {
		out := goes(t, []string{"GOOS=" + system, "GOARCH=amd64", "CGO_ENABLED=0"}, "list", "-deps", "-f",
			"{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", "calsplice/cmd/calsplice")
		list = append(list, strings.Split(strings.TrimSpace(out), "\n")...)
	}
	slices.Sort(list)
	return slices.DeleteFunc(slices.Compact(list), func(s string) bool { return s == "" })
}

func goes(t *testing.T, env []string, args ...string) string {
	t.Helper()
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), env...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go %s: %v: %s", strings.Join(args, " "), err, &stderr)
	}
	return string(out)
}
