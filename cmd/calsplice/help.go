package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/manual"
	"calsplice/cmd/calsplice/text"
	"calsplice/merge/caution"
	"calsplice/tables"
	"calsplice/tables/unit"
)

func help(in *input) {
	m, name := theManual(), strings.Join(in.args, " ")
	switch {
	case name == "man":
		m.Man(in.stdout, buildVersion())
		return
	case m.Topic(in.stdout, name):
		return
	}
	for i, word := range in.args {
		group := strings.Join(in.args[:i], " ")
		switch below := manual.Below(m.Commands, group); {
		case slices.ContainsFunc(below, func(s *manual.Section) bool { return s.Word() == word }):
		case i == 0:
			check(errors.New(tables.Unknown("command or topic", word, m.Names())))
		case below == nil:
			refuse(true, "%s has no commands of its own: there is no %s", group, tables.Quote(word))
		default:
			check(unknownCommand(group, word))
		}
	}
	m.Show(in.stdout, manual.Of(name))
}

func theManual() *manual.Manual {
	return &manual.Manual{Name: programName, Usage: "review, move and correct engine calibrations, from drive logs", Commands: sections(), Topics: topics()}
}

// topics are the pages of help that no single command is about.
func topics() []manual.Topic {
	topic := func(name, list string) manual.Topic { return manual.Topic{Section: manual.Of(name), List: list} }
	return []manual.Topic{topic("files", ""), topic("clipboard", ""), topic("logs", ""), topic("roles", rolesHelp()), topic("units", unitsHelp()),
		topic("cautions", strings.Join(caution.Standing, "\n\n"))}
}

func rolesHelp() string {
	var b strings.Builder
	b.WriteString("\n\n")
	for _, r := range tables.Roles {
		fmt.Fprintf(&b, "  %s\n      %s\n", r, r.Shape().Meaning)
	}
	b.WriteString("\nAxis quantities that are computed with: " + strings.Join(tables.Quantities, ", ") + ".\n")
	return b.String()
}

func unitsHelp() string {
	var b strings.Builder
	b.WriteString("\n\n")
	p := &text.Printer{W: &b, Width: 98}
	for _, d := range unit.Dimensions() {
		p.Wrap(fmt.Sprintf("  %-20s", d), strings.Join(unit.Names(d), "  "))
	}
	return b.String()
}

// isVersion reports whether the program is asked for its version.
func isVersion(args []string) bool {
	return len(args) == 1 && slices.Contains([]string{"--version", "-version", "-v", "-V"}, args[0])
}
