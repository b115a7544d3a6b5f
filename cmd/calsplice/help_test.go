package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// TestHelpExamples runs every example of every command's --help, on the demo's
// files under the names that the examples use: none may end in trouble. A
// command without an example is a fault.
func TestHelpExamples(t *testing.T) {
	dir := t.TempDir()
	exampleFiles(t, dir)
	for _, e := range examples("", commands()) {
		t.Run(e.command, func(t *testing.T) {
			if len(e.lines) == 0 {
				t.Fatal("its help has no example")
			}
			for _, line := range e.lines {
				work := t.TempDir()
				if err := os.CopyFS(work, os.DirFS(dir)); err != nil {
					t.Fatal(err)
				}
				cmd := program(words(line)...)
				cmd.Dir = work
				grid, err := os.ReadFile(filepath.Join(dir, "offset.tsv"))
				if err != nil {
					t.Fatal(err)
				}
				cmd.Stdin = bytes.NewReader(grid)
				out, _ := cmd.CombinedOutput()
				if code := cmd.ProcessState.ExitCode(); code != statusClean && code != statusReport {
					t.Errorf("calsplice %s: status %d\n%s", line, code, out)
				}
			}
		})
	}
}

// TestOneDefault: no option's help names two defaults, nor a 0 where nothing is
// what stands for it.
func TestOneDefault(t *testing.T) {
	var each func(path string, list []*cli.Command)
	each = func(path string, list []*cli.Command) {
		for _, c := range list {
			for _, f := range c.Flags {
				said := f.String()
				if n := strings.Count(said, "default:") + strings.Count(said, "unless told"); n > 1 {
					t.Errorf("%s%s: %s", path, c.Name, said)
				}
				if strings.Contains(said, "(default: 0)") && c.Name != "events" {
					t.Errorf("%s%s: is 0 what stands? %s", path, c.Name, said)
				}
			}
			each(path+c.Name+" ", c.Subcommands)
		}
	}
	each("", commands())
}

type example struct {
	command string
	lines   []string // without the program's name
}

// examples takes the lines of descriptions that begin with the program's name;
// a backslash at an end goes on in the next line, and what a shell would do
// with the output is left out. What needs a repository is tried in git.txtar.
func examples(path string, list []*cli.Command) []example {
	var found []example
	for _, c := range list {
		if len(c.Subcommands) > 0 {
			if c.Name != "git" {
				found = append(found, examples(path+c.Name+" ", c.Subcommands)...)
			}
			continue
		}
		e := example{command: path + c.Name}
		text := regexp.MustCompile(`\\\n\s*`).ReplaceAllString(c.Description, "")
		for line := range strings.Lines(text) {
			if rest, ok := strings.CutPrefix(strings.TrimSpace(line), "calsplice "); ok {
				rest, _, _ = strings.Cut(rest, " > ")
				rest, _, _ = strings.Cut(rest, " | ")
				e.lines = append(e.lines, rest)
			}
		}
		found = append(found, e)
	}
	return found
}

// exampleFiles lays out the demo's files under the names that examples use.
func exampleFiles(t *testing.T, dir string) {
	t.Helper()
	do := func(args ...string) string {
		t.Helper()
		cmd := program(args...)
		cmd.Dir = dir
		var out, errors bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errors
		cmd.Run()
		if cmd.ProcessState.ExitCode() > statusReport {
			t.Fatalf("calsplice %s: %s", strings.Join(args, " "), errors.String())
		}
		return out.String()
	}
	put := func(name, content string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	copied := func(from string, to ...string) {
		t.Helper()
		raw, err := os.ReadFile(filepath.Join(dir, from))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range to {
			put(name, string(raw))
		}
	}
	do("demo", "-o", dir)
	copied("van-fitted.json", "van.json", "found.json", "base.json")
	copied("van-delivered.json", "donor.json")
	copied("van-corrected.json", "van-2.json", "corrected.json", "ours.json")
	copied("van-colleague.json", "theirs.json")
	copied("drive-2.csv", "day1.csv")
	copied("drive-3.csv", "day2.csv")
	copied("trims-1.json", "monday.json")
	copied("trims-2.json", "tuesday.json")
	do("convert", "corrected.json", "-o", "corrected.xlsx")
	do("diff", "van.json", "van-2.json", "-o", "changes.json")
	put("spark.tsv", do("give", "van.json", "--table", "spark.advance", "--tsv"))
	put("offset.tsv", do("give", "van.json", "--table", "injector.offset", "--tsv"))
	withTerminal(t, filepath.Join(dir, "drive-1.csv"), filepath.Join(dir, "drive.csv"))
	other(t, filepath.Join(dir, "van.json"), filepath.Join(dir, "other.json"))
	do("merge", "base.json", "theirs.json", "other.json", "-o", "merged.json")
}

// withTerminal copies a log with one column more, as a logger names the battery.
func withTerminal(t *testing.T, from, to string) {
	t.Helper()
	raw, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for i, line := range strings.Split(strings.TrimSpace(string(raw)), "\n") {
		if i == 0 {
			out.WriteString(line + ",Terminal 30\n")
		} else {
			out.WriteString(line + ",14\n")
		}
	}
	err = tablefile.Replace(to, nil, func(w io.Writer) error { _, err := io.WriteString(w, out.String()); return err })
	if err != nil {
		t.Fatal(err)
	}
}

// other writes a calibration whose flow and spark another person changed too.
func other(t *testing.T, from, to string) {
	t.Helper()
	doc, err := tablefile.Read(from, nil)
	for _, id := range []string{"injector.flow", "spark.advance"} {
		if err != nil {
			t.Fatal(err)
		}
		values := append([]float64(nil), doc.Table(id).Values()...)
		values[0]++
		var changed *tables.Table
		if changed, err = doc.Table(id).WithValues(values); err == nil {
			doc, err = doc.WithTable(changed)
		}
	}
	if err == nil {
		err = tablefile.Write(to, doc, tablefile.Options{})
	}
	if err != nil {
		t.Fatal(err)
	}
}
