package main

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/manual"
	"calsplice/merge/propose"
	"calsplice/tables"
)

const programName = "calsplice"

// command is what a name on the command line does; nothing for a group of commands.
// What it takes stands in help.txt.
type command struct {
	name string
	do   func(*input) error
}

// commands lists every command in the order of the work.
func commands() []command {
	return []command{
		{"new", newForm}, {"check", check}, {"show", show}, {"convert", convert}, {"take", take}, {"give", give}, {"set", set},
		{"diff", diff}, {"apply", apply}, {"merge", mergeThree}, {"resolve", resolve},
		{"rescale", rescale}, {"transfer", runTransfer}, {"report", report},
		{"channels", channels}, {"cells", average}, {"events", events}, {"trace", trace},
		{"propose", nil}, {"propose fuel", proposal(propose.Fuel)}, {"propose spark", proposal(propose.Spark)},
		{"explain", explain},
		{"git", nil}, {"git install", gitInstall}, {"git remove", gitRemove}, {"git doctor", gitDoctor},
		{"git textconv", gitTextconv}, {"git pre-commit", gitPreCommit}, {"git merge-driver", gitMerge}, {"git merge-tool", gitTool},
		{"schema", printSchema}, {"completion", completion}, {"complete", complete}, {"version", version}, {"help", help}, {"demo", runDemo},
	}
}

// sections are what help.txt has of the commands that people type.
func sections() (list []*manual.Section) {
	for _, c := range commands() {
		if c.name != "complete" {
			list = append(list, manual.Of(c.name))
		}
	}
	return list
}

// perform does what a command line says. Errors on the way to a command name the
// commands that there are.
func (l *line) perform(words []string) error {
	c, list := command{}, commands()
	for len(words) > 0 {
		name := strings.TrimSpace(c.name + " " + words[0])
		i := slices.IndexFunc(list, func(c command) bool { return c.name == name })
		if i < 0 {
			break
		}
		c, words = list[i], words[1:]
	}
	l.command = manual.Of(c.name)
	if c.do == nil && len(words) > 0 && !strings.HasPrefix(words[0], "-") {
		return unknownCommand(c.name, words[0])
	}
	asked, err := l.parse(words)
	switch {
	case err != nil:
		return err
	case asked || c.do == nil:
		theManual().Show(l.stdout, l.command)
		return nil
	}
	if err := l.check(); err != nil {
		return err
	}
	err = c.do(&input{line: l})
	if l.overlaps != nil {
		l.caution(l.overlaps.Told()...)
	}
	return err
}

// unknownCommand says that there is no such command, or none in a group.
func unknownCommand(group, name string) error {
	var names []string
	for _, s := range manual.Below(sections(), group) {
		names = append(names, s.Word())
	}
	s := tables.Unknown("command", name, names)
	if len(names) > 10 && !strings.HasSuffix(s, "?") {
		s = "there is no command " + tables.Quote(name)
	}
	return fmt.Errorf("%s; %s --help lists them", s, strings.TrimSpace(programName+" "+group))
}
