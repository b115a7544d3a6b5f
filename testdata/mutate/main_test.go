package main

import (
	"regexp"
	"strings"
	"testing"
)

// TestNoticed: a package's mistakes compile, most are noticed, and what is not
// is printed with its place.
func TestNoticed(t *testing.T) {
	var out strings.Builder
	lived, err := run("tables/unit", 30, 1, 2, &out)
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

// TestKeys: a mistake is named by its text and not by its line.
func TestKeys(t *testing.T) {
	s := site{line: 7, file: "a.go", fn: "f", before: "x <\n\t\ty", to: "x <= y"}
	if got := s.key("p"); got != "p/a.go f: x < y → x <= y" {
		t.Error(got)
	}
}
