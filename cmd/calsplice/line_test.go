package main

import (
	"errors"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/manual"
)

// TestLine: how the words behind a command's name are taken apart.
func TestLine(t *testing.T) {
	for _, c := range []struct{ words, args, flags, why string }{
		{"show|van.json|--json", "van.json", "json=true", "a flag behind the argument"},
		{"show|--json|van.json", "van.json", "json=true", "and before it"},
		{"show|-json|van.json", "van.json", "json=true", "one dash will do"},
		{"show|--json=false|van.json", "van.json", "json=false", "a value behind ="},
		{"show|--table|a|--table=b|van.json", "van.json", "table=a,b", "a flag again"},
		{"show|van.json|-o|-", "van.json", "o=-", "- is a value"},
		{"show|-|--out|--json", "-", "o=--json", "- is an argument; a value may look like a flag; another name of a flag"},
		{"trace|drive.csv|--from|-5", "drive.csv", "from=-5", "a negative number"},
		{"show|--json|--|--table|-o", "--table,-o", "json=true", "behind -- all are arguments"},
		{"show|--table|--|van.json", "van.json", "table=--", "-- as a value"},
		{"propose|--json|fuel|van.json", "van.json", "json=true", "a flag between the words of a name"},
		{"show|van.json|", "van.json,", "", "an empty argument is one"},
		{"show|-o", "", "-o needs FILE", "a flag without its value"},
		{"show|--tabel|x", "", "calsplice show has no flag --tabel: did you mean --table?", "no such flag"},
		{"show|-z", "", "calsplice show has no flag -z: calsplice show --help lists them", "nor such a letter"},
	} {
		words := strings.Split(c.words, "|")
		l := &input{ctx: t.Context(), command: manual.Of(words[0])}
		err := l.takeApart(words, func(command) error { return nil })
		var flags []string
		for _, d := range l.command.Flags() {
			if name := d.Names[0]; l.given(name) {
				flags = append(flags, name+"="+strings.Join(l.many(name), ","))
			}
		}
		if err != nil {
			flags = []string{err.Error()}
		}
		if got := strings.Join(flags, " "); got != c.flags || err == nil && strings.Join(l.args, ",") != c.args {
			t.Errorf("%s: %s has %q and %s, want %s and %s", c.why, c.words, l.args, got, c.args, c.flags)
		}
	}
}

// TestLineValues: what is not given is its default, and the last of what is given
// stands.
func TestLineValues(t *testing.T) {
	l := &input{ctx: t.Context()}
	if err := l.takeApart([]string{"cells", "--show", "max", "--show", "min", "--steady", "drive.csv"}, func(command) error { return nil }); err != nil {
		t.Fatal(err)
	}
	for got, want := range map[string]string{l.text("show"): "min", l.text("weight"): "nearest", l.text("no-such-flag"): "", l.arg(0): "drive.csv", l.arg(1): ""} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if !l.yes("steady") || l.yes("json") || l.number("warm-at") != 70 || l.given("settle") || len(l.rest()) != 0 {
		t.Errorf("steady %v, json %v, warm-at %v, settle given %v, %d more arguments", l.yes("steady"), l.yes("json"), l.number("warm-at"), l.given("settle"), len(l.rest()))
	}
}

// TestLineRefused: what a command line cannot be ends in one line, before anything is
// read; help asked for on the same line is shown all the same.
func TestLineRefused(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"show van.json --json=maybe", `--json is "maybe", expected true or false`},
		{"show van.json --color=", `--color is "", expected auto, always or never`},
		{"cells a.csv --settle -1 --weight x", "--settle is -1, expected seconds\ncalsplice: --weight is \"x\", expected nearest or spread"},
		{"propose --json", "calsplice propose has no flag --json: calsplice propose --help lists them"},
		{"--nonsense", "calsplice has no flag --nonsense: calsplice --help lists them"},
		{"help diff show", `diff has no commands of its own: there is no "show"`},
		{"cells -o", "-o needs FILE"},
	} {
		if status, stdout, stderr := ran(c.line); status != statusTrouble || stdout != "" || stderr != "calsplice: "+c.want+"\n" {
			t.Errorf("%s: status %d, %q, %q; want %q", c.line, status, stdout, stderr, c.want)
		}
	}
	if status, stdout, _ := ran("diff a.json --help"); status != statusClean || !strings.HasPrefix(stdout, "calsplice diff: ") {
		t.Errorf("diff a.json --help: status %d, %q", status, stdout)
	}
}

// TestAttempt: what ends a command is an error again, the first that there is; what is
// broken still breaks.
func TestAttempt(t *testing.T) {
	first := errors.New("the first")
	reached := false
	err := attempt(func() {
		check(nil)
		refuse(false, "nothing")
		must(0, first)
		reached = true
	})
	if err != first || reached {
		t.Errorf("ended with %v, and went on: %v", err, reached)
	}
	if err := attempt(func() { check(nil) }); err != nil {
		t.Errorf("nothing failed, and it ended with %v", err)
	}
	defer func() {
		if r := recover(); r != "broken" {
			t.Errorf("found %v, expected the panic itself", r)
		}
	}()
	attempt(func() { panic("broken") })
}
