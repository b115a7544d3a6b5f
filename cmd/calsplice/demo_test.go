package main

import (
	"bytes"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestNumbersReadAlike: in whatever the demo writes for people, no cell has two
// kinds of minus sign, nothing rounded away keeps a sign, and no word explains
// itself.
func TestNumbersReadAlike(t *testing.T) {
	t.Chdir(t.TempDir())
	status, said, stderr := ran("demo -o .")
	if status != statusClean {
		t.Fatal(stderr)
	}
	written := contents(t, ".")
	written["standard output"] = said
	wrong := regexp.MustCompile(`−[0-9.]+ \(-[0-9]|(^|[^-0-9.])-0(\.0+)?([^0-9.]|$)|inferred: inferred`)
	for _, name := range slices.Sorted(maps.Keys(written)) {
		if name != "standard output" && !strings.HasSuffix(name, ".html") && !strings.HasSuffix(name, ".txt") {
			continue
		}
		text := written[name]
		if _, body, found := strings.Cut(text, "<body>"); found {
			text, _, _ = strings.Cut(body, "<script>")
		}
		if m := wrong.FindString(text); m != "" {
			t.Errorf("%s has %q", name, m)
		}
	}
}

// TestDemoReplacesNothing: a folder with a file of the same name and other bytes
// stays as it is; the demo's own folder takes it again, and mends what is missing.
func TestDemoReplacesNothing(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "demo")
	demo := func() (int, string) {
		var stdout, stderr bytes.Buffer
		status := run([]string{"demo", "-o", folder}, strings.NewReader(""), &stdout, &stderr)
		return status, stdout.String() + stderr.String()
	}
	status, first := demo()
	if status != statusClean {
		t.Fatal(first)
	}
	whole := contents(t, folder)
	if err := os.Remove(filepath.Join(folder, "flow.json")); err != nil {
		t.Fatal(err)
	}
	if status, said := demo(); status != statusClean || said != first || !maps.Equal(contents(t, folder), whole) {
		t.Errorf("the demo does not go into its own folder again: %d %s", status, said)
	}
	for _, name := range []string{"flow.json", "index.html"} {
		if err := os.Remove(filepath.Join(folder, name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(folder, "tender.json"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	before := contents(t, folder)
	status, said := demo()
	if want := "calsplice: " + filepath.Join(folder, "tender.json") + ": is there already"; status != statusTrouble ||
		!strings.HasPrefix(said, want) || !strings.Contains(said, "-o") || strings.Count(said, "\n") != 1 {
		t.Errorf("status %d: %s", status, said)
	}
	if !maps.Equal(contents(t, folder), before) {
		t.Error("the folder is not as it was")
	}
}

// TestStoryIsTrue: a command that ends otherwise than the story has it ends the
// demo, and so does a line that it has no verb for.
func TestStoryIsTrue(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, c := range []struct{ line, want string }{
		{"quietly 2 check nowhere.json", ""},
		{"quietly 0 check nowhere.json", "ended with status 2: calsplice: nowhere.json"},
		{"sing a song", "no such verb"},
		{"invent a.json boat", "boat.json"},
	} {
		err := (&story{ctx: t.Context(), out: io.Discard}).tell(c.line)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: %v, want %q", c.line, err, c.want)
		}
	}
}
