package view_test

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"calsplice/cmd/calsplice/text"
	"calsplice/tables"
)

// width is the number of columns that lines are broken at.
const width = 80

func doc(t *testing.T, name string, values []float64, points ...float64) *tables.Calibration {
	t.Helper()
	x, err := tables.NewAxis("engine speed", "r/min", points)
	if err != nil {
		t.Fatal(err)
	}
	table, err := tables.NewTable(tables.Fields{ID: "spark", Title: "Spark\x1b[31m", Unit: "deg", Notes: name, X: x, Values: values})
	if err != nil {
		t.Fatal(err)
	}
	c, err := tables.NewCalibration(tables.Contents{Name: name, Tables: []*tables.Table{table}})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func write(a, b *tables.Calibration) string {
	var w bytes.Buffer
	(&text.Printer{W: &w, Width: width}).View(difference(a, b, nil))
	return w.String()
}

// TestText: lines fit 80 columns wherever there is a blank to break at, and
// what a document says cannot steer the terminal.
func TestText(t *testing.T) {
	long := strings.Repeat("worn injector, ", 30)
	a := doc(t, "old \x1b[2J"+long, []float64{1, 2, 3}, 600, 800, 1200)
	b := doc(t, "new \u202e"+long+"found", []float64{1, 2, 4.5}, 600, 900, 1200)
	s := write(a, b)
	for line := range strings.Lines(s) {
		if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > width {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	if strings.ContainsAny(s, "\x1b\u202e") {
		t.Errorf("control characters reach the terminal: %q", s)
	}
	for _, want := range []string{"breakpoint 800 moved to 900 r/min", "[0, 2]: 3 → 4.5 (+ 1.5 deg)", "{+found+}"} {
		if !strings.Contains(s, want) {
			t.Errorf("no %q in\n%s", want, s)
		}
	}
}

func TestNothing(t *testing.T) {
	a := doc(t, "a", []float64{1}, 600)
	if s := write(a, a); s != "" {
		t.Errorf("a document beside itself: %q", s)
	}
}
