package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestNoticed: a package's mistakes compile, most are noticed, and what is not
// is printed with its place.
func TestNoticed(t *testing.T) {
	var out strings.Builder
	lived, err := job{root: "../..", folder: "tables/unit", sample: 30, seed: 1, workers: 2}.run(&out)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	if want := regexp.MustCompile(`^tables/unit: \d+ of \d+ mistakes noticed`); !want.MatchString(lines[len(lines)-1]) || len(lines) != 2*lived+1 {
		t.Errorf("%d survived:\n%s", lived, &out)
	}
	if lived > 10 {
		t.Errorf("tests of units notice little:\n%s", &out)
	}
}

// TestOthers: what a package's own tests pass, those of a package that uses it
// may notice.
func TestOthers(t *testing.T) {
	root := t.TempDir()
	for name, text := range map[string]string{
		"go.mod":          "module m\n\ngo 1.26\n",
		"low/low.go":      "package low\n\nfunc Sum(a, b int) int { return a + b }\n\nfunc Twice(a int) int { return a * 2 }\n\nfunc Times(a int, b *int) int { return a**b }\n",
		"low/low_test.go": "package low\n\nimport \"testing\"\n\nfunc TestTwice(t *testing.T) {\n\tif b := 5; Twice(3) != 6 || Times(3, &b) != 15 {\n\t\tt.Fail()\n\t}\n}\n",
		"up/up_test.go":   "package up\n\nimport (\n\t\"m/low\"\n\t\"testing\"\n)\n\nfunc TestSum(t *testing.T) {\n\tif low.Sum(3, 2) != 5 {\n\t\tt.Fail()\n\t}\n}\n",
	} {
		file := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		by   []string
		want string
	}{
		{nil, "low/low.go:3: - for + (not reached)\n\tlow/low.go Sum: a + b → a - b\nlow: 3 of 4 mistakes noticed, 75 %; 1 were reached by no test\n"},
		{[]string{"up"}, "low: 4 of 4 mistakes noticed, 100 %; 0 were reached by no test\n"},
	} {
		var out strings.Builder
		if _, err := (job{root: root, folder: "low", by: c.by, workers: 1}).run(&out); err != nil || out.String() != c.want {
			t.Errorf("by %v: %v\n%s", c.by, err, &out)
		}
	}
}

// TestKeys: a mistake is named by its text and not by its line.
func TestKeys(t *testing.T) {
	s := site{line: 7, file: "a.go", fn: "f", before: "x <\n\t\ty", to: "x <= y"}
	if got := s.key("p"); got != "p/a.go f: x < y → x <= y" {
		t.Error(got)
	}
}
