package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// TestReadme runs every command that the README shows behind a "$ " in a block
// of the kind "console", in the demo's folder, and compares what it prints. A
// last line "…" stands for the rest. With -update the README gets what they
// print.
func TestReadme(t *testing.T) {
	const file = "../../README.md"
	readme, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if out, err := program("demo", "-o", dir).CombinedOutput(); err != nil {
		t.Fatalf("demo: %v\n%s", err, out)
	}
	var fresh strings.Builder
	commands := 0
	for _, part := range sessions(string(readme)) {
		fresh.WriteString(part.before)
		if part.command == "" {
			continue
		}
		commands++
		got := printed(dir, part.command)
		shown, cut := strings.CutSuffix(part.output, "…\n")
		if cut {
			got = firstLines(got, max(strings.Count(shown, "\n"), 1)) + "…\n"
		}
		if got != part.output && !*update {
			t.Errorf("$ calsplice %s\ngot\n%s\nthe README has\n%s", part.command, got, part.output)
		}
		fresh.WriteString(got)
	}
	if t.Failed() {
		t.Log("read the difference; then go test ./cmd/calsplice -run Readme -update writes it anew")
	}
	if commands < 4 {
		t.Errorf("the README shows %d commands, want a session", commands)
	}
	if *update {
		if err := os.WriteFile(file, []byte(fresh.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func printed(dir, command string) string {
	cmd := program(words(command)...)
	cmd.Dir = dir
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	cmd.Run()
	return out.String()
}

func firstLines(s string, n int) string {
	lines := strings.SplitAfter(s, "\n")
	return strings.Join(lines[:min(n, len(lines))], "")
}

// session is a command with its output, and the text before it.
type session struct{ before, command, output string }

func sessions(readme string) []session {
	var list []session
	inside := false
	s := session{}
	for line := range strings.Lines(readme) {
		fence := strings.HasPrefix(line, "```")
		prompt := inside && strings.HasPrefix(line, "$ calsplice ")
		if s.command != "" && (fence || prompt) {
			list, s = append(list, s), session{}
		}
		switch {
		case prompt:
			s.before += line
			s.command = strings.TrimSpace(strings.TrimPrefix(line, "$ calsplice "))
		case s.command != "":
			s.output += line
		default:
			s.before += line
		}
		if fence {
			inside = strings.HasPrefix(line, "```console")
		}
	}
	return append(list, s)
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
