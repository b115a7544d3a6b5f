package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
)

// TestNamesSteerNoTerminal: what a user wrote stands in messages as it is, and is
// cleaned where it is printed: errors, cautions, findings, and reports that are
// no view.
func TestNamesSteerNoTerminal(t *testing.T) {
	t.Chdir(t.TempDir())
	const evil = "\u009b31m" // a terminal's escape, as one character
	doc := func(unit, values string) []byte {
		return []byte(`{"format": "calsplice/1", "name": "n", "tables": [{"id": "a", "unit": "` + unit + `", "role": "injector.offset", "resolution": 0.5,
			"x": {"quantity": "battery_voltage", "unit": "V", "points": [8, 12, 16]}, "values": ` + values + `}]}`)
	}
	name := "evil" + evil + ".json"
	for file, data := range map[string][]byte{name: doc("ms", "[1, 5, 0.7]"), "unit.json": doc("ms"+evil, "[1, 5, 0.7]"),
		"broken" + evil + ".json": []byte("{"), "log" + evil + ".csv": []byte("time,rpm\n0,800\n")} {
		if err := os.WriteFile(file, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		why  string
		args []string
		want string
	}{
		{"an error's file", []string{"check", "broken" + evil + ".json"}, `broken\u009b31m.json`},
		{"an error that is no fault", []string{"diff", "log" + evil + ".csv", "log" + evil + ".csv"}, `log\u009b31m.csv and`},
		{"a finding's file", []string{"check", name}, `evil\u009b31m.json: a`},
		{"a report's unit", []string{"rescale", "unit.json", "--table", "a", "--x", "8,16", "-o", "out.json"}, `largest`},
		{"a caution's key", []string{"set", "unit.json", "a:unit=V" + evil, "-o", "out.json"}, `\u009b31m`},
		{"a form's name", []string{"new", "form" + evil + ".json"}, `form\u009b31m.json`},
	} {
		var both bytes.Buffer
		run(c.args, strings.NewReader(""), &both, &both)
		if s := both.String(); strings.Contains(s, "\u009b") || !strings.Contains(s, c.want) {
			t.Errorf("%s: %q", c.why, s)
		}
	}
	if _, err := os.Stat(filepath.Clean("out.json")); err != nil {
		t.Error(err)
	}
}

// TestErrorLines: a line for each fault and each joined error; a line end within a
// name makes no further line.
func TestErrorLines(t *testing.T) {
	faults := tables.Faults{{File: "a", What: "one"}, {File: "b\nc", What: "two"}}
	for _, c := range []struct {
		why  string
		err  error
		want []string
	}{
		{"one error", errors.New("a\nb"), []string{"a\nb"}},
		{"faults", faults, []string{"a: one", `b\nc: two`}},
		{"joined", errors.Join(errors.New("x\ny"), faults), []string{"x\ny", "a: one", `b\nc: two`}},
	} {
		if got := errorLines(c.err); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}
