package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// TestHostileDocuments feeds the program broken and hostile inputs: each is
// refused with status 2 and the expected lines, a line a fault, and nothing is
// written.
func TestHostileDocuments(t *testing.T) {
	const corpus = "../../testdata/hostile/documents.txtar"
	text, err := os.ReadFile(corpus)
	if err != nil {
		t.Fatal(err)
	}
	archive := txtar.Parse(text)
	dir := t.TempDir()
	t.Chdir(dir)
	tried := 0
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
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
		args := []string{"convert", name, "-o", "out.json"}
		if filepath.Ext(name) == ".grid" {
			args = []string{"take", name, "--id", "a", "--unit", "V", "--x", "q [V]", "--y", "r [V]", "-o", "out.json"}
		}
		var stdout, stderr bytes.Buffer
		status := run(args, strings.NewReader(""), &stdout, &stderr)
		if status != statusTrouble || stdout.Len() > 0 {
			t.Errorf("%s: status %d, standard output %q", name, status, stdout.String())
		}
		left, err := os.ReadDir(".")
		if err != nil || len(left) != 1 {
			t.Errorf("%s: something was written: %v %v", name, left, err)
		}
		got := stderr.String()
		if *update {
			want.Data = []byte(got)
		} else if got != string(want.Data) {
			t.Errorf("%s says\n%swant\n%s", name, got, want.Data)
		}
		for line := range strings.Lines(got) {
			if !strings.HasPrefix(line, "calsplice: "+name+":") || len(line) > 240 {
				t.Errorf("%s: a line that does not name it, or is too long: %q", name, line)
			}
		}
		os.Remove(name)
	}
	if tried < 120 {
		t.Errorf("only %d documents", tried)
	}
	if *update {
		t.Chdir(filepath.Dir(dir))
		if err := os.WriteFile(filepath.Join(cwd, corpus), txtar.Format(archive), 0o644); err != nil {
			t.Fatal(err)
		}
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
