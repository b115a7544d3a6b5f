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
	switch c, rest := named(in.args); {
	case len(rest) == 0 && c.name != "complete":
		m.Show(in.stdout, manual.Of(name))
	case c.name == "" || c.name == "complete":
		check(errors.New(tables.Unknown("command or topic", in.args[0], m.Names())))
	case c.do == nil:
		check(unknownCommand(c.name, rest[0]))
	default:
		refuse(true, "%s has no commands of its own: there is no %s", c.name, tables.Quote(rest[0]))
	}
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
