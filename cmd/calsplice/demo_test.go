package main

import (
	"maps"
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
