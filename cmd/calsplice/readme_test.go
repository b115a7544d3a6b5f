package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// TestReadme runs every command that the README shows behind a "$ " in a block
// of the kind "console", in the demo's folder, and compares what it prints.
func TestReadme(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if out, err := program("demo", "-o", dir).CombinedOutput(); err != nil {
		t.Fatalf("demo: %v\n%s", err, out)
	}
	shown := sessions(string(readme))
	if len(shown) < 4 {
		t.Fatalf("the README shows %d commands, want some", len(shown))
	}
	for _, s := range shown {
		cmd := program(words(s.command)...)
		cmd.Dir = dir
		var out bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &out
		cmd.Run()
		got := out.String()
		if before, more := strings.CutSuffix(s.output, "…\n"); more && strings.HasPrefix(got, before) {
			continue
		}
		if got != s.output {
			t.Errorf("$ calsplice %s\ngot\n%s\nthe README has\n%s", s.command, got, s.output)
		}
	}
}

type session struct{ command, output string }

func sessions(readme string) []session {
	var list []session
	inside := false
	for line := range strings.Lines(readme) {
		switch {
		case strings.HasPrefix(line, "```console"):
			inside = true
		case strings.HasPrefix(line, "```"):
			inside = false
		case inside && strings.HasPrefix(line, "$ calsplice "):
			list = append(list, session{command: strings.TrimSpace(strings.TrimPrefix(line, "$ calsplice "))})
		case inside && len(list) > 0:
			list[len(list)-1].output += line
		}
	}
	return list
}

// words splits a command line at blanks outside single quotes.
func words(line string) []string {
	var list []string
	for i, part := range strings.Split(line, "'") {
		if i%2 == 1 {
			list = append(list, part)
		} else {
			list = append(list, strings.Fields(part)...)
		}
	}
	return list
}
