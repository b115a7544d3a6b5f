package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// TestHostileDocuments feeds the program broken and hostile documents, change
// sets and grids.
func TestHostileDocuments(t *testing.T) {
	tried := hostile(t, "documents.txtar", nil, func(name, _ string) []string { // promise: bounded time and memory
		if filepath.Ext(name) == ".grid" {
			return []string{"take", name, "--id", "a", "--unit", "V", "--x", "q [V]", "--y", "r [V]", "-o", "out.json"}
		}
		return []string{"convert", name, "-o", "out.json"}
	})
	if tried < 120 {
		t.Errorf("only %d documents", tried)
	}
}

// TestHostileOthers feeds it what else it reads: conflicts, channel maps,
// expressions, workbooks, and patches that it only writes.
func TestHostileOthers(t *testing.T) {
	van, err := os.ReadFile("../../testdata/documents/van.json")
	if err != nil {
		t.Fatal(err)
	}
	beside := map[string]string{"van.json": string(van), "drive.csv": "time,RPM,ECT\n0,800,60\n1,900,70\n2,900,80\n"}
	cells := []string{"cells", "drive.csv", "--value", "engine_speed", "--x", "engine_speed: 800", "-o", "out.json"}
	tried := hostile(t, "others.txtar", beside, func(name, text string) []string { // promise: bounded time and memory
		text = strings.TrimSuffix(text, "\n")
		switch {
		case strings.HasSuffix(name, ".conflicts.json"):
			return []string{"resolve", "van.json", name, "--take", "ours", "-o", "out.json"}
		case strings.HasSuffix(name, ".patch.json"):
			return []string{"apply", "van.json", name, "-o", "out.json"}
		case strings.HasSuffix(name, ".map"):
			return append(cells, "--channel-map", name)
		case strings.HasSuffix(name, ".where"):
			return append(cells, "--where", text)
		case strings.HasSuffix(name, ".let"):
			return append(cells, "--let", text)
		}
		return []string{"convert", name, "-o", "out.json"}
	})
	if tried < 80 {
		t.Errorf("only %d inputs", tried)
	}
}

// hostile feeds the program each input of a corpus, by the command line that
// args gives: it is refused with status 2 and the expected lines, a line a
// fault, and nothing is written.
func hostile(t *testing.T, corpus string, beside map[string]string, args func(name, text string) []string) (tried int) {
	t.Helper()
	corpus = filepath.Join(cwd, "../../testdata/hostile", corpus)
	text, err := os.ReadFile(corpus)
	if err != nil {
		t.Fatal(err)
	}
	archive := txtar.Parse(text)
	dir := t.TempDir()
	t.Chdir(dir)
	for name, text := range beside {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for i := 0; i+1 < len(archive.Files); i += 2 {
		file, want := archive.Files[i], &archive.Files[i+1]
		if want.Name != "want" {
			t.Fatalf("%s is not followed by what is wanted", file.Name)
		}
		name, data := file.Name, file.Data
		if base, ok := strings.CutSuffix(name, ".gen"); ok {
			name, data = base, generated(t, string(data))
		}
		tried++
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
		line := args(name, string(data))
		var stdout, stderr bytes.Buffer
		status := run(line, strings.NewReader(""), &stdout, &stderr)
		if status != statusTrouble || stdout.Len() > 0 {
			t.Errorf("%s: status %d, standard output %q", name, status, stdout.String())
		}
		if left, err := os.ReadDir("."); err != nil || len(left) != len(beside)+1 {
			t.Errorf("%s: something was written: %v %v", name, left, err)
		}
		got := stderr.String()
		if *update {
			want.Data = []byte(got)
		} else if got != string(want.Data) {
			t.Errorf("%s says\n%swant\n%s", name, got, want.Data)
		}
		lines := slices.Collect(strings.Lines(got))
		for _, line := range lines {
			if !strings.HasPrefix(line, "calsplice: ") || len(line) > 300 {
				t.Errorf("%s: a line that is not the program's, or is too long: %q", name, line)
			}
		}
		place := name
		switch flag := line[len(line)-2]; flag {
		case "--where":
			place = "drive.csv: "
		case "--let":
			place = "--let "
		}
		if len(lines) == 0 || len(lines) > 101 || !strings.Contains(got, place) {
			t.Errorf("%s: %d lines, which do not say where: %.200s", name, len(lines), got)
		}
		os.Remove(name)
	}
	if *update {
		if err := os.WriteFile(corpus, txtar.Format(archive), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return tried
}

// TestHostileLogs feeds it the hostile logs, whose lines tables/drivelog
// expects: where no log can be read, "channels" says that line with status 2,
// and "cells" refuses what it refuses without a trace.
func TestHostileLogs(t *testing.T) {
	folder := filepath.Join(cwd, "../../testdata/hostile-logs")
	expected, err := os.ReadFile(filepath.Join(folder, "expected.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	out := t.TempDir()
	t.Chdir(folder)
	tried := 0
	for line := range strings.Lines(string(expected)) {
		name, want, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		tried++
		status, stdout, stderr := ran("channels " + name)
		refusal, refused := strings.CutPrefix(want, "error: ")
		if refused && (status != statusTrouble || stdout != "" || stderr != "calsplice: "+refusal+"\n") ||
			!refused && status == statusTrouble && !strings.HasPrefix(stderr, "calsplice: "+name+":") {
			t.Errorf("channels %s: status %d, %q %q; want %s", name, status, stdout, stderr, want)
		}
		status, stdout, stderr = ran("cells " + name + " --value engine_speed --x 'engine_speed: 800' -o " + filepath.ToSlash(out) + "/out.json")
		left, err := os.ReadDir(out)
		if status == statusTrouble && (stdout != "" || !strings.Contains(stderr, "calsplice: "+name+":") || len(left) > 0) || refused && status != statusTrouble || err != nil {
			t.Errorf("cells %s: status %d, %q %q, left %v %v", name, status, stdout, stderr, left, err)
		}
		os.Remove(filepath.Join(out, "out.json"))
	}
	if tried < 60 {
		t.Errorf("only %d logs", tried)
	}
}

var cwd, _ = os.Getwd()

var piece = regexp.MustCompile(`("(?:[^"\\]|\\.)*")(?:\s*\*\s*(\d+))?`)

// generated puts a .gen file together.
func generated(t *testing.T, text string) []byte {
	var b bytes.Buffer
	for _, m := range piece.FindAllStringSubmatch(text, -1) {
		s, err := strconv.Unquote(m[1])
		if err != nil {
			t.Fatalf("%s: %v", m[1], err)
		}
		n := 1
		if m[2] != "" {
			n, _ = strconv.Atoi(m[2])
		}
		b.WriteString(strings.Repeat(s, n))
	}
	return b.Bytes()
}
